"""Which compound a row is: all of its cells that say so must mean the same one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import get_args

from identify.chemistry import cas_numbers
from identify.compounds.naming.meaning import Compound, Meaning, Problem, common, settled
from identify.compounds.naming.resolver import Kind, Resolver
from identify.notebook.findings import Finding, listed
from identify.notebook.quantities import excerpt
from identify.stock.result import Change, StockRow
from identify.stock.rows.cell_writer import CellWriter
from identify.stock.rows.stated_values import StatedValues, unreadable
from identify.tables.faults import TableError
from identify.tables.stock_rows import IDENTITIES, StockBottle

MAX_NAMES_IN_SENTENCE = 3


@dataclass(frozen=True)
class RowIdentity:
    """Which compound a row is.

    Parameters
    ----------
    written : str
        The cell that decides.
    compound : Compound or None
        None where the cells mean none, several, or contradict each other.
    findings : tuple of Finding
    changes : tuple of Change
    agreeing : int
        Further cells that say the same.
    """

    written: str
    compound: Compound | None
    findings: tuple[Finding, ...] = ()
    changes: tuple[Change, ...] = ()
    agreeing: int = 0

    @classmethod
    def of(
        cls, bottle: StockBottle, stated: StatedValues, resolver: Resolver, writer: CellWriter
    ) -> RowIdentity:
        """Return which compound a row is, and what is wrong with the cells that say so."""
        cells, unreadable_cells = _cells(bottle, resolver)
        if not cells:
            return cls("", None, tuple(unreadable_cells) or (_empty(bottle),))
        known = [cell for cell in cells if cell.meaning.compounds]
        compound = settled([cell.meaning for cell in known])
        findings = [
            *unreadable_cells,
            *_open_questions(known, compound, stated),
            *_unresolved(cells, compound),
        ]
        changes: list[Change] = []
        for cell in cells:
            if cell.meaning.wrong_number:
                findings.append(_wrong_digit(cell, compound, stated, resolver))
                changes += _right_number(cell, compound, bottle, writer)
        agreeing = 0 if compound is None else len(known) - 1
        return cls(cells[0].read, compound, tuple(findings), tuple(changes), agreeing)


def rows_by_compound(rows: Iterable[StockRow]) -> list[tuple[Compound, list[StockRow]]]:
    """Return each compound with the rows that hold it, in the order of the table."""
    holders: dict[object, tuple[Compound, list[StockRow]]] = {}
    for row in rows:
        if (compound := row.compound) is not None:
            structure = compound.inchikey or compound.smiles or compound.name
            key = structure if compound.place is None else compound.place
            holders.setdefault(key, (compound, []))[1].append(row)
    return list(holders.values())


@dataclass(frozen=True)
class _Cell:
    """A cell that says which compound a row is."""

    kind: Kind
    column: str
    read: str
    meaning: Meaning

    @property
    def quoted(self) -> str:
        return f'{self.column}: "{excerpt(self.read)}"'

    def finding(self, problem: Problem) -> Finding:
        message = f"{self.quoted} {problem.reason}."
        return Finding(problem.code, problem.severity, message, problem.advice)


def _cells(bottle: StockBottle, resolver: Resolver) -> tuple[list[_Cell], list[Finding]]:
    """Return the filled cells with their meaning, and a finding for each that cannot be read."""
    cells: list[_Cell] = []
    findings: list[Finding] = []
    for kind in get_args(Kind):
        try:
            if text := bottle.text(kind):
                meaning = resolver.meaning(text, kind)
                cells.append(_Cell(kind, bottle.columns[kind].header, text, meaning))
        except TableError as fault:
            findings.append(unreadable(bottle, fault))
    return cells, findings


def _shared(cells: Sequence[_Cell]) -> list[Compound]:
    return common([cell.meaning for cell in cells])


def _open_questions(
    known: Sequence[_Cell], compound: Compound | None, stated: StatedValues
) -> Iterator[Finding]:
    """Yield that the cells contradict each other, or what the first of them leaves open."""
    shared = _shared(known)
    if known and not shared:
        yield _disagree(known, stated)
    elif (known and len(shared) > 1) or compound is None:
        yield from (
            cell.finding(cell.meaning.problem) for cell in known[:1] if cell.meaning.problem
        )


def _unresolved(cells: Sequence[_Cell], compound: Compound | None) -> Iterator[Finding]:
    """Yield what is wrong with cells that mean nothing usable.

    The first cell decides: where it cannot be read, the row is wrong. Where another cell says which
    compound it is, a further name that nobody knows is only doubtful.
    """
    for place, cell in enumerate(cells):
        problem = cell.meaning.problem
        if problem is None or cell.meaning.compounds or cell.meaning.wrong_number:
            continue
        is_doubt = compound is not None and place > 0 and cell.meaning.is_unknown
        finding = cell.finding(problem)
        yield replace(finding, severity="warning") if is_doubt else finding


def _empty(bottle: StockBottle) -> Finding:
    headers = [bottle.columns[kind].header for kind in IDENTITIES if kind in bottle.columns]
    return Finding(
        "identity-unknown",
        "error",
        f"{listed(headers)}: empty, so that nothing says which compound it is.",
        "Give a name, a CAS number or a SMILES.",
    )


def _disagree(known: Sequence[_Cell], stated: StatedValues) -> Finding:
    said = [f'{cell.column} "{excerpt(cell.read)}" is {_names(cell.meaning)}' for cell in known]
    message = f"{'; '.join(said)}."
    if agreeing := next(filter(None, _agreeing_columns(known)), None):
        message += f" {listed(agreeing)} agree."
    for cell in known:
        if fitting := _fitting(stated, cell.meaning.compounds):
            message += f" {listed(fitting).capitalize()} fit {cell.column}."
    return Finding(
        "identity-disagrees",
        "error",
        message,
        "See what the bottle itself says, and correct the cell that is wrong.",
    )


def _agreeing_columns(known: Sequence[_Cell]) -> Iterator[list[str]]:
    """Yield for each cell its column and those of later cells that may mean the same."""
    for place, one in enumerate(known):
        same = [other.column for other in known[place + 1 :] if _shared([one, other])]
        yield [one.column, *same] if same else []


def _fitting(stated: StatedValues, compounds: Sequence[Compound]) -> list[str]:
    """Return what else the row states that is right for one of the compounds."""
    best: list[str] = []
    for compound in compounds:
        fitting = [what for what, is_right in stated.verdicts(compound).items() if is_right]
        best = max(best, fitting, key=len)
    return best


def _names(meaning: Meaning) -> str:
    names = [compound.name for compound in meaning.compounds]
    more = " or others" if len(names) > MAX_NAMES_IN_SENTENCE else ""
    return " or ".join(names[:MAX_NAMES_IN_SENTENCE]) + more


def _wrong_digit(
    cell: _Cell, compound: Compound | None, stated: StatedValues, resolver: Resolver
) -> Finding:
    problem = cell.meaning.problem
    assert problem is not None
    message = f"{cell.quoted} {problem.reason}."
    if compound is not None:
        message += f" {compound.name} has {compound.cas or 'none that is known here'}."
    elif offered := list(
        islice(_offered(cell.meaning.wrong_number, stated, resolver), MAX_NAMES_IN_SENTENCE)
    ):
        message += f" Numbers like it are {listed(offered)}."
    return Finding("cas-check-digit", "error", message, problem.advice)


def _right_number(
    cell: _Cell, compound: Compound | None, bottle: StockBottle, writer: CellWriter
) -> Iterator[Change]:
    """Yield the change to a compound's CAS number where it is one slip of the pen away."""
    number = cell.meaning.wrong_number
    if compound is not None and compound.cas in cas_numbers.slips_of_the_pen(number):
        reason = f"the CAS number of {compound.name}"
        yield writer.text(bottle, cell.kind, compound.cas, reason)


def _offered(wrong: str, stated: StatedValues, resolver: Resolver) -> Iterator[str]:
    """Yield CAS numbers one slip away whose compound, one of the table, fits the row."""
    right = cas_numbers.with_check_digit(wrong)
    slips = [right, *(number for number in cas_numbers.slips_of_the_pen(wrong) if number != right)]
    for number in slips:
        compound = resolver.in_table(number)
        if compound is not None and all(stated.verdicts(compound).values()):
            yield f"{number} ({compound.name})"
