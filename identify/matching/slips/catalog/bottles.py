"""Cards mixed up: the boiling point, or the percentages, of another bottle of the stock table."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from identify.matching.slips.mechanism.case import Case
from identify.matching.slips.mechanism.hypothesis import Hypothesis, SlipInWords
from identify.matching.slips.mechanism.rewriting import SlipList

_MIXED_UP_CHANCE = 0.005  # that one of the two came from another bottle's card; common practice


def _boiling_point_of_another(case: Case) -> Iterator[Hypothesis]:
    """Yield the chance that the boiling point was copied from another bottle's card."""
    yield from _of_another(case, "boiling_point", "boiling point")


def _composition_of_another(case: Case) -> Iterator[Hypothesis]:
    """Yield the chance that the percentages were copied from another bottle's card."""
    yield from _of_another(case, "composition", "percentages")


def _of_another(case: Case, observable: str, words: str) -> Iterator[Hypothesis]:
    labels, count = case.table.text("label"), len(case.table)
    everywhere = case.posterior.likelihoods.get(observable)
    if everywhere is None or count < 2 or not any(labels):
        return
    own = everywhere[case.rows]
    # Any other bottle's, all alike likely.
    density = (float(everywhere.sum()) - own) / (count - 1)

    def tell(leading: int) -> SlipInWords:
        others = everywhere.copy()
        others[case.rows[leading]] = 0.0
        best = int(np.argmax(others))
        bottle = labels[best] or case.table.text("name")[best]
        return SlipInWords(
            f"The {words} may be from the card of another bottle: {bottle} "
            f"({case.table.text('name')[best]}) has such.",
            {"card": bottle},
        )

    yield Hypothesis(f"{observable.replace('_', '-')}-of-another", _MIXED_UP_CHANCE, density, tell)


SLIPS: SlipList = {
    "boiling_point": (_boiling_point_of_another,),
    "composition": (_composition_of_another,),
}
