"""Rows that repeat another: the same label, the same bottle, the same compound."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from identify.compounds.naming.meaning import Compound
from identify.notebook.findings import Finding
from identify.tables.stock_rows import StockBottle


@dataclass(frozen=True)
class _Seen:
    """A row that was read before."""

    row: int
    label: str
    compound: Compound | None

    @property
    def place(self) -> str:
        return f"row {self.row} (bottle {self.label})" if self.label else f"row {self.row}"


@dataclass
class Duplicates:
    """Remembers the rows of a table, and compares each new one with them."""

    _labels: dict[str, _Seen] = field(default_factory=dict)
    _contents: dict[tuple[str, ...], _Seen] = field(default_factory=dict)
    _compounds: list[_Seen] = field(default_factory=list)

    def findings(
        self, bottle: StockBottle, label: str, compound: Compound | None
    ) -> Iterator[Finding]:
        """Yield the most serious of what a row has in common with those before it."""
        seen = _Seen(bottle.row, label, compound)
        entered = self._contents.setdefault(_content(bottle), seen)
        labeled = self._labels.setdefault(label.casefold(), seen) if label else seen
        again = next((one for one in self._compounds if _is_same(one.compound, compound)), None)
        if again is None and compound is not None:
            self._compounds.append(seen)
        if entered is not seen:
            yield Finding(
                "bottle-twice",
                "warning",
                f"Says in every column the same as row {entered.row}.",
                "Delete one of the rows, or give the second bottle a label of its own.",
            )
        elif labeled is not seen:
            yield self._label_twice(labeled, label, compound)
        elif again is not None and compound is not None:
            yield Finding(
                "compound-again",
                "note",
                f"{compound.name} is in {again.place} too.",
                "Two bottles of one compound are fine, as long as it is meant so.",
            )

    def _label_twice(self, first: _Seen, label: str, compound: Compound | None) -> Finding:
        same = _is_same(first.compound, compound)
        what = "with the same compound" if same else "with another compound"
        if first.compound is None or compound is None:
            what = "and it is not clear whether they hold the same"
        return Finding(
            "label-twice",
            "warning" if same else "error",
            f"Bottle {label} stands in row {first.row} already, {what}.",
            "Give each bottle a label of its own.",
        )


def _is_same(one: Compound | None, other: Compound | None) -> bool:
    return one is not None and other is not None and one.is_same(other)


def _content(bottle: StockBottle) -> tuple[str, ...]:
    """Return the text of all columns, without regard to blanks and capitals."""
    cells = ("" if cell is None else str(cell) for cell in bottle.cells)
    folded = [" ".join(cell.split()).casefold() for cell in cells]
    while folded and not folded[-1]:
        folded.pop()
    return tuple(folded)
