"""The options that commands share, as groups, and the decorator that gives them to a command."""

from __future__ import annotations

import functools
import inspect
import sys
from collections.abc import Callable, Iterator
from dataclasses import MISSING, Field, dataclass, field, fields, make_dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

import typer
from typer.models import OptionInfo

from identify.cli.terminal.output import OutputFormat
from identify.cli.terminal.streams import (
    FAILED,
    INTERRUPTED,
    READER_GONE,
    UNUSABLE,
    complain,
    leave_pipe,
    output_failed,
)
from identify.notebook.errors import program_failed
from identify.observables.catalog import LIQUID_CONSTANTS, OBSERVABLES


class _PriorName(StrEnum):
    """How likely a compound is before anything is measured."""

    classroom = "classroom"
    commerce = "commerce"
    uniform = "uniform"


Text = str | None
Texts = list[str] | None


_TYPED = "typed"  # what a field of a group is on the command line


def option(
    metavar: str | None,
    help_text: str,
    name: str = "",
    *,
    default: Any = None,
    **limits: Any,
) -> Any:
    """Make a field of a group an option.

    Parameters
    ----------
    metavar : str or None
        What stands for its value in the help.
    help_text : str
    name : str, optional
        ``--`` and the field's name where not given.
    default : Any, default=None
        `MISSING` where the option must be there.
    limits
        ``min`` and ``max`` of a number.
    """
    shown = default is not None
    names = (name,) if name else ()
    typed = typer.Option(..., *names, metavar=metavar, help=help_text, show_default=shown, **limits)
    return field(default=default, metadata={_TYPED: typed})


def argument(metavar: str, help_text: str, default: Any = MISSING) -> Any:
    """Make a field of a group an argument, which must be there where it has no default."""
    shown = default is not None
    typed = typer.Argument(metavar=metavar, help=help_text, show_default=shown)
    return field(default=default, metadata={_TYPED: typed})


# Options that many commands have.


def candidates_file() -> Any:
    """Make the option of a table in place of the built-in one."""
    return option("FILE", "A stock table (CSV, XLSX, Parquet) for the built-in one.")


def written_as() -> Any:
    """Make the option of how an answer is written."""
    return option(None, "How to write it.", default=OutputFormat.table)


@dataclass(frozen=True)
class Files:
    """Run records and trial tables."""

    files: list[Path] | None = argument(
        "FILE", "Run records (TOML) and trial tables (CSV, XLSX).", default=None
    )

    @property
    def paths(self) -> tuple[Path, ...]:
        """The files, none where the readings are typed."""
        return tuple(self.files or ())


@dataclass(frozen=True)
class Weighings:
    """One unknown's card and weighings, typed in instead of a file."""

    label: Text = option("TEXT", "The bottle's label.")
    boiling_point: Text = option("QUANTITY", "In C unless you say K or F.")
    boiling_point_at: Text = option("QUANTITY", "Its pressure; 760 mmHg where not given.")
    boiling_point_by: Text = option("WHO", "own where you read it; else the card.")
    percent: Texts = option("C=52.1", "Percent by mass; repeat it, or quote several in one.")
    formula: Text = option("C2H6O", "Or the formula, in place of a composition.")
    empty: Texts = option("QUANTITY", "Flask and foil, in g; repeat for more trials.")
    condensed: Texts = option("QUANTITY", "Flask, foil and condensed liquid, in g; repeat.")
    gain: Texts = option("QUANTITY", "Or: the difference of the two, in g; repeat.")
    bath: Texts = option("QUANTITY", 'The bath, in C, or "boiling water"; once, or once a trial.')
    weighed_at: Texts = option(
        "QUANTITY", "The cooled flask as it was weighed; else the room's, in C."
    )
    liquid: Texts = option("QUANTITY", "What was poured in, in mL; only checked to be enough.")
    room: Text = option("QUANTITY", "The room, in C.")
    pressure: Text = option("QUANTITY", "The barometer, in mmHg unless you say.")
    barometer: Text = option("KIND", "aneroid, digital, or mercury: then it is corrected,")
    latitude: Text = option("DEGREES", "also for gravity at this latitude")
    height: Text = option("QUANTITY", "and this height, in m.")
    humidity: Text = option("QUANTITY", "Relative humidity of the room, in %.")
    volume: Text = option("QUANTITY", "The flask's brim volume, in mL.")
    water_mass: Text = option("QUANTITY", "Or: the water that fills it, in g,")
    water_temperature: Text = option("QUANTITY", "and that water's temperature, in C.")
    water_volume: Texts = option("QUANTITY", "Or: its volume, in mL; fills add: 100.0 + 83.6.")
    size: Text = option("QUANTITY", "Or only what is printed on the flask, in mL.", "--flask-size")
    closed: Text = option("hot", "It was stoppered while hot: no air came back.")
    vapor_mass: Text = option("QUANTITY", "A liquid vaporized in a syringe: its mass, in g,")
    vapor_volume: Text = option("QUANTITY", "the volume of its vapor, in mL,")
    vapor_temperature: Text = option("QUANTITY", "and its temperature, in C.")

    def given(self) -> tuple[str, ...]:
        """Return the names of the options that were typed."""
        return tuple(
            field.name for field in fields(self) if getattr(self, field.name) not in (None, (), [])
        )


