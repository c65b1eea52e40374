"""What a molar mass from weighings is: value, uncertainty, corrections, budget and working."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from identify.bench.assumed import AssumedCondition
from identify.budget.budget import Budget
from identify.calculations.molar_mass.corrections import ShortcutCorrection
from identify.calculations.molar_mass.simulation import Simulation
from identify.calculations.molar_mass.trials import Agreement
from identify.calculations.working import Step
from identify.notebook.findings import Finding
from identify.notebook.serializing import Serializable, decimals, plain, rounded, serialized
from identify.notebook.shown import Shown
from identify.observables.error.technique import Technique


@dataclass(frozen=True)
class TrialResult(Serializable):
    """One trial.

    Parameters
    ----------
    number : int
        From 1.
    gain : float
        In g.
    ideal_gas, value : float
        The shortcut, and with all corrections [g/mol].
    standard_uncertainty : float
        Of the value [g/mol].
    own_uncertainty : float
        Of that, what not all trials share [g/mol].
    weight : float
        In the pooled value, 0 to 1: all trials count alike.
    """

    number: int = field(metadata=serialized(int, "trial"))
    gain: float = field(metadata=decimals(6, "gain_g"))
    ideal_gas: float = field(metadata=decimals(4))
    value: float = field(metadata=decimals(4))
    standard_uncertainty: float = field(metadata=decimals(4))
    own_uncertainty: float = field(metadata=decimals(4))
    weight: float = field(metadata=decimals(4))


@dataclass(frozen=True)
class Candidate(Serializable):
    """A liquid that it may be.

    `value` is the molar mass with its corrections, `molar_mass` its own by its formula [g/mol];
    `plausible` says whether all readings agree with it.
    """

    name: str
    probability: float = field(metadata=decimals(6))
    value: float = field(metadata=decimals(4))
    molar_mass: float = field(metadata=decimals(4))
    plausible: bool


@dataclass(frozen=True, repr=False)
class MolarMassResult(Shown):
    """A molar mass from weighings [g/mol].

    Parameters
    ----------
    label : str
    value : float
        Mean over the trials, with all corrections; averaged over the liquids that it may be by
        their probabilities where none is assumed.
    ideal_gas : float
        What the shortcut makes of the same trials.
    assumed_identity : str or None
        Whose corrections were used; None where the liquid is not known.
    assumed_molar_mass : float or None
        That liquid's own, by its formula [g/mol]; None where only constants were given.
    spread : (float, float)
        The lowest and the highest value over the liquids that count; twice the value for one.
    corrections : tuple of ShortcutCorrection
        In the order in which they are applied; they add up to ``value - ideal_gas``.
    budget : Budget
    technique : Technique
        How well the class is taken to work beyond its instruments.
    trials : tuple of TrialResult
    agreement : Agreement or None
        Of the trials; None for a single one.
    simulation : Simulation or None
        None where none was asked for, or where hardly any draw gives a molar mass.
    candidates : tuple of Candidate
        The most probable first.
    findings : tuple of Finding
    assumed : tuple of AssumedCondition
        What was not written down, and taken as usual.
    work : tuple of Step
    """

    label: str
    value: float
    ideal_gas: float
    assumed_identity: str | None
    assumed_molar_mass: float | None
    spread: tuple[float, float]
    corrections: tuple[ShortcutCorrection, ...]
    budget: Budget
    technique: Technique
    trials: tuple[TrialResult, ...]
    agreement: Agreement | None
    simulation: Simulation | None
    candidates: tuple[Candidate, ...]
    findings: tuple[Finding, ...] = ()
    work: tuple[Step, ...] = ()
    assumed: tuple[AssumedCondition, ...] = ()

    main_table = "budget"

    @property
    def headline(self) -> str:
        """The molar mass in a few words."""
        liquid = f", as {self.assumed_identity}" if self.assumed_identity else ""
        return f"{self.label}: {self.value:.2f} ± {self.standard_uncertainty:.2f} g/mol{liquid}"

    @property
    def standard_uncertainty(self) -> float:
        """Of instruments and technique together: half of the middle 68.27 % [g/mol]."""
        return self.budget.standard_uncertainty

    @property
    def instruments_uncertainty(self) -> float:
        """Standard uncertainty by the instruments alone [g/mol]."""
        return self.budget.total.instruments

    @property
    def expanded_uncertainty(self) -> float:
        """Half-width of `interval_95` [g/mol]."""
        return self.budget.expanded_uncertainty

    @property
    def interval_95(self) -> tuple[float, float]:
        """The interval that holds the true value in 95 of 100 such runs [g/mol].

        The value is not in its middle: liquid that is left makes more than vapor that is missing.
        """
        return self.budget.total.around(self.value)

    @property
    def liquid_decides(self) -> bool:
        """Whether it is mostly the choice of the liquid that the value depends on."""
        low, high = self.spread
        return self.budget.liquid_decides(high - low)

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain data, ready for JSON."""
        data = {
            "label": self.label,
            "value": rounded(self.value, 4),
            "standard_uncertainty": rounded(self.standard_uncertainty, 4),
            "expanded_uncertainty": rounded(self.expanded_uncertainty, 4),
            "coverage_factor": rounded(self.budget.coverage_factor, 4),
            "coverage": 0.95,
            "interval_95": rounded(self.interval_95, 4),
            "technique": self.technique.words,
            "instruments_standard_uncertainty": rounded(self.instruments_uncertainty, 4),
            "effective_degrees_of_freedom": rounded(self.budget.degrees, 2),
            "ideal_gas": rounded(self.ideal_gas, 4),
            "assumed_identity": self.assumed_identity,
            "assumed_molar_mass": self.assumed_molar_mass,
            "range": rounded(self.spread, 4),
            "corrections": [
                {"name": one.name, "change": rounded(one.change, 5)} for one in self.corrections
            ],
            "budget": self.budget.lines,
            "trials": self.trials,
            "agreement": self.agreement,
            "monte_carlo": self.simulation,
            "candidates": self.candidates,
            "findings": self.findings,
            "assumed": self.assumed,
            "work": self.work,
        }
        return {key: plain(value) for key, value in data.items()}
