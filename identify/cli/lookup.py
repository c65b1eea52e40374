"""``identify-unknown candidates``: what the table of compounds holds on one of them."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from identify.cli.options import Output, OutputFormat, takes
from identify.cli.streams import UNUSABLE, Faults, complain
from identify.cli.tables import candidate_table

if TYPE_CHECKING:
    from identify.candidates.table import CandidateTable
    from identify.printing import Page


@dataclass(frozen=True)
class Wanted:
    """The compounds to look up, and where."""

    names: Annotated[
        list[str],
        typer.Argument(metavar="NAME", help="Names, CAS numbers, SMILES or formulas."),
    ]
    candidates: Annotated[
        Path | None,
        typer.Option(
            "--candidates",
            metavar="FILE",
            help="A stock table (CSV, XLSX, Parquet) for the built-in one.",
            show_default=False,
        ),
    ] = None


@takes(Wanted, Output)
def candidates_command(wanted: Wanted, output: Output) -> int:
    r"""Show what the table holds on a compound: its constants and where they come from.

    \b
    Example: by name, by CAS number, by formula.
      identify-unknown candidates ethanol
      identify-unknown candidates 67-64-1 C4H8O2 --top 5
    """
    from identify.candidates.search import rows_meant, suggestion

    faults = Faults()
    table = candidate_table(wanted.candidates, faults)
    if table is None:
        return UNUSABLE
    found: list[int] = []
    for name in wanted.names:
        rows = sorted(rows_meant(table, name), key=lambda row: -table.number("prior")[row])
        found += rows[: output.top]
        if not rows:
            faults(f'"{name}": no such compound in the table{suggestion(table, name)}')
        elif len(rows) > output.top:
            complain(f'"{name}": {len(rows)} compounds, {output.top} shown; see --top')
    _write(table, list(dict.fromkeys(found)), output.format)
    return UNUSABLE if faults.count else 0


def _write(table: CandidateTable, rows: list[int], form: OutputFormat) -> None:
    from identify.printing import Page

    page = Page.of()
    if form is OutputFormat.table:
        blocks = ["\n".join(_block(table, row, page)) for row in rows]
        if blocks:
            print("\n\n".join(blocks))
            print("\n" + "\n".join(page.wrapped(_SOURCES)))
        return
    from identify.cli.formats import csv_text, json_text

    records = [_record(table, row) for row in rows]
    if form is OutputFormat.json:
        print(json_text(records, page.unicode))
    else:
        print(csv_text(records), end="")


def _record(table: CandidateTable, row: int) -> dict[str, Any]:
    from identify.candidates.table import NUMBER_COLUMNS, TEXT_COLUMNS

    texts = {column: table.text(column)[row] for column in TEXT_COLUMNS}
    # Stored in single precision: what is beyond eight digits is noise.
    numbers = {column: float(f"{table.number(column)[row]:.8g}") for column in NUMBER_COLUMNS}
    return {**texts, **numbers}


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
    _Line("melting point", "melting_point_C", "°C", 1),
    _Line("density at 25 °C", "liquid_density_25C", "kg/m³", 0),
    _Line("refractive index", "refractive_index", "", 4),
    _Line("log P", "log_p", "octanol to water", 2),
    _Line("flash point", "flash_point_C", "°C", 0),
    _Line("exposure limit", "exposure_limit_ppm", "ppm, 8 h average", 1),
    _Line("critical point", "critical_temperature_K", "K", 1),
    _Line("critical pressure", "critical_pressure_Pa", "MPa", 2),
    _Line("acentric factor", "acentric_factor", "", 3),
    _Line("in commerce", "inventories", "of 6 inventories list it", 0),
)
_SOURCES = "Names in brackets are sources: data/SOURCES.md."
_NOTES = {
    "vapor_curve_source": "vapor pressure",
    "virial_source": "virial coefficient",
    "groups": "functional groups",
    "carcinogen": "carcinogen",
    "stereo": "stereoisomers",
    "set_aside": "set aside",
}


def _block(table: CandidateTable, row: int, page: Page) -> list[str]:
    record = _record(table, row)
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


def _composition(record: dict[str, Any]) -> str:
    from identify.candidates.table import ELEMENTS

    shares = {element: record[f"percent_{element}"] for element in ELEMENTS}
    return ", ".join(f"{element} {share:.2f}" for element, share in shares.items() if share > 0.0)


def _constant(record: dict[str, Any], line: _Line) -> str:
    from identify.candidates.table import SOURCE_COLUMNS

    value = record[line.column]
    if not isfinite(value):
        return ""
    text = f"{1e-6 * value if line.unit == 'MPa' else value:.{line.decimals}f}"
    if line.column == "boiling_point_C":
        kind = "published" if record["boiling_point_published"] else "estimated from structure"
        uncertainty = max(record["boiling_point_u"], 0.1)  # no thermometer here reads further
        text += f" ± {uncertainty:.1f} {line.unit}, {kind}"
    elif line.unit:
        text += f" {line.unit}"
    source = record[SOURCE_COLUMNS[line.column]] if line.column in SOURCE_COLUMNS else ""
    return f"{text} ({source})" if source else text
