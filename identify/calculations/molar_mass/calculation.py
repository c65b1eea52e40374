"""The molar mass of one unknown from its weighings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.calculations.molar_mass.budget import (
    Budget,
    Simulation,
    budget,
    not_of_all,
    simulate,
    trial_uncertainty,
)
from identify.calculations.molar_mass.doubts import (
    on_the_liquid,
    on_the_trials,
    on_the_value,
)
from identify.calculations.molar_mass.liquids import (
    Constants,
    Liquids,
    named,
    plausible,
    with_constants,
)
from identify.calculations.molar_mass.model import Correction, Model, corrected
from identify.calculations.molar_mass.readings import Input, inputs_of, refuse_nothing
from identify.calculations.molar_mass.result import Candidate, MolarMassResult, TrialResult
from identify.calculations.molar_mass.steps import working
from identify.calculations.molar_mass.trials import Agreement, Pooling
from identify.checks import check
from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.notebook.measurement import Conditions, Measurement
from identify.physics.barometer import mercury_barometer_pressure

Array = NDArray[np.float64]

DRAWS = 100_000  # the standard uncertainty of a simulation is then good to 0.2 %


def molar_mass(
    run: Measurement,
    identity: str | None = None,
    constants: Constants | None = None,
    candidates: CandidateTable | None = None,
    draws: int = DRAWS,
) -> MolarMassResult:
    """Return the molar mass that a run's weighings give, with its uncertainty budget.

    Parameters
    ----------
    run : Measurement
        With at least one trial. Readings that state no uncertainty get that of a usual
        instrument, see `identify.calculations.molar_mass.readings`.
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
        If the run has no trial, or a trial lacks a reading; if both a name and constants are given.

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
    27.0 31.9 second virial coefficient
    """
    if identity is not None and constants is not None:
        raise ValueError("give a name or constants, not both")
    if not run.trials:
        raise ValueError("nothing was weighed: there is no trial to work out a molar mass from")
    # A molar mass that was worked out before must not stand in for the weighings.
    weighed = Measurement(**{**vars(run), "molar_mass": None})
    refuse_nothing(weighed)
    weighing = Bench.of(weighed).weighing
    assert weighing is not None
    if constants is not None:
        liquids = with_constants(constants, float(np.mean(weighing.room)))
    elif identity is not None:
        liquids = named(identity, candidates or load_candidates())
    else:
        liquids = plausible(weighed, candidates)
    inputs = (*inputs_of(weighed, weighing), *_constants_of(liquids, weighing.trials))
    model = Model(weighing, liquids, inputs)
    worked = _Worked.of(model, weighed, draws)
    findings = [
        *check(weighed, (worked.value, worked.budget.standard_uncertainty)),
        *on_the_liquid(weighed, liquids, constants, worked.liquid_decides),
        *on_the_trials(worked.trials, worked.agreement, worked.budget, worked.simulation),
    ]
    # A value that no liquid has follows from what is an error already; else it is one itself.
    if all(finding.severity != "error" for finding in findings):
        findings += on_the_value(worked.value, worked.budget, liquids)
    return MolarMassResult(
        label=run.label,
        value=worked.value,
        ideal_gas=worked.ideal_gas,
        assumed_identity=liquids.assumed,
        assumed_molar_mass=liquids.own_molar_mass,
        spread=worked.spread,
        corrections=worked.corrections,
        budget=worked.budget,
        trials=worked.trials,
        agreement=worked.agreement,
        simulation=worked.simulation,
        candidates=worked.candidates(liquids),
        findings=tuple(findings),
        work=working(weighed, model, worked.trials, worked.budget, worked.value),
    )


@dataclass(frozen=True)
class _Worked:
    """All that follows from the model: pooled values, trials, budget and simulation."""

    value: float
    ideal_gas: float
    by_liquid: Array
    corrections: tuple[Correction, ...]
    trials: tuple[TrialResult, ...]
    agreement: Agreement | None
    budget: Budget
    simulation: Simulation | None

    @classmethod
    def of(cls, model: Model, run: Measurement, draws: int) -> _Worked:
        weight = model.liquids.weight
        shortcut, stages = corrected(model, *_pressures(run))
        each = stages[-1][1] @ weight
        changes = model.first_order()
        # What all trials share moves none of them away from the others.
        apart = not_of_all(model.inputs, model.weighing.trials)
        own = trial_uncertainty(changes[apart], weight)
        pooling = Pooling.of(each, own)
        by_liquid = pooling.weight @ stages[-1][1]
        value = float(by_liquid @ weight)
        by_identity = sqrt(max(float(weight @ (by_liquid - value) ** 2), 0.0))
        found = budget(model.inputs, changes, weight, pooling, by_identity)
        return cls(
            value=value,
            ideal_gas=float(pooling.weight @ shortcut),
            by_liquid=by_liquid,
            corrections=_changes(shortcut, stages, pooling.weight, weight),
            trials=_trials(model, (shortcut, each, own, pooling.weight), changes),
            agreement=Agreement.of(each),
            budget=found,
            simulation=simulate(model, pooling, found.beyond, draws) if draws > 0 else None,
        )

    @property
    def spread(self) -> tuple[float, float]:
        """The lowest and highest value over the liquids that count."""
        return float(self.by_liquid.min()), float(self.by_liquid.max())

    @property
    def liquid_decides(self) -> bool:
        """Whether it is mostly the choice of the liquid that the value depends on."""
        low, high = self.spread
        return self.budget.liquid_decides(high - low)

    def candidates(self, liquids: Liquids) -> tuple[Candidate, ...]:
        """Return the liquids with the molar mass that each one's corrections give."""
        return tuple(
            Candidate(
                name,
                probability=float(liquids.weight[place]),
                value=float(self.by_liquid[place]),
                molar_mass=float(liquids.molar_mass[place]),
                plausible=bool(liquids.plausible[place]),
            )
            for place, name in enumerate(liquids.names)
        )


