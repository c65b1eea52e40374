"""Tables as plain text: columns side by side, made to fit the page."""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, zip_longest

from identify.answers.text.page import Page

_ENDLESS = Page(width=1_000_000)


@dataclass(frozen=True)
class TextColumn:
    """A column of a table.

    Parameters
    ----------
    heading : str
        A line break divides it over two lines.
    cells : sequence of str
    left : bool
        Whether it is set flush left, as text is; numbers are flush right.
    longest : int
        Width to which long cells are cut in any case; 0 for none.
    shortest : int
        Width down to which long cells may be cut to make room; 0 where they must stay whole.
    is_roomy : bool
        Whether columns that can be spared make room for so much even where its cells are shorter.
    wraps : bool
        Whether long cells go on in the next line, rather than lose their middle.
    spare : int
        A page that is too narrow does without it, and without those of larger numbers first; 0
        where it must not.
    """

    heading: str
    cells: Sequence[str]
    left: bool = False
    longest: int = 0
    shortest: int = 0
    is_roomy: bool = False
    wraps: bool = False
    spare: int = 0

    @property
    def heading_lines(self) -> list[str]:
        """The heading's two lines, the upper one mostly empty."""
        return f"\n{self.heading}".split("\n")[-2:]

    @property
    def width(self) -> int:
        """Of the heading and the cells."""
        return max(map(len, (*self.heading_lines, *self.cells)))

    @property
    def least(self) -> int:
        """Width below which it cannot be cut."""
        if not self.shortest:
            return self.width
        narrowest = max(self.shortest, *map(len, self.heading_lines))
        return narrowest if self.is_roomy else min(self.width, narrowest)

    def shown_on(self, page: Page) -> TextColumn:
        """Return the column with only the characters of a page, no cell too long."""
        cells = [page.text(cell) for cell in self.cells]
        if self.longest:
            cells = [page.elided(cell, self.longest) for cell in cells]
        heading = "\n".join(map(page.text, self.heading.split("\n")))
        return replace(self, heading=heading, cells=cells)

    def broken(self, cell: str, width: int, page: Page) -> list[str]:
        """Return the lines of a cell."""
        if self.wraps:
            return textwrap.wrap(cell, width, break_on_hyphens=False) or [""]
        return [page.elided(cell, width)]


@dataclass(frozen=True)
class TextTable:
    r"""Columns of equally many cells.

    Parameters
    ----------
    columns : sequence of TextColumn
    is_even : bool
        Whether the widest columns give way together, so that one name is cut alike in all of them.

    Examples
    --------
    >>> table = TextTable.of(["compound", "boils\n°C"], [["ethanol", "78.4"]], left=[0])
    >>> print("|\n".join(table.lines()))
             boils|
    compound    °C|
    ethanol   78.4
    """

    columns: Sequence[TextColumn]
    is_even: bool = False

    @classmethod
    def of(
        cls, headings: Sequence[str], rows: Sequence[Sequence[str]], left: Collection[int] = ()
    ) -> TextTable:
        """Return the table of some rows; ``left`` are the places of columns set flush left."""
        cells = list(zip(*rows, strict=True)) or [()] * len(headings)
        return cls(
            [
                TextColumn(heading, column, left=place in left)
                for place, (heading, column) in enumerate(zip(headings, cells, strict=True))
            ]
        )

    def lines(self, page: Page = _ENDLESS, indent: str = "", emphasis: str = "") -> list[str]:
        """Return the table line by line.

        Parameters
        ----------
        page : Page
            That it must fit.
        indent : str
            Before each line.
        emphasis : str
            Of the heading, where the page has it.
        """
        return list(chain.from_iterable(self.blocks(page, indent, emphasis)))

    def blocks(self, page: Page, indent: str = "", emphasis: str = "") -> Iterator[list[str]]:
        """Yield the lines of the heading, then those of each row; see `lines`."""
        room = page.width - len(indent)
        columns = _kept([column.shown_on(page) for column in self.columns], room)
        cells = [
            [column.broken(cell, width, page) for cell in column.cells]
            for column, width in zip(columns, self._widths(columns, room), strict=True)
        ]
        widths = [
            max(map(len, chain(column.heading_lines, *parts)))
            for column, parts in zip(columns, cells, strict=True)
        ]

        def line(row: Sequence[str]) -> str:
            padded = (
                text.ljust(width) if column.left else text.rjust(width)
                for column, text, width in zip(columns, row, widths, strict=True)
            )
            return indent + " ".join(padded).rstrip()

        upper, lower = zip(*(column.heading_lines for column in columns), strict=True)
        heading = [line(upper), line(lower)] if any(upper) else [line(lower)]
        yield [page.emphasized(text, emphasis) for text in heading] if emphasis else heading
        for row in zip(*cells, strict=True):
            yield [line(parts) for parts in zip_longest(*row, fillvalue="")]

    def _widths(self, columns: Sequence[TextColumn], room: int) -> list[int]:
        """Return the widths of columns in a room: the widest gives way first."""
        widths = [column.width for column in columns]
        while _side_by_side(widths) > room:
            wide = {
                place: widths[place]
                for place, column in enumerate(columns)
                if widths[place] > column.least
            }
            if not wide:
                break
            widest = [place for place, width in wide.items() if width == max(wide.values())]
            for place in widest if self.is_even else widest[:1]:
                widths[place] -= 1
        return widths


def _kept(columns: Sequence[TextColumn], room: int) -> list[TextColumn]:
    """Return the columns that there is room for."""
    kept = list(columns)
    while _side_by_side([column.least for column in kept]) > room:
        first = max(kept, key=lambda column: column.spare)
        if not first.spare:
            break
        kept.remove(first)
    return kept


def _side_by_side(widths: Sequence[int]) -> int:
    return sum(widths) + len(widths) - 1
