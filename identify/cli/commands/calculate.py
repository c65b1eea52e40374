"""The bench calculations with their working: composition, formula, boiling-point."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from identify.cli.options.options import (
    Burned,
    Text,
    Work,
    argument,
    candidates_file,
    option,
    takes,
)
from identify.cli.terminal.streams import UNUSABLE, Faults, complain
from identify.cli.terminal.tables import candidate_table
from identify.cli.terminal.working import tried, write


@dataclass(frozen=True)
class _BurnedWhole(Burned):
    """A sample and what it burned to, and what is left."""

    oxygen: bool = option(
        None, "What is left to 100 % is oxygen.", "--oxygen/--no-oxygen", default=True
    )


@takes(_BurnedWhole, Work)
def composition_command(burned: _BurnedWhole, shown: Work) -> int:
    r"""Work out a percent composition from the masses of a combustion.

    \b
    Example: a compound of carbon, hydrogen and oxygen.
      identify-unknown composition --sample "0.4310 g" --co2 "0.8235 g" \
        --h2o "0.5057 g"
    """
    from identify.calculations.composition import composition
    from identify.notebook.composition.combustion import PRODUCT_OF

    masses = {
        formula: mass
        for formula in PRODUCT_OF
        if (mass := getattr(burned, formula.lower())) is not None
    }
    if burned.sample is None or not masses:
        complain("give --sample and at least one of --co2, --h2o; see composition --help")
        return UNUSABLE
    found = tried(lambda: composition(burned.sample or "", masses, burned.oxygen))
    if found is None:
        return UNUSABLE
    rows = [
        {
            "element": element,
            "percent": share.value,
            "percent_u": share.standard_uncertainty,
            "largest_part": share.largest,
            "largest_part_share": share.share,
        }
        for element, share in found.percent.items()
    ]
    from identify.answers.text import TextTable
    from identify.answers.text.last_line import composition_answer

    cells = [
        [f"{element:>3}", str(share), share.largest, f"{100.0 * share.share:.0f} %"]
        for element, share in found.percent.items()
    ]
    headings = ["", "percent", "largest part of\nthe variance", ""]
    lines = TextTable.of(headings, cells, left=(0, 1, 2)).lines()
    write(
        found,
        rows,
        lines,
        shown,
        lambda page: composition_answer(found.percent, page),
        "±: one standard uncertainty, from the weighings alone.",
    )
    return 0


@dataclass(frozen=True)
class _Composed:
    """A composition, and what else the formula must agree with."""

    percent: list[str] | None = argument("C=59.9 H=13.4 ...", "Percent by mass.", default=None)
    molar_mass: Text = option("QUANTITY", "In g/mol.")
    tolerance: float = option("POINTS", "Percentage points an element.", default=0.4)
    candidates: Path | None = candidates_file()


@takes(_Composed, Work)
def formula_command(composed: _Composed, shown: Work) -> int:
    r"""Find the formulas that have a percent composition, the best first.

    \b
    Example: with a molar mass, the molecular formulas too.
      identify-unknown formula C=59.9 H=13.4 O=26.7 --molar-mass 60.1
    """
    from identify.answers.text.calculations.formulas import FORMULA_COLUMNS, formula_lines
    from identify.answers.text.last_line import formula_answer
    from identify.calculations.formulas import formulas
    from identify.cli.options.typed import typed_percent

    faults = Faults()
    percent = typed_percent(composed.percent or (), faults)
    table = candidate_table(composed.candidates, faults)
    if faults.count or table is None:
        return UNUSABLE
    if not percent:
        complain("give the percentages, such as C=59.9 H=13.4 O=26.7; see formula --help")
        return UNUSABLE
    found = tried(lambda: formulas(percent, composed.molar_mass, composed.tolerance, table))
    if found is None:
        return UNUSABLE
    data = found.to_dict()
    rows = [{"kind": kind, **_flat(one)} for kind in FORMULA_COLUMNS for one in data[kind]]
    write(found, rows, formula_lines(data), shown, lambda page: formula_answer(data))
    return 0


def _flat(one: dict[str, Any]) -> dict[str, Any]:
    """Return a formula as one row, its deviations in columns of their own."""
    row = {name: value for name, value in one.items() if name != "deviations"}
    return row | {
        f"percent_{element}_off": off for element, off in one.get("deviations", {}).items()
    }


@dataclass(frozen=True)
class _Boiled:
    """A boiling point as it was read."""

    observed: Text = option("QUANTITY", "The reading, in C.")
    at: Text = option("QUANTITY", "The pressure, in mmHg unless you say.")
    to: str = option("QUANTITY", "The pressure wanted.", default="760 mmHg")
    as_name: Text = option("NAME", "Carry it along this compound's curve.", "--as")
    liquid: str = option(
        "KIND",
        "Without --as: associated (alcohols, acids, water) or unassociated.",
        default="unassociated",
    )
    exposed: float | None = option("DEGREES", "Length of the thread outside the vapor,")
    stem: Text = option("QUANTITY", "and its mean temperature, in C.")
    thread: str = option("KIND", "The thermometer: mercury or spirit.", default="mercury")


@takes(_Boiled, Work)
def boiling_point_command(boiled: _Boiled, shown: Work) -> int:
    r"""Carry a boiling point from the pressure at which it was read to another.

    \b
    Example: to 760 mmHg, for an alcohol, and for a compound by name.
      identify-unknown boiling-point --observed "77.7 C" --at "742 mmHg" \
        --liquid associated
      identify-unknown boiling-point --observed "77.7 C" --at "742 mmHg" \
        --as ethanol
    """
    from identify.calculations.boiling_point import Stem, boiling_point
    from identify.notebook.quantity.quantities import read_quantity

    if boiled.observed is None or boiled.at is None:
        complain("give --observed and --at; see boiling-point --help")
        return UNUSABLE
    if (boiled.exposed is None) != (boiled.stem is None):
        complain("--exposed and --stem belong together: give both, or neither")
        return UNUSABLE

    def found() -> Any:
        stem = None
        if boiled.exposed is not None and boiled.stem is not None:
            celsius = read_quantity(boiled.stem, "temperature", "C").to("C").value
            stem = Stem(boiled.exposed, celsius, boiled.thread)
        return boiling_point(
            boiled.observed or "",
            boiled.at or "",
            boiled.to,
            boiled.as_name,
            boiled.liquid,
            stem,
        )

    result = tried(found)
    if result is None:
        return UNUSABLE
    from identify.notebook.statistics import to_uncertainty

    shown_value = to_uncertainty(result.value_C, result.standard_uncertainty)
    answer = f"{shown_value} °C at {result.pressure} ({result.method})."
    row = {key: value for key, value in result.to_dict().items() if not isinstance(value, list)}
    write(result, [row], [], shown, lambda page: answer, "±: one standard uncertainty.")
    return 0
