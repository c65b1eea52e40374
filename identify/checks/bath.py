"""Findings on temperatures beside each other: boiling point, bath, boiling water, room."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from identify.bench.bath_margin import BathMargin
from identify.bench.trials import BenchTrial
from identify.checks.facts import Facts
from identify.notebook.findings import Finding
from identify.notebook.plausible import PLAUSIBLE
from identify.notebook.usual import BATH_MARGIN, BATH_READ_WITHIN
from identify.physics.boiling import boiling_temperature_by_trouton
from identify.physics.constants import ICE_POINT
from identify.physics.water import boiling_temperature

_LEAST_BATH = 323.15  # K: a water bath is hotter than a hand can bear; common practice


def _boils_at(facts: Facts, pressure: float) -> float:
    """Return the boiling point at the laboratory's pressure [K]."""
    return boiling_temperature_by_trouton(pressure, facts.boiling_point, facts.boiling_pressure)


def _cool_bath(facts: Facts) -> Iterator[Finding]:
    below = []
    for trial in facts.trials:
        if trial.bath.is_assumed or not trial.is_in_flask:
            continue
        boils = _boils_at(facts, trial.pressure.value)
        read = BathMargin(trial.bath.value - boils, facts.boiling_point_u)
        if read.severity is not None:
            below.append((read, boils, trial))
    if not below:
        return
    found, boils, worst = min(below, key=lambda one: one[0].value)
    margin = found.value
    numbers = {
        "bath_C": worst.bath.value - ICE_POINT,
        "boiling_point_at_pressure_C": boils - ICE_POINT,
        "margin_K": margin,
    }
    trials = [trial for *_, trial in below]
    liquid = f"a liquid that boils at {boils - ICE_POINT:.1f} °C at the laboratory's pressure"
    if found.severity == "error":
        yield Finding(
            "bath-below-boiling-point",
            "error",
            facts.about(
                trials,
                f"a bath of {worst.written.bath} is below the boiling point: {liquid} does not "
                "drive the air out of the flask.",
            ),
            "Check both temperatures and their units. If they are right, the molar mass means "
            "nothing: use a hotter bath, as the instructor allows.",
            numbers,
        )
        return
    above = f"only {margin:.1f} °C above" if margin > 0.0 else "no higher than"
    yield Finding(
        "bath-near-boiling-point",
        "warning",
        facts.about(
            trials,
            f"a bath of {worst.written.bath} is {above} the boiling point: "
            f"{liquid} may not have vaporized completely, or air may have stayed in the flask.",
        ),
        f"Use a bath at least {BATH_MARGIN:.0f} °C above the boiling point, or heat longer and "
        "look for the last liquid to go. An excess of mass points to liquid left over.",
        numbers,
    )


def _hot_bath(facts: Facts) -> Iterator[Finding]:
    above = []
    for trial in facts.trials:
        if trial.bath.is_assumed or not trial.is_in_flask:
            continue
        boils = boiling_temperature(trial.pressure.value)
        allowed = BATH_READ_WITHIN
        if trial.pressure.is_assumed:
            higher = trial.pressure.value + 2.0 * trial.pressure.uncertainty_or(0.0)
            allowed += boiling_temperature(higher) - boils
        if trial.bath.value > boils + allowed:
            above.append((trial.bath.value - boils, boils, trial))
    if not above:
        return
    _, boils, worst = max(above, key=lambda one: one[0])
    pressure = worst.conditions.pressure
    yield Finding(
        "bath-above-boiling-water",
        "warning",
        facts.about(
            (trial for *_, trial in above),
            f"the bath was {worst.written.bath}, but at {pressure} water boils at "
            f"{boils - ICE_POINT:.1f} °C.",
        ),
        "If it was a water bath, check thermometer and barometer" + _other_units(worst) + ". If "
        "it was not, this is not a fault.",
        {
            "bath_C": worst.bath.value - ICE_POINT,
            "water_boils_C": boils - ICE_POINT,
            "pressure_hPa": 0.01 * worst.pressure.value,
        },
    )


def _other_units(trial: BenchTrial) -> str:
    """Name the unit in which the bath would be below boiling water, if there is one."""
    bath, water = trial.written.bath, boiling_temperature(trial.pressure.value) + BATH_READ_WITHIN
    meant = None if bath is None else PLAUSIBLE["bath"].meant(bath)
    if meant is not None and _LEAST_BATH <= meant.to("K").value <= water:
        return f" (did you mean {meant.value:.10g} {'°F' if meant.unit == 'F' else meant.unit}?)"
    return ""


def _bath_unknown(facts: Facts) -> Iterator[Finding]:
    """Yield the trials whose bath nobody wrote down, where boiling water would not do."""
    for trial in facts.trials:
        boils = _boils_at(facts, trial.pressure.value)
        if trial.bath.is_assumed and trial.is_in_flask and boils > trial.bath.value:
            yield Finding(
                "bath-below-boiling-point",
                "warning",
                "No bath is written down, and one of boiling water, at "
                f"{trial.bath.value - ICE_POINT:.0f} °C, is below the boiling point: a liquid that "
                f"boils at {boils - ICE_POINT:.1f} °C at the laboratory's pressure does not drive "
                "the air out of the flask.",
                "Write down the temperature of the bath; check the boiling point.",
                {
                    "bath_C": trial.bath.value - ICE_POINT,
                    "boiling_point_at_pressure_C": boils - ICE_POINT,
                    "margin_K": trial.bath.value - boils,
                },
            )
            return


def _boils_in_room(facts: Facts) -> Iterator[Finding]:
    for trial in facts.trials:
        boils = _boils_at(facts, trial.pressure.value)
        # Read to 0.1 K at best, as the bath is.
        if trial.is_in_flask and round(boils - trial.room.value, 1) < BATH_MARGIN:
            yield Finding(
                "boils-in-room",
                "warning",
                f"A liquid that boils at {boils - ICE_POINT:.1f} °C at the laboratory's pressure "
                f"hardly condenses in a room of {trial.room.value - ICE_POINT:.1f} °C, so that "
                "its vapor escapes before the second weighing.",
                "Cool the flask in ice water before it is opened to the air, or use another "
                "method for this liquid.",
                {
                    "boiling_point_at_pressure_C": boils - ICE_POINT,
                    "room_C": trial.room.value - ICE_POINT,
                },
            )
            return


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (
    _cool_bath,
    _bath_unknown,
    _hot_bath,
    _boils_in_room,
)
