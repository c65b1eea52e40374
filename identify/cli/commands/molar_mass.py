"""``identify-unknown molar-mass``: from weighings to a molar mass with its uncertainty budget."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from identify.cli.options.options import (
    Files,
    Readings,
    Text,
    Weighings,
    Work,
    candidates_file,
    option,
    takes,
    technique_option,
)
from identify.cli.options.records import runs_given
from identify.cli.options.targets import PageOut, check_page, write_pages
from identify.cli.options.tolerances import technique_given
from identify.cli.terminal.output import write_answer
from identify.cli.terminal.progress import with_progress
from identify.cli.terminal.streams import UNUSABLE, Faults
from identify.cli.terminal.tables import candidate_table
from identify.cli.terminal.working import page_lines
from identify.notebook.errors import RunFault

if TYPE_CHECKING:
    from identify.answers.text import Page
    from identify.calculations.molar_mass import Constants, MolarMassResult
    from identify.notebook.measurement import Measurement
    from identify.observables.error.technique import Technique


@dataclass(frozen=True)
class _SaidToBe:
    """Which liquid it is, or its constants."""

    as_name: Text = option("NAME", "Use this compound's corrections,", "--as")
    vapor_pressure: Text = option(
        "QUANTITY", "or a liquid's own: in the room, in mmHg (with --vapor-mass: of the vapor);"
    )
    second_virial: Text = option("QUANTITY", "of the vapor in the bath, in cm3/mol;")
    density: Text = option("QUANTITY", "of the liquid, in g/mL.")
    candidates: Path | None = candidates_file()
    technique: Text = technique_option()


@takes(Files, Weighings, _SaidToBe, Work, PageOut)
def molar_mass_command(
    files: Files, weighings: Weighings, liquid: _SaidToBe, shown: Work, out: PageOut
) -> int:
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

    \b
    Example: working and budget as a page to hand in.
      identify-unknown molar-mass C-14.toml --as methanol --report C-14.html
    """
    faults = Faults()
    inputs = [*files.paths, liquid.candidates]
    check_page(out, inputs, faults)
    if faults.count:
        return UNUSABLE
    weighings, liquid = _of_vapor(weighings, liquid)
    runs = runs_given(files.paths, weighings, faults)
    if liquid.as_name is not None and _typed(liquid):
        faults("--as: give a name or constants, not both; nothing was done")
        return UNUSABLE
    technique = technique_given(liquid.technique, faults)
    if technique is None:
        return UNUSABLE
    worked = _worked_out(runs, liquid, technique, faults)
    if worked:
        _write(worked, shown, faults)
        _write_pages(worked, out, inputs, faults)
    return faults.status


def _worked_out(
    runs: Sequence[Measurement], liquid: _SaidToBe, technique: Technique, faults: Faults
) -> list[tuple[Measurement, MolarMassResult]]:
    """Return the runs that have a molar mass, each with it; report why others have none."""
    constants = _constants(liquid, faults)
    table = candidate_table(liquid.candidates, faults) if runs else None
    worked: list[tuple[Measurement, MolarMassResult]] = []
    if table is None or (faults.count and constants is None and _typed(liquid)):
        return worked
    from identify.calculations.molar_mass import molar_mass

    for run in with_progress(runs, "Working out"):
        if not run.trials and (run.source.file, run.label) in _faulty(faults):
            continue  # what is missing is said already
        try:
            found = molar_mass(run, liquid.as_name, constants, table, technique=technique)
        except Exception as error:
            option_name = _option_at_fault(error)
            if option_name:
                faults(f"{option_name}: {error}")
                break  # the other runs would say the same
            _say(RunFault.of(run.place, error), error, run, faults)
        else:
            worked.append((run, found))
    return worked


def _write_pages(
    worked: Sequence[tuple[Measurement, MolarMassResult]],
    out: PageOut,
    inputs: Sequence[Path | None],
    faults: Faults,
) -> None:
    def page(places: Sequence[int]) -> str:
        from identify.answers.html.molar_mass_page import molar_mass_page

        return molar_mass_page([worked[place] for place in places])

    write_pages(page, [run for run, _ in worked], out, inputs, faults)


