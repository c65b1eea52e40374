"""``identify-unknown section``: a whole section's results, checked in one go."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from identify.cli.options.options import Judgment, Output, argument, option, takes
from identify.cli.options.targets import (
    PageOut,
    check_folder,
    check_page,
    check_target,
    write_page,
)
from identify.cli.options.tolerances import settings_given
from identify.cli.terminal.output import OutputFormat, write_answer
from identify.cli.terminal.progress import progress_bar, working
from identify.cli.terminal.streams import FAULTS_FOUND, UNUSABLE, Faults, complain
from identify.cli.terminal.tables import candidate_table
from identify.notebook.findings import any_error

if TYPE_CHECKING:
    from identify.matching.settings import MatchSettings
    from identify.notebook.findings import Finding
    from identify.section.result import SectionResult

_ENDINGS = (".xlsx", ".csv", ".json")


@dataclass(frozen=True)
class _SectionFiles:
    """The table of a section's trials, and what is in the bottles."""

    file: Path = argument("FILE", "A trial table (CSV, XLSX): one row a trial.")
    key: Path | None = option(
        "FILE", "A stock table (CSV, XLSX) that says what is in which bottle."
    )


@dataclass(frozen=True)
class _SectionJudgment(Judgment):
    """What the readings are compared with, and how strictly."""

    strict: bool = option(None, "Exit with 1 on a finding of severity error.", default=False)


@dataclass(frozen=True)
class _SectionOutput(Output):
    """How the result is written, and where to."""

    top: int = option("N", "Compounds of each student in JSON.", default=10, min=1)
    everyone: bool = option(
        None, "Print the students whose result needs no look, too.", "--all", default=False
    )
    out: Path | None = option(
        "FILE",
        "Write the result to a file, too: a workbook (.xlsx) with a sheet each for students, "
        "unknowns, findings and rows set aside, the students' table (.csv), or all (.json).",
    )
    feedback: Path | None = option(
        "FOLDER",
        "Write a page for each student to hand back, without key and others, and one PDF of all.",
    )


@takes(_SectionFiles, _SectionJudgment, _SectionOutput, PageOut)
def section_command(
    files: _SectionFiles, judgment: _SectionJudgment, output: _SectionOutput, page: PageOut
) -> int:
    r"""Check the results of a whole section at once.

    Takes a table with one row a trial (see match). Says for each student what the unknown could
    be, with slips and findings; for each unknown what all of its students say together; and what
    many share, such as a barometer that was misread all day.

    \b
    Example: a section's table, and the stock table: what is in the bottles.
      identify-unknown section section.csv --key stock.csv

    \b
    Example: the same as a workbook and as a page to print.
      identify-unknown section section.csv --key stock.csv \
        --out results.xlsx --report results.html

    \b
    Example: a page for each student, to hand back.
      identify-unknown section section.csv --key stock.csv --feedback pages

    In CSV a text that a spreadsheet would run as a formula, such as =1+1 or -7, gets an
    apostrophe before it; numbers stay as they are.

    Exit status: 0 done; 1 --strict found an error; 2 some input could not be used (one line a
    fault on standard error; the rest is still answered); 3 the program itself failed at some.
    """
    faults = Faults()
    inputs = (files.file, files.key, judgment.candidates)
    check_target("--out", output.out, _ENDINGS, inputs, faults)
    check_page(page, inputs, faults, "--feedback FOLDER writes a page a student")
    check_folder("--feedback", output.feedback, faults)
    settings = settings_given(judgment, faults)
    if settings is None or faults.count:
        return UNUSABLE
    section = _checked(files, judgment, settings, faults)
    if section is None:
        return UNUSABLE
    # A file that could not be read at all was told of; only a program needs an empty answer.
    if section.rows or output.format is not OutputFormat.table:
        with faults.apart(str(files.file)):
            _write(section, output)
    if output.out is not None and section.rows:
        _save(section, output.out, output.top, faults)
    if section.rows:
        from identify.answers.html.section_page import section_page

        with working("Writing pages"):
            write_page(lambda: section_page(section), page, faults)
            _give_back(section, output.feedback, inputs, faults)
    if faults.count:
        return faults.status
    return FAULTS_FOUND if judgment.strict and _has_errors(section) else 0


def _checked(
    files: _SectionFiles, judgment: _SectionJudgment, settings: MatchSettings, faults: Faults
) -> SectionResult | None:
    """Check the section, every fault reported; None where nothing could be read."""
    from identify.section import check_section
    from identify.tables import read_runs
    from identify.tables.faults import TableError

    table = candidate_table(judgment.candidates, faults)
    if table is None:
        return None
    runs = read_runs(files.file)
    for fault in runs.faults:
        faults(fault)
    try:
        with progress_bar() as bar:
            if bar is not None:
                bar.begin("Checking", len(runs))
            section = check_section(
                runs,
                files.key,
                table,
                settings.tolerances,
                settings.prior,
                bar.reach if bar is not None else None,
                settings.outside,
                settings.technique,
            )
    except TableError as error:
        faults.of_table(error)
        return None
    for line in section.told:
        complain(line)
    for failed in section.failed:
        faults(failed)
    for finding in section.findings:
        if finding.code == "key-row-unusable":
            faults(finding.message)
    return section


def _has_errors(section: SectionResult) -> bool:
    parts: list[Iterable[Finding]] = [section.findings]
    parts += [unknown.findings for unknown in section.unknowns]
    parts += [student.findings for student in section.students]
    return any(map(any_error, parts))


def _write(section: SectionResult, output: _SectionOutput) -> None:
    from identify.answers.text.section import section_lines

    if output.format is OutputFormat.csv:  # its columns are there without a student, too
        print(_csv(section), end="")
        return
    write_answer(
        output.format,
        lambda page: section_lines(section, page, output.everyone),
        lambda: _data(section, output.top),
        list,
    )


def _save(section: SectionResult, target: Path, top: int, faults: Faults) -> None:
    from identify.answers.files.data import json_text
    from identify.answers.files.workbook import write_workbook
    from identify.notebook.saving import written_beside

    place = f"--out: {target}"
    try:
        with faults.apart(place):
            if target.suffix.lower() == ".xlsx":
                write_workbook(section, target)
                return
            is_csv = target.suffix.lower() == ".csv"
            text = _csv(section) if is_csv else f"{json_text(_data(section, top))}\n"
            with written_beside(target) as beside:
                beside.write_bytes(text.encode("utf-8"))
    except OSError as error:
        faults(f"{place}: {error.strerror or error}")


def _give_back(
    section: SectionResult, folder: Path | None, inputs: Iterable[Path | None], faults: Faults
) -> None:
    if folder is None:
        return
    from identify.answers.files.feedback_folder import InputInTheWayError, write_feedback

    try:
        with faults.apart(f"--feedback: {folder}"):
            write_feedback(section, folder, inputs)
    except InputInTheWayError as error:
        faults(f"--feedback: {error}; give another folder")
    except OSError as error:
        faults(f"--feedback: {folder}: {error.strerror or error}")


def _data(section: SectionResult, top: int) -> dict[str, Any]:
    answer: dict[str, Any] = section.to_dict()
    for student in answer["students"]:
        student["candidates"] = student["candidates"][:top]
    return answer


def _csv(section: SectionResult) -> str:
    from identify.answers.files.data import csv_text
    from identify.answers.files.rows import STUDENT_TABLE

    columns = [column.key for column in STUDENT_TABLE.columns]
    return csv_text(STUDENT_TABLE.rows(section), columns)
