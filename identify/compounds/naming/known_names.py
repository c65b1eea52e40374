"""The index of names: which compounds are called so, read from a file made with the table."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any, Literal

from identify.compounds.naming.spelling import bare, joined
from identify.compounds.parquet import shipped
from identify.notebook.saving import written_beside

NAMES_FILE, COMPOUNDS_FILE = "names.parquet", "named_compounds.parquet"

_MAIN_NAME_COUNTS = 3  # times another one

Use = Literal["main", "other", "one", "several", "mixture"]
"""How a compound has a name: as its ``main`` one, or as an ``other`` one of the collection; or, by
what laboratories say, as the ``one`` that is meant, as one of ``several``, or as one that those who
write the name of a ``mixture`` may mean."""


@dataclass(frozen=True)
class NamedCompound:
    """A compound as the collection of identifiers lists it.

    Parameters
    ----------
    cas, inchikey, name, smiles, formula : str
        The InChIKey is that of the table's row where the table has the compound.
    melting_point_C : float or None
        Of a compound that the table lacks; None where it has it, or none is published.
    """

    cas: str
    inchikey: str
    name: str
    smiles: str
    formula: str
    melting_point_C: float | None

    @property
    def skeleton(self) -> str:
        """What stereo forms share."""
        return self.inchikey.partition("-")[0]


class KnownNames:
    """Compounds by name, CAS number and InChIKey.

    Parameters
    ----------
    names : pyarrow.Table
        Columns ``name`` (as `folded_name` gives it; sorted by what `bare` makes of it),
        ``compound`` (its place in the other table; -1 for a mixture that stands for none) and
        ``use`` (see `Use`).
    compounds : pyarrow.Table
        One column for each field of `NamedCompound`.
    """

    def __init__(self, names: Any, compounds: Any) -> None:
        self.names, self.compounds = names, compounds

    @classmethod
    def read(cls, folder: Path) -> KnownNames:
        """Read the index from its two files in a folder."""
        import pyarrow.parquet as pq

        # Not read_table: that imports the datasets, and with them pandas.
        return cls(*(pq.ParquetFile(folder / file).read() for file in (NAMES_FILE, COMPOUNDS_FILE)))

    def save(self, folder: Path) -> None:
        """Write both files: to a temporary neighbor first, then renamed."""
        import pyarrow.parquet as pq

        for table, file in ((self.names, NAMES_FILE), (self.compounds, COMPOUNDS_FILE)):
            with written_beside(folder / file) as beside:
                pq.write_table(table, beside, compression="zstd", compression_level=19)

    def called(self, folded: str) -> list[tuple[NamedCompound | None, Use]]:
        """Return the compounds with a name, however its blanks, hyphens and brackets are set."""
        wanted = joined(folded)
        return [
            (self._compound(row["compound"]), row["use"])
            for row in self._with_bare(bare(folded))
            if joined(row["name"]) == wanted
        ]

    def alike(self, folded: str) -> list[NamedCompound]:
        """Return the compounds whose names differ from one by marks of position and form alone.

        Lists of synonyms hold some of other compounds: the formula that most names have counts (two
        where they draw), and a main name counts for more.
        """
        weights: dict[str, int] = {}
        compounds: dict[int, NamedCompound] = {}
        for row in self._with_bare(bare(folded)):
            if (compound := self._compound(row["compound"])) is not None:
                compounds[row["compound"]] = compound
                weight = _MAIN_NAME_COUNTS if row["use"] == "main" else 1
                weights[compound.formula] = weights.get(compound.formula, 0) + weight
        most = max(weights.values(), default=0)
        return [one for one in compounds.values() if weights[one.formula] == most]

    def of_cas(self, number: str) -> NamedCompound | None:
        """Return the compound with a CAS number, present or former, None where none is known."""
        if number in self._places["cas"]:
            return self._compound(self._places["cas"][number])
        return next((compound for compound, _ in self.called(number)), None)

    def of_inchikey(self, inchikey: str) -> NamedCompound | None:
        """Return the compound with an InChIKey, None where none is known."""
        return self._compound(self._places["inchikey"].get(inchikey, -1))

    def _with_bare(self, wanted: str) -> list[dict[str, Any]]:
        if not wanted:
            return []
        first = bisect_left(self._sorted, wanted, key=_bare)
        last = bisect_right(self._sorted, wanted, first, key=_bare)
        rows: list[dict[str, Any]] = self.names.slice(first, last - first).to_pylist()
        return rows

    def _compound(self, place: int) -> NamedCompound | None:
        return None if place < 0 else NamedCompound(**self.compounds.slice(place, 1).to_pylist()[0])

    @cached_property
    def _sorted(self) -> Any:
        return self.names.column("name").combine_chunks()

    @cached_property
    def _places(self) -> dict[str, dict[str, int]]:
        columns = {name: self.compounds.column(name).to_pylist() for name in ("cas", "inchikey")}
        # Of several that share one, the first.
        return {
            name: {text: place for place, text in reversed(list(enumerate(texts))) if text}
            for name, texts in columns.items()
        }


def _bare(cell: Any) -> str:
    return bare(cell.as_py())


@lru_cache(maxsize=1)
def known_names() -> KnownNames:
    """Return the index that is shipped with the built-in table."""
    return KnownNames.read(shipped(NAMES_FILE).parent)
