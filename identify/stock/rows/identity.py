"""Which compound a row is: all of its cells that say so must mean the same one."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import get_args

from identify.chemistry import cas_numbers
from identify.compounds.naming.meaning import Compound, Meaning, Problem, common, settled
from identify.compounds.naming.resolver import Kind, Resolver
from identify.notebook.findings import Finding, listed
from identify.notebook.quantity.quantities import excerpt
from identify.stock.result import Change, StockRow
from identify.stock.rows.cell_writer import CellWriter
from identify.stock.rows.stated_values import unreadable
from identify.stock.rows.stock_card import StockCard
from identify.tables.faults import TableError
from identify.tables.stock_rows import IDENTITIES, StockBottle

MAX_NAMES_IN_SENTENCE = 3
_LETTER = re.compile(r"[A-Za-z]")


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
        cls, bottle: StockBottle, card: StockCard, resolver: Resolver, writer: CellWriter
    ) -> RowIdentity:
        """Return which compound a row is, and what is wrong with the cells that say so.

        What the cells leave open, or contradict each other in, the card decides where it can.
        """
        cells, unreadable_cells = _cells(bottle, resolver)
        if not cells:
            return cls("", None, tuple(unreadable_cells))
        known = [cell for cell in cells if cell.meaning.compounds]
        compound = settled([cell.meaning for cell in known])
        by_card = _by_card(known, compound, card)
        compound = by_card or compound
        findings = [
            *unreadable_cells,
            *_open_questions(known, compound, card, by_card),
            *_unresolved(cells, compound, card),
        ]
        changes = list(_decided_cells(known, by_card, bottle, writer))
        for cell in cells:
            if cell.meaning.wrong_number:
                meant = compound or _meant_by_slip(cell, known, card, resolver)
                findings.append(_wrong_digit(cell, meant, card, resolver, meant is not compound))
                changes += _right_number(cell, meant, bottle, writer)
                compound = meant
        agreeing = max(_agreeing(known, compound) - 1, 0)
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

    def may_be(self, compound: Compound) -> bool:
        return any(compound.is_same(one) for one in self.meaning.compounds)

    def finding(self, problem: Problem) -> Finding:
        message = f"{self.quoted} {problem.reason}."
        return Finding(problem.code, problem.severity, message, problem.advice)

    def saying(self, compound: Compound) -> str:
        """Return how a compound is written in this cell."""
        if self.kind == "smiles":
            return compound.smiles
        is_number = self.kind == "cas" or not _LETTER.search(self.read)
        return compound.cas if is_number and compound.cas else compound.name


def _cells(bottle: StockBottle, resolver: Resolver) -> tuple[list[_Cell], list[Finding]]:
    """Return the filled cells with their meaning, and a finding for each that cannot be read.

    Where all are empty, that is the finding.
    """
    cells: list[_Cell] = []
    findings: list[Finding] = []
    for kind in get_args(Kind):
        try:
            if text := bottle.text(kind):
                meaning = resolver.meaning(text, kind)
                cells.append(_Cell(kind, bottle.columns[kind].header, text, meaning))
        except TableError as fault:
            findings.append(unreadable(bottle, fault))
    return cells, findings if cells or findings else [_empty(bottle)]


def _agreeing(cells: Sequence[_Cell], compound: Compound | None) -> int:
    return 0 if compound is None else sum(cell.may_be(compound) for cell in cells)


def _shared(cells: Sequence[_Cell]) -> list[Compound]:
    return common([cell.meaning for cell in cells])


def _by_card(known: Sequence[_Cell], compound: Compound | None, card: StockCard) -> Compound | None:
    """Return the compound that the card decides for, None where the cells need no decision.

    At least as many cells must allow it as speak against it.
    """
    is_usual = len(known) == 1 and known[0].meaning.is_usual
    if compound is not None:
        contradicted = card.verdicts(compound) and not card.fits(compound)
        if not (is_usual and contradicted):
            return None
    meant = card.only_fitting(_possible(known))
    if meant is None or 2 * _agreeing(known, meant) < len(known):
        return None
    return meant


def _possible(cells: Iterable[_Cell]) -> list[Compound]:
    """Return every compound that one of the cells may mean, once."""
    possible: list[Compound] = []
    for cell in cells:
        possible += [one for one in cell.meaning.compounds if not any(map(one.is_same, possible))]
    return possible


def _decided_cells(
    known: Sequence[_Cell], by_card: Compound | None, bottle: StockBottle, writer: CellWriter
) -> Iterator[Change]:
    """Yield how the cells are written that the card decided against, or left one meaning of."""
    if by_card is None:
        return
    for cell in known:
        if len(cell.meaning.compounds) > 1 or not cell.may_be(by_card):
            right = cell.saying(by_card)
            yield writer.text(bottle, cell.kind, right, "as the rest of the row says")


def _open_questions(
    known: Sequence[_Cell], compound: Compound | None, card: StockCard, by_card: Compound | None
) -> Iterator[Finding]:
    """Yield that the cells contradict each other, or what the first of them leaves open."""
    shared = _shared(known)
    if known and not shared:
        yield _disagree(known, card, by_card)
    elif by_card is not None:
        yield _narrowed_by_card(known[0], by_card, card)
    elif (known and len(shared) > 1) or compound is None:
        yield from (
            cell.finding(cell.meaning.problem) for cell in known[:1] if cell.meaning.problem
        )


def _narrowed_by_card(cell: _Cell, meant: Compound, card: StockCard) -> Finding:
    problem = cell.meaning.problem
    assert problem is not None
    fitting = listed(list(card.verdicts(meant)))
    return Finding(
        problem.code,
        "warning",
        f"{cell.quoted} could mean several compounds, and is taken for {meant}: of these, it alone "
        f"has the {fitting} of this row.",
        "See that the bottle says so, and write the name in full, or its CAS number.",
    )


def _unresolved(
    cells: Sequence[_Cell], compound: Compound | None, card: StockCard
) -> Iterator[Finding]:
    """Yield what is wrong with cells that mean nothing usable, once where several say the same.

    Where another cell says which compound it is, a name that nobody knows is only doubtful, and so
    is one of a grade, a solution or a mixture of it; where the card agrees too, an unknown name is
    no more than a synonym that is not known here.
    """
    told: set[str] = set()
    for cell in cells:
        problem, meaning = cell.meaning.problem, cell.meaning
        if problem is None or meaning.compounds or meaning.wrong_number:
            continue
        if problem.reason in told:
            continue
        told.add(problem.reason)
        finding = cell.finding(problem)
        if compound is None:
            yield finding
        elif meaning.is_unknown:
            yield _settled_otherwise(finding, cells, compound, card)
        elif any(map(compound.is_same, meaning.part_of)):
            yield replace(_settled_otherwise(finding, cells, compound, card), severity="warning")
        else:
            yield finding


def _settled_otherwise(
    finding: Finding, cells: Sequence[_Cell], compound: Compound, card: StockCard
) -> Finding:
    """Say of a name that is not understood what the rest of the row says."""
    saying = listed([cell.column for cell in cells if cell.may_be(compound)])
    fits = card.fits(compound)
    card_too = f", whose {listed(list(card.verdicts(compound)))} the row has" if fits else ""
    return replace(
        finding,
        severity="note" if fits else "warning",
        message=f"{finding.message} By {saying} it is {compound}{card_too}.",
        advice="See that the bottle says so too; if it holds something else, correct the row.",
    )


def _empty(bottle: StockBottle) -> Finding:
    headers = [bottle.columns[kind].header for kind in IDENTITIES if kind in bottle.columns]
    return Finding(
        "identity-unknown",
        "error",
        f"{listed(headers)}: empty, so that nothing says which compound it is.",
        "Give a name, a CAS number or a SMILES.",
    )


def _disagree(known: Sequence[_Cell], card: StockCard, by_card: Compound | None) -> Finding:
    said = [f'{cell.column} "{excerpt(cell.read)}" is {_names(cell.meaning)}' for cell in known]
    message = f"{'; '.join(said)}."
    if agreeing := next(filter(None, _agreeing_columns(known)), None):
        message += f" {listed(agreeing)} agree."
    for cell in known:
        if fitting := _fitting(card, cell.meaning.compounds):
            verb = "fits" if len(fitting) == 1 and fitting[0] != "percentages" else "fit"
            message += f" {listed(fitting).capitalize()} {verb} {cell.column}."
    if by_card is not None:
        message += f" So it is taken for {by_card}."
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


def _fitting(card: StockCard, compounds: Sequence[Compound]) -> list[str]:
    """Return what else the row states that is right for one of the compounds."""
    best: list[str] = []
    for compound in compounds:
        fitting = [what for what, is_right in card.verdicts(compound).items() if is_right]
        best = max(best, fitting, key=len)
    return best


def _names(meaning: Meaning) -> str:
    names = [compound.name for compound in meaning.compounds]
    more = " or others" if len(names) > MAX_NAMES_IN_SENTENCE else ""
    return " or ".join(names[:MAX_NAMES_IN_SENTENCE]) + more


def _meant_by_slip(
    cell: _Cell, known: Sequence[_Cell], card: StockCard, resolver: Resolver
) -> Compound | None:
    """Return what a mistyped number must have meant: the only one like it that fits the card.

    A formula alone is shared by many; it takes a boiling point. Where other cells are known, they
    say it.
    """
    if known:
        return None
    offered = list(islice(_offered(cell.meaning.wrong_number, card, resolver), 2))
    if len(offered) != 1 or "boiling point" not in card.verdicts(offered[0]):
        return None
    return offered[0]


def _wrong_digit(
    cell: _Cell,
    compound: Compound | None,
    card: StockCard,
    resolver: Resolver,
    is_by_card: bool = False,
) -> Finding:
    problem = cell.meaning.problem
    assert problem is not None
    message = f"{cell.quoted} {problem.reason}."
    if compound is not None and is_by_card:
        fitting = listed(list(card.verdicts(compound)))
        message += f" It is taken for {compound}, whose {fitting} the row has."
    elif compound is not None:
        message += f" {compound.name} has {compound.cas or 'none that is known here'}."
    elif offered := list(
        islice(_offered(cell.meaning.wrong_number, card, resolver), MAX_NAMES_IN_SENTENCE)
    ):
        numbers = [f"{one.cas} ({one.name})" for one in offered]
        message += f" Numbers like it are {listed(numbers)}."
    return Finding("cas-check-digit", "error", message, problem.advice)


def _right_number(
    cell: _Cell, compound: Compound | None, bottle: StockBottle, writer: CellWriter
) -> Iterator[Change]:
    """Yield the change to a compound's CAS number where it is one slip of the pen away."""
    number = cell.meaning.wrong_number
    if compound is not None and compound.cas in cas_numbers.slips_of_the_pen(number):
        reason = f"the CAS number of {compound.name}"
        yield writer.text(bottle, cell.kind, compound.cas, reason)


def _offered(wrong: str, card: StockCard, resolver: Resolver) -> Iterator[Compound]:
    """Yield the table's compounds whose CAS number is one slip away, and that fit the row."""
    right = cas_numbers.with_check_digit(wrong)
    slips = [right, *(number for number in cas_numbers.slips_of_the_pen(wrong) if number != right)]
    for number in slips:
        compound = resolver.in_table(number)
        if compound is not None and all(card.verdicts(compound).values()):
            yield compound
