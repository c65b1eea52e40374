"""The command ``identify-unknown`` and its parts."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import cache
from importlib import import_module
from typing import Annotated, Any

import typer
from typer.core import TyperGroup
from typer.main import get_command

from identify.cli.options.plain import take_plain_values
from identify.cli.terminal.streams import (
    FAILED,
    INTERRUPTED,
    UNUSABLE,
    Faults,
    complain,
    ended_as_from_the_keyboard,
    output_failed,
    prepare_streams,
)
from identify.notebook.errors import program_failed

_PROGRAM = "identify-unknown"

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

# Where each command is defined; it is imported when it is asked for.
_HOMES = {
    "match": ("match", "match_command"),
    "molar-mass": ("molar_mass", "molar_mass_command"),
    "composition": ("calculate", "composition_command"),
    "formula": ("calculate", "formula_command"),
    "boiling-point": ("calculate", "boiling_point_command"),
    "candidates": ("candidates.lookup", "candidates_app"),
    "check-stock": ("check_stock", "check_stock_command"),
    "cards": ("cards", "cards_command"),
    "section": ("section", "section_command"),
    "plan": ("plan", "plan_command"),
    "new": ("new.forms", "new_app"),
    "demo": ("demo", "demo_command"),
    "guide": ("guide", "guide_command"),
}


class _Commands(TyperGroup):
    """The commands, each made when it is asked for: a match waits for no other."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(_HOMES)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        return _made(cmd_name) if cmd_name in _HOMES else None


@cache
def _made(name: str) -> Any:
    module, defined = _HOMES[name]
    home = getattr(import_module(f"identify.cli.commands.{module}"), defined)
    if isinstance(home, typer.Typer):
        command = get_command(home)
    else:
        alone = typer.Typer(rich_markup_mode=None, add_completion=False)
        alone.command(name)(home)
        command = take_plain_values(get_command(alone), home.__annotations__)
    command.name = name
    return command


# No markup and no decorated tracebacks: plain help starts a tenth of a second sooner.
app = typer.Typer(
    name=_PROGRAM,
    cls=_Commands,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=True,
)


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import PackageNotFoundError, version

        try:
            number = version(_PROGRAM)
        except PackageNotFoundError:
            number = "(a checkout that is not installed)"
        typer.echo(f"{_PROGRAM} {number}")
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
    return take_plain_values(get_command(app))


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
        error; 3 the program itself failed; 130 interrupted from the keyboard, or asked to end;
        141 the reader of a pipe went away.
    """
    prepare_streams()
    given = None if arguments is None else list(arguments)
    try:
        with ended_as_from_the_keyboard(), Faults.told_to_the_end():
            status = _command()(args=given, prog_name=_PROGRAM, standalone_mode=False)
        sys.stdout.flush()
    except (KeyboardInterrupt, typer.Abort):
        return INTERRUPTED
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else 0
    except OSError as error:
        return output_failed(error)
    except Exception as error:
        return _usage_or_failure(error)
    return status if isinstance(status, int) else 0


def _usage_or_failure(error: Exception) -> int:
    # Errors about options carry their text in format_message, in every version of typer.
    describe = getattr(error, "format_message", None)
    if describe is None:
        complain(program_failed(error))
        return FAILED
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else _PROGRAM
    said = describe().removeprefix("Value error, ").rstrip(".?")
    complain(f"{command}: {said}; see {command} --help")
    return UNUSABLE
