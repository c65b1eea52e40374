"""``identify-unknown check-stock``: whether a stock table is right, and fit for a class."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from identify.cli.options.conditions import laboratory_given
from identify.cli.options.options import ClassConditions, argument, option, takes, written_as
from identify.cli.options.pouring import PouringOptions, pouring_given
from identify.cli.options.targets import PageOut, check_page, same_file, write_page
from identify.cli.options.tolerances import tolerances_given
from identify.cli.terminal.output import OutputFormat, write_answer
from identify.cli.terminal.progress import working
from identify.cli.terminal.streams import FAULTS_FOUND, UNUSABLE, Faults, complain
from identify.notebook.findings import listed

if TYPE_CHECKING:
    from identify.answers.text import Page
    from identify.stock.result import StockCheck


@dataclass(frozen=True)
class _StockToCheck:
    """The stock table, and what is to be written."""

    file: Path = argument("FILE", "A stock table (CSV, XLSX), one row a bottle.")
    fix: Path | None = option(
        "OUT", "Write a corrected copy and list every change; a file that is there is left alone."
    )
    format: OutputFormat = written_as()


@takes(_StockToCheck, ClassConditions, PouringOptions, PageOut)
def check_stock_command(
    stock: _StockToCheck, conditions: ClassConditions, poured: PouringOptions, page: PageOut
) -> int:
    r"""Check a stock table before the term: each bottle, and all of them together.

    Names, CAS numbers and SMILES are looked up; formula, molar mass, percentages and boiling point
    are compared with what the compound has. Then: cards that are another bottle's, bottles that
    the class cannot tell apart, liquids that the method does not suit, and hazards; and how much
    of each is poured in, what the class needs and what waste it makes.

    Columns: label, identity (name, CAS number or SMILES), then any of formula, molar_mass,
    boiling_point_C, percent_C, percent_H and so on.

    \b
    Example: a table, for a laboratory in the mountains.
      identify-unknown check-stock stock.csv --pressure "640 mmHg" --room "21 C"

    \b
    Example: a corrected copy.
      identify-unknown check-stock stock.xlsx --fix corrected.xlsx

    Exit status: 0 nothing is wrong (there may be warnings); 1 something is; 2 the table or one of
    its columns could not be read, or the copy not be written; 3 the program itself failed at some.
    """
    faults = Faults()
    laboratory = laboratory_given(conditions, faults)
    tolerances = tolerances_given(conditions.tolerance or (), faults)
    pouring = pouring_given(poured, faults)
    _refuse_target(stock, faults)
    check_page(page, (stock.file,), faults, "give it a plain name")
    if laboratory is None or tolerances is None or faults.count:
        return UNUSABLE
    from identify.stock import check_stock

    try:
        with working("Checking"):
            check = check_stock(stock.file, laboratory, tolerances, conditions.technique, pouring)
    except (OSError, ValueError) as error:
        faults.of_table(error)
        return UNUSABLE
    for finding in check.findings:
        if finding.code == "column-not-read":
            faults(f"{stock.file}: {finding.message}")
    copied = _write_copy(check, stock, faults)
    with faults.apart(str(stock.file)):
        _write(check, stock, copied)
    write_page(lambda: _html(check), page, faults)
    if faults.count:
        return faults.status
    return FAULTS_FOUND if check.is_wrong else 0


def _html(check: StockCheck) -> str:
    from identify.answers.html.stock_page import stock_page

    return stock_page(check)


def _refuse_target(stock: _StockToCheck, faults: Faults) -> None:
    target = stock.fix
    if target is None:
        return
    if same_file(target, stock.file):
        faults(f"--fix: {target} is the table itself, which is never written; give another name")
    elif target.exists():
        faults(f"--fix: {target} is there already; give another name, or move it away")
    elif not target.parent.is_dir():
        faults(f"--fix: {target.parent}: there is no such folder")


def _write_copy(check: StockCheck, stock: _StockToCheck, faults: Faults) -> bool:
    """Write the corrected copy; return whether there is one now."""
    if stock.fix is None:
        return False
    from identify.stock.corrections import corrected_copy

    try:
        quieted = corrected_copy(check, stock.file, stock.fix)
    except (OSError, ValueError) as error:
        faults(f"--fix: {stock.fix} could not be written ({error})")
        return False
    if quieted:
        cells = "one text that a spreadsheet would run as a formula has"
        if quieted > 1:
            cells = f"{quieted} texts that a spreadsheet would run as formulas have"
        complain(f"{stock.fix}: {cells} an apostrophe before it")
    return True


def _write(check: StockCheck, stock: _StockToCheck, copied: bool) -> None:
    write_answer(
        stock.format,
        lambda page: _lines(check, stock, copied, page),
        check.to_dict,
        lambda: _finding_rows(check.to_dict()),
    )
    if check.columns and stock.format is not OutputFormat.table:
        complain(check.columns.line(str(stock.file)))
    if copied and stock.format is not OutputFormat.table:
        complain(_copy_sentence(check, stock))


def _lines(check: StockCheck, stock: _StockToCheck, copied: bool, page: Page) -> list[str]:
    from identify.answers.text import ending_lines
    from identify.answers.text.last_line import stock_answer
    from identify.answers.text.numbers import counted
    from identify.answers.text.stock import change_lines, footnote, stock_lines

    lines = [*stock_lines(check, page), ""]
    if copied:
        lines += [*page.wrapped(_copy_sentence(check, stock)), *change_lines(check, page)]
        if left := _left_to_decide(check):
            lines += page.wrapped(left)
        lines.append("")
    elif check.changes and stock.fix is None:
        lines += page.wrapped(
            f"{counted(len(check.changes), 'cell')} can be corrected: --fix OUT writes a copy with "
            "them, and lists them."
        )
        lines.append("")
    return [*lines, *ending_lines(page, stock_answer(check), footnote(check))]


def _copy_sentence(check: StockCheck, stock: _StockToCheck) -> str:
    from identify.answers.text.numbers import counted

    if not check.changes:
        return f"Nothing to correct: {stock.fix} holds the same as {stock.file}."
    return f"{stock.fix} is the corrected copy, with {counted(len(check.changes), 'change')}."


def _left_to_decide(check: StockCheck) -> str:
    """Say which rows only a look at the bottles can set right."""
    from identify.stock.corrections import left_to_decide

    left = [row.title for row in left_to_decide(check)]
    return f"Left for you to decide: {listed(left)}." if left else ""


def _finding_rows(check: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield one row a bottle and finding from a check in the JSON's form.

    A bottle without findings has one row all the same; findings on the table as a whole come last,
    without a bottle.
    """
    alike = {
        row: [
            label
            for label, other in zip(group["labels"], group["rows"], strict=True)
            if other != row
        ]
        for group in check["groups"]
        for row in group["rows"]
    }
    for row in check["rows"]:
        bottle = {
            "row": row["row"],
            "label": row["label"],
            "written": row["written"],
            **row["identity"],
            "boiling_point_C": row["boiling_point_C"],
            "not_told_apart_from": ", ".join(alike.get(row["row"], ())),
        }
        for finding in row["findings"] or [{}]:
            yield {**bottle, **_cells(finding)}
    for finding in check["findings"]:
        yield _cells(finding)


def _cells(finding: dict[str, Any]) -> dict[str, str]:
    return {name: finding.get(name, "") for name in ("severity", "code", "message", "advice")}
