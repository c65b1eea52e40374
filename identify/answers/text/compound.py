"""What a table holds on a compound, as text for a terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any

from identify.answers.text.page import Page, elided, table_lines
from identify.notebook.units import shown_unit
from identify.observables.catalog import LIQUID_CONSTANTS

if TYPE_CHECKING:
    from identify.compounds.table import CandidateTable

SOURCES = "Names in brackets are sources: data/SOURCES.md."


@dataclass(frozen=True)
class _Line:
    """One constant as it is shown: heading, column, unit and decimals."""

    heading: str
    column: str
    unit: str
    decimals: int


_SHOWN = (
    _Line("molar mass", "molar_mass", "g/mol", 3),
    _Line("boiling point", "boiling_point_C", "°C at 101.325 kPa", 1),
    *(
        _Line(
            constant.column_words,
            constant.column,
            shown_unit(constant.column_unit).strip().replace("m3", "m³"),
            constant.column_decimals,
        )
        for constant in reversed(tuple(LIQUID_CONSTANTS.values()))
    ),
    _Line("log P", "log_p", "octanol to water", 2),
    _Line("flash point", "flash_point_C", "°C", 0),
    _Line("exposure limit", "exposure_limit_ppm", "ppm, 8 h average", 1),
    _Line("critical point", "critical_temperature_K", "K", 1),
    _Line("critical pressure", "critical_pressure_Pa", "MPa", 2),
    _Line("acentric factor", "acentric_factor", "", 3),
    _Line("in commerce", "inventories", "of 6 inventories list it", 0),
)
_NOTES = {
    "vapor_curve_source": "vapor pressure",
    "virial_source": "virial coefficient",
    "groups": "functional groups",
    "carcinogen": "carcinogen",
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
    facts += [(line.heading, _constant(record, line)) for line in _SHOWN]
    facts += [(heading, record[column]) for column, heading in _NOTES.items()]
    for heading, text in facts:
        if text:
            lines += page.wrapped(text, f"  {page.text(heading):<19}")
    return lines


def _composition(record: Mapping[str, Any]) -> str:
    from identify.physics.constants import ELEMENTS

    shares = {element: record[f"percent_{element}"] for element in ELEMENTS}
    return ", ".join(f"{element} {share:.2f}" for element, share in shares.items() if share > 0.0)


def _constant(record: Mapping[str, Any], line: _Line) -> str:
    from identify.compounds.table import ESTIMATED, SOURCE_COLUMNS

    value = record[line.column]
    if not isfinite(value):
        return ""
    text = f"{1e-6 * value if line.unit == 'MPa' else value:.{line.decimals}f}"
    source = record[SOURCE_COLUMNS[line.column]] if line.column in SOURCE_COLUMNS else ""
    if line.column == "boiling_point_C":
        uncertainty = max(record["boiling_point_u"], 0.1)  # no thermometer here reads further
        text += f" ± {uncertainty:.1f} {line.unit}"
        if not record["boiling_point_published"]:
            text += f", {ESTIMATED}"
        elif not source.startswith("given in "):
            text += ", published"
    elif line.unit:
        text += f" {line.unit}"
    return f"{text} ({source})" if source and not text.endswith(source) else text


_FOUND_HEADINGS = ("name", "formula", "g/mol", "boils at °C", "sold", "CAS")
_SHORTEST_NAME = 12
_FOUND_NOTE = "sold: how many of 6 inventories list it. ~: boiling point estimated from structure."


def found_lines(records: Sequence[Mapping[str, Any]], page: Page) -> list[str]:
    """Return compounds one a line."""
    rows = [_found_cells(record, page) for record in records]
    headings = [page.text(heading) for heading in _FOUND_HEADINGS]
    others = sum(max(map(len, column)) + 1 for column in zip(headings, *rows, strict=True))
    names = [row[0] for row in rows]
    widest = page.width - (others - max(map(len, (headings[0], *names))))
    rows = [[elided(row[0], max(widest, _SHORTEST_NAME), page.text("…")), *row[1:]] for row in rows]
    heading, *body = table_lines(rows, headings, left=(0, 1, 5))
    return [page.emphasized(heading), *body, "", *page.wrapped(_FOUND_NOTE)]


def _found_cells(record: Mapping[str, Any], page: Page) -> list[str]:
    mark = "" if record["boiling_point_published"] else "~"
    uncertainty = max(record["boiling_point_u"], 0.1)  # no thermometer here reads further
    sold = record["inventories"]
    cells = (
        record["name"],
        record["formula"],
        f"{record['molar_mass']:.2f}",
        f"{mark}{record['boiling_point_C']:.1f} ± {uncertainty:.1f}",
        f"{sold:.0f}" if isfinite(sold) else "-",
        record["cas"],
    )
    return [page.text(cell) for cell in cells]
