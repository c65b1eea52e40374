"""What is doubtful about a molar mass, beyond what the readings themselves show."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from identify.calculations.molar_mass.budget import Budget, Simulation
from identify.calculations.molar_mass.liquids import Constants, Liquids
from identify.calculations.molar_mass.result import TrialResult
from identify.calculations.molar_mass.trials import Agreement
from identify.findings import Finding


def doubts(
    liquids: Liquids,
    constants: Constants | None,
    trials: tuple[TrialResult, ...],
    agreement: Agreement | None,
    budget: Budget,
    simulation: Simulation | None,
) -> Iterator[Finding]:
    """Yield the findings on the liquid, on the trials, and on the first-order budget."""
    if constants is not None:
        yield from _left_out(constants)
    if liquids.assumed is None:
        yield from _liquid_open(liquids)
    if agreement is None:
        yield _single()
    else:
        yield from _outlier(agreement, trials)
    if simulation is not None:
        yield from _first_order(trials, budget, simulation)


def _left_out(constants: Constants) -> Iterator[Finding]:
    missing = [
        what
        for what, quantity in (
            ("vapor pressure (air shut out)", constants.vapor_pressure),
            ("second virial coefficient (non-ideality)", constants.second_virial),
            ("density (air displaced by the liquid)", constants.density),
        )
        if quantity is None
    ]
    if missing:
        yield Finding(
            "correction-left-out",
            "warning" if constants.vapor_pressure is None else "note",
            f"No {' and no '.join(missing)} was given: that correction is left out.",
            "Give the constant, or the liquid's name.",
        )


def _liquid_open(liquids: Liquids) -> Iterator[Finding]:
    first = liquids.names[liquids.likeliest]
    if not liquids.plausible.any():
        yield Finding(
            "nothing-plausible",
            "warning",
            "No compound in the table agrees with every reading; the corrections are those of the "
            f"nearest, above all {first}, and may be wrong.",
            "Look for a slip in the readings, or say which liquid it is.",
        )
    elif len(liquids.names) > 1:
        count = int(np.sum(liquids.plausible))
        several = "1 compound agrees" if count == 1 else f"{count} compounds agree"
        yield Finding(
            "liquid-not-named",
            "note",
            f"{several} with the readings. How much air the vapor shuts out, and how far it is "
            "from an ideal gas, differ from one to the next; all were used, each by its "
            "probability.",
            "If you know the liquid, name it.",
            {"compounds": count},
        )


def _single() -> Finding:
    return Finding(
        "single-trial",
        "note",
        "One trial says nothing of how well another would agree: the uncertainty is that of the "
        "instruments alone.",
        "Do two or three.",
    )


def _outlier(agreement: Agreement, trials: tuple[TrialResult, ...]) -> Iterator[Finding]:
    found = [test for test in agreement.tests if test.outlier]
    if not found:
        return
    suspect = trials[agreement.farthest]
    others = [trial.value for trial in trials if trial is not suspect]
    named = " and ".join(
        f"{test.test}'s statistic is {test.statistic:.3f}, above the critical {test.critical:.3f}"
        for test in found
    )
    yield Finding(
        "trial-outlier",
        "warning",
        f"Trial {suspect.number} ({suspect.value:.2f} g/mol) is farther from the others than "
        f"chance explains: {named} (5 %, two-sided). It was not left out; without it the mean is "
        f"{sum(others) / len(others):.2f} g/mol.",
        "Look for the reason in the notebook: a wet flask, a wrong digit, too little liquid. Leave "
        "the trial out only if there is one, and say so.",
        {"trial": float(suspect.number), "mean_without_it": sum(others) / len(others)},
    )


def _first_order(
    trials: tuple[TrialResult, ...], budget: Budget, simulation: Simulation
) -> Iterator[Finding]:
    value = sum(trial.weight * trial.value for trial in trials)
    if simulation.agrees(value, budget.standard_uncertainty):
        return
    low, high = simulation.interval
    if simulation.impossible > 0.0:
        reason = "The gain is hardly more than its own error."
    elif simulation.unfilled > 0.0:
        reason = (
            f"In {100.0 * simulation.unfilled:.0f} % of them the bath was below the boiling "
            "point, so that air stayed in the flask."
        )
    else:
        reason = "The errors are too large for straight lines."
    yield Finding(
        "budget-not-linear",
        "warning",
        f"The budget gives {value:.2f} g/mol with a standard uncertainty of "
        f"{budget.standard_uncertainty:.2g}; the same errors drawn at random give "
        f"{simulation.value:.2f} and {simulation.standard_uncertainty:.2g}, and {low:.1f} to "
        f"{high:.1f} g/mol in 95 % of the draws. {reason}",
        "Believe the draws, or better repeat the run: a hotter bath, a larger flask.",
        {
            "simulated_value": simulation.value,
            "simulated_standard_uncertainty": simulation.standard_uncertainty,
        },
    )