def _constants_of(liquids: Liquids, trials: int) -> Iterator[Input]:
    """Yield the constants of the liquid that the corrections need, where they are known at all."""
    given = None if liquids.boiling_known else "of the constant given"
    corrected_for = {
        "vapor_pressure": liquids.vapor_pressure_u.any(),
        "virial": liquids.liquid.virial.any(),
    }
    for name, field, relative, origin in (
        (
            "vapor pressure in the room",
            "vapor_pressure",
            liquids.vapor_pressure_u,
            "that of published curves, or of an estimate",
        ),
        (
            "second virial coefficient",
            "virial",
            liquids.virial_u,
            "that of corresponding states",
        ),
    ):
        if corrected_for[field]:
            percent = 100.0 * float(liquids.weight @ relative)
            yield Input(name, field, np.ones(trials), percent, "%", given or origin)


def _pressures(run: Measurement) -> tuple[Array, Array]:
    """Return each trial's pressure as read, and corrected for the mercury's temperature [Pa]."""
    read, at_zero = [], []
    for trial in run.trials:
        conditions = run.trial_conditions(trial)
        pascal = _kelvin_or_pascal(conditions, "pressure", "Pa")
        read.append(pascal)
        if conditions.mercury_barometer:
            pascal = mercury_barometer_pressure(pascal, _kelvin_or_pascal(conditions, "room", "K"))
        at_zero.append(pascal)
    return np.array(read), np.array(at_zero)


def _kelvin_or_pascal(conditions: Conditions, field: str, unit: str) -> float:
    return float(getattr(conditions, field).to(unit).value)


def _changes(
    shortcut: Array, stages: tuple[tuple[str, Array], ...], trials: Array, liquids: Array
) -> tuple[Correction, ...]:
    before = float(trials @ shortcut)
    found = []
    for name, values in stages:
        after = float(trials @ values @ liquids)
        found.append(Correction(name, after - before))
        before = after
    return tuple(found)


def _trials(
    model: Model, columns: tuple[Array, Array, Array, Array], changes: Array
) -> tuple[TrialResult, ...]:
    """Return the trials; the columns are shortcut, value, own uncertainty and weight."""
    uncertainty = trial_uncertainty(changes, model.liquids.weight)
    gains = 1e3 * model.weighing.gain
    return tuple(
        TrialResult(
            number=number,
            gain=float(gain),
            ideal_gas=float(shortcut),
            value=float(value),
            standard_uncertainty=float(all_of_it),
            own_uncertainty=float(own),
            weight=float(weight),
        )
        for number, (gain, all_of_it, shortcut, value, own, weight) in enumerate(
            zip(gains, uncertainty, *columns, strict=True), 1
        )
    )
