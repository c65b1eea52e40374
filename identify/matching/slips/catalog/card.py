"""Slips on the card: boiling point, percentages, and a molar mass that was worked out before."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from identify.matching.slips.catalog.digits import misreadings
from identify.matching.slips.catalog.record import miswritten, other_unit
from identify.matching.slips.mechanism.hypothesis import (
    Case,
    Hypothesis,
    Slip,
    Told,
    gamma,
    in_si,
    saying,
    written_text,
)
from identify.notebook.findings import listed
from identify.notebook.limits import look_like_fractions
from identify.notebook.quantities import Quantity
from identify.notebook.units import known_unit
from identify.notebook.usual import tolerance_u
from identify.observables.boiling_point import LEAST_BOILING_POINT
from identify.observables.comparison import normal
from identify.observables.composition import LEAST_ELEMENT, compare_unmentioned
from identify.observables.weighing import LEAST_MOLAR_MASS
from identify.physics.constants import ELEMENTS, ICE_POINT

Array = NDArray[np.float64]

# Chances on one card, before anything is compared. Common practice.
_UNIT_CHANCE = 0.002
_STEM_CHANCE, _STEM = 0.005, 1.5  # K: a thread outside the vapor reads low, twice this in the mean
_SUPERHEATED_CHANCE, _SUPERHEATED = 0.003, 2.0  # K, likewise
_FRACTION_CHANCE = 0.002
_SWAPPED_CHANCE = 0.003
_REMAINDER_CHANCE = 0.003
_WET_CHANCE, _WET = 0.002, 0.03  # mass fraction of water, twice this in the mean

_WATER = np.zeros(len(ELEMENTS))
# 2 x 1.008 / 18.015 and 15.999 / 18.015: the atomic weights of `identify.physics.constants`.
_WATER[ELEMENTS.index("H")], _WATER[ELEMENTS.index("O")] = 11.19, 88.81
_WETTEST = 0.25


def molar_mass_slips(case: Case) -> Iterator[Hypothesis]:
    """Yield slips of the pen in a molar mass that was worked out before."""
    written, stated = case.run.molar_mass, case.bench.molar_mass
    if written is None or stated is None:
        return
    tolerated = 0.01 * tolerance_u(case.matcher.tolerances.molar_mass) * case.molar_mass
    for one in misreadings(written_text(written)):
        value = 1e3 * in_si(one.value, written.unit)
        sigma = (
            tolerated
            if stated.uncertainty is None
            else max(stated.uncertainty, LEAST_MOLAR_MASS * value)
        )
        tell = partial(miswritten, "the molar mass", written, one, "molar_mass")
        density = normal(value - case.molar_mass, sigma)
        yield Hypothesis(one.kind, one.chance, density, saying(tell), odds=one.jacobian)


# --------------------------------------------------------------------------------- boiling point


def boiling_point_slips(case: Case) -> Iterator[Hypothesis]:
    """Yield slips in a boiling point: its unit, its digits, how it was read."""
    written, stated = case.run.boiling_point, case.bench.boiling_point
    if written is None or stated is None:
        return
    matcher = case.matcher
    expected = matcher.expectation.boiling_point(case.bench.boiling_pressure)[case.rows]
    own = case.of_leading(matcher.expectation.boiling_point_u)
    half = tolerance_u(matcher.tolerances.boiling_point)
    read = half if stated.uncertainty is None else max(stated.uncertainty, LEAST_BOILING_POINT)
    sigma = np.hypot(read, own)
    own_scale = known_unit(written.unit).scale
    name, key = "the boiling point", "boiling_point"
    units = [unit for unit in ("C", "F", "K") if unit != written.unit]
    digits = misreadings(written_text(written))
    values = [in_si(written.value, unit) for unit in units]
    values += [in_si(one.value, written.unit) for one in digits]
    densities = normal(np.array(values)[:, np.newaxis] - expected, sigma)
    for unit, density in zip(units, densities, strict=False):
        meant = Quantity(written.value, unit)
        tell = partial(other_unit, f"T{name[1:]}", key, written, meant, "C")
        odds = known_unit(unit).scale / own_scale
        yield Hypothesis("boiling-point-unit", _UNIT_CHANCE, density, saying(tell), odds=odds)
    for one, density in zip(digits, densities[len(units) :], strict=True):
        tell = partial(miswritten, name, written, one, key)
        yield Hypothesis(one.kind, one.chance, density, saying(tell), odds=one.jacobian)
    off = stated.value - expected

    def low(place: int) -> Told:
        degrees = -float(off[place])
        return Told(
            f"The boiling point reads {degrees:.1f} °C low, as with a thermometer whose thread "
            "stands out of the vapor and was not corrected for.",
            {"boiling_point": f"{stated.value + degrees - ICE_POINT:.1f} °C"},
        )

    def high(place: int) -> Told:
        degrees = float(off[place])
        return Told(
            f"The boiling point reads {degrees:.1f} °C high, as in a liquid that is superheated "
            "(no boiling stone) or a vapor that is.",
            {"boiling_point": f"{stated.value - degrees - ICE_POINT:.1f} °C"},
        )

    # Liquids whose boiling point is not known that well cannot tell such a difference.
    sure = own < _STEM
    yield Hypothesis("thread-uncorrected", _STEM_CHANCE, gamma(-off, _STEM) * sure, low)
    yield Hypothesis("superheated", _SUPERHEATED_CHANCE, gamma(off, _SUPERHEATED) * sure, high)


# ----------------------------------------------------------------------------------- composition


def composition_slips(case: Case) -> Iterator[Hypothesis]:
    """Yield slips in the percentages: as fractions, digits, two exchanged, a remainder, water."""
    if not case.bench.percent:
        return
    card = _Card(case)
    yield from _fractions(card)
    yield from _digits(card)
    yield from _exchanged(card)
    yield from _remainder(card)
    yield from _wet(card)


class _Card:
    """A card's percentages beside the leading candidates."""

    def __init__(self, case: Case) -> None:
        self.case = case
        half = tolerance_u(case.matcher.tolerances.percent)
        self.values = {place: stated.value for place, stated in case.bench.percent.items()}
        self.sigmas = {
            place: half if stated.uncertainty is None else max(stated.uncertainty, LEAST_ELEMENT)
            for place, stated in case.bench.percent.items()
        }
        everything = case.matcher.expectation.percent
        self.expected = everything[:, case.rows]
        self.likelihoods = {
            place: case.of_leading(comparison.likelihood())
            for place, comparison in case.evidence.elements.items()
        }
        self.sound = np.prod(list(self.likelihoods.values()), axis=0)
        self.remaining = 100.0 - sum(self.expected[place] for place in self.values)
        self.sum_sigma = float(np.sqrt(sum(s * s for s in self.sigmas.values())))

    def density(self, changed: Mapping[int, float]) -> Array:
        """Return the density of the card with some of its numbers as they may have been meant."""
        density = self.sound.copy()
        total = sum(self.values.values())
        for place, value in changed.items():
            density /= self.likelihoods[place]
            density *= normal(value - self.expected[place], self.sigmas[place])
            total += value - self.values[place]
        return density * self.claim(total)

    def densities(self, place: int, values: Array) -> Array:
        """Return the densities with one of its numbers as each of m values, shape (m, s)."""
        off = values[:, np.newaxis] - self.expected[place]
        density = normal(off, self.sigmas[place])
        density *= self.sound / self.likelihoods[place]
        total = sum(self.values.values()) - self.values[place]
        for row, value in enumerate(values):
            density[row] *= self.claim(total + float(value))
        return density

    def claim(self, total: float) -> Array | float:
        """Return the chance of a card that adds up to this, one where it claims nothing."""
        claim = compare_unmentioned(total, self.remaining, self.sum_sigma)
        return 1.0 if claim is None else claim.likelihood()

    def written(self, place: int) -> Quantity:
        """Return an element's percentage as it was written."""
        return self.case.run.percent[ELEMENTS[place]]


