"""``identify-unknown new``: records, sheets and tables to fill in, and pages that are asked for."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from identify.answers.cards import Paper
from identify.cli.options.options import Text, argument, option, takes, written_as
from identify.cli.options.targets import check_target
from identify.cli.terminal.output import OutputFormat
from identify.cli.terminal.streams import UNUSABLE, Faults
from identify.cli.terminal.written import WrittenFiles

if TYPE_CHECKING:
    from identify.answers.forms.tables import TableForm

_MOST_TRIALS = 6  # that a sheet of paper has room for
_RECORD, _SHEET, _TABLE = (".toml",), (".pdf",), (".xlsx", ".csv")

_HELP = """
Make something to fill in: a page of the notebook, a table for a section, one for the stock.

What is there already is never written over.

\b
Example: a page to fill in, and one that is asked for, reading by reading.
  identify-unknown new page C-14.toml --trials 3
  identify-unknown new page C-14.toml --ask

\b
Example: a sheet of paper for the bench.
  identify-unknown new page --print sheet.pdf --trials 3

\b
Example: workbooks with instructions.
  identify-unknown new section class.xlsx
  identify-unknown new stock bottles.xlsx
"""

new_app = typer.Typer(
    help=_HELP,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    invoke_without_command=True,
)


@new_app.callback()
def _show_help(context: typer.Context) -> None:
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


@dataclass(frozen=True)
class _PageWanted:
    """The page to make."""

    out: Path | None = argument("OUT.toml", "The record to write.", default=None)
    label: Text = option("TEXT", "The bottle's label; else the name of the file.")
    trials: int = option("N", "Pairs of weighings to fill in.", default=1, min=1, max=_MOST_TRIALS)
    ask: bool = option(
        None, "Ask for one reading after the other, write them, match them.", default=False
    )
    sheet: Path | None = option(
        "SHEET.pdf", "Write a data sheet for the bench, one page.", "--print"
    )
    paper: Paper = option(None, "What the sheet is printed on.", default=Paper.a4)
    format: OutputFormat = written_as()


@takes(_PageWanted)
def _page_command(wanted: _PageWanted) -> int:
    r"""Make a page: a record to fill in, or one that is asked for.

    The record says what to write where; what stays blank was not measured. With --ask, each
    reading is checked as it is typed, and the page is matched at the end.

    \b
    Example: a record for three weighings, and a sheet of paper for the bench.
      identify-unknown new page C-14.toml --trials 3 --print C-14.pdf

    \b
    Example: typed in from paper, one reading after the other.
      identify-unknown new page C-14.toml --ask

    Exit status: 0 done; 2 nothing could be written, or --ask has no terminal to ask in.
    """
    faults = Faults()
    _check_page(wanted, faults)
    if faults.count:
        return UNUSABLE
    label = wanted.label or (wanted.out.stem if wanted.out else "")
    if wanted.ask and wanted.out is not None:
        from identify.cli.commands.new.asking import ask_and_match

        return ask_and_match(wanted.out, label, (wanted.trials, _MOST_TRIALS), wanted.format)
    written = WrittenFiles(faults)
    if wanted.sheet is not None:
        written.add(wanted.sheet, "a data sheet for the bench", lambda: _sheet(wanted, label))
    if wanted.out is not None:
        what = f"a record to fill in, then: identify-unknown match {wanted.out}"
        written.add(wanted.out, what, lambda: _record(wanted, label))
    return written.answer(wanted.format)


def _check_page(wanted: _PageWanted, faults: Faults) -> None:
    if wanted.out is None and (wanted.ask or wanted.sheet is None):
        faults("OUT.toml: give the name of the record to write, or --print SHEET.pdf")
    if wanted.ask and wanted.sheet is not None:
        faults("--print: a sheet is for the bench, before anything is asked for; leave out --ask")
    _check_new("OUT.toml", wanted.out, _RECORD, faults)
    _check_new("--print", wanted.sheet, _SHEET, faults)


def _record(wanted: _PageWanted, label: str) -> bytes:
    from identify.answers.forms.record import blank_record

    return blank_record(label, wanted.trials, str(wanted.out)).encode()


def _sheet(wanted: _PageWanted, label: str) -> bytes:
    from identify.answers.forms.bench_sheet import bench_sheet

    return bench_sheet(label, wanted.trials, wanted.paper)


@dataclass(frozen=True)
class _TableWanted:
    """The table to make."""

    out: Path = argument("OUT", "A workbook (.xlsx), or headings alone (.csv).")
    format: OutputFormat = written_as()


@takes(_TableWanted)
def _section_command(wanted: _TableWanted) -> int:
    r"""Make a table for a section: one row for each weighing.

    The workbook has a sheet to fill in, which asks where a number is unusual, and a sheet of
    instructions and cautions.

    \b
    Example: a workbook for the class, and what is done with it afterwards.
      identify-unknown new section class.xlsx
      identify-unknown section class.xlsx

    Exit status: 0 done; 2 it could not be written.
    """
    from identify.answers.forms.tables import SECTION_FORM

    return _write_table(wanted, SECTION_FORM)


@takes(_TableWanted)
def _stock_command(wanted: _TableWanted) -> int:
    r"""Make a stock table: one row for each bottle.

    \b
    Example: a workbook for the stockroom, and what is done with it afterwards.
      identify-unknown new stock bottles.xlsx
      identify-unknown check-stock bottles.xlsx

    Exit status: 0 done; 2 it could not be written.
    """
    from identify.answers.forms.tables import STOCK_FORM

    return _write_table(wanted, STOCK_FORM)


new_app.command("page")(_page_command)
new_app.command("section")(_section_command)
new_app.command("stock")(_stock_command)


def _write_table(wanted: _TableWanted, form: TableForm) -> int:
    faults = Faults()
    _check_new("OUT", wanted.out, _TABLE, faults)
    if faults.count:
        return UNUSABLE
    written = WrittenFiles(faults)
    what = f"a table to fill in, then: {form.command} {wanted.out}"
    written.add(wanted.out, what, lambda: form.file(wanted.out))
    return written.answer(wanted.format)


def _check_new(name: str, target: Path | None, endings: Sequence[str], faults: Faults) -> None:
    """Report a file that cannot be written, or is there."""
    count = faults.count
    check_target(name, target, endings, (), faults)
    if faults.count == count and target is not None and os.path.lexists(target):
        faults(f"{name}: {target} is there already, and nothing is written over; give another name")
