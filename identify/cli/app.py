"""The command ``identify-unknown`` and its parts."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import cache
from typing import Annotated, Any

import typer
from typer.main import get_command

from identify.cli.commands.calculate import (
    boiling_point_command,
    composition_command,
    formula_command,
)
from identify.cli.commands.candidates.lookup import candidates_app
from identify.cli.commands.cards import cards_command
from identify.cli.commands.check_stock import check_stock_command
from identify.cli.commands.guide import guide_command
from identify.cli.commands.match import match_command
from identify.cli.commands.molar_mass import molar_mass_command
from identify.cli.commands.new.forms import new_app
from identify.cli.commands.plan import plan_command
from identify.cli.commands.section import section_command
from identify.cli.terminal.streams import (
    INTERRUPTED,
    UNUSABLE,
    complain,
    ended_as_from_the_keyboard,
    output_failed,
    prepare_streams,
)

PROGRAM = "identify-unknown"

# A line of \b alone keeps the lines that follow as they are.
_HELP = """
Say what an unknown volatile liquid could be, from what was measured on it.

Takes vapor-density weighings (or a molar mass), percent composition and boiling point, and
ranks the compounds that would have given those readings.

\b
Example: a notebook page as a file, then the same kind of readings typed in.
  identify-unknown match notebook.toml
  identify-unknown match --molar-mass 46.1 --boiling-point "78.4 C"
"""

# No markup and no decorated tracebacks: plain help starts a tenth of a second sooner.
app = typer.Typer(
    name=PROGRAM, rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=True
)
app.command("match")(match_command)
app.command("molar-mass")(molar_mass_command)
app.command("composition")(composition_command)
app.command("formula")(formula_command)
app.command("boiling-point")(boiling_point_command)
app.add_typer(candidates_app, name="candidates")
app.command("check-stock")(check_stock_command)
app.command("cards")(cards_command)
app.command("section")(section_command)
app.command("plan")(plan_command)
app.add_typer(new_app, name="new")
app.command("guide")(guide_command)


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import PackageNotFoundError, version

        try:
            number = version(PROGRAM)
        except PackageNotFoundError:
            number = "(a checkout that is not installed)"
        typer.echo(f"{PROGRAM} {number}")
        raise typer.Exit


@app.callback(invoke_without_command=True, help=_HELP)
def _top(
    context: typer.Context,
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_show_version, is_eager=True, help="Show the version and stop."
        ),
    ] = False,
) -> None:
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


@cache
def _command() -> Any:
    """Return all commands with their options, made once: that takes as long as a match."""
    return get_command(app)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status.

    Parameters
    ----------
    arguments : sequence of str, optional
        What was typed after the command's name; ``sys.argv`` where not given.

    Returns
    -------
    int
        0 done; 1 ``--strict`` found faults; 2 unusable input, each fault in one line on standard
        error; 130 interrupted from the keyboard, or asked to end; 141 the reader of a pipe went
        away.
    """
    prepare_streams()
    given = None if arguments is None else list(arguments)
    try:
        with ended_as_from_the_keyboard():
            status = _command()(args=given, prog_name=PROGRAM, standalone_mode=False)
        sys.stdout.flush()
    except (KeyboardInterrupt, typer.Abort):
        return INTERRUPTED
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else 0
    except OSError as error:
        return output_failed(error)
    except Exception as error:
        _complain_about_usage(error)
        return UNUSABLE
    return status if isinstance(status, int) else 0


def _complain_about_usage(error: Exception) -> None:
    # Errors about options carry their text in format_message, in every version of typer.
    describe = getattr(error, "format_message", None)
    if describe is None:
        complain(f"the program itself failed ({type(error).__name__}: {error}); please report it")
        return
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else PROGRAM
    said = describe().removeprefix("Value error, ").rstrip(".?")
    complain(f"{command}: {said}; see {command} --help")
