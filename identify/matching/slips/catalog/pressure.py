"""Pressures that are not the laboratory's: reduced to the sea, or above the air's."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from math import exp

import numpy as np

from identify.matching.slips.mechanism.case import Case
from identify.matching.slips.mechanism.hypothesis import Hypothesis, SlipInWords, gamma
from identify.matching.slips.mechanism.rewriting import (
    Rewritten,
    SlipList,
    WrittenReading,
    credible,
    written_readings,
)
from identify.matching.slips.mechanism.wording import two_digits
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.usual import WEATHER
from identify.physics.constants import STANDARD_PRESSURE

# Chances on one page, before anything is compared. Common practice.
_GAUGE_CHANCE = 0.0005
SEA_LEVEL_CHANCE = 0.3
"""Of a page that gives a height and yet a pressure as at the sea."""
_UNKNOWN_HEIGHT_CHANCE, _HEIGHT = 0.002, 500.0  # m, twice this in the mean

_SCALE_HEIGHT = 8434.0  # m: R T / (M g) of air at 15 C, the standard atmosphere of ISO 2533
_LOWEST_HEIGHT = 150.0  # m, below which a barometer's own error hides the difference
_AT_SEA = (9.8e4, 1.05e5)  # Pa: what barometers reduced to the sea show; common practice
_HIGHEST_GAUGE_PRESSURE = 2e4  # Pa


def _gauge_pressure(case: Case) -> Iterator[Rewritten]:
    """Yield pressures above that of the air, as a gauge shows them."""
    for written in written_readings(case, "pressure"):
        value = written.quantity.to("Pa").value + STANDARD_PRESSURE
        if written.now < _HIGHEST_GAUGE_PRESSURE and credible("pressure", value):
            tell = partial(_above_the_air, written.quantity, value)
            yield written.meant(value, "pressure-gauge", _GAUGE_CHANCE, tell)


def _above_the_air(quantity: Quantity, meant: float) -> SlipInWords:
    shown = f"{Quantity(meant, 'Pa').to('mmHg').value:.1f} mmHg"
    return SlipInWords(
        f"The pressure, {quantity}, is perhaps what a gauge shows above the air's: then it was "
        f"about {shown}.",
        {"pressure": shown},
    )


def _pressure_at_sea(case: Case) -> Iterator[Rewritten]:
    """Yield pressures reduced to the sea, of laboratories whose height is known."""
    for written in written_readings(case, "pressure"):
        height = case.trials[written.places[0]].conditions.height
        low, high = _AT_SEA
        if height is not None and low < written.now < high:
            yield from _reduced_to_the_sea(written, height)


def _reduced_to_the_sea(written: WrittenReading, height: Quantity) -> Iterator[Rewritten]:
    meters, now = height.to("m").value, written.now
    if meters < _LOWEST_HEIGHT:
        return
    station = now * exp(-meters / _SCALE_HEIGHT)
    shown = f"{Quantity(station, 'Pa').to('mmHg').value:.0f} mmHg"
    told = SlipInWords(
        f"The pressure, {written.quantity}, is perhaps that of a weather report, reduced to the "
        f"sea: at {height} it was {shown}.",
        {"pressure": shown},
    )
    # Up to some hundred meters, weather alone makes a pressure look like that of the sea.
    usual = STANDARD_PRESSURE * exp(-meters / _SCALE_HEIGHT)
    of_the_sea, of_the_place = ((now - mean) / WEATHER for mean in (STANDARD_PRESSURE, usual))
    odds = exp(min(0.5 * (of_the_place**2 - of_the_sea**2), 50.0))
    chance = SEA_LEVEL_CHANCE * odds / (1.0 + odds)
    changes = {"pressure": written.values(station)}
    yield Rewritten("pressure-at-sea", chance, changes, lambda: told)


def _pressure_at_sea_of_unknown_height(case: Case) -> Iterator[Hypothesis]:
    """Yield pressures reduced to the sea, of laboratories at a height that nobody wrote down."""
    weighings, pressure = case.weighings, case.weighings.read.pressure
    low, high = _AT_SEA
    if any("pressure" in trial.assumed for trial in case.trials):
        return
    heights = [trial.conditions.height for trial in case.trials]
    if any(heights) or not bool(((pressure > low) & (pressure < high)).all()):
        return
    ratio = np.clip(weighings.mean / case.molar_mass, 1e-3, None)  # station over written
    height = -_SCALE_HEIGHT * np.log(ratio)
    density = gamma(height, _HEIGHT) * _SCALE_HEIGHT / np.maximum(weighings.mean, 1e-3)

    def tell(place: int) -> SlipInWords:
        shown = Quantity(float(pressure.mean() * ratio[place]), "Pa").to("mmHg").value
        meters = two_digits(float(height[place]))
        return SlipInWords(
            "The pressure is perhaps that of a weather report, reduced to the sea: at about "
            f"{meters} m above it the barometer shows {shown:.0f} mmHg.",
            {"pressure": f"{shown:.0f} mmHg"},
        )

    yield Hypothesis("pressure-at-sea", _UNKNOWN_HEIGHT_CHANCE, density, tell)


SLIPS: SlipList = {
    "weighings": (_gauge_pressure, _pressure_at_sea, _pressure_at_sea_of_unknown_height)
}
