"""What a plan gives: the liquids to put into the bottles, and how well a class will name them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from identify.findings import Finding
from identify.laboratory import Laboratory


@dataclass(frozen=True)
class Precision:
    """How well a class reads: standard uncertainties.

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
    """

    balance: float
    barometer: float
    bath_thermometer: float
    room_thermometer: float
    volume: float
    technique: float
    boiling_point: float
    percent: float


@dataclass(frozen=True)
class PlannedLiquid:
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

    def to_dict(self) -> dict[str, Any]:
        """Return the liquid as plain data."""
        return {
            **{name: getattr(self, name) for name in _PLAIN},
            "findings": [finding.to_dict() for finding in self.findings],
        }


_PLAIN = (
    "label",
    "name",
    "cas",
    "smiles",
    "formula",
    "molar_mass",
    "boiling_point_C",
    "success",
    "success_low",
    "success_high",
    "nearest",
    "separation",
)


@dataclass(frozen=True)
class Requirement:
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
    """

    instrument: str
    unit: str
    now: float
    needed: float | None

    def to_dict(self) -> dict[str, Any]:
        """Return the requirement as plain data."""
        return {
            "instrument": self.instrument,
            "unit": self.unit,
            "now": self.now,
            "needed": self.needed,
        }


@dataclass(frozen=True)
class Plan:
    """A set of liquids for a class.

    Parameters
    ----------
    liquids : tuple of PlannedLiquid
    confusion : array, shape (n, n)
        Row: the liquid in the bottle; column: the one named first; share of the runs.
    smallest_separation : float
        Of any two of them [standard uncertainties].
    success : float
        Mean over the liquids.
    is_proved : bool
        Whether no other set of the pool has a larger smallest separation.
    pool : int
        Liquids that the conditions allow.
    runs, seed : int
        Simulated runs a liquid, and the seed of the random numbers.
    precision : Precision
    laboratory : Laboratory
    requirements : tuple of Requirement
    findings : tuple of Finding
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
    laboratory: Laboratory
    requirements: tuple[Requirement, ...] = ()
    findings: tuple[Finding, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return the plan as plain data, ready for JSON."""
        return {
            "liquids": [liquid.to_dict() for liquid in self.liquids],
            "confusion": self.confusion.tolist(),
            "smallest_separation": self.smallest_separation,
            "success": self.success,
            "is_proved": self.is_proved,
            "pool": self.pool,
            "runs": self.runs,
            "seed": self.seed,
            "requirements": [one.to_dict() for one in self.requirements],
            "findings": [finding.to_dict() for finding in self.findings],
        }
