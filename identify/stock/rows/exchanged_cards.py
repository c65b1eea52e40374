"""Cards that say what another bottle of the same table holds.

One fault, one finding: a card that fits another bottle altogether, and not its own, has not one
wrong number after the other but stands at the wrong bottle.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from identify.compounds.identities import Compound
from identify.notebook.findings import Finding, listed
from identify.stock.class_use.shelf import bottle_name, identity_of
from identify.stock.result import StockRow
from identify.stock.rows.boiling_points import BoilingPointChecks
from identify.stock.rows.stated_values import StatedValues

# One number that is wrong may be anything, also what another bottle's card says; two are no
# chance. With cards exchanged each explains the other, and one number on each is enough.
_LEAST_WRONG = 2

# What of a row another bottle's card explains: how the codes of findings begin, and columns.
_EXPLAINED = ("boiling-point-wrong", "percent-", "formula-", "molar-mass-", "identity-disagrees")
_COLUMNS = ("boiling_point", "percent", "formula", "molar_mass")


def with_exchanged_cards(
    rows: Sequence[StockRow],
    cards: Mapping[int, StatedValues],
    boiling_points: BoilingPointChecks,
    meant: Mapping[int, Compound] | None = None,
) -> list[StockRow]:
    """Put the one finding that a card is another bottle's in place of all that it explains.

    Parameters
    ----------
    rows : sequence of StockRow
        With the findings on each alone.
    cards : mapping of int to StatedValues
        By row.
    boiling_points : BoilingPointChecks
    meant : mapping of int to Compound, optional
        By row, what the identity means of a row that is left without a compound because all else
        in it speaks against that.

    Returns
    -------
    list of StockRow
        Changes that would write a wrong card's numbers anew are left out: it is not known whether
        the card or the bottle stands in the wrong row.
    """
    named = [
        replace(row, compound=(meant or {}).get(row.row)) if row.compound is None else row
        for row in rows
    ]
    owners, wrong = _owners(named, cards, boiling_points)
    found = list(rows)
    for place, others in owners.items():
        row = named[place]
        mutual = next((other for other in others if place in owners.get(other, ())), None)
        if mutual is not None:
            found[place] = _explained(row, _exchanged(row, named[mutual]))
        elif others and len(wrong[place]) >= _LEAST_WRONG:
            found[place] = _explained(row, _of_another(row, [named[other] for other in others]))
    return found


def _owners(
    rows: Sequence[StockRow], cards: Mapping[int, StatedValues], boiling_points: BoilingPointChecks
) -> tuple[dict[int, list[int]], dict[int, set[str]]]:
    """Return by place which rows a wrong card fits, and what of it is wrong."""
    holders: dict[object, list[int]] = {}
    wrong: dict[int, set[str]] = {}
    for place, row in enumerate(rows):
        if row.compound is not None:
            holders.setdefault(identity_of(row.compound), []).append(place)
            if row.row in cards:
                compared = _compared(cards[row.row], row.compound, boiling_points)
                wrong[place] = {name for name, agrees in compared if not agrees}
    owners = {
        place: [
            other
            for same in holders.values()
            if (compound := rows[same[0]].compound) is not None
            and _fits(cards[rows[place].row], compound, off, boiling_points)
            for other in same
        ]
        for place, off in wrong.items()
        if off
    }
    return owners, wrong


def _compared(
    card: StatedValues, compound: Compound, boiling_points: BoilingPointChecks
) -> Iterator[tuple[str, bool]]:
    """Yield all that a card states, and whether it is this compound's."""
    wrong = set(card.wrong_elements(compound.percent))
    yield from ((element, element not in wrong) for element in card.percent)
    for name, agrees in card.verdicts(compound).items():
        if name != "percentages":
            yield name, agrees
    is_off = boiling_points.is_off(card, compound, beyond=0)
    if is_off is not None:
        yield "boiling point", not is_off


def _fits(
    card: StatedValues, compound: Compound, wrong: set[str], boiling_points: BoilingPointChecks
) -> bool:
    """Say whether all that a card states is this compound's, what was wrong elsewhere too."""
    right = set()
    for name, agrees in _compared(card, compound, boiling_points):
        if not agrees:
            return False
        right.add(name)
    return wrong <= right


def _explained(row: StockRow, finding: Finding) -> StockRow:
    kept = [one for one in row.findings if not one.code.startswith(_EXPLAINED)]
    changes = tuple(
        change
        for change in row.changes
        if not change.column.lower().replace(" ", "_").startswith(_COLUMNS)
    )
    return replace(row, findings=(finding, *kept), changes=changes)


def _exchanged(row: StockRow, other: StockRow) -> Finding:
    assert row.compound is not None
    assert other.compound is not None
    return Finding(
        "cards-exchanged",
        "error",
        f"The cards of {bottle_name(row)} ({row.compound.name}) and {bottle_name(other)} "
        f"({other.compound.name}) are exchanged: each says what the other bottle holds.",
        "Look at the two bottles, and exchange either the identities or what the cards say; the "
        "corrected copy leaves both as they are.",
        {"other_row": float(other.row)},
    )


def _of_another(row: StockRow, others: Sequence[StockRow]) -> Finding:
    assert row.compound is not None
    bottles = listed([bottle_name(other) for other in others])
    name = others[0].compound.name if others[0].compound is not None else ""
    return Finding(
        "card-of-another-bottle",
        "error",
        f"The card of {bottle_name(row)} is not that of {row.compound.name}: all it says is true "
        f"of {name}, which is in {bottles}.",
        "Look at the bottle, and correct either its identity or its card; the corrected copy "
        "leaves both as they are.",
        {"other_row": float(others[0].row)},
    )