def _constant_options() -> Iterator[tuple[str, Any, Any]]:
    """Yield an option for each constant of the liquid, and for the temperature of its reading."""
    for name, constant in LIQUID_CONSTANTS.items():
        metavar = "NUMBER" if constant.unit == "1" else "QUANTITY"
        about = f"{constant.help}{',' if constant.has_temperature else '.'}"
        yield name, Text, option(metavar, about)
        if constant.has_temperature:
            yield (
                f"{name}_at",
                Text,
                option("QUANTITY", "at this temperature; 20 C where not given."),
            )


@dataclass(frozen=True)
class Burned:
    """A sample and what it burned to."""

    sample: Text = option("QUANTITY", "Mass of what was burned, in g.")
    co2: Text = option("QUANTITY", "Carbon dioxide collected, in g.")
    h2o: Text = option("QUANTITY", "Water collected, in g.")
    n2: Text = option("QUANTITY", "Nitrogen collected, in g.")
    so2: Text = option("QUANTITY", "Sulfur dioxide collected, in g.")
    agcl: Text = option("QUANTITY", "Silver chloride weighed, in g.")
    agbr: Text = option("QUANTITY", "Silver bromide weighed, in g.")
    agi: Text = option("QUANTITY", "Silver iodide weighed, in g.")


@dataclass(frozen=True)
class _WeighingsOrMolarMass(Burned, Weighings):
    """One unknown's weighings, or the molar mass that was worked out from them before."""

    vapor_pressure: Text = option("QUANTITY", "Of a vapor in a syringe; else the barometer's.")
    molar_mass: Text = option("QUANTITY", "Already worked out, in g/mol.")
    molar_mass_by: Text = option("HOW", "ideal gas where it is m R T / (P V).")
    vapor_density: Text = option("QUANTITY", "Or: relative to hydrogen, unless you say (air).")


if TYPE_CHECKING:
    Readings = _WeighingsOrMolarMass
else:
    # One unknown's readings: weighings, card, and every constant of the liquid that there is.
    Readings = make_dataclass(
        "Readings", list(_constant_options()), bases=(_WeighingsOrMolarMass,), frozen=True
    )


def tolerance_option() -> Any:
    """Make the option of tolerances."""
    usual = (
        f"{one.option}={one.tolerance:g}"
        + (f" ({one.tolerance_unit})" if one.tolerance_unit else "")
        for one in OBSERVABLES.values()
    )
    return option("NAME=VALUE", f"{', '.join(usual)}; repeat it.")


def technique_option() -> Any:
    """Make the option of how well a class works."""
    return option(
        "WORD",
        "How well the class weighs: careful (2.5 %), usual, rough, a percentage, or none beyond "
        "what is stated; a mixture of good, usual and rough where not given.",
    )


@dataclass(frozen=True)
class Where:
    """Where a class works."""

    pressure: Text = option("QUANTITY", "Of the laboratory's air, in mmHg; else 760 mmHg.")
    room: Text = option("QUANTITY", "Temperature of the room, in C; else 22 C.")
    bath: Text = option("QUANTITY", "Of the bath, in C; else that of water that simmers there.")


