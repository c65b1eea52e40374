"""Cards that say what another bottle of the same table holds.

One fault, one finding: a card that fits another bottle in every value, and not its own, does not
hold several wrong numbers but stands at the wrong bottle.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from identify.compounds.naming.meaning import Compound
from identify.notebook.findings import Finding, listed
from identify.stock.result import StockRow
from identify.stock.rows.boiling_points import BoilingPointChecks
from identify.stock.rows.identity import rows_by_compound
from identify.stock.rows.stated_values import StatedValues

# One number that is wrong may be anything, also what another bottle's card says; two are not
# chance. With cards exchanged each explains the other, and one number on each is enough.
_MIN_WRONG_VALUES = 2

# What of a row another bottle's card explains: how the codes of findings begin, and columns.
_EXPLAINED_CODES = (
    "boiling-point-wrong",
    "percent-",
    "formula-",
    "molar-mass-",
    "identity-disagrees",
)
_EXPLAINED_COLUMNS = ("boiling_point", "percent", "formula", "molar_mass")


def with_exchanged_cards(
    rows: Sequence[StockRow],
    cards: Mapping[int, StatedValues],
    boiling_points: BoilingPointChecks,
    doubted: Mapping[int, Compound] = MappingProxyType({}),
) -> list[StockRow]:
    """Put the one finding that a card is another bottle's in place of all that it explains.

    Parameters
    ----------
    rows : sequence of StockRow
        With the findings on each alone.
    cards : mapping of int to StatedValues
        By row.
    boiling_points : BoilingPointChecks
    doubted : mapping of int to Compound, optional
        By row, what its identity means where the row is left without a compound because all else
        in it speaks against that.

    Returns
    -------
    list of StockRow
        Changes that would write a wrong card's numbers anew are left out: it is not known whether
        the card or the bottle stands in the wrong row.
    """
    held = [
        replace(row, compound=doubted.get(row.row)) if row.compound is None else row for row in rows
    ]
    wrong = {row.row: _wrong_values(row, cards, boiling_points) for row in held}
    owners = _owners(rows_by_compound(held), cards, wrong, boiling_points)

    def explained(row: StockRow) -> StockRow | None:
        others = owners.get(row.row, [])
        for other in others:
            if any(one.row == row.row for one in owners.get(other.row, [])):
                return _explained(row, _exchanged(row, other))
        if others and len(wrong[row.row]) >= _MIN_WRONG_VALUES:
            return _explained(row, _of_another(row, others))
        return None

    return [explained(own) or row for row, own in zip(rows, held, strict=True)]


def _owners(
    holders: Sequence[tuple[Compound, Sequence[StockRow]]],
    cards: Mapping[int, StatedValues],
    wrong: Mapping[int, set[str]],
    boiling_points: BoilingPointChecks,
) -> dict[int, list[StockRow]]:
    """Return for each wrong card, by row, the rows that it fits."""
    owners: dict[int, list[StockRow]] = {}
    for number, values in wrong.items():
        if values:
            owners[number] = []
            for compound, rows in holders:
                if _fits(cards[number], compound, values, boiling_points):
                    owners[number] += rows
    return owners


def _wrong_values(
    row: StockRow, cards: Mapping[int, StatedValues], boiling_points: BoilingPointChecks
) -> set[str]:
    """Return what of a row's card is not its compound's."""
    if row.compound is None or row.row not in cards:
        return set()
    compared = _compared(cards[row.row], row.compound, boiling_points)
    return {name for name, agrees in compared.items() if not agrees}


def _compared(
    card: StatedValues, compound: Compound, boiling_points: BoilingPointChecks
) -> dict[str, bool]:
    """Return for each value that a card states whether it is this compound's."""
    compared = card.verdicts(compound)
    if compared.pop("percentages", None) is not None:
        wrong = card.wrong_elements(compound)
        compared |= {element: element not in wrong for element in card.percent}
    is_doubtful = boiling_points.is_doubtful(card, compound)
    if is_doubtful is not None:
        compared["boiling point"] = not is_doubtful
    return compared


def _fits(
    card: StatedValues, compound: Compound, wrong: set[str], boiling_points: BoilingPointChecks
) -> bool:
    """Whether all that a card states is this compound's, also what is wrong for its own."""
    compared = _compared(card, compound, boiling_points)
    return all(compared.values()) and wrong <= compared.keys()


def _explained(row: StockRow, finding: Finding) -> StockRow:
    kept = [one for one in row.findings if not one.code.startswith(_EXPLAINED_CODES)]
    changes = tuple(
        change
        for change in row.changes
        if not change.column.lower().replace(" ", "_").startswith(_EXPLAINED_COLUMNS)
    )
    return replace(row, findings=(finding, *kept), changes=changes)


def _exchanged(row: StockRow, other: StockRow) -> Finding:
    assert row.compound is not None
    assert other.compound is not None
    return Finding(
        "cards-exchanged",
        "error",
        f"The cards of {row.title} ({row.compound.name}) and {other.title} "
        f"({other.compound.name}) are exchanged: each says what the other bottle holds.",
        "Look at the two bottles, and exchange either the identities or what the cards say; the "
        "corrected copy leaves both as they are.",
        {"other_row": float(other.row)},
    )


def _of_another(row: StockRow, others: Sequence[StockRow]) -> Finding:
    assert row.compound is not None
    bottles = listed([other.title for other in others])
    assert others[0].compound is not None
    return Finding(
        "card-of-another-bottle",
        "error",
        f"The card of {row.title} is not that of {row.compound.name}: all it says is true "
        f"of {others[0].compound.name}, which is in {bottles}.",
        "Look at the bottle, and correct either its identity or its card; the corrected copy "
        "leaves both as they are.",
        {"other_row": float(others[0].row)},
    )
