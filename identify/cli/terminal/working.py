"""A calculation as a command prints it: the result, what is doubtful, and the working."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol

from identify.cli.terminal.output import OutputFormat, write_answer
from identify.cli.terminal.streams import complain
from identify.notebook.errors import UnusableInput

if TYPE_CHECKING:
    from identify.answers.text import Page
    from identify.calculations.working import Step
    from identify.notebook.findings import Finding


class _WorkShown(Protocol):
    """How a calculation is written."""

    @property
    def show_work(self) -> bool:
        """Whether the formulas are shown with the numbers in."""
        ...

    @property
    def format(self) -> OutputFormat:
        """What the answer is written as."""
        ...


def tried(calculate: Callable[[], Any]) -> Any:
    """Return what a calculation gives, or None after one line on what could not be used."""
    try:
        return calculate()
    except UnusableInput as error:
        complain(str(error))
        return None


def write(
    result: Any,
    rows: Sequence[Mapping[str, Any]],
    lines: Sequence[str],
    shown: _WorkShown,
    answer: Callable[[Page], str],
    legend: str = "",
) -> None:
    """Write one result: as data, as rows, or as lines with findings and working.

    Parameters
    ----------
    result : object
    rows : sequence of mapping
        Of CSV.
    lines : sequence of str
        Its tables.
    shown : _WorkShown
    answer : callable
        From the page to the result in one line, which ends what is printed.
    legend : str
        What marks mean.
    """

    def printed(page: Page) -> list[str]:
        from identify.answers.text import ending_lines

        text = page_lines(result, lines, page, shown.show_work)
        ending = ending_lines(page, answer(page), legend, caution=False)
        if text and not text[0]:  # findings and working come after an empty line of their own
            text.pop(0)
        return [*text, *([""] if text else []), *ending]

    write_answer(shown.format, printed, result.to_dict, lambda: rows)


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
