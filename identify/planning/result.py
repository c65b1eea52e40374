"""What a plan gives: the liquids to put into the bottles, and how well a class will name them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from identify.bench.laboratory import Laboratory
from identify.notebook.errors import UnusableInput
from identify.notebook.findings import Finding
from identify.notebook.serializing import Serializable, serialized
from identify.notebook.shown import Shown
from identify.notebook.usual import BALANCE, BAROMETER, THERMOMETER, tolerance_u
from identify.observables.tolerances import Tolerances
from identify.physics.constants import ICE_POINT
from identify.stock.result import Portion, PouredInAll


@dataclass(frozen=True)
class Precision(Serializable):
    """How well a class reads: standard uncertainties, the usual ones where not given.

    Those of the calculations: half a degree, half a millimeter, one unit in the last digit of a
    balance to the milligram; 0.5 % is three fills of a 100 mL cylinder, 0.5 mL each, and the
    temperature of the water. Technique is what is left of the 2.5 % that half of the usual
    tolerance of a molar mass stands for: with it, methanol to cyclohexane come out at 2.5 %.
    Boiling point and percentages: half of their usual tolerances.

    Parameters
    ----------
    balance : float
        Of one weighing [g].
    barometer : float
        In mmHg.
    bath_thermometer, room_thermometer : float
        In K.
    volume : float
        Of the flask's brim volume [percent].
    technique : float
        Of the vapor's mass, from run to run: how completely it fills the flask, how dry the flask
        was wiped [percent].
    boiling_point : float
        In K.
    percent : float
        In percentage points an element; infinite where no composition is measured.
    spoiled : float
        Runs that err otherwise than the class does, by liquid left or vapor missing [percent].
    """

    balance: float = BALANCE
    barometer: float = BAROMETER
    bath_thermometer: float = THERMOMETER
    room_thermometer: float = THERMOMETER
    volume: float = 0.5
    technique: float = 2.4
    boiling_point: float = tolerance_u(Tolerances.boiling_point)
    percent: float = tolerance_u(Tolerances.percent)
    spoiled: float = 0.0


class PlanError(UnusableInput):
    """A plan that cannot be made; says why and what to do, in one line."""


@dataclass(frozen=True)
class Sieved(Serializable):
    """What one condition leaves of the pool.

    Parameters
    ----------
    text : str
        The condition, as it stands behind a number of liquids.
    option : str
        What sets it on the command line; empty where nothing does.
    left, removed : int
        Liquids that meet it, of those that met the ones before; and those that do not.
    unknown : int
        Of all that came to it, those of which the table does not know.
    examples : tuple of str
        Some that it took out, the best known first.
    """

    text: str
    option: str
    left: int
    removed: int
    unknown: int = 0
    examples: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlannedLiquid(Serializable):
    """One liquid of a plan.

    Parameters
    ----------
    label : str
        Its bottle in the stock table; empty where the plan comes from the whole table.
    name, cas, smiles, formula : str
    molar_mass, boiling_point_C : float
    success : float
        Share of simulated runs that name it first among the plan's liquids.
    success_low, success_high : float
        95 % confidence interval of that share (Wilson).
    nearest : str
        The liquid of the plan that reads most like it.
    separation : float
        From that one [standard uncertainties].
    findings : tuple of Finding
        Hazards and what else the instructor should know.
    portion : Portion or None
        How much of it is poured in.
    """

    label: str
    name: str
    cas: str
    smiles: str
    formula: str
    molar_mass: float
    boiling_point_C: float
    success: float
    success_low: float
    success_high: float
    nearest: str
    separation: float
    findings: tuple[Finding, ...] = ()
    portion: Portion | None = None


@dataclass(frozen=True)
class LeftOut(Serializable):
    """A common liquid that the plan does without, and why."""

    name: str
    cas: str
    reason: str


@dataclass(frozen=True)
class Traded(Serializable):
    """What was given up for liquids that are common and easy to handle.

    Parameters
    ----------
    needed : float
        Separation from which on two liquids are told apart as surely as is wanted [standard
        uncertainties].
    farthest : tuple of str
        The liquids whose nearest two would be farthest apart.
    farthest_separation : float
        Of these two.
    listed_in_farthest : int
        How many of them are on a warning list.
    left_out : tuple of LeftOut
        Liquids that classes are given more often than the rarest of the plan.
    """

    needed: float
    farthest: tuple[str, ...]
    farthest_separation: float
    listed_in_farthest: int = 0
    left_out: tuple[LeftOut, ...] = ()


@dataclass(frozen=True)
class Requirement(Serializable):
    """How good one instrument must be, all others as they are.

    Parameters
    ----------
    instrument : str
        As `Precision` names it.
    unit : str
    now : float
        Its standard uncertainty as planned.
    needed : float or None
        The largest at which the class reaches the wanted success; None where not even a perfect
        one would do.
    is_open : bool
        Whether a coarser one than ``needed`` would do as well: the search ended there.
    """

    instrument: str
    unit: str
    now: float
    needed: float | None
    is_open: bool = False


def _laboratory_data(laboratory: Laboratory) -> dict[str, float]:
    return {
        "pressure_hPa": 0.01 * laboratory.pressure,
        "room_C": laboratory.room - ICE_POINT,
        "bath_C": laboratory.bath - ICE_POINT,
    }


def _tolerance_data(tolerances: Tolerances) -> dict[str, float]:
    return {name: getattr(tolerances, name) for name in ("molar_mass", "boiling_point", "percent")}


@dataclass(frozen=True, repr=False)
class Plan(Serializable, Shown):
    """A set of liquids for a class.

    Parameters
    ----------
    liquids : tuple of PlannedLiquid
    confusion : array, shape (n, n)
        Row: the liquid in the bottle; column: the one named first; share of the runs. Where the
        students must name it among the whole table, the rows lack the runs that name another.
    smallest_separation : float
        Of any two of them [standard uncertainties].
    success : float
        Mean over the liquids.
    is_proved : bool
        Whether no other set of the pool whose liquids are told apart as surely is easier to get
        and to handle.
    pool : int
        Liquids that the conditions allow.
    runs, seed : int
        Simulated runs a liquid, and the seed of the random numbers.
    precision : Precision
    laboratory : Laboratory
    requirements : tuple of Requirement
    findings : tuple of Finding
    separation_at_most : float
        No set of the pool has a larger smallest separation [standard uncertainties].
    conditions : tuple of Sieved
        What each condition took out of the table, in order.
    tolerances : Tolerances
        Twice the class's standard uncertainties: what its pages are compared with.
    against : {"plan", "table"}
        Among what a liquid is to be named: those of the plan, or all of the built-in table.
    wanted : float
        Success that the requirements are for, 0 to 1.
    wanted_of : {"mean", "worst"}
        Whether of all liquids together, or of the one that fares worst.
    traded : Traded or None
        What was given up for liquids that are easy to get and to handle.
    poured : PouredInAll or None
        What the class needs of all of them, and what waste it makes.
    """

    liquids: tuple[PlannedLiquid, ...]
    confusion: NDArray[np.float64]
    smallest_separation: float
    success: float
    is_proved: bool
    pool: int
    runs: int
    seed: int
    precision: Precision
    laboratory: Laboratory = field(metadata=serialized(_laboratory_data))
    requirements: tuple[Requirement, ...] = ()
    findings: tuple[Finding, ...] = ()
    separation_at_most: float = float("nan")
    conditions: tuple[Sieved, ...] = ()
    tolerances: Tolerances = field(default_factory=Tolerances, metadata=serialized(_tolerance_data))
    against: str = "plan"
    wanted: float = float("nan")
    wanted_of: str = "mean"
    traded: Traded | None = None
    poured: PouredInAll | None = None

    main_table = "liquids"

    @property
    def headline(self) -> str:
        """The plan in a few words."""
        return f"{len(self.liquids)} liquids, {100.0 * self.success:.1f} % of runs name theirs"
