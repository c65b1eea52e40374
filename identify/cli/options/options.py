"""The options that commands share, as groups, and the decorator that gives them to a command."""

from __future__ import annotations

import functools
import inspect
import sys
from collections.abc import Callable, Iterator
from dataclasses import MISSING, dataclass, fields, make_dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

import typer

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


def option(name: str, metavar: str, help_text: str) -> Any:
    """Describe an option that may be missing."""
    return typer.Option(name, metavar=metavar, help=help_text, show_default=False)


# Options that many commands have.
CandidatesFile = Annotated[
    Path | None,
    option("--candidates", "FILE", "A stock table (CSV, XLSX, Parquet) for the built-in one."),
]
WrittenAs = Annotated[OutputFormat, typer.Option("--format", help="How to write it.")]


@dataclass(frozen=True)
class Files:
    """Run records and trial tables."""

    files: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="FILE",
            help="Run records (TOML) and trial tables (CSV, XLSX).",
            show_default=False,
        ),
    ] = None

    @property
    def paths(self) -> tuple[Path, ...]:
        """The files, none where the readings are typed."""
        return tuple(self.files or ())


@dataclass(frozen=True)
class Weighings:
    """One unknown's card and weighings, typed in instead of a file."""

    label: Annotated[Text, option("--label", "TEXT", "The bottle's label.")] = None
    boiling_point: Annotated[
        Text, option("--boiling-point", "QUANTITY", "In C unless you say K or F.")
    ] = None
    boiling_point_at: Annotated[
        Text,
        option("--boiling-point-at", "QUANTITY", "Its pressure; 760 mmHg where not given."),
    ] = None
    boiling_point_by: Annotated[
        Text, option("--boiling-point-by", "WHO", "own where you read it; else the card.")
    ] = None
    percent: Annotated[
        Texts,
        option("--percent", "C=52.1", "Percent by mass; repeat it, or quote several in one."),
    ] = None
    formula: Annotated[
        Text, option("--formula", "C2H6O", "Or the formula, in place of a composition.")
    ] = None
    empty: Annotated[
        Texts, option("--empty", "QUANTITY", "Flask and foil, in g; repeat for more trials.")
    ] = None
    condensed: Annotated[
        Texts,
        option("--condensed", "QUANTITY", "Flask, foil and condensed liquid, in g; repeat."),
    ] = None
    gain: Annotated[
        Texts, option("--gain", "QUANTITY", "Or: the difference of the two, in g; repeat.")
    ] = None
    bath: Annotated[
        Texts,
        option("--bath", "QUANTITY", 'The bath, in C, or "boiling water"; once, or once a trial.'),
    ] = None
    weighed_at: Annotated[
        Texts,
        option(
            "--weighed-at", "QUANTITY", "The cooled flask as it was weighed; else the room's, in C."
        ),
    ] = None
    liquid: Annotated[
        Texts,
        option("--liquid", "QUANTITY", "What was poured in, in mL; only checked to be enough."),
    ] = None
    room: Annotated[Text, option("--room", "QUANTITY", "The room, in C.")] = None
    pressure: Annotated[
        Text, option("--pressure", "QUANTITY", "The barometer, in mmHg unless you say.")
    ] = None
    barometer: Annotated[
        Text,
        option("--barometer", "KIND", "aneroid, digital, or mercury: then it is corrected,"),
    ] = None
    latitude: Annotated[
        Text, option("--latitude", "DEGREES", "also for gravity at this latitude")
    ] = None
    height: Annotated[Text, option("--height", "QUANTITY", "and this height, in m.")] = None
    humidity: Annotated[
        Text, option("--humidity", "QUANTITY", "Relative humidity of the room, in %.")
    ] = None
    volume: Annotated[Text, option("--volume", "QUANTITY", "The flask's brim volume, in mL.")] = (
        None
    )
    water_mass: Annotated[
        Text, option("--water-mass", "QUANTITY", "Or: the water that fills it, in g,")
    ] = None
    water_temperature: Annotated[
        Text, option("--water-temperature", "QUANTITY", "and that water's temperature, in C.")
    ] = None
    water_volume: Annotated[
        Texts,
        option("--water-volume", "QUANTITY", "Or: its volume, in mL; fills add: 100.0 + 83.6."),
    ] = None
    size: Annotated[
        Text, option("--flask-size", "QUANTITY", "Or only what is printed on the flask, in mL.")
    ] = None
    closed: Annotated[
        Text, option("--closed", "hot", "It was stoppered while hot: no air came back.")
    ] = None
    vapor_mass: Annotated[
        Text, option("--vapor-mass", "QUANTITY", "A liquid vaporized in a syringe: its mass, in g,")
    ] = None
    vapor_volume: Annotated[
        Text, option("--vapor-volume", "QUANTITY", "the volume of its vapor, in mL,")
    ] = None
    vapor_temperature: Annotated[
        Text, option("--vapor-temperature", "QUANTITY", "and its temperature, in C.")
    ] = None

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
        yield name, Annotated[Text, option(f"--{constant.option}", metavar, about)], None
        if constant.has_temperature:
            at = option(
                f"--{constant.option}-at",
                "QUANTITY",
                "at this temperature; 20 C where not given.",
            )
            yield f"{name}_at", Annotated[Text, at], None


