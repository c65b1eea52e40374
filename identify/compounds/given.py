"""Candidates as a program has them: any frame, or a list of names or SMILES, one row each.

What a row states stands. Where it says which compound it is (``smiles``, ``inchikey``, ``cas``,
``identity`` or ``name``), the other constants are the published ones, or estimated from structure.
A row may have no more than a ``formula`` or a ``molar_mass``: its composition or boiling point is
not known then, and tells nothing for it or against it. So it is with an empty cell in a column of
boiling points: whoever brings such a column says what is known.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from math import nan
from typing import TYPE_CHECKING, TypeAlias, cast

import numpy as np
from numpy.typing import NDArray

from identify.compounds.columns import TableColumns
from identify.compounds.naming.lookup import NameFault, compound_of
from identify.compounds.naming.meaning import Compound
from identify.compounds.parquet import built_in_table
from identify.compounds.published.likeness import Likeness
from identify.compounds.stock_table import require_agreement
from identify.compounds.table import (
    NUMBER_COLUMNS,
    REQUIRED,
    TEXT_COLUMNS,
    CandidateTable,
)
from identify.notebook.composition.formulas import (
    FormulaError,
    hill_formula,
    molar_mass,
    parse_formula,
    percent_composition,
)
from identify.notebook.quantity.quantities import excerpt
from identify.notebook.usual import CARD_BOILING_POINT
from identify.physics.arrays import Array
from identify.physics.boiling import boiling_temperature_by_trouton
from identify.physics.constants import ELEMENTS, ICE_POINT, STANDARD_PRESSURE
from identify.tables.faults import TableError
from identify.tables.frames import as_pandas, frame_rows, is_frame, is_given
from identify.tables.headings.dictionary import STOCK_HEADINGS
from identify.tables.stock_rows import StockBottle

if TYPE_CHECKING:
    import pandas as pd

_Meant: TypeAlias = "dict[int, Compound | None]"

_FRAME = "candidates"  # what faults call it, in place of a file
_GIVEN = "given"
_NEIGHBORS = 25  # compounds of about the same molar mass, that say what is usual for it
# Columns of a candidate table that a stock table has not, or with another meaning.
_TABLE_ONLY = frozenset({*NUMBER_COLUMNS, *TEXT_COLUMNS}) - frozenset(
    {"name", "cas", "smiles", "formula", "molar_mass", "boiling_point_C", "label"}
    | {f"percent_{element}" for element in ELEMENTS}
)
_SAYS_WHICH = frozenset({"identity", "smiles", "inchikey", "cas", "name", "formula", "molar_mass"})


@dataclass(frozen=True)
class GivenCandidates:
    """A table made of what a program gave.

    Parameters
    ----------
    table : CandidateTable
    places : array of int, shape (n,)
        Row of the table for each of the n rows given; -1 for one that cannot be used, of which the
        table's ``faults`` tell.
    index : pandas.Index
        Of the n rows given.
    """

    table: CandidateTable
    places: NDArray[np.int64]
    index: pd.Index


def given_candidates(candidates: object) -> GivenCandidates:
    """Make a table of a frame, or of a list of names or SMILES.

    Parameters
    ----------
    candidates : frame, or sequence of str
        A frame of any library that speaks Arrow's C interface. Columns: at least one of ``smiles``,
        ``inchikey``, ``cas``, ``identity``, ``name``, ``formula``, ``molar_mass``; besides, any
        column of `CandidateTable.frame`, and the headings of a stock table.

    Returns
    -------
    GivenCandidates
        Without a column ``prior``, all are alike beforehand.

    Raises
    ------
    TableError
        If no row can be used.
    TypeError
        If it is neither frame nor list.

    Examples
    --------
    >>> given_candidates(["ethanol", "CC(C)=O"]).table.text("name")
    ['ethanol', 'acetone']
    """
    import pandas as pd

    if is_frame(candidates):
        frame = as_pandas(candidates)
    elif is_given(candidates):
        names = list(cast("Sequence[str]", candidates))
        frame = pd.DataFrame({"identity": names}, index=pd.Index(names, dtype=object))
    else:
        kind = type(candidates).__name__
        raise TypeError(f"a {kind} is not a frame, nor a list of names or SMILES")
    if not len(frame):
        raise TableError(f"{_FRAME}: there is no row")
    table = _as_it_is(frame)
    if table is not None:
        return GivenCandidates(table, np.arange(len(frame)), frame.index)
    return _GivenRows(frame, *_bottles(frame)).candidates()


def _as_it_is(frame: pd.DataFrame) -> CandidateTable | None:
    """Return a frame that has all constants, such as that of another table; None for others."""
    numbers = _numbers(frame)
    needed = [numbers.get(column) for column in REQUIRED]
    if any(one is None or not np.isfinite(one).all() for one in needed):
        return None
    present = [name for name in TEXT_COLUMNS if name in frame]
    if "name" not in present:
        return None
    text = {name: frame[name].fillna("").astype(str).tolist() for name in present}
    return CandidateTable(text, numbers)


def _numbers(frame: pd.DataFrame) -> dict[str, NDArray[np.float64]]:
    """Return the columns of numbers that are called as those of a candidate table."""
    import pandas as pd

    return {
        column: frame[column].to_numpy(np.float64, na_value=np.nan)
        for column in NUMBER_COLUMNS
        if column in frame and pd.api.types.is_numeric_dtype(frame[column])
    }


def _bottles(frame: pd.DataFrame) -> tuple[list[StockBottle], str]:
    """Return the rows of a frame as those of a stock table, and what the headings were taken for.

    Raises
    ------
    TableError
        If two columns say the same, or none says which compound a row is.
    """
    heading, rows = frame_rows(frame)
    names = [str(name) for name in heading.cells]
    header = STOCK_HEADINGS.header(["" if name in _TABLE_ONLY else name for name in names])
    for column, error in header.again:
        raise TableError(f"{_FRAME}, column {column.header}: {error.reason}; {error.advice}")
    columns = {column.field: column for column in header.columns}
    if _SAYS_WHICH.isdisjoint({*columns, *names}):
        raise TableError(
            f"{_FRAME}: no column says which compound a row is; name one smiles, cas, name, "
            f"formula or molar_mass (there are: {excerpt(', '.join(names))})"
        )
    # A list has no header: its first row is 1.
    bottles = [StockBottle(_FRAME, row.number - 1, columns, row.cells) for row in rows]
    return bottles, header.told.line(_FRAME)


@dataclass
class _GivenRows:
    """The rows of a frame on their way into a table.

    Parameters
    ----------
    frame : pandas.DataFrame
    bottles : list of StockBottle
        The same, as rows of a stock table.
    told : str
        What the headings were taken for.
    faults : dict of int to str
        What cannot be used, by row.
    celsius : dict of int to float
        Boiling points that are stated [degrees Celsius], by row.
    """

    frame: pd.DataFrame
    bottles: list[StockBottle]
    told: str
    faults: dict[int, str] = field(default_factory=dict)
    celsius: dict[int, float] = field(default_factory=dict)

    def candidates(self) -> GivenCandidates:
        """Make the table."""
        meant = dict(self._meant())
        pieces, rows = [], list[int]()
        for make in (self._known, self._of_structures, self._of_formulas):
            piece, made = make({row: one for row, one in meant.items() if row not in rows})
            pieces.append(piece)
            rows += made
        kept = [place for place, row in enumerate(rows) if row not in self.faults]
        if not kept:
            raise TableError(*self._lines())
        order = np.array(sorted(kept, key=rows.__getitem__), dtype=np.int64)
        used = np.array(rows, dtype=np.int64)[order]
        columns = TableColumns.joined(pieces, order)
        self._state(columns, used)
        places = np.full(len(self.frame), -1)
        places[used] = np.arange(len(used))
        table = CandidateTable(
            columns.text, columns.numbers, self._lines(), self.told, is_incomplete=True
        )
        return GivenCandidates(table, places, self.frame.index)

    def _lines(self) -> list[str]:
        return [self.faults[row] for row in sorted(self.faults)]

    def _meant(self) -> Iterable[tuple[int, Compound | None]]:
        """Yield which compound each row is, None where its formula or molar mass is all it has."""
        for row, bottle in enumerate(self.bottles):
            try:
                celsius = bottle.number("boiling_point", "C")
                if celsius is not None:
                    self.celsius[row] = _at_one_atmosphere(celsius, bottle.boiling_pressure())
                yield row, self._compound(row, bottle)
            except TableError as fault:
                self.faults[row] = str(fault)

    def _compound(self, row: int, bottle: StockBottle) -> Compound | None:
        identities = bottle.identities
        if "inchikey" in self.frame and isinstance(key := self.frame["inchikey"].iloc[row], str):
            identities |= {"inchikey": key} if key.strip() else {}
        has_other = bool(bottle.text("formula") or bottle.text("molar_mass"))
        if not identities and has_other:
            return None
        try:
            return compound_of(identities)
        except NameFault as fault:
            if has_other and set(identities) == {"name"}:  # a name of the user's own
                return None
            raise bottle.fault(fault.column, str(fault)) from None

    def _known(self, meant: _Meant) -> tuple[TableColumns, list[int]]:
        """Take rows of the built-in table."""
        places = {row: one.place for row, one in meant.items() if one and one.place is not None}
        columns = TableColumns.of(built_in_table(), list(places.values()))
        for place, row in enumerate(places):
            formula = columns.text["formula"][place]
            constants = {name: float(one[place]) for name, one in columns.numbers.items()}
            try:
                require_agreement(
                    columns.text["name"][place], formula, constants, self.bottles[row]
                )
            except TableError as fault:
                self.faults[row] = str(fault)
        return columns, list(places)

    def _of_structures(self, meant: _Meant) -> tuple[TableColumns, list[int]]:
        """Make rows of structures that the built-in table lacks."""
        strange = {row: one for row, one in meant.items() if one is not None}
        if not strange:
            return TableColumns.blank(0), []
        from identify.compounds.collection.rows import NO_BOILING_POINT, RowMaker
        from identify.compounds.collection.workers import trained_estimator
        from identify.tables.structures.source import REMARK, Chunk, Record

        is_stated = strange.keys() <= self.celsius.keys()
        maker = RowMaker(
            built_in_table(), [_GIVEN], estimator=None if is_stated else trained_estimator()
        )
        records = [
            Record(
                row,
                smiles=one.smiles,
                name="" if one.name == one.smiles else one.name,
                cas=one.cas,
                boiling_point=repr(self.celsius[row]) if row in self.celsius else "",
            )
            for row, one in strange.items()
        ]
        part = maker.part(Chunk(0, records, []))
        for aside in part.set_aside:
            if aside.kind not in (REMARK, NO_BOILING_POINT):
                reason = f'"{aside.read}" {aside.reason}'
                self.faults[aside.number] = f"{_FRAME}, row {aside.number + 1}: {reason}"
        return part.columns, part.record_numbers.tolist()

    def _of_formulas(self, meant: _Meant) -> tuple[TableColumns, list[int]]:
        """Make rows of formulas, or of molar masses alone; what is not known is NaN."""
        mass, boiling, percent = [], [], []
        rows, formulas, names = list[int](), list[str](), list[str]()
        for row, compound in meant.items():
            try:
                formula, molar, shares = self._composition(row, compound)
            except TableError as fault:
                self.faults[row] = str(fault)
                continue
            rows.append(row)
            formulas.append(formula)
            names.append(compound.name if compound else formula or f"{molar:.2f} g/mol")
            mass.append(molar)
            boiling.append(self.celsius.get(row, nan))
            percent.append([shares.get(element, 0.0 if shares else nan) for element in ELEMENTS])
        if not rows:
            return TableColumns.blank(0), []
        columns = _constants(np.array(mass), np.array(boiling), np.array(percent))
        columns.text |= {"formula": formulas, "name": names}
        return columns, rows

    def _composition(
        self, row: int, compound: Compound | None
    ) -> tuple[str, float, Mapping[str, float]]:
        """Return formula, molar mass [g/mol] and percentages of a row; empty where not known."""
        bottle = self.bottles[row]
        if compound is not None:
            return compound.formula, compound.molar_mass, compound.percent
        written, stated = bottle.text("formula"), bottle.number("molar_mass", "g/mol")
        if not written:
            percent = {one: bottle.number(f"percent_{one}", "%") for one in ELEMENTS}
            known = {one: share for one, share in percent.items() if share is not None}
            if stated is None:
                raise bottle.fault("molar_mass", "is empty; give it, or a formula or a name")
            return "", stated, known
        try:
            counts = parse_formula(written)
        except FormulaError as error:
            raise bottle.fault("formula", str(error)) from None
        if strange := sorted(counts.keys() - set(ELEMENTS)):
            reason = f'"{excerpt(written)}" has {strange[0]} in it, which is not an element here'
            raise bottle.fault("formula", reason)
        formula, percent_of = hill_formula(counts), percent_composition(counts)
        numbers = {"molar_mass": molar_mass(counts)}
        numbers |= {f"percent_{one}": percent_of.get(one, 0.0) for one in ELEMENTS}
        require_agreement(formula, formula, numbers, bottle)
        return formula, numbers["molar_mass"], percent_of

    def _state(self, columns: TableColumns, rows: NDArray[np.int64]) -> None:
        """Let what the frame states stand in place of what is published."""
        text, numbers = columns.text, columns.numbers
        for place, row in enumerate(rows.tolist()):
            bottle = self.bottles[row]
            text["name"][place] = bottle.text("name") or text["name"][place]
            text["label"][place] = bottle.text("label")
            if row in self.celsius:
                text["boiling_point_source"][place] = _GIVEN
                columns.fill(place, {"boiling_point_C": self.celsius[row]})
                columns.fill(place, {"boiling_point_u": CARD_BOILING_POINT})
                columns.fill(place, {"boiling_point_published": 1.0})
            elif "boiling_point" in bottle.columns:
                columns.fill(place, {"boiling_point_C": nan, "boiling_point_u": nan})
        # What stands in a program's list is as probable as its neighbor, if nothing else is said.
        numbers |= {"prior": np.full(len(rows), 1.0), "classroom": np.full(len(rows), nan)}
        for column, values in _numbers(self.frame).items():
            if column in _TABLE_ONLY:
                stated = values[rows]
                numbers[column] = np.where(np.isfinite(stated), stated, numbers[column])
        numbers["prior"] = numbers["prior"] / numbers["prior"].sum()


@cache
def _likeness() -> Likeness:
    return Likeness(built_in_table())  # takes a while


def _constants(mass: Array, boiling: Array, percent: Array) -> TableColumns:
    """Return rows with the constants of vapor and liquid that a molar mass suggests.

    Parameters
    ----------
    mass, boiling : array, shape (n,)
        In g/mol and degrees Celsius.
    percent : array, shape (n, 12)

    Returns
    -------
    TableColumns
        Boiling points and percentages are as they were given, also where they are NaN: the
        constants are those of a compound that is usual for its molar mass.
    """
    table = built_in_table()
    published = np.flatnonzero(table.number("boiling_point_published") > 0.0)
    published = published[np.argsort(table.number("molar_mass")[published])]
    among = table.number("molar_mass")[published]
    first = np.searchsorted(among, mass) - _NEIGHBORS // 2
    first = np.clip(first, 0, len(among) - _NEIGHBORS)
    near = published[first[:, np.newaxis] + np.arange(_NEIGHBORS)]
    usual_boiling = np.median(table.number("boiling_point_C")[near], axis=1)
    usual_percent = table.percent[near].mean(axis=1)
    columns = _likeness().columns(
        np.where(np.isnan(boiling), usual_boiling, boiling),
        mass,
        np.where(np.isnan(percent), usual_percent, percent),
    )
    columns.set_percent(percent)
    columns.numbers["boiling_point_C"] = boiling
    columns.numbers["boiling_point_u"] = np.where(np.isnan(boiling), nan, CARD_BOILING_POINT)
    return columns


def _at_one_atmosphere(celsius: float, pressure: float) -> float:
    """Carry a boiling point [degrees Celsius] from a pressure [Pa] to 760 mmHg."""
    if pressure == STANDARD_PRESSURE:
        return celsius
    kelvin = boiling_temperature_by_trouton(STANDARD_PRESSURE, celsius + ICE_POINT, pressure)
    return float(kelvin) - ICE_POINT
