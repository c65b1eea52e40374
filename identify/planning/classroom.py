"""Runs of a class: what it reads of each liquid, and which liquid the readings point to.

The true readings follow from the physics that the match itself uses; what is read is off by the
precision of the class. The readings are compared as on a student's page, for many runs at once:
the same comparisons, the same tolerances, the same rule for liquids that do not boil off.
Constants of the liquids are taken as true, and nobody makes a slip.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping
from copy import copy
from dataclasses import dataclass, field, replace
from math import isfinite, sqrt
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np

from identify.bench.bench import Bench
from identify.bench.laboratory import Laboratory
from identify.bench.readings import SIReading
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher
from identify.matching.expected.suitability import meant_for_a_bath
from identify.notebook.usual import BRIM_VOLUME, tolerance_u
from identify.observables.boiling_point import compare_boiling_point
from identify.observables.composition import compare_element, compare_unmentioned
from identify.observables.error.comparison import Comparison
from identify.observables.error.technique import TECHNIQUES
from identify.observables.weighing import ObservedMolarMass
from identify.physics.arrays import Array, Rows, in_quadrature
from identify.physics.boiling import boiling_temperature
from identify.physics.constants import ELEMENTS
from identify.physics.vapor import Vapor, Weighing
from identify.planning.precision import INSTRUMENTS, ClassSetup
from identify.planning.result import Precision

_Part = TypeVar("_Part")
_ROUGH = TECHNIQUES["rough"].error()
_MIN_VOLUME_SHARE = 0.01  # of the flask's volume: nobody writes down less

# By part of a comparison, the readings that it rests on: a class that is as precise in these finds
# the same with the same deviates.
_OF_VAPOR = ("bath_thermometer", "room_thermometer", "barometer", "volume")
_RESTS_ON = {
    "boils at": ("barometer",),
    "boiling point": ("barometer", "boiling_point"),
    "vaporized": ("barometer", "bath_thermometer"),
    "vapor": _OF_VAPOR,
    "molar mass": (*_OF_VAPOR, "balance", "technique"),
    "composition": ("percent",),
}


@dataclass(frozen=True)
class ClassReadings:
    """What was read of one liquid in k runs, all arrays of shape (k,).

    Parameters
    ----------
    gain : array
        Difference of the two weighings [kg].
    bath, room : array
        In K.
    pressure : array
        In Pa.
    volume : array
        In m3.
    boiling_point : array
        At the laboratory's pressure [K].
    percent : dict of int to array
        By place in the table's elements; empty where no composition is measured.
    parts : dict of str to array, shape (k, n)
        What the comparison with the liquids has found of them, see `_RESTS_ON`.
    """

    gain: Array
    bath: Array
    room: Array
    pressure: Array
    volume: Array
    boiling_point: Array
    percent: dict[int, Array]
    parts: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)

    @property
    def runs(self) -> int:
        """How many, k."""
        return len(self.gain)


@dataclass(frozen=True)
class Deviates:
    """Normal deviates of each reading of each run, drawn once.

    Every precision that is tried uses the same ones: two precisions then differ by what they do to
    the same runs, and not by chance.

    Parameters
    ----------
    instruments : array, shape (n, k, 8)
        Liquid, run, and reading: two weighings, bath, room, barometer, volume, technique, boiling
        point.
    elements : array, shape (n, k, 12)
    spoiled : array, shape (n, k, 2)
        From 0 to 1, which runs are spoiled; and the vapor that such a run gains over the right one.
    """

    instruments: Array
    elements: Array
    spoiled: Array

    @classmethod
    def drawn(cls, liquids: int, runs: int, seed: int) -> Deviates:
        """Draw the deviates of some runs of each liquid."""
        random = np.random.default_rng(seed)
        instruments = random.standard_normal((liquids, runs, 8))
        elements = random.standard_normal((liquids, runs, len(ELEMENTS)))
        which = random.random(liquids * runs)
        gained = 1.0 / (1.0 + _ROUGH.drawn(liquids * runs, random))
        spoiled = np.stack([which, gained], axis=1).reshape(liquids, runs, 2)
        return cls(instruments, elements, spoiled)


class SimulatedClass:
    """A class that measures the liquids of a plan, and names each one of them.

    Parameters
    ----------
    table : CandidateTable
        Of n liquids.
    laboratory : Laboratory
    precision : Precision
    """

    def __init__(self, table: CandidateTable, laboratory: Laboratory, precision: Precision) -> None:
        self.table, self.laboratory, self.precision = table, laboratory, precision
        self.setup = ClassSetup.of(table, laboratory, precision)
        self.matcher = Matcher(table, self.setup.tolerances(), prior="uniform")
        self._nothing, self._vapor = self.setup.gains()
        self._boiling = self.setup.expectation.boiling_point(laboratory.pressure)
        room_and_bath = Bench(weighing=self.setup.weighing())
        # The room decides between liquids only where one of them boils in it.
        self._stays_liquid = self.matcher.liquid(room_and_bath)
        self._stays_liquid = self._stays_liquid * self.matcher.melted(room_and_bath)
        self._bench = room_and_bath

    def with_precision(self, precision: Precision) -> SimulatedClass:
        """Return a class of another precision with the same liquids in the same laboratory."""
        other = copy(self)
        other.precision, other.setup = precision, replace(self.setup, precision=precision)
        other.matcher = self.matcher.with_tolerances(other.setup.tolerances())
        return other

    def parts_alike(self, other: SimulatedClass, read: ClassReadings) -> dict[str, Any]:
        """Return what another class found that this one finds too, with the same deviates.

        Parameters
        ----------
        other : SimulatedClass
            With the same liquids in the same laboratory.
        read : ClassReadings
            Its readings, after they were compared.
        """
        return {
            name: part
            for name, part in read.parts.items()
            if all(
                getattr(self.precision, reading) == getattr(other.precision, reading)
                for reading in _RESTS_ON[name]
            )
        }

    def readings(
        self, place: int, deviates: Deviates, parts: Mapping[str, Any] = MappingProxyType({})
    ) -> ClassReadings:
        """Return what the class reads of one liquid of its table.

        Parameters
        ----------
        place : int
        deviates : Deviates
        parts : mapping of str to array
            What is known of the comparison beforehand, see `parts_alike`.
        """
        laboratory, precision = self.laboratory, self.precision
        z = deviates.instruments[place]
        off = {
            name: getattr(precision, name) * INSTRUMENTS[name].si
            for name in INSTRUMENTS
            if name != "percent"
        }
        # No run holds less vapor than none.
        filled = np.maximum(1.0 + off["technique"] * z[:, 6], 0.0)
        which, gained = deviates.spoiled[place].T
        filled = np.where(which < 0.01 * precision.spoiled, gained, filled)
        vapor = self._vapor[place] * filled
        return ClassReadings(
            gain=self._nothing[place] + vapor + off["balance"] * (z[:, 0] - z[:, 1]),
            bath=laboratory.bath + off["bath_thermometer"] * z[:, 2],
            room=laboratory.room + off["room_thermometer"] * z[:, 3],
            pressure=laboratory.pressure + off["barometer"] * z[:, 4],
            volume=BRIM_VOLUME * np.maximum(1.0 + off["volume"] * z[:, 5], _MIN_VOLUME_SHARE),
            boiling_point=self._boiling[place] + off["boiling_point"] * z[:, 7],
            percent=self._percentages(place, deviates.elements[place]),
            parts=dict(parts),
        )

    def _percentages(self, place: int, z: Array) -> dict[int, Array]:
        """Return the card's percentages: of the elements that the liquid holds."""
        if not isfinite(self.precision.percent):
            return {}
        return {
            element: np.maximum(share + self.precision.percent * z[:, element], 0.0)
            for element, share in enumerate(self.table.percent[place])
            if share > 0.0
        }

    def weights(self, read: ClassReadings) -> Array:
        """Return each liquid's probability up to a factor for each run, shape (k, n).

        What `Posterior.of` gives for each run's bench: see `benches`.
        """
        return np.asarray(
            self.matcher.prior
            * self._stays_liquid
            * meant_for_a_bath(self._vaporized(read))
            * _part(read, "molar mass", lambda: self._molar_mass(read).likelihood())
            * _part(read, "boiling point", lambda: self._boiling_point(read).likelihood())
            * _part(read, "composition", lambda: self._composition(read))
        )

    def _boiling_point(self, read: ClassReadings) -> Comparison:
        sigma = tolerance_u(self.matcher.tolerances.boiling_point)
        # The comparison takes one reading: of many runs, it is given how far each is off instead.
        off = self._boils_at(read) - read.boiling_point[:, np.newaxis]
        return compare_boiling_point(0.0, off, sigma, self.setup.expectation.boiling_point_u)

    def _boils_at(self, read: ClassReadings) -> Array:
        """Return where each liquid boils at the pressure of each run, shape (k, n) [K]."""
        expectation = self.setup.expectation
        return _part(
            read,
            "boils at",
            lambda: boiling_temperature(
                read.pressure[:, np.newaxis],
                expectation.normal_boiling_point,
                expectation.liquid.vapor_curve,
            ),
        )

    def _vaporized(self, read: ClassReadings) -> Array:
        # The rule takes one pressure: where a liquid boils higher at the run's own pressure, the
        # bath counts as that much cooler.
        def vaporized() -> Array:
            bath = read.bath[:, np.newaxis] - (self._boils_at(read) - self._boiling)
            return self.matcher.vaporized(self._bench, bath)

        return _part(read, "vaporized", vaporized)

    def _weighing(self, read: ClassReadings) -> Weighing:
        return self.setup.weighing(
            gain=read.gain,
            bath=read.bath,
            room=read.room,
            pressure=read.pressure,
            volume=read.volume,
            volume_temperature=read.room,
        )

    def _molar_mass(self, read: ClassReadings) -> Comparison:
        weighing, liquid = self._weighing(read), self.setup.expectation.liquid
        vapor = _part(read, "vapor", lambda: Vapor.of(weighing, liquid))
        observed, gained = (1e3 * one for one in vapor.implied_and_gained(weighing))
        relative, absolute = self.setup.reading_uncertainty(), self.setup.balance_uncertainty()
        instruments = in_quadrature(relative * observed, absolute)
        weighed = ObservedMolarMass(observed, observed - gained, instruments)
        return self.matcher.compared(weighed, self._vaporized(read))

    def _composition(self, read: ClassReadings) -> Array:
        """Return the density of the percentages for each liquid, shape (k, n)."""
        expected = self.setup.expectation.percent
        density = np.ones((read.runs, len(self.table)))
        remaining, listed = np.full(len(self.table), 100.0), np.zeros(read.runs)
        sigma = tolerance_u(self.matcher.tolerances.percent)
        for element, percent in read.percent.items():
            each = compare_element(percent[:, np.newaxis], expected[element], sigma)
            density *= each.likelihood()
            remaining -= expected[element]
            listed += percent
        if read.percent:
            density *= _unmentioned(listed, remaining, sqrt(len(read.percent)) * sigma)
        return density

    def named(self, read: ClassReadings) -> Rows:
        """Return the liquid that is named first in each run, shape (k,)."""
        return np.argmax(self.weights(read), axis=1)

    def benches(self, read: ClassReadings) -> Iterator[Bench]:
        """Yield each run as it stands on a student's page, with its uncertainties."""
        weighing = self._weighing(read)
        percent = {element: each.tolist() for element, each in read.percent.items()}
        for run, part in enumerate(weighing.parts(1)):
            yield Bench(
                boiling_point=SIReading(float(read.boiling_point[run])),
                boiling_pressure=float(read.pressure[run]),
                percent={element: SIReading(each[run]) for element, each in percent.items()},
                weighing=part,
                weighing_u=self.setup.reading_uncertainty(),
                gain_u=self.setup.balance_uncertainty(),
            )


def _part(read: ClassReadings, name: str, work: Callable[[], _Part]) -> _Part:
    """Return a part of the comparison of some runs, worked out where it is not known yet."""
    if name not in read.parts:
        read.parts[name] = work()
    known: _Part = read.parts[name]
    return known


def _unmentioned(listed: Array, remaining: Array, sigma: float) -> Array:
    """Return the chance of what each run's card leaves out for each liquid, shape (k, n)."""
    nothing_more = np.zeros(1)
    # A card claims to be complete from some sum on, which the comparison knows.
    sums = np.sort(listed)
    first = bisect_left(
        sums, True, key=lambda one: compare_unmentioned(float(one), nothing_more, sigma) is not None
    )
    room = np.maximum(100.0 - listed, 0.0)[:, np.newaxis]
    complete = compare_unmentioned(100.0, remaining - room, sigma)
    assert complete is not None
    claims = listed >= (sums[first] if first < len(sums) else np.inf)
    return np.where(claims[:, np.newaxis], complete.likelihood(), 1.0)