def _fractions(card: _Card) -> Iterator[Hypothesis]:
    """Yield parts of one, where the numbers can hardly be anything else."""
    if not look_like_fractions(sum(card.values.values()), len(card.values)):
        return
    elements = [ELEMENTS[place] for place in card.values]
    values = {place: 100.0 * value for place, value in card.values.items()}
    density = np.ones(len(card.case.rows)) * card.claim(sum(values.values()))
    for place, stated in card.case.bench.percent.items():
        known = 0.0 if stated.uncertainty is None else 100.0 * stated.uncertainty
        density *= normal(values[place] - card.expected[place], max(known, card.sigmas[place]))
    texts = [f"{value:.2f} %" for value in values.values()]
    told = Told(
        "The percentages are perhaps fractions of one: "
        f"{listed([' '.join(pair) for pair in zip(elements, texts, strict=True)])} would fit.",
        {f"percent {element}": text for element, text in zip(elements, texts, strict=True)},
    )
    # Fractions lie closer together by a hundred each.
    odds = 100.0 ** len(elements)
    yield Hypothesis(
        "percent-as-fraction", _FRACTION_CHANCE, density, saying(lambda: told), odds=odds
    )


def _digits(card: _Card) -> Iterator[Hypothesis]:
    for place in card.values:
        written = card.written(place)
        percent = known_unit(written.unit).scale / known_unit("%").scale
        digits = [one for one in misreadings(written_text(written)) if one.value * percent <= 100.0]
        values = np.array([one.value * percent for one in digits])
        name, key = f"the percentage of {ELEMENTS[place]}", f"percent {ELEMENTS[place]}"
        for one, density in zip(digits, card.densities(place, values), strict=True):
            tell = partial(miswritten, name, written, one, key)
            yield Hypothesis(one.kind, one.chance, density, saying(tell), key, one.jacobian)


