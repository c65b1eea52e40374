"""The molar mass of one unknown from its weighings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import isfinite, nan
from statistics import fmean

import numpy as np

from identify.bench.assumed import station_pressure
from identify.bench.bench import assumptions
from identify.bench.trials import BenchTrial, trials_of
from identify.budget.readings import refuse_nothing
from identify.budget.weighed import WeighedMolarMass
from identify.calculations.molar_mass.corrections import ShortcutCorrection, corrected
from identify.calculations.molar_mass.doubts import (
    on_the_liquid,
    on_the_trials,
    on_the_value,
)
from identify.calculations.molar_mass.liquids import (
    Constants,
    possible_liquids,
)
from identify.calculations.molar_mass.result import Candidate, MolarMassResult, TrialResult
from identify.calculations.molar_mass.simulation import simulate
from identify.calculations.molar_mass.steps import working
from identify.calculations.molar_mass.trials import Agreement
from identify.checks import check
from identify.checks.assumed import condition_assumed
from identify.compounds.table import CandidateTable
from identify.notebook.errors import UnusableInput
from identify.notebook.findings import any_error, listed
from identify.notebook.measurement import Measurement
from identify.observables.error.technique import Technique
from identify.physics.arrays import Array
from identify.physics.vapor import ideal_molar_mass

DRAWS = 100_000  # the standard uncertainty of a simulation is then good to 0.2 %


class UnusableWeighingError(UnusableInput):
    """No trial of a page can be corrected, for each lacks something.

    Attributes
    ----------
    shortcut : float or None
        What the ideal gas alone gives, the mean over the trials [g/mol]; None where mass, bath,
        pressure or volume is missing too.
    """

    def __init__(self, trials: Sequence[BenchTrial]) -> None:
        each = [_shortcut(trial) for trial in trials]
        self.shortcut = fmean(each) if all(map(isfinite, each)) else None
        lacking = (
            f"the weighing lacks {listed(trials[0].lacking)}, or that cannot be right; look at the "
            "page again"
        )
        if self.shortcut is not None:
            lacking = f"the ideal-gas shortcut alone gives {self.shortcut:.4g} g/mol; {lacking}"
        super().__init__(lacking)


def _shortcut(trial: BenchTrial) -> float:
    """Return the shortcut's molar mass of a trial [g/mol], NaN where it lacks a reading for it."""
    volume, pressure = trial.rough_volume, trial.station_pressure.value
    if not (volume > 0.0 and pressure > 0.0):
        return nan
    return 1e3 * float(ideal_molar_mass(trial.gain, trial.bath.value, pressure, volume))


def molar_mass(
    run: Measurement,
    identity: str | None = None,
    constants: Constants | None = None,
    candidates: CandidateTable | None = None,
    draws: int = DRAWS,
    technique: Technique | str | None = None,
) -> MolarMassResult:
    """Return the molar mass that a run's weighings give, with its uncertainty budget.

    Parameters
    ----------
    run : Measurement
        With at least one trial. Readings that state no uncertainty get that of a usual
        instrument, see `identify.budget.readings`.
    identity : str, optional
        Name, CAS number or SMILES of a compound of the table, whose corrections are used. Where
        neither this nor ``constants`` is given, every compound that the run's readings leave
        counts by its probability, and the spread over them is part of the uncertainty.
    constants : Constants, optional
        The liquid's constants in place of a name.
    candidates : CandidateTable, optional
        The built-in table where not given.
    draws : int, default=100000
        Of the Monte Carlo simulation beside the first-order budget; 0 for none.
    technique : Technique or str, optional
        How well the class works beyond its instruments: ``"careful"``, ``"usual"``, ``"rough"``, a
        percentage as in ``"5 %"``, or ``"none"`` for instruments alone. Where not given, nothing is
        known of it: a mixture of good, usual and rough technique.

    Returns
    -------
    MolarMassResult

    Raises
    ------
    NameFault
        If the compound is not in the table, or the name may mean several.
    QuantityError
        If a reading may as well be zero by its own uncertainty, see `refuse_nothing`.
    ValueError
        If the run has no trial, or none with a mass and a volume; if both a name and constants
        are given; if there is no such technique.

    References
    ----------
    JCGM 100:2008 (GUM) and JCGM 101:2008 for the uncertainty.

    Examples
    --------
    >>> from identify import Conditions, Flask, Measurement, Trial
    >>> run = Measurement(
    ...     "C-14",
    ...     conditions=Conditions(pressure="742.4 mmHg", room="22.4 C"),
    ...     flask=Flask(volume="287.6 mL"),
    ...     trials=[Trial(empty="99.4925 g", condensed="99.7414 g", bath="98.4 C")],
    ... )
    >>> found = molar_mass(run, identity="methanol")
    >>> print(round(found.ideal_gas, 1), round(found.value, 1), found.budget.lines[0].input)
    27.0 31.9 scatter beyond the balance
    """
    if identity is not None and constants is not None:
        raise UnusableInput("give a name or constants, not both")
    if not run.trials:
        raise UnusableInput("nothing was weighed: there is no trial to work out a molar mass from")
    # A molar mass that was worked out before must not stand in for the weighings.
    weighed = run.without_molar_mass()
    every = trials_of(weighed)
    trials = tuple(trial for trial in every if not trial.lacking)
    if not trials:
        raise UnusableWeighingError(every)
    refuse_nothing(trials)
    assumed = assumptions(weighed, trials)
    room = fmean(trial.room.value for trial in trials)
    liquids = possible_liquids(weighed, identity, constants, candidates, room)
    pooled = WeighedMolarMass.of(trials, assumed, liquids, Technique.of(technique))
    found = _worked_out(run.label, pooled, trials, draws)
    found = replace(found, assumed=pooled.assumed_conditions(assumed))
    findings = [
        *check(weighed, (found.value, found.standard_uncertainty)),
        *on_the_liquid(weighed, liquids, constants, found.liquid_decides),
        *on_the_trials(found),
        *condition_assumed(found.assumed),
    ]
    # A value that no liquid has follows from what is an error already; else it is one itself.
    if not any_error(findings):
        findings += on_the_value(found, liquids)
    return replace(found, findings=tuple(findings), work=working(trials, pooled.model, found))


