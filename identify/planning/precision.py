"""How well a class reads, and the uncertainty and tolerances that follow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import hypot, isfinite, sqrt
from types import MappingProxyType

import numpy as np

from identify.bench.laboratory import Laboratory
from identify.compounds.table import CandidateTable
from identify.matching.expected.expectation import Expectation
from identify.notebook.quantity.quantities import QuantityError, read_uncertainty
from identify.notebook.quantity.units import MMHG
from identify.notebook.usual import BRIM_VOLUME, HUMIDITY
from identify.observables.error.technique import CAREFUL, TECHNIQUES, Technique
from identify.observables.tolerances import Tolerances
from identify.physics.arrays import Array
from identify.physics.vapor import Weighing, gain, ideal_molar_mass, implied_molar_mass
from identify.planning.result import Precision

_GRAM = 1e-3  # kg


@dataclass(frozen=True)
class _Instrument:
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
        Nobody would call a coarser one a measurement; a search ends there.
    read_as : str
        Unit of a plain number that was typed.
    """

    name: str
    unit: str
    si: float
    coarsest: float
    read_as: str


# How coarse is as good as not measured at all: common practice.
INSTRUMENTS: Mapping[str, _Instrument] = MappingProxyType(
    {
        "balance": _Instrument("balance", "g", 1e-3, 0.5, "g"),
        "barometer": _Instrument("barometer", "mmHg", MMHG, 40.0, "mmHg"),
        "bath_thermometer": _Instrument("bath thermometer", "K", 1.0, 20.0, "C"),
        "room_thermometer": _Instrument("room thermometer", "K", 1.0, 8.0, "C"),
        "volume": _Instrument("flask's volume", "%", 0.01, 30.0, "%"),
        "technique": _Instrument("technique", "%", 0.01, 30.0, "%"),
        "boiling_point": _Instrument("boiling point", "K", 1.0, 50.0, "C"),
        "percent": _Instrument("percentages", "points", 1.0, 20.0, "%"),
    }
)
_NOT_MEASURED = "none"


def precision_of(written: Mapping[str, str | None]) -> Precision:
    """Read standard uncertainties as they are written; the usual ones where None.

    Parameters
    ----------
    written : mapping of str to str or None
        By the fields of `Precision`. ``percent`` may be ``none``: no composition is measured.
        ``technique`` may be a word, see `Technique.named`; ``careful`` is the usual one.

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
        if name == "percent" and text.strip().lower() == _NOT_MEASURED:
            given[name] = float("inf")
            continue
        if name == "technique" and text.strip().lower() in TECHNIQUES:
            if text.strip().lower() != CAREFUL.name:
                given[name] = 100.0 * Technique.named(text).spread
            continue
        instrument = INSTRUMENTS[name]
        number = text.strip().removesuffix("points") if name == "percent" else text
        try:
            given[name] = _checked(read_uncertainty(number, instrument.read_as), text, instrument)
        except QuantityError as error:
            error.field = name
            raise
    return Precision(**given)


def _checked(value: float, read: str, instrument: _Instrument) -> float:
    if value <= instrument.coarsest:
        return value
    raise QuantityError(
        read,
        f"is coarser than {instrument.coarsest:g} {instrument.unit}, which measures nothing",
        "give the standard uncertainty of one reading, with its unit",
    )


@dataclass(frozen=True)
class ClassSetup:
    """Liquids, the laboratory where they are measured, and how well.

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
    # Of these liquids here, whatever the precision: what was worked out, by what it follows from.
    _kept: dict[tuple[str, float], Array] = field(default_factory=dict, repr=False, compare=False)

    @classmethod
    def of(cls, table: CandidateTable, laboratory: Laboratory, precision: Precision) -> ClassSetup:
        """Take the liquids of a table."""
        return cls(Expectation.of(table), laboratory, precision)

    def weighing(self, **readings: Array | float) -> Weighing:
        """Return a weighing in this laboratory, with some of its readings given."""
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
        """Return what the balance shows without vapor, and what the vapor adds, shape (n,) [kg].

        The first is below zero: air that the vapor of the cooled liquid shuts out.
        """
        molar_mass = 1e-3 * self.expectation.molar_mass
        liquid, weighing = self.expectation.liquid, self.weighing()
        nothing = gain(np.zeros_like(molar_mass), weighing, liquid)[0]
        return nothing, gain(molar_mass, weighing, liquid)[0] - nothing

    def molar_mass_uncertainty(self) -> Array:
        """Return the relative standard uncertainty of each liquid's molar mass, shape (n,) [-]."""
        precision, laboratory = self.precision, self.laboratory
        off = [
            self._off(name, value, uncertainty)
            for name, value, uncertainty in (
                ("gain", 0.0, self._weighings_u),
                ("bath", laboratory.bath, precision.bath_thermometer),
                ("room", laboratory.room, precision.room_thermometer),
                ("pressure", laboratory.pressure, precision.barometer * MMHG),
                ("volume", BRIM_VOLUME, BRIM_VOLUME * 0.01 * precision.volume),
            )
        ]
        squares = ((np.array(off) / self.expectation.molar_mass * 1e3) ** 2).sum(axis=0)
        return np.sqrt(squares + (0.01 * precision.technique) ** 2)

    def _off(self, name: str, value: float, uncertainty: float) -> Array:
        """Return what a reading's uncertainty changes each liquid's molar mass by [kg/mol]."""
        known = self._kept.get((name, uncertainty))
        if known is None:
            nothing, vapor = self.gains()
            shown = nothing + vapor
            if name == "gain":
                known = self._implied(shown + uncertainty) - self._implied(shown)
            else:
                # To either side: a flask read a tenth too small errs by more than one too large.
                above, below = (
                    self._implied(shown, **{name: value + sign * uncertainty})
                    for sign in (1.0, -1.0)
                )
                known = 0.5 * (above - below)
            self._kept[name, uncertainty] = known
        return known

    def _implied(self, gains: Array, **readings: float) -> Array:
        """Return the molar mass that each liquid's gain [kg] gives with its own corrections."""
        liquid = self.expectation.liquid
        # It is linear in the gain: two points give the line, for all liquids at once.
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

        For the molar mass, those of the median liquid. Where no composition is measured, its
        tolerance is the usual one, and nothing is compared with it.
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
        """Return the balance's part in the uncertainty of any liquid's molar mass [g/mol]."""
        laboratory = self.laboratory
        bath, pressure = laboratory.bath, laboratory.pressure
        return 1e3 * float(ideal_molar_mass(self._weighings_u, bath, pressure, BRIM_VOLUME))

    def reading_uncertainty(self) -> float:
        """Return the relative uncertainty of a molar mass due to bath, barometer and flask."""
        precision, laboratory = self.precision, self.laboratory
        return hypot(
            precision.bath_thermometer / laboratory.bath,
            precision.barometer * MMHG / laboratory.pressure,
            0.01 * precision.volume,
        )


_FINEST_TOLERANCE, _COARSEST_TOLERANCE = 1e-3, 1e3  # see `Tolerances`


def _tolerance(standard_uncertainty: float) -> float:
    return float(np.clip(2.0 * standard_uncertainty, _FINEST_TOLERANCE, _COARSEST_TOLERANCE))