@dataclass(frozen=True)
class Burned:
    """A sample and what it burned to."""

    sample: Annotated[Text, option("--sample", "QUANTITY", "Mass of what was burned, in g.")] = None
    co2: Annotated[Text, option("--co2", "QUANTITY", "Carbon dioxide collected, in g.")] = None
    h2o: Annotated[Text, option("--h2o", "QUANTITY", "Water collected, in g.")] = None
    n2: Annotated[Text, option("--n2", "QUANTITY", "Nitrogen collected, in g.")] = None
    so2: Annotated[Text, option("--so2", "QUANTITY", "Sulfur dioxide collected, in g.")] = None
    agcl: Annotated[Text, option("--agcl", "QUANTITY", "Silver chloride weighed, in g.")] = None
    agbr: Annotated[Text, option("--agbr", "QUANTITY", "Silver bromide weighed, in g.")] = None
    agi: Annotated[Text, option("--agi", "QUANTITY", "Silver iodide weighed, in g.")] = None


@dataclass(frozen=True)
class _WeighingsOrMolarMass(Burned, Weighings):
    """One unknown's weighings, or the molar mass that was worked out from them before."""

    vapor_pressure: Annotated[
        Text,
        option("--vapor-pressure", "QUANTITY", "Of a vapor in a syringe; else the barometer's."),
    ] = None
    molar_mass: Annotated[
        Text, option("--molar-mass", "QUANTITY", "Already worked out, in g/mol.")
    ] = None
    molar_mass_by: Annotated[
        Text, option("--molar-mass-by", "HOW", "ideal gas where it is m R T / (P V).")
    ] = None
    vapor_density: Annotated[
        Text,
        option("--vapor-density", "QUANTITY", "Or: relative to hydrogen, unless you say (air)."),
    ] = None


if TYPE_CHECKING:
    Readings = _WeighingsOrMolarMass
else:
    # One unknown's readings: weighings, card, and every constant of the liquid that there is.
    Readings = make_dataclass(
        "Readings", list(_constant_options()), bases=(_WeighingsOrMolarMass,), frozen=True
    )

_TOLERANCE = option(
    "--tolerance",
    "NAME=VALUE",
    ", ".join(
        f"{one.option}={one.tolerance:g}"
        + (f" ({one.tolerance_unit})" if one.tolerance_unit else "")
        for one in OBSERVABLES.values()
    )
    + "; repeat it.",
)


TechniqueText = Annotated[
    Text,
    option(
        "--technique",
        "WORD",
        "How well the class weighs: careful (2.5 %), usual, rough, a percentage, or none beyond "
        "what is stated; a mixture of good, usual and rough where not given.",
    ),
]


@dataclass(frozen=True)
class Where:
    """Where a class works."""

    pressure: Annotated[
        Text, option("--pressure", "QUANTITY", "Of the laboratory's air, in mmHg; else 760 mmHg.")
    ] = None
    room: Annotated[
        Text, option("--room", "QUANTITY", "Temperature of the room, in C; else 22 C.")
    ] = None
    bath: Annotated[
        Text,
        option("--bath", "QUANTITY", "Of the bath, in C; else that of water that simmers there."),
    ] = None


@dataclass(frozen=True)
class ClassConditions(Where):
    """Where a class works, and how well it reads."""

    technique: Annotated[
        Text,
        option(
            "--technique",
            "WORD",
            "How well the class weighs: careful (2.5 %, where not given), usual, rough, none, or "
            "a percentage.",
        ),
    ] = None
    tolerance: Annotated[Texts, _TOLERANCE] = None


@dataclass(frozen=True)
class Judgment:
    """What the readings are compared with, and how strictly."""

    candidates: Annotated[
        Path | None,
        option(
            "--candidates",
            "FILE",
            "A stock table (CSV, XLSX, Parquet) for the built-in one; match also takes an index "
            "(.arrow), or a folder with a table in parts.",
        ),
    ] = None
    prior: Annotated[
        _PriorName,
        typer.Option(
            "--prior", help="Favor what classes are handed, or what is sold, or treat all alike."
        ),
    ] = _PriorName.classroom
    outside: Annotated[
        str,
        typer.Option(
            "--outside",
            metavar="SHARE",
            help="Assumed share of liquids that are not in the table: 5 %, or 0.05.",
        ),
    ] = "1 %"
    technique: TechniqueText = None
    tolerance: Annotated[Texts, _TOLERANCE] = None
    strict: Annotated[
        bool,
        typer.Option("--strict", help="Exit with 1 on a finding of severity error, or no match."),
    ] = False


@dataclass(frozen=True)
class Reasons:
    """Why a compound is as probable as it is, in numbers and as a picture."""

    explain: Annotated[
        Text,
        option(
            "--explain",
            "LABEL_OR_NAME",
            "Say what speaks for and against this compound (name, CAS number, SMILES, InChIKey), "
            "or this bottle of the stock table.",
        ),
    ] = None
    plot: Annotated[
        Path | None,
        option(
            "--plot",
            "FILE",
            "Draw how far each reading is from the first compounds (png, svg, pdf). Where there "
            "are several unknowns, with {label} in the name, and {student} if need be.",
        ),
    ] = None


@dataclass(frozen=True)
class Output:
    """How the answer is written."""

    top: Annotated[
        int, typer.Option("--top", min=1, metavar="N", help="Compounds shown for each unknown.")
    ] = 10
    format: WrittenAs = OutputFormat.table


@dataclass(frozen=True)
class Work:
    """How a calculation is written."""

    show_work: Annotated[
        bool,
        typer.Option("--show-work/--no-show-work", help="Show the formulas with the numbers in."),
    ] = True
    format: WrittenAs = OutputFormat.table


def takes(*groups: type[Any]) -> Callable[[Callable[..., int]], Callable[..., None]]:
    """Give a command the options of these dataclasses; it is called with one object a group.

    The command returns its exit status. Whatever goes wrong inside it ends in one line on
    standard error.
    """

    def give(command: Callable[..., int]) -> Callable[..., None]:
        hints = {
            name: hint
            for group in groups
            for name, hint in get_type_hints(group, include_extras=True).items()
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
