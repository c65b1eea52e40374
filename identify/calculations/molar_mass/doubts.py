"""What is doubtful about a molar mass, beyond what the readings themselves show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import hypot, sqrt

import numpy as np

from identify.bench.bench import Bench
from identify.budget.liquids import PossibleLiquids
from identify.calculations.molar_mass.liquids import Constants
from identify.calculations.molar_mass.result import MolarMassResult, TrialResult
from identify.calculations.molar_mass.simulation import Simulation
from identify.calculations.molar_mass.trials import Agreement
from identify.checks import bath
from identify.checks.facts import Facts
from identify.checks.filling import MIN_LIKELY, liquid_too_little
from identify.checks.readings import unbelievable
from identify.notebook.findings import Finding
from identify.notebook.measurement import Measurement
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.usual import tolerance_u
from identify.observables.error.technique import ALL_STATED, Technique
from identify.observables.tolerances import Tolerances
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE

# What typed constants of a liquid usually are. Densities from pentane to methylene iodide, second
# virial coefficients of vapors in a bath, below zero. Common practice.
_USUAL_DENSITY = (400.0, 4000.0)  # kg/m3
_USUAL_VIRIAL = (-1e-2, 0.0)  # m3/mol
# The least and the most that any liquid's molar mass is, with a wide margin [g/mol].
_LIQUIDS_HAVE = (10.0, 1000.0)
# A vapor pressure beyond this share of the laboratory's: the boiling point is within 5 K of the
# room. Common practice.
_CONDENSES = 0.8
# The assumed liquid's own molar mass is contradicted outside the interval that holds 98 of 100; by
# instruments alone beyond so many standard uncertainties, and beyond what happens at any bench:
# that of the usual tolerance.
_SURE = 0.98
_DOUBT = 3.0
_BENCH = 0.01 * tolerance_u(Tolerances.molar_mass)
_COVERAGE = 2.0  # standard uncertainties within which a reading is off by chance


def on_the_liquid(
    run: Measurement, liquids: PossibleLiquids, constants: Constants | None, decides: bool
) -> Iterator[Finding]:
    """Yield the findings on the liquid or its constants.

    Parameters
    ----------
    run : Measurement
    liquids : PossibleLiquids
    constants : Constants or None
    decides : bool
        Whether it is mostly the choice of the liquid that the value depends on.
    """
    if constants is not None:
        yield from _left_out(constants)
        yield from _unusual(constants)
        yield from _hardly_condenses(run, constants)
    elif liquids.assumed is None:
        yield from _liquid_open(liquids, decides)
    else:
        yield from _boiling(run, liquids)
    if constants is None:
        yield from _poured(run, liquids)


def _poured(run: Measurement, liquids: PossibleLiquids) -> Iterator[Finding]:
    """Yield the trials whose liquid could not have filled the flask."""
    bench = Bench.of(run)
    likely = np.flatnonzero(liquids.weight >= MIN_LIKELY * liquids.weight.max())
    yield from liquid_too_little(
        bench.trials,
        bench.weighing,
        [liquids.names[row] for row in likely],
        1e-3 * liquids.molar_mass[likely],
        liquids.liquid.take(likely),
    )


def on_the_trials(found: MolarMassResult) -> Iterator[Finding]:
    """Yield the findings on how the trials agree, and on the first-order budget."""
    if found.agreement is None:
        yield _single(found.technique)
    else:
        yield from _outlier(found.agreement, found.trials)
    if found.simulation is not None:
        yield from _first_order(found, found.simulation)


def on_the_value(found: MolarMassResult, liquids: PossibleLiquids) -> Iterator[Finding]:
    """Yield a finding where no liquid, or not the one assumed, has this molar mass."""
    value = found.value
    low, high = _LIQUIDS_HAVE
    if not low <= value <= high:
        yield Finding(
            "molar-mass-impossible",
            "error",
            f"The corrected molar mass is {value:.4g} g/mol, which no volatile liquid has.",
            "Look at the readings again, and at the constants or the name of the liquid.",
            {"molar_mass_g_per_mol": value},
        )
        return
    own = liquids.own_molar_mass
    if own is None:
        return
    off = value - own
    low, high = _explained(found, own)
    if not low <= own <= high:
        yield Finding(
            "liquid-contradicted",
            "warning",
            f"The liquid is not {liquids.assumed}, or a reading is wrong: {liquids.assumed} has "
            f"{own:.2f} g/mol, and the weighings give {value:.2f}, {abs(off):.2f} "
            f"({100.0 * abs(off) / own:.1f} %) {'more' if off > 0.0 else 'less'}. Errors as they "
            f"are taken here explain {low:.2f} to {high:.2f}.",
            "Check the name first, then the weighings, the volume and the pressure.",
            {"molar_mass_g_per_mol": value, "own_g_per_mol": own},
        )


def _explained(found: MolarMassResult, own: float) -> tuple[float, float]:
    """Return between which molar masses the true one is, as far as errors explain [g/mol]."""
    total = found.budget.total
    if total.error is not None:
        return total.around(found.value, _SURE)
    # With few degrees of freedom, three standard uncertainties may be chance.
    chance = max(_DOUBT * total.standard_uncertainty, total.expanded_uncertainty, _BENCH * own)
    return found.value - chance, found.value + chance


def _boiling(run: Measurement, liquids: PossibleLiquids) -> Iterator[Finding]:
    """Yield what bath and room are for the named liquid, where the card has no boiling point."""
    if run.boiling_point is not None:
        return  # checked with the other readings
    doubted = unbelievable(run)[1]
    boiling_point = Quantity(float(liquids.liquid.boiling_point[0]) - ICE_POINT, "C")
    known = replace(run, boiling_point=boiling_point, boiling_point_at=None)
    without, with_it = (
        [finding for check in bath.CHECKS for finding in check(facts)]
        for facts in (Facts(run, doubted), Facts(known, doubted))
    )
    found = {finding.code for finding in without}
    yield from (finding for finding in with_it if finding.code not in found)


def _hardly_condenses(run: Measurement, constants: Constants) -> Iterator[Finding]:
    pressures = [run.trial_conditions(trial).pressure for trial in run.trials]
    written = [pressure.to("Pa").value for pressure in pressures if pressure is not None]
    lowest = min(written, default=STANDARD_PRESSURE)
    given = constants.vapor_pressure
    if given is not None and given.to("Pa").value > _CONDENSES * lowest:
        yield Finding(
            "boils-in-room",
            "warning",
            f"A liquid whose vapor pressure in the room is {given} hardly condenses there, so that "
            "its vapor escapes before the second weighing.",
            "Check the vapor pressure and its unit. If it is right, cool the flask in ice water "
            "before it is opened to the air, or use another method for this liquid.",
        )


def _unusual(constants: Constants) -> Iterator[Finding]:
    for name, quantity, si, (low, high), advice in (
        ("density", constants.density, "kg/m3", _USUAL_DENSITY, "Check the number and its unit."),
        (
            "second virial coefficient",
            constants.second_virial,
            "m3/mol",
            _USUAL_VIRIAL,
            "Check the sign and the unit: it is below zero for every vapor in a bath.",
        ),
    ):
        if quantity is not None and not low <= quantity.to(si).value <= high:
            yield Finding(
                "constant-unusual",
                "warning",
                f"No liquid for this experiment has a {name} of {quantity}.",
                advice,
            )


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
            f"No {' and no '.join(missing)} was given: "
            f"{'that correction is' if len(missing) == 1 else 'those corrections are'} left out.",
            "Give the constant, or the liquid's name.",
        )


def _liquid_open(liquids: PossibleLiquids, decides: bool) -> Iterator[Finding]:
    first = liquids.names[liquids.likeliest]
    count, agreeing = len(liquids.names), int(np.sum(liquids.plausible))
    if not agreeing:
        yield Finding(
            "nothing-plausible",
            "warning",
            "No compound in the table agrees with every reading; the corrections are those of the "
            f"nearest, above all {first}, and may be wrong.",
            "Look for a slip in the readings, or say which liquid it is.",
        )
    elif count > 1:
        agree = "1 agrees" if agreeing == 1 else f"{agreeing} agree"
        without = "" if agreeing == count else f"; {agree} with every reading"
        differ = (
            "The molar mass is another for each, and their mean is that of none."
            if decides
            else "All were used, each by its probability."
        )
        yield Finding(
            "liquid-not-named",
            "warning" if decides else "note",
            f"{count} compounds count{without}. How much air the vapor shuts out, and how far it "
            f"is from an ideal gas, differ from one to the next. {differ}",
            "Name the liquid if you know it, or give its boiling point and composition."
            if decides
            else "If you know the liquid, name it.",
            {"compounds": count, "agreeing": agreeing},
        )


def _single(technique: Technique) -> Finding:
    stands_for_it = "what is usual stands for it"
    if technique == ALL_STATED:
        stands_for_it = "the uncertainty is that of the instruments alone"
    return Finding(
        "single-trial",
        "note",
        f"One trial says nothing of how well another would agree: {stands_for_it}.",
        "Do two or three.",
    )


def _outlier(agreement: Agreement, trials: tuple[TrialResult, ...]) -> Iterator[Finding]:
    if not agreement.outlier:
        return
    suspect = trials[agreement.farthest]
    others = [trial.value for trial in trials if trial is not suspect]
    mean = sum(others) / len(others)
    named = " and ".join(
        f"{test.test}'s statistic is {test.statistic:.4f}, "
        f"{'above' if test.outlier else 'within'} the critical {test.critical:.4f}"
        for test in agreement.tests
    )
    numbers = {"trial": float(suspect.number), "mean_without_it": mean}
    if abs(suspect.value - mean) <= _COVERAGE * hypot(
        suspect.own_uncertainty, suspect.own_uncertainty / sqrt(len(others))
    ):
        # Trials that agree by chance to the balance's last digit make any other an outlier.
        yield Finding(
            "outlier-within-readings",
            "note",
            f"By Grubbs's test, trial {suspect.number} ({suspect.value:.2f} g/mol) is an outlier: "
            f"{named} (5 %, two-sided). But it is no farther from the others than the uncertainty "
            "of its own readings explains.",
            "Keep it: the others agree with one another better than the balance can tell.",
            numbers,
        )
        return
    yield Finding(
        "trial-outlier",
        "warning",
        f"Trial {suspect.number} ({suspect.value:.2f} g/mol) is farther from the others than "
        f"chance explains in 19 of 20 sets: {named} (5 %, two-sided). It was not left out; "
        f"without it the mean is {mean:.2f} g/mol.",
        "Look for the reason in the notebook: a wet flask, a wrong digit, too little liquid. Leave "
        "the trial out only if there is one, and say so.",
        numbers,
    )


def _first_order(found: MolarMassResult, simulation: Simulation) -> Iterator[Finding]:
    value, uncertainty = found.value, found.instruments_uncertainty
    mean, deviation = simulation.of_instruments
    if simulation.agrees(value, uncertainty):
        return
    low, high = simulation.interval
    repeat = "a hotter bath, a larger flask."
    if simulation.impossible > 0.0:
        reason = "The gain is hardly more than its own error."
    elif simulation.unfilled > 0.0:
        reason = (
            f"In {100.0 * simulation.unfilled:.0f} % of them the bath was below the boiling "
            "point, so that air stayed in the flask."
        )
    elif simulation.dry > 0.0:
        reason = (
            f"In {100.0 * simulation.dry:.0f} % of them no drop was left in the cooled flask: the "
            "liquid boils hardly above the room."
        )
        repeat = "in a cooler room."
    else:
        reason = "The errors are too large for straight lines."
    yield Finding(
        "budget-not-linear",
        "warning",
        f"The budget gives {value:.2f} g/mol with a standard uncertainty by the instruments of "
        f"{uncertainty:.2g}; the same errors drawn at random give {mean:.2f} and {deviation:.2g}, "
        f"and {low:.1f} to {high:.1f} g/mol in 95 % of all draws. {reason}",
        f"Believe the draws, or better repeat the run: {repeat}",
        {
            "simulated_value": mean,
            "simulated_standard_uncertainty": deviation,
        },
    )
