"""The commands as they may be typed: every option that there is, with what may stand behind it."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import fields
from functools import cache
from typing import Any, NamedTuple

from hypothesis import strategies as st

from identify.cli.app import _command
from identify.cli.options.options import Readings
from tests.fuzz.spoiling import NUMBERS, WORDS, Draw, spoiled

_TEMPERATURES = ("22.5", "98.9 C", "64.6", "300 K", "70 F", "-20 C", "boiling water", "77-79 C")
_PRESSURES = ("742", "742.0 mmHg", "98.9 kPa", "1 atm", "29.4 inHg", "1,013 hPa", "742.0(5) mmHg")
_MASSES = ("98.1132", "98.3721 g", "0.2589", "0.431 g", "258.9 mg", "0")
_VOLUMES = ("287.4", "287.4 mL", "0.2874 L", "250 mL", "100.0 + 83.6", "125 mL")
_MOLAR_MASSES = ("46.1", "46.07 g/mol", "58.1(5)", "72", "0.046 kg/mol")
_LIQUIDS = ("ethanol", "64-17-5", "acetone", "CC(C)=O", "methanol", "1-propanol", "S-01", "hexane")
_SHARES = ("1 %", "0.05", "20%", "0", "1")
_COUNTS = ("1", "2", "3", "5", "12", "40", "1000")
_FILES = ("page.toml", "section.csv", "stock.csv", "built.parquet", "index.arrow", "parts")
_TABLES = ("stock.csv", "built.parquet", *_FILES, "none.csv")

# What may stand behind an option, by its name; of one that is not here, anything.
VALUES: dict[str, Sequence[str]] = {
    **dict.fromkeys(
        ("--boiling-point", "--observed", "--bath", "--room", "--weighed-at", "--stem"),
        _TEMPERATURES,
    ),
    **dict.fromkeys(
        ("--water-temperature", "--vapor-temperature", "--refractive-index-at", "--density-at"),
        _TEMPERATURES,
    ),
    **dict.fromkeys(
        ("--boils-above", "--boils-below", "--flash-point-above", "--melting-point", "--exposed"),
        _TEMPERATURES,
    ),
    **dict.fromkeys(
        ("--pressure", "--boiling-point-at", "--at", "--to", "--vapor-pressure"), _PRESSURES
    ),
    **dict.fromkeys(
        ("--empty", "--condensed", "--gain", "--water-mass", "--vapor-mass", "--sample"), _MASSES
    ),
    **dict.fromkeys(
        ("--co2", "--h2o", "--n2", "--so2", "--agcl", "--agbr", "--agi", "--balance"), _MASSES
    ),
    **dict.fromkeys(
        ("--volume", "--water-volume", "--flask-size", "--vapor-volume", "--liquid", "--flask"),
        _VOLUMES,
    ),
    **dict.fromkeys(("--molar-mass", "--vapor-density"), _MOLAR_MASSES),
    **dict.fromkeys(("--as", "--explain", "--must-have", "--without"), _LIQUIDS),
    **dict.fromkeys(("--outside", "--humidity", "--within"), _SHARES),
    **dict.fromkeys(("--top", "--liquids", "--students", "--trials", "--copies"), _COUNTS),
    **dict.fromkeys(("--runs", "--seed", "--commonly-sold"), _COUNTS),
    **dict.fromkeys(("--candidates", "--key", "--class"), _TABLES),
    "--molar-mass-between": ("40", "60", "72 g/mol"),
    "--boiling-between": ("60 C", "80", "350 K"),
    "--percent": ("C=52.14", "C=37.48 H=12.58 O=49.93", "H=13.1", "O=0", "0.3", "none"),
    "--formula": ("C2H6O", "C4H8O2", "CHCl3", "C6H14", "H2O"),
    "--elements": ("C H O", "C H", "C,H;Cl", "C"),
    "--contains-group": ("ester", "alcohol", "ketone"),
    "--boiling-point-by": ("own", "card"),
    "--molar-mass-by": ("ideal gas",),
    "--barometer": ("mercury", "aneroid", "digital", "0.5 mmHg"),
    "--closed": ("hot",),
    "--technique": ("careful", "usual", "rough", "none", "5 %"),
    "--tolerance": ("percent=0.3", "molar-mass=3 %", "boiling-point=1", "0.4"),
    "--prior": ("classroom", "commerce", "uniform"),
    "--format": ("table", "json", "csv"),
    "--paper": ("a4", "letter"),
    "--against": ("plan", "table"),
    "--success": ("90", "99", "50"),
    "--success-of": ("mean", "worst"),
    "--report": ("page.html", "{label}.html", "{student}-{label}.htm"),
    "--plot": ("plot.svg", "{label}.png", "plot.pdf"),
    "--fix": ("fixed.csv", "fixed.xlsx"),
    "--pdf": ("cards.pdf",),
    "--html": ("cards.html",),
    "--print": ("sheet.pdf", "sheet.html"),
    "--out": ("out.json", "out.csv", "out.xlsx", "new.parquet", "new.arrow", "folder"),
    "--feedback": ("feedback", "feedback.csv"),
    "--set-aside": ("aside.csv",),
    "--jobs": ("1",),
    "--partition-rows": ("1000", "100000"),
    "--refractive-index": ("1.3611", "1.36"),
    "--density": ("0.789", "789 kg/m3"),
    "--second-virial": ("-600 cm3/mol",),
    "--latitude": ("47", "47 N"),
    "--height": ("400 m", "1600"),
    "--label": ("C-14",),
    "--smiles-column": ("smiles", "structure"),
    "--boiling-point-column": ("bp_K", "bp"),
}
_ARGUMENTS: dict[str, Sequence[str]] = {
    "files": _FILES,
    "file": _FILES,
    "stock": ("stock.csv", *_FILES),
    "table": ("built.parquet", "parts", *_FILES),
    "inputs": _FILES,
    "names": _LIQUIDS,
    "percent": ("C=59.9", "H=13.4", "O=26.7", "C=52.14"),
    "topic": ("student", "limits", "slip-possible", "mass-in-mg"),
    "out": ("new.toml", "new.csv", "new.xlsx", "page.toml"),
    "folder": ("demo", "parts"),
}
# They speak to other machines, or change the shell of whoever runs the tests.
_NEVER = {"--cluster", "--install-completion", "--show-completion"}
# One unknown's readings, which stand in the place of files.
READINGS = frozenset(
    "--flask-size" if one.name == "size" else f"--{one.name.replace('_', '-')}"
    for one in fields(Readings)
)
_SLOW = {"--runs", "--against", "--report", "--plot", "--success"}


class _Parameter(NamedTuple):
    names: tuple[str, ...]
    is_flag: bool
    count: int


@cache
def commands() -> dict[tuple[str, ...], tuple[_Parameter, ...]]:
    """Return all commands that there are, with what each takes."""
    return dict(_walked((), _command()))


def _walked(path: tuple[str, ...], command: Any) -> list[tuple[tuple[str, ...], Any]]:
    if hasattr(command, "list_commands"):
        names = command.list_commands(None)
        inner = [_walked((*path, name), command.get_command(None, name)) for name in names]
        return [one for several in inner for one in several]
    taken = [
        _Parameter((*one.opts, *one.secondary_opts), getattr(one, "is_flag", False), one.nargs)
        for one in command.params
        if not _NEVER & set(one.opts)
    ]
    return [(path, tuple(taken))]


@st.composite
def options(
    draw: Draw, command: tuple[str, ...], most: int = 3, without: Container[str] = ()
) -> tuple[str, ...]:
    """Draw some options of a command, most with what may stand behind them."""
    known = [one for one in commands()[command] if one.names[0].startswith("--")]
    known = [one for one in known if one.names[0] not in without]
    known = [one for one in known if not _SLOW & set(one.names)] * 3 + known
    typed: list[str] = []
    for one in draw(st.lists(st.sampled_from(known), max_size=most)):
        name = draw(st.sampled_from(one.names))
        typed += [name] if one.is_flag else [name, *(_behind(draw, name) for _ in range(one.count))]
    return tuple(typed)


def _behind(draw: Draw, name: str) -> str:
    valid = VALUES.get(name, ("C-14", *NUMBERS))
    way = draw(st.sampled_from(["valid"] * 8 + ["spoiled", "other"]))
    if way == "valid":
        return draw(st.sampled_from(valid))
    if way == "spoiled":
        return draw(spoiled(st.sampled_from(valid), 2))
    return draw(st.sampled_from([*NUMBERS, *WORDS, *_FILES, "\udcff"]))


@st.composite
def anything_typed(draw: Draw) -> tuple[str, ...]:
    """Draw any command with options and arguments of its kind."""
    command = draw(st.sampled_from(sorted(commands())))
    typed = list(draw(options(command, 5)))
    for one in commands()[command]:
        if one.names[0].startswith("--"):
            continue
        count = draw(st.sampled_from([1, 1, 1, 2, 0])) if one.count < 0 else one.count
        valid = _ARGUMENTS.get(one.names[0], _FILES)
        for _ in range(count):
            text = spoiled(st.sampled_from(valid), 1)
            typed.insert(draw(st.sampled_from([0, len(typed)])), draw(text))
    return (*command, *typed)
