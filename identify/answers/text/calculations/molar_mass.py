"""A molar mass from weighings in words and tables, and these as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator
from operator import itemgetter
from typing import TYPE_CHECKING

from identify.answers.text import Page, TextColumn, TextTable, elided, percent_text
from identify.answers.text.numbers import counted
from identify.budget.budget import BEYOND_INSTRUMENTS, TECHNIQUE
from identify.notebook.findings import any_error
from identify.notebook.statistics import to_uncertainty, with_digits_of

if TYPE_CHECKING:
    from identify.calculations.molar_mass import MolarMassResult
    from identify.notebook.measurement import Measurement

_SHOWN_LIQUIDS = 5
_LONGEST_NAME = 36
_LEAST_CHANGE = 5e-4  # g/mol
_MANY_DEGREES = 1000.0  # of freedom: Student's t no longer differs
_WIDE = 110  # columns, from which on the budget has room for where each uncertainty comes from


def molar_mass_lines(
    run: Measurement, found: MolarMassResult, place: str, page: Page
) -> Iterator[str]:
    """Return what is printed of a molar mass: result, corrections, trials, budget and liquids."""
    who = ", ".join(filter(None, (run.student, place)))
    heading = f"{found.label}  ({who})" if who else found.label
    yield page.emphasized(elided(page.text(heading), page.width, page.text("…")))
    for sentence in result_sentences(found):
        yield from page.wrapped(sentence, "  ")
    corrections = TextTable.of(*correction_table(found), left=(0,)).lines(indent="  ")
    trials = TextTable.of(*trial_table(found)).lines(indent="  ")
    blocks = [
        (corrections, ()),
        (trials, agreement_sentences(found)),
        (_budget_lines(found, page), budget_sentences(found, page.width >= _WIDE)),
    ]
    if found.assumed_identity is None and len(found.candidates) > 1:
        blocks.append((_liquid_lines(found), ()))
    for table, notes in blocks:
        yield ""
        yield from (page.text(line) for line in table)
        for note in notes:
            yield from page.wrapped(note, "  ", "    ")
    if found.simulation is not None:
        yield ""
        yield from page.wrapped(simulation_sentence(found), "  ")


_OPTION = " (--technique says how well this class works)"


def result_sentences(found: MolarMassResult, option: str = _OPTION) -> Iterator[str]:
    """Say what the molar mass is, what it means, and what its uncertainty comes from.

    Parameters
    ----------
    found : MolarMassResult
    option : str
        What to say of the command's option where the technique is the usual one.
    """
    yield from _several_values(found) if found.liquid_decides else _one_value(found, option)
    first = found.budget.lines[0]
    if any_error(found.findings):
        yield "A reading cannot be right, see below: until it is set right, neither is this."
    yield f"Largest part of its variance, {100.0 * first.share:.0f} %: {first.input}."
    if first.input == TECHNIQUE:
        largest = next(line for line in found.budget.lines if line.input not in BEYOND_INSTRUMENTS)
        share = (largest.contribution / found.instruments_uncertainty) ** 2
        yield f"Of that by the instruments, {100.0 * share:.0f} %: {largest.input}."


def _one_value(found: MolarMassResult, option: str) -> Iterator[str]:
    low, high = found.spread
    likeliest = found.candidates[0]
    own: float | None = likeliest.molar_mass
    if found.assumed_identity is not None:
        liquid, own = f"as {found.assumed_identity}", found.assumed_molar_mass
    elif likeliest.probability > 0.999:
        liquid = f"as {likeliest.name}, the one that agrees with the readings"
    else:
        liquid, own = f"over the liquids that it may be, {low:.1f} to {high:.1f}", None
    yield f"Molar mass {_value(found)} g/mol, {liquid}."
    if own is not None:
        off = 100.0 * (found.value / own - 1.0)
        yield (
            f"By its formula, that liquid has {own:.2f} g/mol: the result is {abs(off):.1f} % "
            f"{'above' if off > 0.0 else 'below'} it."
        )
    yield from _meaning(found, option)


def _value(found: MolarMassResult) -> str:
    return to_uncertainty(found.value, found.standard_uncertainty)


def _meaning(found: MolarMassResult, option: str) -> Iterator[str]:
    """Say what the number after ± is, and how far such results are off."""
    low, high = with_digits_of(found.standard_uncertainty, *found.interval_95)
    if found.budget.total.error is not None:
        yield (
            f"± is the standard uncertainty: by the instruments alone it would be "
            f"{_rounded(found.instruments_uncertainty, 2)}, with {found.technique.words} it is "
            f"{_rounded(found.standard_uncertainty, 2)}"
            f"{'' if found.technique.name else option}."
        )
        yield f"Of 100 such results, about 95 have their true value from {low} to {high} g/mol."
        return
    degrees = found.budget.degrees
    known = "many" if degrees > _MANY_DEGREES else f"{degrees:.3g} effective"
    yield (
        f"± is the standard uncertainty. If nothing errs but the instruments, about 95 of 100 such "
        f"results have their true value from {low} to {high} g/mol: "
        f"{found.budget.coverage_factor:.2f} times that on either side (Student's t for 95 %, "
        f"{known} degrees of freedom)."
    )


def _several_values(found: MolarMassResult) -> Iterator[str]:
    """Say what there is to say where each liquid has a value of its own, far from the others."""
    agreeing = [one for one in found.candidates if one.plausible] or found.candidates
    least, most = (end(agreeing, key=lambda one: one.value) for end in (min, max))
    each = to_uncertainty(0.0, found.budget.for_one_liquid)
    yield (
        f"Molar mass {least.value:.1f} to {most.value:.1f} g/mol: {least.value:.1f} if it is "
        f"{least.name}, {most.value:.1f} if it is {most.name}; for one liquid "
        f"±{each.split('±')[-1]} (standard uncertainty). These readings do not tell which it is."
    )
    yield (
        f"The mean over all {len(found.candidates)} liquids that it may be, by their "
        f"probabilities, is {_value(found)} g/mol: no liquid need have that."
    )


HeadedRows = tuple[list[str], list[list[str]]]
"""Headings, in which a line ends where it may, and rows of cells."""


def correction_table(found: MolarMassResult) -> HeadedRows:
    """Return what each correction adds to the shortcut."""
    # The corrections show a digit more than the sums: some are a few thousandths.
    changes = [one for one in found.corrections if abs(one.change) >= _LEAST_CHANGE]
    rows = [["ideal-gas shortcut", f"{found.ideal_gas:.2f} "]]
    rows += [[one.name, f"{one.change:+.3f}"] for one in changes]
    rows += [["molar mass", f"{found.value:.2f} "]]
    return ["from the shortcut to the result", "g/mol"], rows


def trial_table(found: MolarMassResult) -> HeadedRows:
    """Return what each trial gives."""
    rows = [
        [
            str(trial.number),
            f"{trial.gain:.4f}",
            f"{trial.ideal_gas:.2f}",
            f"{trial.value:.2f}",
            f"{trial.standard_uncertainty:.2f}",
        ]
        for trial in found.trials
    ]
    headings = [
        "trial",
        "gain\ng",
        "shortcut\ng/mol",
        "corrected\ng/mol",
        "instruments'\nuncertainty",
    ]
    return headings, rows


def agreement_sentences(found: MolarMassResult) -> Iterator[str]:
    """Say how well the trials agree, and whether one is an outlier."""
    agreement = found.agreement
    if agreement is None:
        return
    count = len(found.trials)
    yield (
        f"Mean {agreement.mean:.2f} g/mol, standard deviation "
        f"{agreement.standard_deviation:.2f}; by this scatter alone ± {agreement.confidence:.2f} "
        f"(95 %, Student's t for {counted(count - 1, 'degree')} of freedom)."
    )
    for test in agreement.tests:
        yield (
            f"{test.test}'s test: trial {agreement.farthest + 1} is "
            f"{'an outlier' if test.outlier else 'not an outlier'}, {test.statistic:.4f} "
            f"{'>' if test.outlier else '<='} {test.critical:.4f} (5 %, two-sided; {test.source})."
        )
    if len({test.outlier for test in agreement.tests}) > 1:
        yield (
            "Where the two differ, Grubbs's decides, as ISO 5725-2 recommends: either of two "
            "tests errs more often than one."
        )


def budget_table(found: MolarMassResult) -> HeadedRows:
    """Return what each input makes of the uncertainty, and at last where that is taken from."""
    rows = [
        [
            line.input,
            f"{_rounded(line.standard_uncertainty, 2)} {line.unit}",
            f"{'+' if line.sensitivity >= 0.0 else ''}{_rounded(line.sensitivity, 3)}",
            f"{line.contribution:.3f}",
            f"{100.0 * line.share:.1f} %",
            line.origin,
        ]
        for line in found.budget.lines
    ]
    headings = [
        "uncertain input",
        "standard\nuncertainty",
        "sensitivity\ng/mol a unit",
        "makes\ng/mol",
        "share of\nvariance",
        "taken from",
    ]
    return headings, rows


def _budget_lines(found: MolarMassResult, page: Page) -> list[str]:
    headings, rows = budget_table(found)
    table = TextTable.of(headings[:-1], rows, left=(0,))
    origin = TextColumn(headings[-1], itemgetter(5), left=True, shortest=1, page_width=_WIDE)
    return TextTable([*table.columns, origin], rows).lines(page, "  ")


def budget_sentences(found: MolarMassResult, with_origins: bool) -> Iterator[str]:
    """Say what the table leaves open: inputs of several readings, and uncertainties assumed."""
    several = [line for line in found.budget.lines if line.readings > 1]
    if several:
        inputs = ", ".join(f"{line.input} ({line.readings})" for line in several)
        yield (
            f"Of several readings: {inputs}. The sensitivity is that to all of them together; "
            "as each errs on its own, they make less than that."
        )
    shared = [line for line in found.budget.lines if line.remark]
    if shared:
        remarks = "; ".join(f"{line.input}, {line.remark}" for line in shared)
        yield (
            f"Equal readings count as one, whose error the trials share: {remarks}. If the flask "
            "was weighed anew each time, that errs on the safe side."
        )
    if not with_origins:
        yield from _taken_sentence(found)


def _taken_sentence(found: MolarMassResult) -> Iterator[str]:
    assumed: dict[str, list[str]] = {}
    for line in found.budget.lines:
        if line.unit != "g/mol" and line.origin != "stated":
            assumed.setdefault(line.origin, []).append(line.input)
    if assumed:
        origins = (f"{origin} ({', '.join(names)})" for origin, names in assumed.items())
        yield f"Taken where nothing is stated: {'; '.join(origins)}."


def liquid_table(found: MolarMassResult) -> HeadedRows:
    """Return the liquids that it may be, the most probable first."""
    rows = [
        [
            elided(one.name, _LONGEST_NAME),
            percent_text(one.probability),
            f"{one.value:.2f}",
            f"{one.molar_mass:.2f}",
            "yes" if one.plausible else "no",
        ]
        for one in found.candidates[:_SHOWN_LIQUIDS]
    ]
    headings = ["it may be", "prob-\nability", "then it is\ng/mol", "by formula\ng/mol", "agrees"]
    return headings, rows


def _liquid_lines(found: MolarMassResult) -> list[str]:
    headings, rows = liquid_table(found)
    more = len(found.candidates) - len(rows)
    lines = TextTable.of(headings, rows, left=(0,)).lines(indent="  ")
    return [*lines, *([f"  and {more} more"] if more > 0 else [])]


def simulation_sentence(found: MolarMassResult) -> str:
    """Say what drawing the same errors gives, where they were drawn."""
    simulation = found.simulation
    assert simulation is not None
    low, high = simulation.interval
    value = to_uncertainty(simulation.value, simulation.standard_uncertainty)
    return (
        f"The same errors drawn {simulation.draws:,} times: {value} g/mol (standard uncertainty), "
        f"95 % of them from {low:.2f} to {high:.2f}."
    )


def _rounded(value: float, digits: int) -> str:
    """Return a value with so many significant digits, without a power of ten."""
    return f"{float(f'{value:.{digits}g}'):g}"