@dataclass(frozen=True)
class ClassConditions(Where):
    """Where a class works, and how well it reads."""

    technique: Text = option(
        "WORD",
        "How well the class weighs: careful (2.5 %, where not given), usual, rough, none, or "
        "a percentage.",
    )
    tolerance: Texts = tolerance_option()


@dataclass(frozen=True)
class Judgment:
    """What the readings are compared with, and how strictly."""

    candidates: Path | None = option(
        "FILE",
        "A stock table (CSV, XLSX, Parquet) for the built-in one; match also takes an index "
        "(.arrow), or a folder with a table in parts.",
    )
    prior: _PriorName = option(
        None,
        "Favor what classes are handed, or what is sold, or treat all alike.",
        default=_PriorName.classroom,
    )
    outside: str = option(
        "SHARE", "Assumed share of liquids that are not in the table: 5 %, or 0.05.", default="1 %"
    )
    technique: Text = technique_option()
    tolerance: Texts = tolerance_option()
    strict: bool = option(
        None, "Exit with 1 on a finding of severity error, or no match.", default=False
    )


@dataclass(frozen=True)
class Reasons:
    """Why a compound is as probable as it is, in numbers and as a picture."""

    explain: Text = option(
        "LABEL_OR_NAME",
        "Say what speaks for and against this compound (name, CAS number, SMILES, InChIKey), "
        "or this bottle of the stock table.",
    )
    plot: Path | None = option(
        "FILE",
        "Draw how far each reading is from the first compounds (png, svg, pdf). Where there "
        "are several unknowns, with {label} in the name, and {student} if need be.",
    )


@dataclass(frozen=True)
class Output:
    """How the answer is written."""

    top: int = option("N", "Compounds shown for each unknown.", default=10, min=1)
    format: OutputFormat = written_as()


@dataclass(frozen=True)
class Work:
    """How a calculation is written."""

    show_work: bool = option(
        None, "Show the formulas with the numbers in.", "--show-work/--no-show-work", default=True
    )
    format: OutputFormat = written_as()


def takes(*groups: type[Any]) -> Callable[[Callable[..., int]], Callable[..., None]]:
    """Give a command the options of these dataclasses; it is called with one object a group.

    The command returns its exit status. Whatever goes wrong inside it ends in one line on
    standard error.
    """

    def give(command: Callable[..., int]) -> Callable[..., None]:
        hints = {
            one.name: Annotated[types[one.name], _named(one)]
            for group, types in zip(groups, map(get_type_hints, groups), strict=True)
            for one in fields(group)
        }

        @functools.wraps(command)
        def run(**typed: Any) -> None:
            filled = [
                group(**{field.name: typed[field.name] for field in fields(group)})
                for group in groups
            ]
            status = _guarded(lambda: command(*filled))
            if status:
                raise typer.Exit(status)

        signature = inspect.Signature(
            [
                inspect.Parameter(
                    field.name,
                    inspect.Parameter.KEYWORD_ONLY,
                    default=inspect.Parameter.empty if field.default is MISSING else field.default,
                    annotation=hints[field.name],
                )
                for group in groups
                for field in fields(group)
            ]
        )
        run.__dict__.pop("__wrapped__", None)
        run.__dict__["__signature__"] = signature
        run.__annotations__ = hints
        # A line of \b alone keeps the lines that follow as they are: the worked examples.
        run.__doc__ = (command.__doc__ or "").replace("\\b\n", "\b\n")
        return run

    return give


def _named(one: Field[Any]) -> Any:
    """Return the option or argument that a field is, the option with its name."""
    typed = one.metadata[_TYPED]
    if isinstance(typed, OptionInfo) and not typed.param_decls:
        typed.param_decls = (f"--{one.name.replace('_', '-')}",)
    return typed


def _guarded(command: Callable[[], int]) -> int:
    try:
        status = command()
        sys.stdout.flush()
        return status
    except BrokenPipeError:
        leave_pipe()
        return READER_GONE
    except KeyboardInterrupt:
        return INTERRUPTED
    except typer.Exit:
        raise
    except MemoryError:
        complain("not enough memory for this; give fewer or smaller files")
        return UNUSABLE
    except OSError as error:  # files are answered for where they are used
        return output_failed(error)
    except Exception as error:
        # Standard usage errors of typer are not ours to reword here.
        if hasattr(error, "format_message"):
            raise
        complain(program_failed(error))
        return FAILED
