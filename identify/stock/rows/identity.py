"""Which compound a row is: all of its cells that say so must mean the same one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from identify.chemistry import cas_numbers
from identify.compounds.identities import Compound, Identities, Meaning
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
        cls, bottle: StockBottle, stated: StatedValues, identities: Identities, writer: CellWriter
    ) -> RowIdentity:
        """Return which compound a row is, and what is wrong with the cells that say so."""
        meanings, unreadable_cells = _meanings(bottle, identities)
        if not meanings:
            return cls("", None, tuple(unreadable_cells) or (_empty(bottle),))
        clear = [meaning for meaning in meanings if meaning.compounds]
        common = _common(clear)
        settled = _settled(clear, common)
        findings = [
            *unreadable_cells,
            *_open_questions(clear, common, settled, stated),
            *_unresolved(meanings, settled),
        ]
        changes: list[Change] = []
        for meaning in meanings:
            if meaning.wrong_digit:
                findings.append(_wrong_digit(meaning, settled, stated, identities))
                changes += _right_number(meaning, settled, bottle, writer)
        agreeing = 0 if settled is None else len(clear) - 1
        return cls(meanings[0].read, settled, tuple(findings), tuple(changes), agreeing)


def rows_by_compound(rows: Iterable[StockRow]) -> list[tuple[Compound, list[StockRow]]]:
    """Return each compound with the rows that hold it, in the order of the table."""
    holders: dict[object, tuple[Compound, list[StockRow]]] = {}
    for row in rows:
        if (compound := row.compound) is not None:
            structure = compound.inchikey or compound.smiles or compound.name
            key = structure if compound.place is None else compound.place
            holders.setdefault(key, (compound, []))[1].append(row)
    return list(holders.values())


def _meanings(bottle: StockBottle, identities: Identities) -> tuple[list[Meaning], list[Finding]]:
    """Return what each filled cell means, and a finding for each that cannot be read."""
    meanings: list[Meaning] = []
    findings: list[Finding] = []
    for kind in IDENTITIES:
        try:
            if text := bottle.text(kind):
                meanings.append(identities.meaning(kind, bottle.columns[kind].header, text))
        except TableError as fault:
            findings.append(unreadable(bottle, fault))
    return meanings, findings


def _common(clear: Sequence[Meaning]) -> list[Compound]:
    """Return the compounds that all cells may mean."""
    if not clear:
        return []
    first, *others = clear
    return [
        compound
        for compound in first.compounds
        if all(any(compound.is_same(one) for one in meaning.compounds) for meaning in others)
    ]


def _settled(clear: Sequence[Meaning], common: Sequence[Compound]) -> Compound | None:
    """Return the one compound that the cells mean, None where they leave it open.

    A name that usually means one of several stands for that one where nothing says otherwise. A
    cell that may mean several is settled only by another cell, even where one compound is known.
    """
    if not common:
        return None
    is_clear = len(clear) > 1 or clear[0].problem is None
    return common[0] if (len(common) == 1 and is_clear) or clear[0].is_usual else None


def _open_questions(
    clear: Sequence[Meaning],
    common: Sequence[Compound],
    settled: Compound | None,
    stated: StatedValues,
) -> Iterator[Finding]:
    """Yield that the cells contradict each other, or what the first of them leaves open."""
    if clear and not common:
        yield _disagree(clear, stated)
    elif clear and clear[0].problem is not None and (len(common) > 1 or settled is None):
        yield clear[0].problem


def _unresolved(meanings: Sequence[Meaning], settled: Compound | None) -> Iterator[Finding]:
    """Yield what is wrong with cells that mean nothing usable.

    The first cell decides: where it cannot be read, the row is wrong. Where another cell says which
    compound it is, a further name that nobody knows is only doubtful.
    """
    for place, meaning in enumerate(meanings):
        if meaning.problem is None or meaning.compounds:
            continue
        is_further = place > 0 and meaning.problem.code == "identity-unknown"
        is_doubt = settled is not None and is_further
        yield replace(meaning.problem, severity="warning") if is_doubt else meaning.problem


def _empty(bottle: StockBottle) -> Finding:
    headers = [bottle.columns[kind].header for kind in IDENTITIES if kind in bottle.columns]
    return Finding(
        "identity-unknown",
        "error",
        f"{listed(headers)}: empty, so that nothing says which compound it is.",
        "Give a name, a CAS number or a SMILES.",
    )


def _disagree(clear: Sequence[Meaning], stated: StatedValues) -> Finding:
    said = [f'{meaning.column} "{excerpt(meaning.read)}" is {_names(meaning)}' for meaning in clear]
    message = f"{'; '.join(said)}."
    if agreeing := next(filter(None, _agreeing_columns(clear)), None):
        message += f" {listed(agreeing)} agree."
    for meaning in clear:
        if fitting := _fitting(stated, meaning.compounds):
            message += f" {listed(fitting).capitalize()} fit {meaning.column}."
    return Finding(
        "identity-disagrees",
        "error",
        message,
        "See what the bottle itself says, and correct the cell that is wrong.",
    )


def _agreeing_columns(clear: Sequence[Meaning]) -> Iterator[list[str]]:
    """Yield for each cell its column and those of later cells that may mean the same."""
    for place, one in enumerate(clear):
        same = [other.column for other in clear[place + 1 :] if _common([one, other])]
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
    meaning: Meaning, settled: Compound | None, stated: StatedValues, identities: Identities
) -> Finding:
    read = meaning.read
    right = cas_numbers.with_check_digit(read)
    message = (
        f'{meaning.column}: "{read}" is not a CAS number: '
        f"its last digit would have to be {right[-1]}."
    )
    if settled is not None:
        message += f" {settled.name} has {settled.cas or 'none that is known here'}."
    elif offered := list(islice(_offered(read, right, stated, identities), MAX_NAMES_IN_SENTENCE)):
        message += f" Numbers like it are {listed(offered)}."
    return Finding("cas-check-digit", "error", message, "Copy it from the bottle again.")


def _right_number(
    meaning: Meaning, settled: Compound | None, bottle: StockBottle, writer: CellWriter
) -> Iterator[Change]:
    """Yield the change to a compound's CAS number where it is one slip of the pen away."""
    if settled is not None and settled.cas in cas_numbers.slips_of_the_pen(meaning.read):
        reason = f"the CAS number of {settled.name}"
        yield writer.text(bottle, meaning.kind, settled.cas, reason)


def _offered(read: str, right: str, stated: StatedValues, identities: Identities) -> Iterator[str]:
    """Yield CAS numbers one slip away whose compound, one of the table, fits the row."""
    slips = [right, *(number for number in cas_numbers.slips_of_the_pen(read) if number != right)]
    for number in slips:
        compound = identities.in_table(number)
        if compound is not None and all(stated.verdicts(compound).values()):
            yield f"{number} ({compound.name})"
