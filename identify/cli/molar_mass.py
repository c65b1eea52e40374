"""``identify-unknown molar-mass``: from weighings to a molar mass with its uncertainty budget."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from identify.cli.options import Files, OutputFormat, Text, Weighings, option, takes
from identify.cli.records import origin, runs_given
from identify.cli.streams import UNUSABLE, Faults
from identify.cli.tables import candidate_table
from identify.cli.working import Shown, page_lines

if TYPE_CHECKING:
    from identify.calculations.molar_mass import Constants, MolarMassResult
    from identify.measurement import Measurement
    from identify.printing import Page

_SHOWN_LIQUIDS = 5
_LEAST_CHANGE = 5e-4  # g/mol


@dataclass(frozen=True)
class Liquid:
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


@takes(Files, Weighings, Liquid, Shown)
def molar_mass_command(files: Files, weighings: Weighings, liquid: Liquid, shown: Shown) -> int:
    r"""Work out a molar mass from weighings, with each correction and its uncertainty.

    Takes files, or one unknown's readings as options. Without --as, every compound that agrees
    with the readings counts by its probability: what the card says narrows them down.

    \b
    Example: a notebook page, the liquid known.
      identify-unknown molar-mass C-14.toml --as methanol

    \b
    Example: three weighings, the flask measured out with a cylinder.
      identify-unknown molar-mass --empty 98.113 --condensed 98.372 --condensed 98.374 \
        --condensed 98.370 --bath "98.9 C" --room "22.5 C" --pressure "742.0 mmHg" \
        --water-volume "100.0 + 100.0 + 87.4 mL"
    """
    faults = Faults()
    runs = runs_given(files.files or (), weighings, faults)
    constants = _constants(liquid, faults)
    table = candidate_table(liquid.candidates, faults) if runs else None
    worked: list[tuple[Measurement, MolarMassResult]] = []
    if table is not None and not (faults.count and constants is None and _typed(liquid)):
        from identify.calculations.molar_mass import molar_mass

        for run in runs:
            try:
                found = molar_mass(run, liquid.as_name, constants, table)
            except ValueError as error:
                faults(f"{origin(run)}, {run.label}: {error}")
            else:
                worked.append((run, found))
    if worked:
        _write(worked, shown)
    return UNUSABLE if faults.count else 0


def _typed(liquid: Liquid) -> dict[str, str]:
    names = ("vapor_pressure", "second_virial", "density")
    return {name: getattr(liquid, name) for name in names if getattr(liquid, name) is not None}


def _constants(liquid: Liquid, faults: Faults) -> Constants | None:
    typed = _typed(liquid)
    if not typed:
        return None
    from identify.calculations.molar_mass import Constants
    from identify.quantities import QuantityError

    try:
        return Constants(**typed)
    except QuantityError as error:
        option_name = "--" + error.field.replace("_", "-")
        error.field = ""
        faults(f"{option_name}: {error}")
        return None


def _write(worked: Sequence[tuple[Measurement, MolarMassResult]], shown: Shown) -> None:
    from identify.printing import Page, caution_lines

    page = Page.of()
    if shown.format is OutputFormat.table:
        lines: list[str] = []
        for run, found in worked:
            place = origin(run) if len(worked) > 1 else ""
            lines += _lines(run, found, place, page)
            lines += [*page_lines(found, (), page, shown.show_work), ""]
        print("\n".join([*lines, *caution_lines(page)]))
        return
    from identify.cli.formats import csv_text, json_text

    if shown.format is OutputFormat.csv:
        print(csv_text([_row(run, found) for run, found in worked]), end="")
        return
    data = [{**found.to_dict(), "student": run.student} for run, found in worked]
    print(json_text(data[0] if len(data) == 1 else data, page.unicode))


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
        "lowest": found.spread[0],
        "highest": found.spread[1],
        "trials": len(found.trials),
        "standard_deviation": None if agreement is None else agreement.standard_deviation,
        "largest_share": found.budget.lines[0].input,
        "findings": " ".join(finding.code for finding in found.findings),
    }


def _lines(run: Measurement, found: MolarMassResult, place: str, page: Page) -> Iterator[str]:
    who = ", ".join(filter(None, (run.student, place)))
    heading = f"{found.label}  ({who})" if who else found.label
    yield page.emphasized(page.text(heading))
    for sentence in _sentences(found):
        yield from page.wrapped(sentence, "  ")
    blocks = [_correction_lines(found), _trial_lines(found), _budget_lines(found, page)]
    if found.assumed_identity is None and len(found.candidates) > 1:
        blocks.append(_liquid_lines(found))
    for block in blocks:
        yield ""
        yield from (page.text(line) for line in block)
    if found.simulation is not None:
        yield ""
        yield from page.wrapped(_simulation_sentence(found), "  ")


def _sentences(found: MolarMassResult) -> Iterator[str]:
    from identify.statistics import justified

    low, high = found.spread
    if found.assumed_identity is not None:
        liquid = f"as {found.assumed_identity}"
    elif found.candidates[0].probability > 0.999:
        liquid = f"as {found.candidates[0].name}, the one that agrees with the readings"
    else:
        liquid = f"over the liquids that it may be, {low:.1f} to {high:.1f}"
    value = justified(found.value, found.expanded_uncertainty)
    yield f"Molar mass {value} g/mol, {liquid}."
    yield (
        "Of 100 such intervals, 95 hold the true value: the standard uncertainty, "
        f"{found.standard_uncertainty:.2g} g/mol, times {found.budget.coverage_factor:.2f} "
        "(Student's t)."
    )
    first = found.budget.lines[0]
    if any(finding.severity == "error" for finding in found.findings):
        yield "A reading cannot be right, see below: until it is set right, neither is this."
    yield f"Largest part of its variance, {100.0 * first.share:.0f} %: {first.input}."


def _correction_lines(found: MolarMassResult) -> list[str]:
    from identify.printing import table_lines

    # The corrections show a digit more than the sums: some are a few thousandths.
    changes = [one for one in found.corrections if abs(one.change) >= _LEAST_CHANGE]
    rows = [["ideal-gas shortcut", f"{found.ideal_gas:.2f} "]]
    rows += [[one.name, f"{one.change:+.3f}"] for one in changes]
    rows += [["molar mass", f"{found.value:.2f} "]]
    return _indented(table_lines(rows, ["from the shortcut to the result", "g/mol"], left=(0,)))


def _trial_lines(found: MolarMassResult) -> list[str]:
    from identify.printing import table_lines

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
    lines = table_lines(rows, headings, left=())
    agreement = found.agreement
    if agreement is not None:
        lines.append(
            f"mean {agreement.mean:.2f}, standard deviation {agreement.standard_deviation:.2f}; "
            f"by the scatter alone ± {agreement.confidence:.2f} (95 %)"
        )
        lines += [
            f"{test.test}: trial {agreement.farthest + 1}, {test.statistic:.3f} "
            f"{'>' if test.outlier else '<='} {test.critical:.3f}, "
            f"{'an outlier' if test.outlier else 'no outlier'} ({test.source})"
            for test in agreement.tests
        ]
    return _indented(lines)


def _budget_lines(found: MolarMassResult, page: Page) -> list[str]:
    from identify.printing import table_lines

    wide = page.width >= 110
    rows = [
        [
            line.input,
            f"{line.standard_uncertainty:.2g} {line.unit}",
            f"{line.sensitivity:+.3g}",
            f"{line.contribution:.3f}",
            f"{100.0 * line.share:.1f} %",
            *([line.origin] if wide else []),
        ]
        for line in found.budget.lines
    ]
    headings = [
        "uncertain input",
        "standard\nuncertainty",
        "sensitivity\ng/mol a unit",
        "makes\ng/mol",
        "share of\nvariance",
        *(["taken from"] if wide else []),
    ]
    return _indented(table_lines(rows, headings, left=(0, 5)))


def _liquid_lines(found: MolarMassResult) -> list[str]:
    from identify.printing import percent_text, table_lines

    rows = [
        [one.name, percent_text(one.probability), f"{one.value:.2f}"]
        for one in found.candidates[:_SHOWN_LIQUIDS]
    ]
    more = len(found.candidates) - len(rows)
    lines = table_lines(rows, ["it may be", "prob-\nability", "then it is\ng/mol"], left=(0,))
    return _indented([*lines, *([f"and {more} more"] if more > 0 else [])])


def _simulation_sentence(found: MolarMassResult) -> str:
    from identify.statistics import justified

    simulation = found.simulation
    assert simulation is not None
    low, high = simulation.interval
    value = justified(simulation.value, simulation.standard_uncertainty)
    return (
        f"The same errors drawn {simulation.draws:,} times: {value} g/mol (standard uncertainty), "
        f"95 % of them from {low:.2f} to {high:.2f}."
    )


def _indented(lines: Sequence[str]) -> list[str]:
    return [f"  {line}" for line in lines]
