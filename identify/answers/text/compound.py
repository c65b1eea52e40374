"""What a table holds on a compound, as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite, nan
from typing import TYPE_CHECKING, Any

from identify.answers.text.last_line import ending_lines, found_answer
from identify.answers.text.numbers import decimals_text
from identify.answers.text.page import BOLD, Page
from identify.answers.text.table import TextColumn, TextTable
from identify.notebook.quantity.units import shown_unit
from identify.observables.catalog import LIQUID_CONSTANTS

if TYPE_CHECKING:
    from identify.compounds.table import CandidateTable

SOURCES = "Names in brackets are sources: data/SOURCES.md."


@dataclass(frozen=True)
class _ShownConstant:
    """One constant as it is shown: heading, column, unit, decimals, and what multiplies it."""

    heading: str
    column: str
    unit: str
    decimals: int
    scale: float = 1.0


_SHOWN = (
    _ShownConstant("molar mass", "molar_mass", "g/mol", 3),
    _ShownConstant("boiling point", "boiling_point_C", "°C at 101.325 kPa", 1),
    *(
        _ShownConstant(
            constant.column_words,
            constant.column,
            shown_unit(constant.column_unit).strip().replace("m3", "m³"),
            constant.column_decimals,
        )
        for constant in reversed(tuple(LIQUID_CONSTANTS.values()))
    ),
    _ShownConstant("log P", "log_p", "octanol to water", 2),
    _ShownConstant("flash point", "flash_point_C", "°C", 0),
    _ShownConstant("exposure limit", "exposure_limit_ppm", "ppm, 8 h average", 1),
    _ShownConstant("critical point", "critical_temperature_K", "K", 1),
    _ShownConstant("critical pressure", "critical_pressure_Pa", "MPa", 2, 1e-6),
    _ShownConstant("acentric factor", "acentric_factor", "", 3),
    _ShownConstant("dimers as vapor", "dimer_enthalpy", "J/mol", 0),
    _ShownConstant("in commerce", "inventories", "of 6 inventories list it", 0),
)
_UNCERTAINTIES = {"liquid_density_25C": "liquid_density_u"}
_NOTES = {
    "vapor_curve_source": "vapor pressure",
    "virial_source": "virial coefficient",
    "groups": "functional groups",
    "flash_point_set_aside": "flash, set aside",
    "carcinogen": "carcinogen",
    "not_bottled": "not bottled",
    "stereo": "stereoisomers",
    "set_aside": "set aside",
}


def compound_record(table: CandidateTable, row: int) -> dict[str, Any]:
    """Return every column of a row."""
    from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS

    texts = {column: table.text(column)[row] for column in TEXT_COLUMNS}
    # Stored in single precision: what is beyond eight digits is noise.
    numbers = {column: float(f"{table.number(column)[row]:.8g}") for column in NUMBER_COLUMNS}
    return {**texts, **numbers}


def compound_lines(record: Mapping[str, Any], page: Page) -> list[str]:
    """Return what is known of a compound, a constant a line, each with its source."""
    lines = [page.emphasized(page.text(f"{record['name']}  {record['formula']}"))]
    identity = (("CAS", "cas"), ("SMILES", "smiles"), ("InChIKey", "inchikey"))
    facts = [(heading, record[column]) for heading, column in identity]
    facts.append(("percent by mass", _composition(record)))
    facts += [(shown.heading, _constant(record, shown)) for shown in _SHOWN]
    facts += [(heading, record[column]) for column, heading in _NOTES.items()]
    facts += _set_aside(record)
    for heading, text in facts:
        if text:
            lines += page.wrapped(text, f"  {page.text(heading):<19}")
    return lines


def _set_aside(record: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield which published values of a constant were not used, and why."""
    from identify.compounds.table import SOURCE_COLUMNS

    for constant in LIQUID_CONSTANTS.values():
        column = SOURCE_COLUMNS[constant.column].removesuffix("source") + "set_aside"
        yield f"{constant.words.split()[-1]} set aside", record.get(column, "")


def _composition(record: Mapping[str, Any]) -> str:
    from identify.physics.constants import ELEMENTS

    shares = {element: record[f"percent_{element}"] for element in ELEMENTS}
    return ", ".join(f"{element} {share:.2f}" for element, share in shares.items() if share > 0.0)


def _constant(record: Mapping[str, Any], shown: _ShownConstant) -> str:
    from identify.compounds.table import ESTIMATED, SOURCE_COLUMNS

    value = shown.scale * record[shown.column]
    if not isfinite(value):
        return ""
    text = f"{value:.{shown.decimals}f}"
    source = record[SOURCE_COLUMNS[shown.column]] if shown.column in SOURCE_COLUMNS else ""
    if shown.column == "boiling_point_C":
        text += f" ± {_boiling_point_u(record):.1f} {shown.unit}"
        if not source.startswith("given in "):
            text += ", published" if record["boiling_point_published"] else f", {ESTIMATED}"
    elif shown.column == "flash_point_C":
        text = f"{_flash_points(record)} {shown.unit}"
    elif shown.unit:
        text += f"{_plus_minus(record, shown)} {shown.unit}"
    return f"{text} ({source})" if source and not text.endswith(source) else text


def _flash_points(record: Mapping[str, Any]) -> str:
    ends = (record["flash_point_C"], record["flash_point_highest_C"])
    return " to ".join(dict.fromkeys(f"{end:.0f}" for end in ends if isfinite(end)))


_FOUND_NOTE = "sold: how many of 6 inventories list it. ~: boiling point estimated from structure."


def found_lines(records: Sequence[Mapping[str, Any]], page: Page, count: int) -> list[str]:
    """Return compounds one a line, of as many as were found."""
    narrower = replace(page, width=page.width - 1)  # for the space that ends a line
    lines = TextTable(_FOUND_COLUMNS, records).lines(narrower, "", BOLD)
    answer = found_answer(count, len(records))
    return [*lines, "", *ending_lines(page, answer, _FOUND_NOTE, caution=False)]


def _found_boiling_point(record: Mapping[str, Any]) -> str:
    mark = "" if record["boiling_point_published"] else "~"
    return f"{mark}{record['boiling_point_C']:.1f} ± {_boiling_point_u(record):.1f}"


def _plus_minus(record: Mapping[str, Any], shown: _ShownConstant) -> str:
    """Return the standard uncertainty of a constant that has one in the table."""
    uncertainty = record.get(_UNCERTAINTIES.get(shown.column, ""), nan)
    return f" ± {max(uncertainty, 1.0):.0f}" if isfinite(uncertainty) else ""


def _boiling_point_u(record: Mapping[str, Any]) -> float:
    return max(record["boiling_point_u"], 0.1)  # no thermometer here reads further


_FOUND_COLUMNS = (
    TextColumn("name", lambda one: one["name"], left=True, shortest=12),
    TextColumn("formula", lambda one: one["formula"], left=True),
    TextColumn("g/mol", lambda one: f"{one['molar_mass']:.2f}"),
    TextColumn("boils at °C", _found_boiling_point),
    TextColumn("sold", lambda one: decimals_text(one["inventories"], 0)),
    TextColumn("CAS", lambda one: one["cas"], left=True),
)
