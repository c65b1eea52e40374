"""Which candidates suit a bottle, a room and a bath, before anything is compared."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.compounds.table import CandidateTable
from identify.matching.expected.expectation import Expectation, MeltingPoints, room_of
from identify.notebook.plausible import PLAUSIBLE
from identify.notebook.usual import BATH_READ_WITHIN, STEAM_POINT
from identify.observables.error.comparison import at_least
from identify.physics.arrays import Array, Recent, in_quadrature
from identify.physics.constants import STANDARD_PRESSURE

# A bottle holds a liquid: what boils below the room is there only under pressure or on ice.
_GAS_IN_A_BOTTLE = 0.01
_ROOM_SD = 2.0  # K: a room is cooler at night
# What boils above the bath cannot drive the air out of the flask, but for a bath read a little low.
_BATH_SD = 1.0  # K
# Whoever weighs vapor is given a liquid that boils off in the bath, nearly always. Common practice.
NOT_FOR_THIS_BATH = 0.03
LEAST_CHANCE = 0.05  # below it, a candidate is not plausible

# Of rooms and of cards, which many students of a class share: each is compared once. Beside twelve
# thousand candidates a card takes a megabyte, a room a tenth.
KEPT_COMPARISONS = 24


class Suitability:
    """What a candidate has to be: a liquid in a bottle, melted in the room, a vapor in the bath.

    Parameters
    ----------
    table : CandidateTable
    expectation : Expectation
    prior : array, shape (n,)
        Of the candidates that are compared.
    """

    def __init__(self, table: CandidateTable, expectation: Expectation, prior: Array) -> None:
        self.table, self.expectation, self.prior = table, expectation, prior
        self._recent = Recent(KEPT_COMPARISONS)

    @property
    def size(self) -> int:
        """How many candidates are compared."""
        return len(self.prior)

    @cached_property
    def _suits_class(self) -> Array:
        """Chance that a class is handed each for a bath of boiling water, shape (n,)."""
        return meant_for_a_bath(self.vaporized(Bench(), STEAM_POINT))

    def liquid(self, bench: Bench) -> Array:
        """Return the chance that each candidate stays in a bottle as a liquid, shape (n,)."""
        pressure, room = laboratory_pressure(bench), room_of(bench)

        def chance() -> Array:
            excess = self.expectation.boiling_point(pressure) - room
            sure = at_least(excess, in_quadrature(_ROOM_SD, self.expectation.boiling_point_u))
            return _GAS_IN_A_BOTTLE + (1.0 - _GAS_IN_A_BOTTLE) * sure

        return self._recent.of(("liquid", pressure, room), chance)

    def melted(self, bench: Bench) -> Array:
        """Return the chance that each candidate is melted in the room, shape (n,).

        Not judged where a melting point was read: then that reading decides.
        """
        if "melting_point" in bench.further:
            return np.ones(self.size)
        room = room_of(bench)
        return self._recent.of(("melted", room), lambda: self._melting_points.melted(room))

    @cached_property
    def _melting_points(self) -> MeltingPoints:
        return MeltingPoints.of(self.table)

    def vaporized_in_bath(self, bench: Bench) -> Array:
        """Return for each candidate the chance that it boiled off in the bath, shape (n,)."""
        bath = np.nan if bench.weighing is None else float(np.mean(bench.weighing.bath))
        if not PLAUSIBLE["bath"].holds_si(bath):
            return np.ones(self.size)
        return self.vaporized(bench, bath)

    def vaporized(
        self, bench: Bench, bath: Array | float, rows: NDArray[np.int64] | slice = slice(None)
    ) -> Array:
        """Return the chance that candidates boil off in a bath [K], broadcasting against rows."""
        expected = self.expectation.boiling_point(laboratory_pressure(bench))[rows]
        excess = bath + BATH_READ_WITHIN - expected
        bath_u = np.hypot(_BATH_SD, bench.bath_u)
        return at_least(excess, in_quadrature(bath_u, self.expectation.boiling_point_u[rows]))


def meant_for_a_bath(vaporized: Array) -> Array:
    """Return the chance that a liquid is handed out for a bath, from that it boils off there."""
    return NOT_FOR_THIS_BATH + (1.0 - NOT_FOR_THIS_BATH) * vaporized


def laboratory_pressure(bench: Bench) -> float:
    """Return the laboratory's pressure [Pa], the standard one where none is known or credible."""
    read = np.nan if bench.weighing is None else float(np.mean(bench.weighing.pressure))
    return read if PLAUSIBLE["pressure"].holds_si(read) else STANDARD_PRESSURE
