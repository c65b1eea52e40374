"""Slips in the percentages: fractions, digits, two exchanged, a remainder, water, one left out."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import combinations
from statistics import mode

import numpy as np

from identify.matching.slips.mechanism.case import Case, CasePercentages
from identify.matching.slips.mechanism.digits import digits_of, misread, written_text
from identify.matching.slips.mechanism.hypothesis import (
    Hypotheses,
    Hypothesis,
    Slip,
    SlipInWords,
    gamma,
    saying,
)
from identify.matching.slips.mechanism.rewriting import SlipList
from identify.matching.slips.mechanism.wording import each_miswritten
from identify.notebook.findings import listed
from identify.notebook.plausible import lists_no_oxygen, look_like_fractions
from identify.observables.error.comparison import normal
from identify.physics.arrays import Array
from identify.physics.constants import ELEMENTS

# Chances on one card, before anything is compared. Common practice.
_FRACTION_CHANCE = 0.002
_SWAPPED_CHANCE = 0.003
_REMAINDER_CHANCE = 0.003
_WET_CHANCE, _WET = 0.002, 0.03  # mass fraction of water, twice this in the mean
_MAX_WATER = 0.25  # mass fraction
# Water by the percent mixes only with liquids that hold one of these: hydrocarbons and their
# halides take up 0.2 % at most (benzene 0.06 %, dichloromethane 0.2 %; from memory).
_MIX_WITH_WATER = ("O", "N")

_PERCENTS = 100.0  # in one

_WATER = np.zeros(len(ELEMENTS))
# 2 x 1.008 / 18.015 and 15.999 / 18.015: the atomic weights of `identify.physics.constants`.
_WATER[ELEMENTS.index("H")], _WATER[ELEMENTS.index("O")] = 11.19, 88.81


def _percent_as_fraction(case: Case) -> Iterator[Hypothesis]:
    """Yield parts of one, where the numbers can hardly be anything else."""
    card = case.percentages
    if not look_like_fractions(sum(card.values.values()), len(card.values)):
        return
    elements = [ELEMENTS[place] for place in card.values]
    values = {place: 100.0 * value for place, value in card.values.items()}
    density = np.ones(len(case.rows)) * card.claim(sum(values.values()))
    for place, stated in case.bench.percent.items():
        known = 0.0 if stated.uncertainty is None else 100.0 * stated.uncertainty
        density *= normal(values[place] - card.expected[place], max(known, card.sigmas[place]))
    texts = [f"{value:.2f} %" for value in values.values()]
    told = SlipInWords(
        "The percentages are perhaps fractions of one: "
        f"{listed([' '.join(pair) for pair in zip(elements, texts, strict=True)])} would fit.",
        {f"percent {element}": text for element, text in zip(elements, texts, strict=True)},
    )
    # Fractions lie closer together by a hundred each.
    odds = 100.0 ** len(elements)
    yield Hypothesis(
        "percent-as-fraction", _FRACTION_CHANCE, density, saying(lambda: told), odds=odds
    )


def _percentage_digits(case: Case) -> Iterator[Hypotheses]:
    """Yield slips of the pen in a percentage."""
    card = case.percentages
    for place in card.values:
        written = card.written(place)
        others = [written_text(card.written(other)) for other in card.values if other != place]
        decimals = mode([len(digits_of(text)[1]) for text in others]) if others else None
        found = misread(written, decimals=decimals)
        found = found.some(found.values * _PERCENTS <= 100.0)
        name, key = f"the percentage of {ELEMENTS[place]}", f"percent {ELEMENTS[place]}"
        densities = card.densities(place, found.values * _PERCENTS)
        tell = each_miswritten(name, written, found, key)
        yield Hypotheses.of_digits(found, densities, tell, key)


def _percentages_exchanged(case: Case) -> Iterator[Hypothesis]:
    """Yield the percentages of two elements exchanged."""
    card = case.percentages
    pairs = list(combinations(card.values, 2))
    for first, second in pairs:
        density = card.density({first: card.values[second], second: card.values[first]})
        yield Hypothesis(
            "percentages-exchanged",
            _SWAPPED_CHANCE / len(pairs),
            density,
            saying(partial(_pair, card, first, second)),
        )


def _pair(card: CasePercentages, first: int, second: int) -> SlipInWords:
    one, other = ELEMENTS[first], ELEMENTS[second]
    right = {
        f"percent {one}": str(card.written(second)),
        f"percent {other}": str(card.written(first)),
    }
    return SlipInWords(
        f"The percentages of {one} and {other} are perhaps exchanged: {one} "
        f"{card.written(second)} and {other} {card.written(first)} would fit.",
        right,
    )


def _percent_by_difference(case: Case) -> Iterator[Hypothesis]:
    """Yield elements taken as what is left to 100, where that holds another element too."""
    card = case.percentages
    for place in card.values:
        element = ELEMENTS[place]
        hidden = np.where(card.remaining > 1.0, card.remaining, 0.0)
        off = card.values[place] - card.expected[place] - hidden
        density = card.sound / card.likelihoods[place] * normal(off, card.sigmas[place])

        def tell(leading: int, place: int = place, element: str = element) -> SlipInWords:
            own = float(card.expected[place, leading])
            others = [
                f"{ELEMENTS[row]} {float(card.expected[row, leading]):.2f}"
                for row in range(len(ELEMENTS))
                if row not in card.values and card.expected[row, leading] > 0.0
            ]
            return SlipInWords(
                f"The percentage of {element}, {card.written(place)}, is perhaps all that was "
                f"left to 100: {element} {own:.2f} and {', '.join(others)} would fit.",
                {f"percent {element}": f"{own:.2f} %"},
            )

        chance = _REMAINDER_CHANCE if element == "O" else 0.1 * _REMAINDER_CHANCE
        both = (hidden > 0.0) & (card.expected[place] > 1.0)
        yield Hypothesis("percent-by-difference", chance, density * both, tell)


def _wet_liquid(case: Case) -> Iterator[Hypothesis]:
    """Yield water in the liquid, which moves all percentages along one line."""
    card = case.percentages
    if not {ELEMENTS.index("C"), ELEMENTS.index("H")} <= card.values.keys():
        return
    places = list(card.values)
    values = np.array([card.values[place] for place in places])[:, np.newaxis]
    sigmas = np.array([card.sigmas[place] for place in places])[:, np.newaxis]
    off = (values - card.expected[places]) / sigmas
    toward = (_WATER[places][:, np.newaxis] - card.expected[places]) / sigmas
    size = np.maximum((toward * toward).sum(axis=0), 1e-12)
    share = np.clip((off * toward).sum(axis=0) / size, 0.0, _MAX_WATER)
    left = ((off - share * toward) ** 2).sum(axis=0)
    peak = np.exp(-0.5 * left) / np.prod(sigmas * np.sqrt(2.0 * np.pi))
    # The share of water is known to 1/sqrt(size): that much of its own distribution counts.
    density = peak * gamma(share, _WET) * np.sqrt(2.0 * np.pi / size)

    def tell(leading: int) -> SlipInWords:
        percent = 100.0 * float(share[leading])
        return SlipInWords(
            f"The percentages fit a liquid with about {percent:.0f} % of water in it.",
            {"water": f"{percent:.0f} %"},
        )

    mixes = card.expected[[ELEMENTS.index(element) for element in _MIX_WITH_WATER]].any(axis=0)
    yield Hypothesis("wet-liquid", _WET_CHANCE, density * mixes, tell)


# A card that adds up to this or less leaves something out; more is the rounding of its numbers.
_MAX_INCOMPLETE_SUM = 97.0  # percent


def element_left_out(case: Case, probability: Array) -> tuple[Slip, ...]:
    """Return the element that a card seems to leave out: what all likely compounds hold besides.

    Nothing speaks against leaving an element out, so that no probability changes by it.

    Parameters
    ----------
    case : Case
    probability : array, shape (s,)
        Of the leading candidates.
    """
    card = {ELEMENTS[place]: stated.value for place, stated in case.bench.percent.items()}
    listed = sum(card.values())
    if not card or listed > _MAX_INCOMPLETE_SUM:
        return ()
    expected = case.matcher.expectation.percent[:, case.rows]
    others = [row for row in range(len(ELEMENTS)) if row not in case.bench.percent]
    holds = expected[others] > 0.0
    # What is left to 100 fits only where the others are right.
    rounding = case.matcher.tolerances.percent * (1 + len(case.bench.percent))
    fits = np.abs(expected[others].sum(axis=0) - (100.0 - listed)) <= rounding
    alone = fits & (holds.sum(axis=0) == 1)
    shares = [float(probability[alone & holds[place]].sum()) for place in range(len(others))]
    best = int(np.argmax(shares))
    element, missing = ELEMENTS[others[best]], 100.0 - listed
    if shares[best] <= 0.5 or (element == "O" and lists_no_oxygen(card)):
        return ()
    slip = Slip(
        code="element-left-out",
        message=f"The card leaves {element} out: {missing:.2f} % of it would fit.",
        probability=min(shares[best], 1.0),
        repaired={f"percent {element}": f"{missing:.2f} %"},
    )
    return (slip,)


SLIPS: SlipList = {
    "composition": (
        _percent_as_fraction,
        _percentage_digits,
        _percentages_exchanged,
        _percent_by_difference,
        _wet_liquid,
    )
}