def _exchanged(card: _Card) -> Iterator[Hypothesis]:
    pairs = list(combinations(card.values, 2))
    for first, second in pairs:
        density = card.density({first: card.values[second], second: card.values[first]})
        yield Hypothesis(
            "percentages-exchanged",
            _SWAPPED_CHANCE / len(pairs),
            density,
            saying(partial(_pair, card, first, second)),
        )


def _pair(card: _Card, first: int, second: int) -> Told:
    one, other = ELEMENTS[first], ELEMENTS[second]
    right = {
        f"percent {one}": str(card.written(second)),
        f"percent {other}": str(card.written(first)),
    }
    return Told(
        f"The percentages of {one} and {other} are perhaps exchanged: {one} "
        f"{card.written(second)} and {other} {card.written(first)} would fit.",
        right,
    )


def _remainder(card: _Card) -> Iterator[Hypothesis]:
    """Yield elements taken as what is left to 100, where that holds another element too."""
    for place in card.values:
        element = ELEMENTS[place]
        hidden = np.where(card.remaining > 1.0, card.remaining, 0.0)
        off = card.values[place] - card.expected[place] - hidden
        density = card.sound / card.likelihoods[place] * normal(off, card.sigmas[place])

        def tell(leading: int, place: int = place, element: str = element) -> Told:
            own = float(card.expected[place, leading])
            others = [
                f"{ELEMENTS[row]} {float(card.expected[row, leading]):.2f}"
                for row in range(len(ELEMENTS))
                if row not in card.values and card.expected[row, leading] > 0.0
            ]
            return Told(
                f"The percentage of {element}, {card.written(place)}, is perhaps all that was "
                f"left to 100: {element} {own:.2f} and {', '.join(others)} would fit.",
                {f"percent {element}": f"{own:.2f} %"},
            )

        chance = _REMAINDER_CHANCE if element == "O" else 0.1 * _REMAINDER_CHANCE
        both = (hidden > 0.0) & (card.expected[place] > 1.0)
        yield Hypothesis("percent-by-difference", chance, density * both, tell)


def _wet(card: _Card) -> Iterator[Hypothesis]:
    """Yield water in the liquid, which moves all percentages along one line."""
    if not {ELEMENTS.index("C"), ELEMENTS.index("H")} <= card.values.keys():
        return
    places = list(card.values)
    values = np.array([card.values[place] for place in places])[:, np.newaxis]
    sigmas = np.array([card.sigmas[place] for place in places])[:, np.newaxis]
    off = (values - card.expected[places]) / sigmas
    toward = (_WATER[places][:, np.newaxis] - card.expected[places]) / sigmas
    size = np.maximum((toward * toward).sum(axis=0), 1e-12)
    share = np.clip((off * toward).sum(axis=0) / size, 0.0, _WETTEST)
    left = ((off - share * toward) ** 2).sum(axis=0)
    peak = np.exp(-0.5 * left) / np.prod(sigmas * np.sqrt(2.0 * np.pi))
    # The share of water is known to 1/sqrt(size): that much of its own distribution counts.
    density = peak * gamma(share, _WET) * np.sqrt(2.0 * np.pi / size)

    def tell(leading: int) -> Told:
        percent = 100.0 * float(share[leading])
        return Told(
            f"The percentages fit a liquid with about {percent:.0f} % of water in it.",
            {"water": f"{percent:.0f} %"},
        )

    yield Hypothesis("wet-liquid", _WET_CHANCE, density, tell)


# A card that adds up to this or less leaves something out; more is the rounding of its numbers.
_INCOMPLETE = 97.0


def left_out(case: Case, probability: Array) -> Slip | None:
    """Return the element that a card seems to leave out: what all likely compounds hold besides.

    Nothing speaks against leaving an element out, so that no probability changes by it.

    Parameters
    ----------
    case : Case
    probability : array, shape (s,)
        Of the leading candidates.
    """
    listed = sum(stated.value for stated in case.bench.percent.values())
    if not case.bench.percent or listed > _INCOMPLETE:
        return None
    expected = case.matcher.expectation.percent[:, case.rows]
    others = [row for row in range(len(ELEMENTS)) if row not in case.bench.percent]
    holds = expected[others] > 0.0
    # What is left to 100 fits only where the others are right.
    rounding = case.matcher.tolerances.percent * (1 + len(case.bench.percent))
    fits = np.abs(expected[others].sum(axis=0) - (100.0 - listed)) <= rounding
    alone = fits & (holds.sum(axis=0) == 1)
    shares = [float(probability[alone & holds[place]].sum()) for place in range(len(others))]
    best = int(np.argmax(shares))
    if shares[best] <= 0.5:
        return None
    element, missing = ELEMENTS[others[best]], 100.0 - listed
    return Slip(
        code="element-left-out",
        message=f"The card leaves {element} out: {missing:.2f} % of it would fit.",
        probability=min(shares[best], 1.0),
        repaired={f"percent {element}": f"{missing:.2f} %"},
    )
