"""Findings on the weighings and the flask's volume."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import hypot, isfinite
from statistics import fmean, median, stdev

from identify.bench.trials import BenchTrial, balance_digit
from identify.checks.facts import Facts
from identify.notebook.findings import Finding, listed
from identify.notebook.measurement import Flask
from identify.notebook.statistics import chi_squared_quantile
from identify.notebook.usual import BRIM_OVER_NOMINAL, REPEATABILITY, printed_size

_VOLUMES_AGREE = 0.01
_ROUNDED_AGREE = 2.5  # digits of the balance

# Two weighings at one unit of the last digit each: beyond this share of the gain they cost as much
# as everything else in the experiment does.
_LARGEST_BALANCE_SHARE = 0.025

# The least and the most that the shortcut makes of a liquid's vapor [g/mol].
_SHORTCUT_RANGE = (10.0, 700.0)


def _no_gain(facts: Facts) -> Iterator[Finding]:
    lost = [trial for trial in facts.trials if trial.gain < 0.0]
    same = [trial for trial in facts.trials if trial.gain == 0.0]
    if same:
        yield Finding(
            "mass-unchanged",
            "error",
            facts.about(
                same,
                "the flask with condensed liquid has the mass of the empty one, "
                f"{same[0].written.empty}."
                if not same[0].is_by_difference
                else f"no gain is written, {same[0].written.gain}.",
            ),
            "Look whether one number was copied into both fields; weigh again.",
            {"gain_g": 0.0},
        )
    if lost:
        most = min(trial.gain for trial in lost)
        yield Finding(
            "mass-lost",
            "error",
            facts.about(
                lost,
                f"the flask with condensed liquid is {-1e3 * most:.4f} g lighter than the empty "
                "one.",
            ),
            "Look whether the two masses were exchanged, or the lid was left off at the second "
            "weighing.",
            {"gain_g": 1e3 * most},
        )


def _small_gain(facts: Facts) -> Iterator[Finding]:
    digit = balance_digit(facts.run.trials)
    small = []
    for trial in facts.trials:
        uncertainty = trial.gain_uncertainty(digit)
        if 0.0 < trial.gain < uncertainty / _LARGEST_BALANCE_SHARE:
            small.append((trial.gain, uncertainty, trial))
    if not small:
        return
    gain, uncertainty, smallest = min(small, key=lambda one: one[0])
    advice = (
        "Use a balance that reads further, or a larger flask. If the gain should have been larger, "
        "look whether liquid was left in the flask long enough to fill it with vapor."
    )
    if not smallest.is_in_flask:
        advice = "Use a balance that reads further, or more liquid in a larger syringe."
    yield Finding(
        "gain-small",
        "warning",
        facts.about(
            (trial for *_, trial in small),
            f"the gain of {1e3 * gain:.4g} g is known only to about {1e3 * uncertainty:.2g} g, "
            f"{100.0 * uncertainty / gain:.0f} % of it.",
        ),
        advice,
        {"gain_g": 1e3 * gain, "standard_uncertainty_g": 1e3 * uncertainty},
    )


def _nominal_volume(facts: Facts) -> Iterator[Finding]:
    flasks = {
        quantity: None
        for flask in _flasks(facts)
        for field, quantity in (("volume", flask.volume), ("water_volume", flask.water_volume))
        if quantity is not None and (field, quantity) not in facts.doubted
    }
    volumes = [quantity.to("mL").value for quantity in flasks]
    for quantity, milliliters in zip(flasks, volumes, strict=True):
        size = printed_size(milliliters)
        if size is None or _is_measured(milliliters, volumes):
            continue
        low, high = (100.0 * (factor - 1.0) for factor in BRIM_OVER_NOMINAL)
        yield Finding(
            "volume-nominal",
            "warning",
            f"The volume of the flask, {quantity}, is exactly what is printed on a flask of "
            f"{size} mL. Filled to the brim, where the vapor was, it holds {low:.0f} to "
            f"{high:.0f} % more; the molar mass then comes out that much too high.",
            "Fill the flask to the brim with water, and measure or weigh the water.",
            {
                "volume_mL": milliliters,
                "brim_volume_from_mL": size * BRIM_OVER_NOMINAL[0],
                "brim_volume_to_mL": size * BRIM_OVER_NOMINAL[1],
            },
        )


def _is_measured(milliliters: float, volumes: Sequence[float]) -> bool:
    """Say whether other trials read nearly the same, as only a volume that is measured varies."""
    least, _ = BRIM_OVER_NOMINAL
    return any(
        printed_size(other) is None and 1.0 / least < other / milliliters < least
        for other in volumes
    )


def _flasks(facts: Facts) -> list[Flask]:
    """Return the flasks whose volume was written; a syringe is not one."""
    if any(not trial.is_in_flask for trial in facts.trials):
        return [trial.flask for trial in _weighed(facts) if trial.is_in_flask]
    return [facts.run.flask, *(trial.flask for trial in _weighed(facts))]


def _two_volumes(facts: Facts) -> Iterator[Finding]:
    for flask in dict.fromkeys((facts.run.flask, *(trial.flask for trial in facts.trials))):
        used = flask.measured_volume
        if used is None:
            continue
        milliliters = used.to("mL").value
        for other, unit in ((flask.water_volume, "mL"), (flask.water_mass, "g")):
            # Near enough here: a gram of water fills a milliliter within 0.5 %.
            water = milliliters if other is None else other.to(unit).value
            if abs(water - milliliters) <= _VOLUMES_AGREE * milliliters:
                continue
            yield Finding(
                "volumes-disagree",
                "warning",
                f"The flask's volume is written as {used}, but the water that filled it as "
                f"{other}. The first was used.",
                "Find out which of them is right, and leave the other out.",
                {"volume_mL": milliliters, "water_mL": water},
            )
            break


def _weighed(facts: Facts) -> list[BenchTrial]:
    """Return the trials whose volume was written."""
    return [trial for trial in facts.trials if "volume" not in trial.assumed]


def _two_gains(facts: Facts) -> Iterator[Finding]:
    digit = balance_digit(facts.run.trials)
    for trial in facts.trials:
        off = trial.gain - trial.difference.value
        # Each of the three numbers is rounded to its last digit.
        if trial.is_by_difference or not abs(off) > _ROUNDED_AGREE * digit:
            continue
        yield Finding(
            "gain-disagrees",
            "warning",
            facts.about(
                [trial],
                f"the gain is written as {trial.written.gain}, but the two weighings differ by "
                f"{1e3 * trial.gain:.4f} g. The weighings were used.",
            ),
            "Find out which of the three numbers is wrong, and leave the gain out.",
            {"gain_g": 1e3 * trial.difference.value, "difference_g": 1e3 * trial.gain},
        )


def _incomplete(facts: Facts) -> Iterator[Finding]:
    """Yield weighings that could not be used, the trials that lack the same as one."""
    lacking: dict[tuple[str, ...], list[BenchTrial]] = {}
    for trial in facts.trials_as_written if facts.run.molar_mass is None else ():
        if trial.lacking and trial.is_weighed:
            lacking.setdefault(tuple(trial.lacking), []).append(trial)
    for words, trials in lacking.items():
        unread = bool(facts.run.unread or trials[0].written.unread)
        were, are = (
            second if len(several) > 1 else first
            for several, first, second in ((trials, "was", "were"), (words, "is", "are"))
        )
        yield Finding(
            "weighings-unused",
            "warning",
            facts.about(
                trials,
                f"the weighing{'s' if were == 'were' else ''} {were} not used, because "
                f"{listed(words)} {are} missing{' or could not be read' if unread else ''}.",
            ),
            f"{'Put that right' if unread else 'Write that down'}, and the molar mass counts too.",
            {"trials": float(len(trials))},
        )


def _unused_weighings(facts: Facts) -> Iterator[Finding]:
    given = facts.run.molar_mass
    if given is None or not any(trial.is_weighed for trial in facts.trials):
        return
    weighed = [facts.estimated_molar_mass(trial)[0] for trial in facts.trials]
    known = [value for value in weighed if isfinite(value)]
    about = f", which give about {fmean(known):.0f} g/mol," if known else ""
    yield Finding(
        "weighings-unused",
        "note",
        f"A molar mass is given, {given}, and was used; the weighings{about} were not.",
        "Leave the molar mass out to have the weighings used.",
        {"molar_mass_g_per_mol": given.to("g/mol").value},
    )


def _implausible_molar_mass(facts: Facts) -> Iterator[Finding]:
    lowest, highest = _SHORTCUT_RANGE
    for trial in facts.trials:
        value = facts.ideal_molar_mass(trial)
        if value < lowest or value > highest:
            yield Finding(
                "weighing-implausible",
                "error",
                facts.about(
                    [trial],
                    f"the readings give about {value:.4g} g/mol, which no volatile liquid has.",
                ),
                "Look at the two masses, the volume and the pressure again: a digit, a decimal "
                "point or a unit.",
                {"ideal_molar_mass_g_per_mol": value},
            )


def _scatter(facts: Facts) -> Iterator[Finding]:
    shortcut = [(trial, facts.ideal_molar_mass(trial)) for trial in facts.trials]
    known = [(trial, value) for trial, value in shortcut if isfinite(value)]
    if len(known) < 2:
        return
    values = [value for _, value in known]
    center = fmean(values)
    digit = balance_digit(facts.run.trials)
    # What scatters is the mass of all the vapor; the shortcut may see but half of it.
    vapor = fmean(facts.estimated_molar_mass(trial)[0] for trial, _ in known)
    allowed = [
        hypot(
            REPEATABILITY * vapor,
            trial.gain_uncertainty(digit) / facts.shortcut_mass(trial) * center,
        )
        for trial, _ in known
    ]
    chi_squared = sum(
        ((value - center) / sigma) ** 2 for value, sigma in zip(values, allowed, strict=True)
    )
    if chi_squared <= chi_squared_quantile(len(known) - 1):
        return
    spread, usual = stdev(values), fmean(allowed)
    listed = ", ".join(f"{value:.1f}" for value in values)
    yield Finding(
        "trials-scatter",
        "warning",
        f"The trials scatter more than their errors allow: {listed} g/mol by the ideal-gas "
        f"shortcut, a standard deviation of {100.0 * spread / center:.0f} %, where repeated "
        f"trials agree within about {100.0 * usual / center:.0f} %.",
        f"{_look_first(known)}Weigh once more and see which of them it agrees with.",
        {"standard_deviation_percent": 100.0 * spread / center, "chi_squared": chi_squared},
    )


def _look_first(known: Sequence[tuple[BenchTrial, float]]) -> str:
    """Name the trial farthest from the others, where there are enough of them."""
    if len(known) < 3:
        return ""
    middle = median(value for _, value in known)
    trial, value = max(known, key=lambda one: abs(one[1] - middle))
    return (
        f"Look at trial {trial.number} first ({value:.1f} against {middle:.1f} g/mol in the "
        "middle): its masses, its bath, whether the flask was dry. "
    )


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (
    _no_gain,
    _small_gain,
    _nominal_volume,
    _two_volumes,
    _two_gains,
    _incomplete,
    _unused_weighings,
    _implausible_molar_mass,
    _scatter,
)
