"""A boiling point carried from the pressure at which it was read to another."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import hypot, log
from typing import TYPE_CHECKING

from identify.calculations.working import Step
from identify.checks.boiling_pressure import pressure_findings
from identify.checks.readings import unbelievable
from identify.notebook.fields import Written
from identify.notebook.findings import Finding, worst_first
from identify.notebook.measurement import Measurement
from identify.notebook.quantity.quantities import Quantity, QuantityError, as_quantity
from identify.notebook.quantity.units import MMHG
from identify.notebook.serializing import Serializable, decimals, serialized
from identify.notebook.shown import Shown
from identify.notebook.statistics import to_uncertainty
from identify.notebook.usual import BAROMETER, THERMOMETER
from identify.physics.boiling import (
    YOUNG_COEFFICIENTS,
    boiling_temperature,
    young_correction,
)
from identify.physics.constants import ICE_POINT
from identify.physics.thermometer import THREAD_EXPANSION, emergent_stem_correction

if TYPE_CHECKING:
    from identify.compounds.table import CandidateTable

# Young's relation beside reference equations of state, 600 to 800 mmHg: of the correction.
_RELATION = 0.15
# Degrees of a thermometer of mercury under nitrogen, in borosilicate glass; common practice.
_LONGEST_SCALE = 550.0
# A thermometer of a class may be off by some degrees, and the liquid may be wet; common practice.
_FAR = 5.0  # K


@dataclass(frozen=True)
class Stem:
    """The exposed thread of a thermometer made for total immersion.

    Parameters
    ----------
    exposed : float
        Its length, in degrees of the scale.
    temperature : float
        Its mean temperature, in degrees Celsius.
    thread : {"mercury", "spirit"}
    """

    exposed: float
    temperature: float
    thread: str = "mercury"


@dataclass(frozen=True, repr=False)
class BoilingPointResult(Serializable, Shown):
    """A boiling point [degrees Celsius] at a pressure, how it was found, and what is doubtful."""

    value_C: float = field(metadata=decimals(3))
    pressure: Quantity = field(metadata=serialized(str))
    standard_uncertainty: float = field(metadata=decimals(3))
    method: str
    work: tuple[Step, ...]
    findings: tuple[Finding, ...] = ()

    main_table = "work"

    @property
    def headline(self) -> str:
        """The boiling point in a few words."""
        return f"{self.value_C:.1f} ± {self.standard_uncertainty:.1f} °C at {self.pressure}"


@dataclass(frozen=True)
class _KnownLiquid:
    """What is known of the liquid that it is said to be: its boiling point there, give or take."""

    name: str
    boils: float  # K
    uncertainty: float  # K


@dataclass(frozen=True)
class _Carried:
    """A temperature carried to another pressure: value [K], slope [K/Pa], error of the method."""

    value: float
    slope: float
    error: float
    method: str
    step: Step
    liquid: _KnownLiquid | None = None


def boiling_point(
    observed: Written,
    at: Written,
    to: Written = "760 mmHg",
    identity: str | None = None,
    liquid: str = "unassociated",
    stem: Stem | None = None,
    candidates: CandidateTable | None = None,
) -> BoilingPointResult:
    """Return a boiling point at another pressure.

    Parameters
    ----------
    observed : quantity
        As read, plain numbers in degrees Celsius.
    at, to : quantity
        Pressure of the reading, and the one wanted; plain numbers in mmHg.
    identity : str, optional
        Name, CAS number or SMILES of a compound of the table: then its own vapor-pressure curve
        carries the reading, without it Young's relation does.
    liquid : {"unassociated", "associated"}
        For Young's relation: alcohols, acids and water are associated.
    stem : Stem, optional
        Corrects for the exposed thread first.
    candidates : CandidateTable, optional
        The built-in table where not given.

    Returns
    -------
    BoilingPointResult

    Raises
    ------
    QuantityError
        If a reading cannot be read, or there is no such kind of liquid.
    NameFault
        If the compound is not in the table, or the name may mean several.

    Examples
    --------
    >>> found = boiling_point("77.7 C", "742 mmHg", identity="ethanol")
    >>> round(found.value_C, 1), found.method
    (78.3, 'vapor-pressure curve of ethanol')
    """
    read = _needed(observed, "temperature", "C", "observed").to("K")
    here, there = (
        _needed(written, "pressure", "mmHg", name) for written, name in ((at, "at"), (to, "to"))
    )
    work: list[Step] = []
    corrected = read.value if stem is None else _with_stem(read.value, stem, work)
    pressures = (here.to("Pa").value, there.to("Pa").value)
    if identity is not None:
        carried = _by_curve(corrected, pressures, identity, candidates)
    else:
        carried = _by_relation(corrected, (here, there), liquid)
    work.append(carried.step)
    thermometer = THERMOMETER if read.uncertainty is None else read.uncertainty
    stated = here.to("mmHg").uncertainty
    barometer = BAROMETER if stated is None else stated
    slope = carried.slope * MMHG
    uncertainty = hypot(thermometer, slope * barometer, carried.error)
    celsius = Quantity(carried.value, "K").to("C").value
    usual = [f"{THERMOMETER:g} °C of a usual thermometer"] if read.uncertainty is None else []
    usual += [f"{BAROMETER:g} mmHg of a usual barometer"] if stated is None else []
    work.append(
        Step(
            "uncertainty",
            "u = sqrt(u(t)^2 + (dT/dP u(P))^2 + u(method)^2)"
            + (f", with {' and '.join(usual)}" if usual else ""),
            f"sqrt({thermometer:.2f}^2 + ({slope:.4f} x {barometer:.2f})^2 + "
            f"{carried.error:.2f}^2) °C",
            f"{uncertainty:.2g} °C: {to_uncertainty(celsius, uncertainty)} °C",
        )
    )
    findings = [*_readings_doubted(observed, at, to), *_far_off(carried, there, uncertainty)]
    return BoilingPointResult(
        celsius, there, uncertainty, carried.method, tuple(work), tuple(worst_first(findings))
    )


def _readings_doubted(observed: Written, at: Written, to: Written) -> Iterator[Finding]:
    """Yield what cannot be right of the reading and its pressure, and of the pressure wanted."""
    for run in (
        Measurement("", boiling_point=observed, boiling_point_at=at),
        Measurement("", boiling_point_at=to),
    ):
        yield from unbelievable(run)[0]
        yield from pressure_findings(run.boiling_point_at)


def _far_off(carried: _Carried, to: Quantity, uncertainty: float) -> Iterator[Finding]:
    """Yield a finding where the liquid that it is said to be boils elsewhere."""
    liquid = carried.liquid
    if liquid is None:
        return
    off = carried.value - liquid.boils
    if abs(off) > max(_FAR, 3.0 * hypot(uncertainty, liquid.uncertainty)):
        side = "above" if off > 0.0 else "below"
        yield Finding(
            "boiling-point-far",
            "warning",
            f"{carried.value - ICE_POINT:.1f} °C is {abs(off):.1f} °C {side} the boiling point of "
            f"{liquid.name} at {to}, {liquid.boils - ICE_POINT:.1f} °C.",
            "Look at both pressures and their units first, then at the thermometer. If they are "
            f"right, it is not {liquid.name}, or not pure.",
            {"off_K": off, "known_C": liquid.boils - ICE_POINT},
        )


def _needed(written: Written, dimension: str, unit: str, field: str) -> Quantity:
    try:
        quantity = as_quantity(written, dimension, unit)
    except QuantityError as error:
        error.field = field
        raise
    if quantity is None:
        raise QuantityError("", "is missing", "write the reading and its unit", field)
    return quantity


def _with_stem(reading: float, stem: Stem, work: list[Step]) -> float:
    if stem.thread not in THREAD_EXPANSION:
        raise QuantityError(
            str(stem.thread), "is not a thermometer's thread", "use mercury or spirit", "stem"
        )
    if not 0.0 <= stem.exposed <= _LONGEST_SCALE:
        reason = "is negative" if stem.exposed < 0.0 else "is more than a thermometer has"
        raise QuantityError(f"{stem.exposed:g}", reason, "give the exposed degrees", "stem")
    celsius = Quantity(reading, "K").to("C").value
    expansion = THREAD_EXPANSION[stem.thread]
    added = emergent_stem_correction(celsius, stem.temperature, stem.exposed, expansion)
    work.append(
        Step(
            "exposed thread",
            "k n (t - t(stem))",
            f"{expansion:g} x {stem.exposed:g} x ({celsius:.1f} - {stem.temperature:.1f}) °C",
            f"{added:+.2f} °C, so {celsius + added:.2f} °C",
        )
    )
    return reading + added


def _by_curve(
    reading: float,
    pressures: tuple[float, float],
    identity: str,
    candidates: CandidateTable | None,
) -> _Carried:
    from identify.compounds.loading import load_candidates
    from identify.compounds.naming.lookup import NameFault, row_meant

    table = candidates or load_candidates()
    try:
        row = row_meant(table, identity)
    except NameFault as fault:
        raise NameFault(f"as: {fault}") from None
    name = table.text("name")[row]
    normal = float(table.number("boiling_point_C")[row]) + ICE_POINT
    here, there, above = (
        float(boiling_temperature(pressure, normal, table.vapor_curve[row]))
        for pressure in (*pressures, pressures[0] * 1.001)
    )
    # The curve in reduced form: it is carried to where this thermometer saw the liquid boil.
    value = reading * there / here
    step = Step(
        "carried along the vapor-pressure curve",
        "T2 = T1 T(P2) / T(P1), T(P): where the curve has it boil; u(method): 5 % of the change",
        f"{reading:.2f} K x {there:.2f} K / {here:.2f} K",
        f"{value:.2f} K, {value - ICE_POINT:.2f} °C",
    )
    slope = (above - here) / (0.001 * pressures[0])
    # Published curves agree on their slope to a few percent.
    return _Carried(
        value,
        slope,
        0.05 * abs(value - reading),
        f"vapor-pressure curve of {name}",
        step,
        _KnownLiquid(name, there, float(table.number("boiling_point_u")[row])),
    )


def _by_relation(reading: float, pressures: tuple[Quantity, Quantity], liquid: str) -> _Carried:
    if liquid not in YOUNG_COEFFICIENTS:
        known = " or ".join(YOUNG_COEFFICIENTS)
        raise QuantityError(str(liquid), "is not a liquid known here", f"use {known}", "liquid")
    coefficient = YOUNG_COEFFICIENTS[liquid]
    here, there = (pressure.to("Pa").value for pressure in pressures)
    added = young_correction(reading, here, there, coefficient)
    exponent = 760.0 * coefficient * log(there / here)
    step = Step(
        f"Young's relation, {liquid} liquid",
        "T k / (1 - k), k = 760 c ln(P2 / P1); near 760 mmHg c (P2 - P1) T; u(method): 15 % of it",
        f"{reading:.2f} K x {exponent:.6f} / (1 - {exponent:.6f}), k = 760 x {coefficient:.5f} x "
        f"ln({pressures[1].to('mmHg').value:.2f} / {pressures[0].to('mmHg').value:.2f})",
        f"{added:+.2f} °C, so {reading + added - ICE_POINT:.2f} °C",
    )
    slope = coefficient * reading / MMHG
    return _Carried(
        reading + added, slope, _RELATION * abs(added), f"Young's relation, {liquid} liquid", step
    )