def _worked_out(
    label: str, pooled: WeighedMolarMass, trials: Sequence[BenchTrial], draws: int
) -> MolarMassResult:
    """Return all that follows from the model: pooled values, trials, budget and simulation."""
    model, liquids = pooled.model, pooled.model.liquids
    shortcut, stages = corrected(model, *_pressures(trials))
    by_liquid = pooled.by_liquid
    return MolarMassResult(
        label=label,
        value=pooled.value,
        ideal_gas=float(shortcut.mean()),
        assumed_identity=liquids.assumed,
        assumed_molar_mass=liquids.own_molar_mass,
        spread=(float(by_liquid.min()), float(by_liquid.max())),
        corrections=_changes(shortcut, stages, liquids.weight),
        budget=pooled.budget,
        technique=pooled.technique,
        trials=_trials(pooled, shortcut),
        agreement=Agreement.of(pooled.each),
        simulation=simulate(pooled, draws) if draws > 0 and len(pooled.parts) == 1 else None,
        candidates=tuple(
            Candidate(
                name,
                probability=float(liquids.weight[place]),
                value=float(by_liquid[place]),
                molar_mass=float(liquids.molar_mass[place]),
                plausible=bool(liquids.plausible[place]),
            )
            for place, name in enumerate(liquids.names)
        ),
    )


def _pressures(trials: Sequence[BenchTrial]) -> tuple[Array, Array]:
    """Return each trial's pressure as read, and corrected for the mercury's temperature [Pa]."""
    at_zero = [station_pressure(replace(one.conditions, latitude=None)) for one in trials]
    return (
        np.array([one.pressure.value for one in trials]),
        np.array([one.value for one in at_zero]),
    )


def _changes(
    shortcut: Array, stages: tuple[tuple[str, Array], ...], liquids: Array
) -> tuple[ShortcutCorrection, ...]:
    before = float(shortcut.mean())
    found = []
    for name, values in stages:
        after = float(values.mean(axis=0) @ liquids)
        found.append(ShortcutCorrection(name, after - before))
        before = after
    return tuple(found)


def _trials(pooled: WeighedMolarMass, shortcut: Array) -> tuple[TrialResult, ...]:
    uncertainty, own = pooled.trial_uncertainty(), pooled.trial_uncertainty(of_its_own=True)
    gains = 1e3 * pooled.model.weighing.gain
    columns = (gains, shortcut, pooled.each, uncertainty, own, np.full(len(own), 1.0 / len(own)))
    return tuple(
        TrialResult(number, *map(float, row))
        for number, row in enumerate(zip(*columns, strict=True), 1)
    )
