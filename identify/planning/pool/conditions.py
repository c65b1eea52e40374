"""The conditions on the liquids of a plan, and what each of them leaves of a table."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.bench.laboratory import Laboratory, pressure_text
from identify.compounds.carcinogens import of_the_liquid
from identify.compounds.filters import COMMONLY_SOLD
from identify.compounds.table import CandidateTable
from identify.matching.expected.expectation import Expectation
from identify.notebook.findings import listed
from identify.notebook.usual import BATH_MARGIN, tolerance_u
from identify.observables.tolerances import Tolerances
from identify.physics.arrays import Rows
from identify.physics.constants import ELEMENTS, ICE_POINT
from identify.planning.pool.fitness import unfit
from identify.planning.result import PlanError, Sieved

_Mask = NDArray[np.bool_]

# A liquid that boils 30 K above the room keeps about a third of its vapor from condensing there;
# nearer to the room the weighing hangs on that correction alone. Trouton's rule.
_MIN_ABOVE_ROOM = 30.0  # K
_MAX_BOILING_POINT_UNCERTAINTY = tolerance_u(Tolerances.boiling_point)  # K

# Of what a class is given from the whole table, where nothing else is asked for. Common practice.
_MIN_EXPOSURE_LIMIT = 10.0  # ppm

_MAX_EXAMPLES = 4  # liquids that a condition took out


@dataclass(frozen=True)
class LiquidConditions:
    """The conditions that a liquid of the pool must meet.

    Parameters
    ----------
    boils_above, boils_below : float, optional
        At the laboratory's pressure [K]; 30 K above the room and 5 K below the bath where not
        given.
    no_carcinogens : bool
        Leave out what a published list calls a carcinogen.
    ordinary : bool
        Leave out what is not for a class by its structure: `identify.planning.pool.fitness`.
    commonly_sold : int
        Least number of the six inventories that list it.
    flash_point_above : float, optional
        In degrees Celsius. A liquid whose flash point is not known is left out.
    exposure_limit_above : float, optional
        In ppm. A liquid whose limit is not known stays.
    elements : tuple of str
        It may hold only these; any where empty.
    """

    boils_above: float | None = None
    boils_below: float | None = None
    no_carcinogens: bool = False
    ordinary: bool = False
    commonly_sold: int = 0
    flash_point_above: float | None = None
    exposure_limit_above: float | None = None
    elements: tuple[str, ...] = ()

    def holding(self, elements: Sequence[str]) -> LiquidConditions:
        """Return the same conditions for liquids of these elements alone."""
        return replace(self, elements=tuple(elements))

    def __post_init__(self) -> None:
        for element in self.elements:
            if element not in ELEMENTS:
                raise PlanError(
                    f'elements: "{element}" is not one of {" ".join(ELEMENTS)}; the table holds '
                    "no others"
                )


# The whole table holds poisons and rarities; a stock table holds what its owner chose to buy, and
# needs no more than the method does.
FROM_TABLE = LiquidConditions(
    no_carcinogens=True,
    ordinary=True,
    commonly_sold=COMMONLY_SOLD,
    exposure_limit_above=_MIN_EXPOSURE_LIMIT,
)


@dataclass(frozen=True)
class _Condition:
    """One condition: its words, the option that sets it, and the rows that meet it.

    Parameters
    ----------
    text : str
        As it stands behind a number of liquids.
    option : str
    passed : callable
        Takes rows of the table, returns which of them meet the condition.
    unknown : callable, optional
        Takes rows, returns for which of them it is not known.
    """

    text: str
    option: str
    passed: Callable[[Rows], _Mask]
    unknown: Callable[[Rows], _Mask] | None = None


class Sieve:
    """A table's liquids under conditions, one after the other."""

    def __init__(
        self, table: CandidateTable, conditions: LiquidConditions, laboratory: Laboratory
    ) -> None:
        self.table, self.asked, self.laboratory = table, conditions, laboratory
        self.boiling = Expectation.of(table).boiling_point(laboratory.pressure)
        self.lowest = _or(conditions.boils_above, laboratory.room + _MIN_ABOVE_ROOM)
        self.highest = _or(conditions.boils_below, laboratory.bath - BATH_MARGIN)
        if not self.lowest < self.highest:
            raise PlanError(
                f"no liquid boils above {self.lowest - ICE_POINT:.1f} °C and below "
                f"{self.highest - ICE_POINT:.1f} °C; check --boils-above, --boils-below and --bath"
            )

    @cached_property
    def conditions(self) -> list[_Condition]:
        """All conditions asked for, the cheap and the strictest first."""
        return [*self._method(), *self._supply(), *self._safety()]

    def sieved(self) -> tuple[list[Sieved], Rows]:
        """Return what each condition leaves, and the rows that pass all."""
        left = np.arange(len(self.table), dtype=np.int64)
        report = []
        for condition in self.conditions:
            passed = condition.passed(left)
            unknown = 0 if condition.unknown is None else int(condition.unknown(left).sum())
            examples = tuple(self._known_first(left[~passed])[:_MAX_EXAMPLES])
            before, left = len(left), left[passed]
            removed = before - len(left)
            text, option = condition.text, condition.option
            report.append(Sieved(text, option, len(left), removed, unknown, examples))
        return report, left

    def left_without(self, dropped: _Condition) -> int:
        """Return how many liquids meet all conditions but one."""
        left = np.arange(len(self.table), dtype=np.int64)
        for condition in self.conditions:
            if condition is not dropped:
                left = left[condition.passed(left)]
        return len(left)

    def objections(self, row: int) -> tuple[str, ...]:
        """Return the conditions that a liquid does not meet, in their words."""
        one = np.array([row], dtype=np.int64)
        return tuple(
            condition.text for condition in self.conditions if not condition.passed(one)[0]
        )

    def _known_first(self, rows: Rows) -> list[str]:
        """Return the liquids' names, the most common first."""
        names, prior = self.table.text("name"), self.table.number("prior")
        return [names[row] for row in sorted(rows.tolist(), key=lambda row: (-prior[row], row))]

    def _method(self) -> Iterator[_Condition]:
        mmhg = pressure_text(self.laboratory.pressure)
        yield _Condition(
            f"boil between {self.lowest - ICE_POINT:.1f} and {self.highest - ICE_POINT:.1f} °C at "
            f"{mmhg}",
            "--boils-above, --boils-below",
            lambda rows: (self.boiling[rows] > self.lowest) & (self.boiling[rows] < self.highest),
        )
        melting = self.table.number("melting_point_C") + ICE_POINT
        yield _Condition(
            f"are liquid in a room of {self.laboratory.room - ICE_POINT:.0f} °C",
            "--room",
            lambda rows: ~(melting[rows] >= self.laboratory.room),
            lambda rows: np.isnan(melting[rows]),
        )
        single = np.isnan(self.table.number("dimer_enthalpy"))
        yield _Condition(
            "are single molecules as vapor: of a carboxylic acid about half are dimers, and its "
            "vapor's density gives no molar mass",
            "",
            lambda rows: single[rows],
        )
        published = self.table.number("boiling_point_published")
        spread = self.table.number("boiling_point_u")
        yield _Condition(
            f"have a published boiling point, known within {_MAX_BOILING_POINT_UNCERTAINTY:g} K",
            "",
            lambda rows: (published[rows] > 0.0) & (spread[rows] <= _MAX_BOILING_POINT_UNCERTAINTY),
        )

    def _supply(self) -> Iterator[_Condition]:
        inventories = self.table.number("inventories")
        if self.asked.commonly_sold:
            yield _Condition(
                f"are commonly sold: {self.asked.commonly_sold} of 6 inventories list them",
                "--commonly-sold",
                lambda rows: inventories[rows] >= self.asked.commonly_sold,
            )
        if self.asked.elements:
            others = np.array([e not in self.asked.elements for e in ELEMENTS])
            yield _Condition(
                f"hold no elements but {listed(self.asked.elements)}",
                "--elements",
                lambda rows: self.table.percent[rows][:, others].sum(axis=1) <= 0.0,
            )

    def _safety(self) -> Iterator[_Condition]:
        if self.asked.no_carcinogens:
            on_a_list = np.array([bool(of_the_liquid(t)) for t in self.table.text("carcinogen")])
            yield _Condition(
                "are on no published list of carcinogens (ethanol is, as what is drunk, and stays)",
                "--no-carcinogens",
                lambda rows: ~on_a_list[rows],
            )
        if (least := self.asked.flash_point_above) is not None:
            flash_point = self.table.number("flash_point_C")
            yield _Condition(
                f"have a known flash point of {least:g} °C or more",
                "--flash-point-above",
                lambda rows: flash_point[rows] >= least,
                lambda rows: np.isnan(flash_point[rows]),
            )
        if (lowest := self.asked.exposure_limit_above) is not None:
            limit = self.table.number("exposure_limit_ppm")
            yield _Condition(
                f"have no exposure limit below {lowest:g} ppm",
                "--exposure-limit-above",
                lambda rows: ~(limit[rows] < lowest),
                lambda rows: np.isnan(limit[rows]),
            )
        if self.asked.ordinary:
            yield _Condition(
                "are ordinary: not reactive, corrosive, foul or ozone-depleting by their structure",
                "--ordinary",
                self._ordinary,
            )

    def _ordinary(self, rows: Rows) -> _Mask:
        barred = unfit(self.table, rows.tolist())
        return np.array([row not in barred for row in rows.tolist()], dtype=bool)


def _or(value: float | None, default: float) -> float:
    return default if value is None else value
