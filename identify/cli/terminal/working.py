"""A calculation as a command prints it: the result, what is doubtful, and the working."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

import typer

from identify.cli.options.options import OutputFormat
from identify.cli.terminal.streams import complain

if TYPE_CHECKING:
    from identify.answers.text import Page
    from identify.calculations.working import Step
    from identify.notebook.findings import Finding


@dataclass(frozen=True)
class Shown:
    """How a calculation is written."""

    show_work: Annotated[
        bool,
        typer.Option("--show-work/--no-show-work", help="Show the formulas with the numbers in."),
    ] = True
    format: Annotated[OutputFormat, typer.Option("--format", help="How to write it.")] = (
        OutputFormat.table
    )


def tried(calculate: Callable[[], Any]) -> Any:
    """Return what a calculation gives, or None after one line on what could not be used."""
    try:
        return calculate()
    except ValueError as error:
        complain(str(error))
        return None


def write(
    result: Any, rows: Sequence[Mapping[str, Any]], lines: Sequence[str], shown: Shown
) -> None:
    """Write one result: as data, as rows, or as these lines with findings and working."""
    from identify.answers.text import Page

    page = Page.of()
    if shown.format is OutputFormat.table:
        print("\n".join(page_lines(result, lines, page, shown.show_work)))
        return
    from identify.answers.files.data import csv_text, json_text

    if shown.format is OutputFormat.json:
        print(json_text(result.to_dict(), page.unicode))
    else:
        print(csv_text(rows), end="")


def page_lines(result: Any, lines: Sequence[str], page: Page, show_work: bool) -> list[str]:
    """Return the result's own lines, its findings and, if wanted, its working."""
    from identify.answers.text import finding_lines

    findings: Sequence[Finding] = getattr(result, "findings", ())
    steps: Sequence[Step] = result.work
    text = [page.text(line) for line in lines]
    for finding in findings:
        text += ["", *finding_lines(finding, page)]
    if show_work and steps:
        text += ["", page.emphasized("Working")]
        for step in steps:
            text += page.wrapped(step.what, "  ")
            for line in (step.formula, f"= {step.numbers}", f"= {step.result}"):
                text += page.wrapped(line, "    ", "      ")
    return text
