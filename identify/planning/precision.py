"""How well a class reads, and what that makes of a molar mass and of the tolerances."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from math import hypot, isfinite, sqrt
from types import MappingProxyType

import numpy as np

from identify.bench.laboratory import Laboratory
from identify.compounds.table import CandidateTable
from identify.matching.expectation import Expectation
from identify.notebook.quantities import QuantityError, read_uncertainty
from identify.notebook.units import MMHG
from identify.notebook.usual import (
    BALANCE,
    BAROMETER,
    BRIM_VOLUME,
    HUMIDITY,
    THERMOMETER,
    tolerance_u,
)
from identify.observables.comparison import Array
from identify.observables.tolerances import Tolerances
from identify.physics.vapor import Weighing, gain, ideal_molar_mass, implied_molar_mass
from identify.planning.result import Precision

_GRAM = 1e-3  # kg

# The calculation's usual instruments: half a degree, half a millimeter, one unit in the last digit
# of a balance to the milligram; 0.5 % is three fills of a 100 mL cylinder, 0.5 mL each, and the
# temperature of the water. Technique is what is left of the 2.5 % that half of the usual tolerance
# of a molar mass stands for: with it, methanol to cyclohexane come out at 2.5 %. Boiling point and
# percentages: half of their usual tolerances.
USUAL = Precision(
    balance=BALANCE,
    barometer=BAROMETER,
    bath_thermometer=THERMOMETER,
    room_thermometer=THERMOMETER,
    volume=0.5,
    technique=2.4,
    boiling_point=tolerance_u(Tolerances.boiling_point),
    percent=tolerance_u(Tolerances.percent),
)


@dataclass(frozen=True)
class Instrument:
    """One of the readings that a `Precision` is made of.

    Parameters
    ----------
    name : str
        As it is called in a sentence.
    unit : str
        Of its standard uncertainty, as it is printed.
    si : float
        What turns that unit into the one of the physics: kg, Pa, K, relative.
    coarsest : float
        Beyond this nobody would call it a measurement; a search ends there.
    read_as : str
        Unit in which a number that was typed is taken.
    """

    name: str
    unit: str
    si: float
    coarsest: float
    read_as: str


# How coarse is as good as not measured at all: common practice.
INSTRUMENTS: Mapping[str, Instrument] = MappingProxyType(
    {
        "balance": Instrument("balance", "g", 1e-3, 0.5, "g"),
        "barometer": Instrument("barometer", "mmHg", MMHG, 40.0, "mmHg"),
        "bath_thermometer": Instrument("bath thermometer", "K", 1.0, 20.0, "C"),
        "room_thermometer": Instrument("room thermometer", "K", 1.0, 8.0, "C"),
        "volume": Instrument("flask's volume", "%", 0.01, 30.0, "%"),
        "technique": Instrument("technique", "%", 0.01, 30.0, "%"),
        "boiling_point": Instrument("boiling point", "K", 1.0, 50.0, "C"),
        "percent": Instrument("percentages", "points", 1.0, 20.0, "%"),
    }
)
NOT_MEASURED = "none"


def precision_of(written: Mapping[str, str | None]) -> Precision:
    """Take the standard uncertainties as they are written; the usual ones where None.

    Parameters
    ----------
    written : mapping of str to str or None
        By the fields of `Precision`. ``percent`` may be ``none``: no composition is measured.

    Raises
    ------
    QuantityError
        If one cannot be read; the error names the field.

    Examples
    --------
    >>> fine = precision_of({"balance": "0.1 mg", "technique": "1 %", "percent": "none"})
    >>> fine.balance, fine.technique, fine.percent, fine.barometer
    (0.0001, 1.0, inf, 0.5)
    """
    given: dict[str, float] = {}
    for name, text in written.items():
        if text is None:
            continue
        if name == "percent" and text.strip().lower() == NOT_MEASURED:
            given[name] = float("inf")
            continue
        instrument = INSTRUMENTS[name]
        number = text.strip().removesuffix("points") if name == "percent" else text
        try:
            given[name] = _checked(read_uncertainty(number, instrument.read_as), text, instrument)
        except QuantityError as error:
            error.field = name
            raise
    return replace(USUAL, **given)


def _checked(value: float, read: str, instrument: Instrument) -> float:
    if value <= instrument.coarsest:
        return value
    raise QuantityError(
        read,
        f"is coarser than {instrument.coarsest:g} {instrument.unit}, which measures nothing",
        "give the standard uncertainty of one reading, with its unit",
    )


@dataclass(frozen=True)
class ClassSetup:
    """Liquids, where they are measured, and how well.

    Parameters
    ----------
    expectation : Expectation
        Of n liquids.
    laboratory : Laboratory
    precision : Precision
    """

    expectation: Expectation
    laboratory: Laboratory
    precision: Precision

    def weighing(self, **readings: Array | float) -> Weighing:
        """Return the readings of the laboratory as it is, but for those given."""
        laboratory = self.laboratory
        usual: dict[str, Array | float] = {
            "gain": 0.0,
            "bath": laboratory.bath,
            "room": laboratory.room,
            "pressure": laboratory.pressure,
            "volume": BRIM_VOLUME,
            "volume_temperature": laboratory.room,
            "humidity": HUMIDITY,
        }
        arrays = [np.atleast_1d(np.asarray(v, dtype=float)) for v in (usual | readings).values()]
        return Weighing(**dict(zip(usual, np.broadcast_arrays(*arrays), strict=True)))

    def gains(self) -> tuple[Array, Array]:
        """Return what the balance shows without vapor, and what all vapor adds, shape (n,) [kg].

        The first is below zero: air that the vapor of the cooled liquid shuts out.
        """
        molar_mass = 1e-3 * self.expectation.molar_mass
        liquid, weighing = self.expectation.liquid, self.weighing()
        nothing = gain(np.zeros_like(molar_mass), weighing, liquid)[0]
        return nothing, gain(molar_mass, weighing, liquid)[0] - nothing

    def molar_mass_uncertainty(self) -> Array:
        """Return the relative standard uncertainty of each liquid's molar mass, shape (n,) [-]."""
        precision, laboratory = self.precision, self.laboratory
        nothing, vapor = self.gains()
        shown = nothing + vapor
        off = [self._implied(shown + self._weighings_u) - self._implied(shown)]
        for name, value, uncertainty in (
            ("bath", laboratory.bath, precision.bath_thermometer),
            ("room", laboratory.room, precision.room_thermometer),
            ("pressure", laboratory.pressure, precision.barometer * MMHG),
            ("volume", BRIM_VOLUME, BRIM_VOLUME * 0.01 * precision.volume),
        ):
            # To either side: a flask read a tenth too small errs by more than one too large.
            above, below = (
                self._implied(shown, **{name: value + sign * uncertainty}) for sign in (1.0, -1.0)
            )
            off.append(0.5 * (above - below))
        squares = ((np.array(off) / self.expectation.molar_mass * 1e3) ** 2).sum(axis=0)
        return np.sqrt(squares + (0.01 * precision.technique) ** 2)

    def _implied(self, gains: Array, **readings: float) -> Array:
        """Return the molar mass that each liquid's gain [kg] gives with its own corrections."""
        liquid = self.expectation.liquid
        # It is a straight line in the gain: two points on it, for all liquids at once.
        start, end = (
            implied_molar_mass(self.weighing(**readings, gain=one), liquid)[0]
            for one in (0.0, _GRAM)
        )
        return np.asarray(start + (end - start) * (gains / _GRAM))

    @property
    def _weighings_u(self) -> float:
        """Standard uncertainty of the difference of two weighings [kg]."""
        return sqrt(2.0) * self.precision.balance * INSTRUMENTS["balance"].si

    def tolerances(self) -> Tolerances:
        """Return the tolerances of the class: twice its standard uncertainties.

        That of the molar mass is the middle one of these liquids. Where no composition is measured
        its tolerance is the usual one, and nothing is compared with it.
        """
        usual = Tolerances()
        percent = self.precision.percent
        relative = float(np.median(self.molar_mass_uncertainty()))
        return Tolerances(
            molar_mass=_tolerance(100.0 * relative),
            boiling_point=_tolerance(self.precision.boiling_point),
            percent=_tolerance(percent) if isfinite(percent) else usual.percent,
        )

    def balance_uncertainty(self) -> float:
        """Return what the two weighings make of a molar mass [g/mol], the same for all liquids."""
        laboratory = self.laboratory
        bath, pressure = laboratory.bath, laboratory.pressure
        return 1e3 * float(ideal_molar_mass(self._weighings_u, bath, pressure, BRIM_VOLUME))

    def reading_uncertainty(self) -> float:
        """Return what bath, barometer and flask make of a molar mass, relative to it."""
        precision, laboratory = self.precision, self.laboratory
        return hypot(
            precision.bath_thermometer / laboratory.bath,
            precision.barometer * MMHG / laboratory.pressure,
            0.01 * precision.volume,
        )


# As fine as a tolerance may be, see `Tolerances`.
_FINEST, _COARSEST = 1e-3, 1e3


def _tolerance(standard_uncertainty: float) -> float:
    return float(np.clip(2.0 * standard_uncertainty, _FINEST, _COARSEST))


def class_setup(table: CandidateTable, laboratory: Laboratory, precision: Precision) -> ClassSetup:
    """Return the setup of a table's liquids."""
    return ClassSetup(Expectation.of(table), laboratory, precision)


def scaled(precision: Precision, name: str, value: float) -> Precision:
    """Return a precision with one reading's standard uncertainty changed.

    Raises
    ------
    KeyError
        If there is no such reading.
    """
    if name not in {field.name for field in fields(precision)}:
        raise KeyError(name)
    return replace(precision, **{name: value})
