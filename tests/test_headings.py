"""Headings and sheets that are not read: what they seem to mean is said, and never taken."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from identify.tables import read_runs, runs_from_frame


def faults(heading: str) -> list[str]:
    """Read a row that has one more column, or this one twice."""
    frame = pd.DataFrame([["K-1", "46.1", "5"]], columns=["label", "melting_point_C", heading])
    return [str(fault) for fault in runs_from_frame(frame).faults]


@pytest.mark.parametrize(
    ("heading", "column"),
    [
        ("%C", "percent_C"),
        ("C %", "percent_C"),
        ("% cl", "percent_Cl"),
        ("wt% H", "percent_H"),
        ("Carbon (%)", "percent_C"),
        ("percent oxygen", "percent_O"),
        ("bp (°C)", "boiling_point_C"),
        ("b.p. [K]", "boiling_point_K"),
        ("BP", "boiling_point_C"),
        ("T bath", "bath_C"),
        ("Room temperature (F)", "room_F"),
        ("P (kPa)", "pressure_kPa"),
        ("Barometric pressure", "pressure_mmHg"),
        ("Flask volume (mL)", "volume_mL"),
        ("Mass of empty flask (g)", "empty_g"),
        ("Empty flask (g)", "empty_g"),
        ("m2 (mg)", "condensed_mg"),
        ("MW", "molar_mass"),
        ("Bottle", "label"),
        ("Unknown #", "label"),
        ("Student name", "student"),
    ],
)
def test_usual_headings_are_asked_about_and_not_read(heading: str, column: str) -> None:
    (fault,) = faults(heading)
    assert f"is no known column; did you mean {column}? (this column is not read)" in fault
    # What is advised is read, or is there already.
    assert not any("no known column" in fault for fault in faults(column))


@pytest.mark.parametrize("heading", ["% yield", "price", "percent_Na", "hood", "name"])
def test_other_headings_get_no_wrong_hint(heading: str) -> None:
    assert "did you mean" not in faults(heading)[0]


def test_table_without_labels_says_which_column_may_name_them() -> None:
    (fault,) = runs_from_frame(pd.DataFrame({"Bottle": ["K-1"], "%C": ["52.1"]})).faults
    assert 'has no column named label; rename the column "Bottle" to label' in str(fault)


@pytest.mark.parametrize("first", [[], [["Results of the section"]], [["label", "molar_mass"]]])
def test_further_sheets_are_named_where_the_first_is_no_table(tmp_path: Path, first) -> None:
    book = openpyxl.Workbook()
    for row in first:
        book.active.append(row)
    for title, rows in {"empty": [], "Trials": [["label", "molar_mass"], ["K-1", 46.1]]}.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    path = tmp_path / "section.xlsx"
    book.save(path)
    fault = read_runs(path).faults[-1]
    assert str(fault).endswith('; only the first sheet is read, move "Trials" to the front')