def _say(fault: RunFault, error: Exception, run: Measurement, faults: Faults) -> None:
    """Report why a run has no molar mass, unless what it lacks is said already."""
    is_said = _is_unread(run) and (run.source.file, run.label) in _faulty(faults)
    if fault.of_program or not is_said or getattr(error, "shortcut", None) is not None:
        faults(fault)


def _of_vapor(weighings: Weighings, liquid: _SaidToBe) -> tuple[Weighings, _SaidToBe]:
    """Take the pressure for that of a vapor in a syringe: no liquid is left in it to have one."""
    if weighings.vapor_mass is None or liquid.vapor_pressure is None:
        return weighings, liquid
    of_vapor = Readings(**vars(weighings), vapor_pressure=liquid.vapor_pressure)
    return of_vapor, replace(liquid, vapor_pressure=None)


def _is_unread(run: Measurement) -> bool:
    """Say whether something was written that could not be read, which is said already."""
    return bool(run.unread or any(trial.unread for trial in run.trials))


def _faulty(faults: Faults) -> set[tuple[str, str]]:
    """Return file and label of the unknowns of which something was reported."""
    from identify.tables.faults import Fault

    return {(one.file, one.label) for one in faults.said if isinstance(one, Fault)}


def _option_at_fault(error: Exception) -> str:
    """Return the option on the liquid that an error is about; empty where it is about a run."""
    from identify.compounds.naming.lookup import NameFault
    from identify.notebook.quantity.quantities import QuantityError

    if isinstance(error, NameFault):
        return "--as"
    if isinstance(error, QuantityError) and error.field == "second_virial":
        error.field = ""
        return "--second-virial"
    return ""


def _typed(liquid: _SaidToBe) -> dict[str, str]:
    names = ("vapor_pressure", "second_virial", "density")
    return {name: getattr(liquid, name) for name in names if getattr(liquid, name) is not None}


def _constants(liquid: _SaidToBe, faults: Faults) -> Constants | None:
    typed = _typed(liquid)
    if not typed:
        return None
    from identify.calculations.molar_mass import Constants
    from identify.notebook.quantity.quantities import QuantityError

    try:
        return Constants(**typed)
    except QuantityError as error:
        option_name = "--" + error.field.replace("_", "-")
        error.field = ""
        faults(f"{option_name}: {error}")
        return None


def _write(
    worked: Sequence[tuple[Measurement, MolarMassResult]], shown: Work, faults: Faults
) -> None:
    from identify.answers.text import ending_lines
    from identify.answers.text.calculations.molar_mass import molar_mass_lines
    from identify.answers.text.last_line import molar_mass_answer

    def singly(tell: Callable[..., Any]) -> Iterable[Any]:
        return faults.singly((run.place, partial(tell, run, found)) for run, found in worked)

    def lines(page: Page) -> Iterator[str]:
        def one(run: Measurement, found: MolarMassResult) -> list[str]:
            place = str(run.source) if len(worked) > 1 else ""
            working = page_lines(found, (), page, shown.show_work)
            return [*molar_mass_lines(run, found, place, page), *working, ""]

        for told in singly(one):
            yield from told
        yield from ending_lines(page, molar_mass_answer([found for _, found in worked], page))

    def data() -> Any:
        each = list(singly(lambda run, found: {**found.to_dict(), "student": run.student}))
        return each[0] if len(worked) == len(each) == 1 else each

    write_answer(shown.format, lines, data, lambda: list(singly(_row)))


def _row(run: Measurement, found: MolarMassResult) -> dict[str, Any]:
    agreement = found.agreement
    return {
        "label": found.label,
        "student": run.student,
        "molar_mass": found.value,
        "standard_uncertainty": found.standard_uncertainty,
        "expanded_uncertainty": found.expanded_uncertainty,
        "interval_95_low": found.interval_95[0],
        "interval_95_high": found.interval_95[1],
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
