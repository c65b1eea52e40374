"""Which compound a row is, by all of its cells that say so: they must mean the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from identify.chemistry import cas_numbers
from identify.compounds.identities import Compound, Identities, Meaning
from identify.notebook.findings import Finding, listed
from identify.notebook.quantities import excerpt
from identify.stock.result import Change
from identify.stock.rows.cell_writer import CellWriter
from identify.stock.rows.stated_values import StatedValues, unreadable
from identify.tables.faults import TableError
from identify.tables.stock_rows import IDENTITIES, Bottle

_OFFERED = 3  # CAS numbers in a sentence


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


def row_identity(
    bottle: Bottle, stated: StatedValues, identities: Identities, pen: CellWriter
) -> RowIdentity:
    """Return which compound a row is, and what is wrong with the cells that say so."""
    findings: list[Finding] = []
    meanings: list[Meaning] = []
    for kind in IDENTITIES:
        try:
            text = bottle.text(kind)
        except TableError as fault:
            findings.append(unreadable(bottle, fault))
            continue
        if text:
            meanings.append(identities.meaning(kind, bottle.columns[kind].header, text))
    if not meanings:
        if not findings:
            findings.append(_empty(bottle))
        return RowIdentity("", None, tuple(findings))
    clear = [meaning for meaning in meanings if meaning.compounds]
    common = _common(clear)
    # A name that is usually one of several stands for that one where nothing says otherwise; a cell
    # that may mean several is settled by another only, even where one compound alone is known.
    is_clear = len(clear) > 1 or any(meaning.problem is None for meaning in clear)
    is_settled = bool(common) and ((len(common) == 1 and is_clear) or clear[0].is_usual)
    settled = common[0] if is_settled else None
    if clear and not common:
        findings.append(_disagree(clear, stated))
    elif clear and clear[0].problem is not None and (len(common) > 1 or not is_settled):
        findings.append(clear[0].problem)
    findings += _unresolved(meanings, is_settled)
    changes: list[Change] = []
    for meaning in (one for one in meanings if one.wrong_digit):
        findings.append(_wrong_digit(meaning, settled, stated, identities))
        if settled is not None and (meant := _number_meant(meaning.read, settled)):
            reason = f"the CAS number of {settled.name}"
            changes.append(pen.text(bottle, meaning.kind, meant, reason))
    agreeing = max(len(clear) - 1, 0) if is_settled else 0
    return RowIdentity(meanings[0].read, settled, tuple(findings), tuple(changes), agreeing)


def same_compound(one: Compound, other: Compound) -> bool:
    """Whether two compounds cannot be told apart: one row of the table, or one constitution."""
    if one.place is not None and other.place is not None:
        return one.place == other.place
    return one.inchikey.partition("-")[0] == other.inchikey.partition("-")[0]


def _common(clear: Sequence[Meaning]) -> list[Compound]:
    """Return the compounds that all cells may mean."""
    if not clear:
        return []
    first, *others = clear
    return [
        compound
        for compound in first.compounds
        if all(any(same_compound(compound, one) for one in meaning.compounds) for meaning in others)
    ]


def _unresolved(meanings: Sequence[Meaning], settled: bool) -> Iterator[Finding]:
    """Yield what is wrong with cells that mean nothing usable.

    The first cell decides: where it is not read, the row is wrong. A further name that nobody knows
    is doubtful only, where another cell says which compound it is.
    """
    for place, meaning in enumerate(meanings):
        if meaning.problem is None or meaning.compounds:
            continue
        is_doubt = settled and place > 0 and meaning.problem.code == "identity-unknown"
        yield replace(meaning.problem, severity="warning") if is_doubt else meaning.problem


def _empty(bottle: Bottle) -> Finding:
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
    for place, one in enumerate(clear):
        same = [
            other.column
            for other in clear[place + 1 :]
            if any(same_compound(a, b) for a in one.compounds for b in other.compounds)
        ]
        if same:
            message += f" {listed([one.column, *same])} agree."
            break
    for meaning in clear:
        fitting = _fitting(stated, meaning.compounds)
        if fitting:
            message += f" {listed(fitting).capitalize()} fit {meaning.column}."
    return Finding(
        "identity-disagrees",
        "error",
        message,
        "See what the bottle itself says, and correct the cell that is wrong.",
    )


def _fitting(stated: StatedValues, compounds: Sequence[Compound]) -> list[str]:
    """Return what else the row states that is right for one of the compounds."""
    best: list[str] = []
    for compound in compounds:
        fitting = [what for what, is_right in stated.verdicts(compound).items() if is_right]
        best = max(best, fitting, key=len)
    return best


def _names(meaning: Meaning) -> str:
    names = [compound.name for compound in meaning.compounds[:_OFFERED]]
    return " or ".join(names) + (" or others" if meaning.compounds[_OFFERED:] else "")


def _number_meant(read: str, compound: Compound) -> str:
    """Return a compound's CAS number if it is one slip of the pen away, else empty text."""
    return compound.cas if compound.cas in cas_numbers.slips_of_the_pen(read) else ""


def _wrong_digit(
    meaning: Meaning, settled: Compound | None, stated: StatedValues, identities: Identities
) -> Finding:
    read = meaning.read
    right = cas_numbers.with_check_digit(read)
    message = (
        f'{meaning.column}: "{read}" is no CAS number: its last digit would have to be {right[-1]}.'
    )
    if settled is not None:
        message += f" {settled.name} has {settled.cas or 'none that is known here'}."
    else:
        offered = list(_offered(read, right, stated, identities))
        if offered:
            message += f" Numbers like it are {listed(offered)}."
    return Finding("cas-check-digit", "error", message, "Copy it from the bottle again.")


def _offered(read: str, right: str, stated: StatedValues, identities: Identities) -> Iterator[str]:
    """Yield the numbers one slip away that a compound of the table has which fits the row."""
    slips = [right, *(number for number in cas_numbers.slips_of_the_pen(read) if number != right)]
    found = 0
    for number in slips:
        compound = identities.in_table(number)
        if compound is None or not all(stated.verdicts(compound).values()):
            continue
        yield f"{number} ({compound.name})"
        found += 1
        if found == _OFFERED:
            return
