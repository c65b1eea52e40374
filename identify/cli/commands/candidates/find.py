"""``identify-unknown candidates find``: the compounds of a table that meet conditions."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING

from identify.cli.commands.candidates.compounds import write_compounds
from identify.cli.options.options import Output, Text, Texts, candidates_file, option, takes
from identify.cli.terminal.streams import UNUSABLE, Faults, complain
from identify.cli.terminal.tables import candidate_table

if TYPE_CHECKING:
    from identify.compounds.filters import CompoundFilter

_Range = tuple[str, str] | None
_WIDTH = re.compile(r"(\d+\.?\d*|\.\d+)\s*(%|g/mol|)")
_USUAL_WIDTH = 0.05  # of a molar mass: the usual tolerance of a vapor density


@dataclass(frozen=True)
class _Sought:
    """What a compound must be, and where it is looked for."""

    formula: Text = option("C4H8O", "Molecular formula.")
    molar_mass: Text = option("QUANTITY", "In g/mol; see --within.")
    within: Text = option("WIDTH", "How far the molar mass may be off, 2% or 1.5 g/mol; else 5%.")
    molar_mass_between: _Range = option("LOW HIGH", "In g/mol.")
    boiling_between: _Range = option("LOW HIGH", "At 760 mmHg, in C unless you say K or F.")
    contains_group: Texts = option("GROUP", "Functional group, such as ester; repeat for more.")
    elements: Text = option('"C H O"', "It holds no others.")
    commonly_sold: bool = option(None, "At least 5 of 6 inventories list it.", default=False)
    candidates: Path | None = candidates_file()


@takes(_Sought, Output)
def find_command(sought: _Sought, output: Output) -> int:
    r"""List the compounds of a table that meet all of the conditions given.

    By boiling point or molar mass where a range of it is given, else what is most widely sold
    first.

    \b
    Example: by formula, by molar mass, by boiling point and functional group.
      identify-unknown candidates find --formula C4H8O
      identify-unknown candidates find --molar-mass 72.1 --within 2% \
        --elements "C H O"
      identify-unknown candidates find --boiling-between "70 C" "80 C" \
        --contains-group ester
    """
    faults = Faults()
    wanted = _conditions(sought, faults)
    if wanted is None or faults.count:
        return UNUSABLE
    if wanted.are_none:
        faults("give at least one condition, such as --formula; see --help")
        return UNUSABLE
    table = candidate_table(sought.candidates, faults)
    if table is None:
        return UNUSABLE
    from identify.answers.text.compound import found_lines
    from identify.compounds.filters import ConditionFault

    try:
        rows = wanted.rows(table)
    except ConditionFault as fault:
        faults(fault)
        return UNUSABLE
    if not rows:
        complain("no compound of the table meets all of these conditions")
    elif len(rows) > output.top:
        complain(f"{len(rows)} compounds, {output.top} shown; see --top")
    write_compounds(
        table,
        rows[: output.top],
        output.format,
        lambda records, page: found_lines(records, page, len(rows)),
    )
    return faults.status


def _conditions(sought: _Sought, faults: Faults) -> CompoundFilter | None:
    from identify.compounds.filters import CompoundFilter

    molar_mass = _between("molar-mass-between", sought.molar_mass_between, faults)
    if sought.molar_mass is not None:
        if sought.molar_mass_between is not None:
            faults("--molar-mass: leave it out, or --molar-mass-between")
            return None
        molar_mass = _around(sought.molar_mass, sought.within, faults)
    elif sought.within is not None:
        faults("--within: says how far the molar mass may be off; give --molar-mass too")
    boiling_point = _between("boiling-between", sought.boiling_between, faults)
    if faults.count:
        return None
    return CompoundFilter(
        sought.formula or "",
        molar_mass,
        boiling_point,
        tuple(sought.contains_group or ()),
        tuple(re.findall(r"[^\s,;]+", sought.elements or "")),
        sought.commonly_sold,
    )


def _between(name: str, given: _Range, faults: Faults) -> tuple[float, float]:
    if given is None:
        return -inf, inf
    of_mass = name.startswith("molar-mass")
    before = faults.count
    ends = [_value(name, text, of_mass, faults) for text in given]
    if ends[0] > ends[1] and faults.count == before:
        faults(f'--{name}: "{given[0]}" is above "{given[1]}"; give the lower first')
    return ends[0], ends[1]


def _around(molar_mass: str, within: str | None, faults: Faults) -> tuple[float, float]:
    from identify.notebook.quantity.quantities import excerpt

    center = _value("molar-mass", molar_mass, True, faults)
    width = _USUAL_WIDTH * center
    if within is not None:
        written = _WIDTH.fullmatch(within.strip().replace(",", "."))
        if written is None:
            faults(f'--within: "{excerpt(within)}" is not a width; write it like 2% or 1.5 g/mol')
            return center, center
        width = float(written[1]) * (0.01 * center if written[2] == "%" else 1.0)
    return center - width, center + width


def _value(name: str, text: str, of_mass: bool, faults: Faults) -> float:
    from identify.notebook.quantity.quantities import QuantityError, read_quantity

    dimension, unit = ("molar mass", "g/mol") if of_mass else ("temperature", "C")
    try:
        return read_quantity(text, dimension, unit).to(unit).value
    except QuantityError as error:
        faults.of_option(name, error)
        return 0.0
