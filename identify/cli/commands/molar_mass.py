"""``identify-unknown molar-mass``: from weighings to a molar mass with its uncertainty budget."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from identify.cli.options.options import Files, Text, Weighings, Work, option, takes
from identify.cli.options.records import origin, runs_given
from identify.cli.terminal.output import write_answer
from identify.cli.terminal.streams import UNUSABLE, Faults
from identify.cli.terminal.tables import candidate_table
from identify.cli.terminal.working import page_lines

if TYPE_CHECKING:
    from identify.answers.text import Page
    from identify.calculations.molar_mass import Constants, MolarMassResult
    from identify.notebook.measurement import Measurement

_SHOWN_LIQUIDS = 5
_LONGEST_NAME = 36
_LEAST_CHANGE = 5e-4  # g/mol
_MANY_DEGREES = 1000.0  # of freedom: Student's t no longer differs
_WIDE = 110  # columns, from which on the budget has room for where each uncertainty comes from


@dataclass(frozen=True)
class KnownLiquid:
    """Which liquid it is, or its constants."""

    as_name: Annotated[Text, option("--as", "NAME", "Use this compound's corrections,")] = None
    vapor_pressure: Annotated[
        Text,
        option("--vapor-pressure", "QUANTITY", "or a liquid's own: in the room, in mmHg;"),
    ] = None
    second_virial: Annotated[
        Text,
        option("--second-virial", "QUANTITY", "of the vapor in the bath, in cm3/mol;"),
    ] = None
    density: Annotated[Text, option("--density", "QUANTITY", "of the liquid, in g/mL.")] = None
    candidates: Annotated[
        Path | None,
        option("--candidates", "FILE", "A stock table (CSV, XLSX, Parquet) for the built-in one."),
    ] = None


@takes(Files, Weighings, KnownLiquid, Work)
def molar_mass_command(files: Files, weighings: Weighings, liquid: KnownLiquid, shown: Work) -> int:
    r"""Work out a molar mass from weighings, with each correction and its uncertainty.

    Takes files, or one unknown's readings as options. Without --as, every compound that agrees
    with the readings counts by its probability: what the card says narrows them down.

    \b
    Example: a notebook page, the liquid known.
      identify-unknown molar-mass C-14.toml --as methanol

    \b
    Example: three weighings, the flask measured out with a cylinder.
      identify-unknown molar-mass --empty 98.113 --condensed 98.362 \
        --condensed 98.364 --condensed 98.360 --bath "98.9 C" --room "22.5 C" \
        --pressure "742.0 mmHg" --water-volume "100.0 + 100.0 + 87.4 mL"
    """
    faults = Faults()
    runs = runs_given(files.files or (), weighings, faults)
    if liquid.as_name is not None and _typed(liquid):
        faults("--as: give a name or constants, not both; nothing was done")
        return UNUSABLE
    constants = _constants(liquid, faults)
    table = candidate_table(liquid.candidates, faults) if runs else None
    worked: list[tuple[Measurement, MolarMassResult]] = []
    if table is not None and not (faults.count and constants is None and _typed(liquid)):
        from identify.calculations.molar_mass import molar_mass

        for run in runs:
            if not run.trials and (run.source.file, run.label) in _faulty(faults):
                continue  # what is missing is said already
            try:
                found = molar_mass(run, liquid.as_name, constants, table)
            except ValueError as error:
                option_name = _option_at_fault(error)
                if option_name:
                    faults(f"{option_name}: {error}")
                    break  # the other runs would say the same
                faults(f"{origin(run)}, {run.label}: {error}")
            else:
                worked.append((run, found))
    if worked:
        _write(worked, shown)
    return UNUSABLE if faults.count else 0


def _faulty(faults: Faults) -> set[tuple[str, str]]:
    """Return file and label of the unknowns of which something was reported."""
    from identify.tables.faults import Fault

    return {(one.file, one.label) for one in faults.said if isinstance(one, Fault)}


def _option_at_fault(error: ValueError) -> str:
    """Return the option on the liquid that an error is about; empty where it is about a run."""
    from identify.compounds.search import NameFault
    from identify.notebook.quantities import QuantityError

    if isinstance(error, NameFault):
        return "--as"
    if isinstance(error, QuantityError) and error.field == "second_virial":
        error.field = ""
        return "--second-virial"
    return ""


def _typed(liquid: KnownLiquid) -> dict[str, str]:
    names = ("vapor_pressure", "second_virial", "density")
    return {name: getattr(liquid, name) for name in names if getattr(liquid, name) is not None}


def _constants(liquid: KnownLiquid, faults: Faults) -> Constants | None:
    typed = _typed(liquid)
    if not typed:
        return None
    from identify.calculations.molar_mass import Constants
    from identify.notebook.quantities import QuantityError

    try:
        return Constants(**typed)
    except QuantityError as error:
        option_name = "--" + error.field.replace("_", "-")
        error.field = ""
        faults(f"{option_name}: {error}")
        return None


def _write(worked: Sequence[tuple[Measurement, MolarMassResult]], shown: Work) -> None:
    from identify.answers.text import caution_lines

    def lines(page: Page) -> Iterator[str]:
        for run, found in worked:
            place = origin(run) if len(worked) > 1 else ""
            yield from _lines(run, found, place, page)
            yield from (*page_lines(found, (), page, shown.show_work), "")
        yield from caution_lines(page)

    def data() -> Any:
        each = [{**found.to_dict(), "student": run.student} for run, found in worked]
        return each[0] if len(each) == 1 else each

    write_answer(shown.format, lines, data, lambda: [_row(*one) for one in worked])


def _row(run: Measurement, found: MolarMassResult) -> dict[str, Any]:
    agreement = found.agreement
    return {
        "label": found.label,
        "student": run.student,
        "molar_mass": found.value,
        "standard_uncertainty": found.standard_uncertainty,
        "expanded_uncertainty": found.expanded_uncertainty,
        "ideal_gas": found.ideal_gas,
        "assumed_identity": found.assumed_identity,
        "assumed_molar_mass": found.assumed_molar_mass,
        "lowest": found.spread[0],
        "highest": found.spread[1],
        "trials": len(found.trials),
        "standard_deviation": None if agreement is None else agreement.standard_deviation,
        "largest_share": found.budget.lines[0].input,
        "findings": " ".join(finding.code for finding in found.findings),
    }


def _lines(run: Measurement, found: MolarMassResult, place: str, page: Page) -> Iterator[str]:
    from identify.answers.text import elided

    who = ", ".join(filter(None, (run.student, place)))
    heading = f"{found.label}  ({who})" if who else found.label
    yield page.emphasized(elided(page.text(heading), page.width, page.text("…")))
    for sentence in _sentences(found):
        yield from page.wrapped(sentence, "  ")
    blocks = [
        (_correction_lines(found), ()),
        (_trial_lines(found), _agreement_sentences(found)),
        (_budget_lines(found, page), _budget_sentences(found, page)),
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
        yield from page.wrapped(_simulation_sentence(found), "  ")


def _sentences(found: MolarMassResult) -> Iterator[str]:
    yield from _several_values(found) if found.liquid_decides else _one_value(found)
    first = found.budget.lines[0]
    if any(finding.severity == "error" for finding in found.findings):
        yield "A reading cannot be right, see below: until it is set right, neither is this."
    yield f"Largest part of its variance, {100.0 * first.share:.0f} %: {first.input}."


def _one_value(found: MolarMassResult) -> Iterator[str]:
    from identify.notebook.statistics import with_expanded

    low, high = found.spread
    likeliest = found.candidates[0]
    own: float | None = likeliest.molar_mass
    if found.assumed_identity is not None:
        liquid, own = f"as {found.assumed_identity}", found.assumed_molar_mass
    elif likeliest.probability > 0.999:
        liquid = f"as {likeliest.name}, the one that agrees with the readings"
    else:
        liquid, own = f"over the liquids that it may be, {low:.1f} to {high:.1f}", None
    yield f"Molar mass {with_expanded(found.value, found.expanded_uncertainty)} g/mol, {liquid}."
    if own is not None:
        off = 100.0 * (found.value / own - 1.0)
        yield (
            f"By its formula, that liquid has {own:.2f} g/mol: the result is {abs(off):.1f} % "
            f"{'above' if off > 0.0 else 'below'} it."
        )
    degrees = found.budget.degrees
    known = "many" if degrees > _MANY_DEGREES else f"{degrees:.3g} effective"
    yield (
        "About 95 of 100 such intervals hold the true value: ± is the standard uncertainty, "
        f"{_rounded(found.standard_uncertainty, 2)} g/mol, times "
        f"{found.budget.coverage_factor:.2f} (Student's t for 95 %, {known} degrees of freedom)."
    )


def _several_values(found: MolarMassResult) -> Iterator[str]:
    """Say what there is to say where each liquid has a value of its own, far from the others."""
    from identify.notebook.statistics import with_expanded

    agreeing = [one for one in found.candidates if one.plausible] or found.candidates
    least, most = (end(agreeing, key=lambda one: one.value) for end in (min, max))
    each = with_expanded(0.0, found.budget.coverage_factor * found.budget.for_one_liquid)
    yield (
        f"Molar mass {least.value:.1f} to {most.value:.1f} g/mol: {least.value:.1f} if it is "
        f"{least.name}, {most.value:.1f} if it is {most.name}; for one liquid "
        f"±{each.split('±')[-1]} (95 %). These readings do not tell which it is."
    )
    mean = with_expanded(found.value, found.expanded_uncertainty)
    yield (
        f"The mean over all {len(found.candidates)} liquids that it may be, by their "
        f"probabilities, is {mean} g/mol: no liquid need have that."
    )


def _correction_lines(found: MolarMassResult) -> list[str]:
    from identify.answers.text import TextTable

    # The corrections show a digit more than the sums: some are a few thousandths.
    changes = [one for one in found.corrections if abs(one.change) >= _LEAST_CHANGE]
    rows = [["ideal-gas shortcut", f"{found.ideal_gas:.2f} "]]
    rows += [[one.name, f"{one.change:+.3f}"] for one in changes]
    rows += [["molar mass", f"{found.value:.2f} "]]
    table = TextTable.of(["from the shortcut to the result", "g/mol"], rows, left=(0,))
    return table.lines(indent="  ")


def _trial_lines(found: MolarMassResult) -> list[str]:
    from identify.answers.text import TextTable

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
    headings = ["trial", "gain\ng", "shortcut\ng/mol", "corrected\ng/mol", "standard\nuncertainty"]
    return TextTable.of(headings, rows).lines(indent="  ")


def _agreement_sentences(found: MolarMassResult) -> Iterator[str]:
    agreement = found.agreement
    if agreement is None:
        return
    count = len(found.trials)
    yield (
        f"Mean {agreement.mean:.2f} g/mol, standard deviation "
        f"{agreement.standard_deviation:.2f}; by this scatter alone ± {agreement.confidence:.2f} "
        f"(95 %, Student's t for {count - 1} degree{'s' if count > 2 else ''} of freedom)."
    )
    for test in agreement.tests:
        yield (
            f"{test.test}'s test: trial {agreement.farthest + 1} is "
            f"{'an outlier' if test.outlier else 'no outlier'}, {test.statistic:.4f} "
            f"{'>' if test.outlier else '<='} {test.critical:.4f} (5 %, two-sided; {test.source})."
        )
    if len({test.outlier for test in agreement.tests}) > 1:
        yield (
            "Where the two differ, Grubbs's decides, as ISO 5725-2 recommends: either of two "
            "tests errs more often than one."
        )


def _budget_lines(found: MolarMassResult, page: Page) -> list[str]:
    from identify.answers.text import TextColumn, TextTable

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
    ]
    table = TextTable.of(headings, rows, left=(0,))
    origin = TextColumn("taken from", itemgetter(5), left=True, shortest=1, page_width=_WIDE)
    return TextTable([*table.columns, origin], rows).lines(page, "  ")


def _budget_sentences(found: MolarMassResult, page: Page) -> Iterator[str]:
    """Say what the table leaves open: inputs of several readings, and uncertainties assumed."""
    several = [line for line in found.budget.lines if line.readings > 1]
    if several:
        counted = ", ".join(f"{line.input} ({line.readings})" for line in several)
        yield (
            f"Of several readings: {counted}. The sensitivity is that to all of them together; "
            "as each errs on its own, they make less than that."
        )
    shared = [line for line in found.budget.lines if line.remark]
    if shared:
        remarks = "; ".join(f"{line.input}, {line.remark}" for line in shared)
        yield (
            f"Equal readings count as one, whose error the trials share: {remarks}. If the flask "
            "was weighed anew each time, that errs on the safe side."
        )
    if page.width >= _WIDE:
        return
    assumed: dict[str, list[str]] = {}
    for line in found.budget.lines:
        if line.unit != "g/mol" and line.origin != "stated":
            assumed.setdefault(line.origin, []).append(line.input)
    if assumed:
        yield (
            "Taken where nothing is stated: "
            + "; ".join(f"{origin} ({', '.join(names)})" for origin, names in assumed.items())
            + "."
        )


def _liquid_lines(found: MolarMassResult) -> list[str]:
    from identify.answers.text import TextTable, elided, percent_text

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
    more = len(found.candidates) - len(rows)
    headings = ["it may be", "prob-\nability", "then it is\ng/mol", "by formula\ng/mol", "agrees"]
    lines = TextTable.of(headings, rows, left=(0,)).lines(indent="  ")
    return [*lines, *([f"  and {more} more"] if more > 0 else [])]


def _simulation_sentence(found: MolarMassResult) -> str:
    from identify.notebook.statistics import to_uncertainty

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
