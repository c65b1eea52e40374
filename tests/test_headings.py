"""Headings of every kind of table: what is read, and what is asked about and never taken."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.notebook.quantities import QuantityError
from identify.tables import read_runs, runs_from_frame
from identify.tables.columns import heading_key
from identify.tables.headings.dictionary import COLLECTION_HEADINGS, STOCK_HEADINGS, TRIAL_HEADINGS
from identify.tables.headings.spellings import HEADINGS
from identify.tables.rows import table_rows
from identify.tables.stock_rows import read_stock_sheet
from identify.tables.structures.inputs import read_chunks
from identify.tables.structures.source import Headings, StructureFile


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
        ("b.p. [K]", "boiling_point_K"),
        ("B.P.", "boiling_point_C"),
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
        ("name", "student"),
    ],
)
def test_usual_headings_are_asked_about_and_not_read(heading: str, column: str) -> None:
    (fault,) = faults(heading)
    assert f"is not a known column; did you mean {column}? (this column is not read)" in fault
    # What is advised is read, or is there already.
    assert not any("not a known column" in fault for fault in faults(column))


@pytest.mark.parametrize("heading", ["% yield", "price", "percent_Na", "hood", "compound"])
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


def test_a_sheet_of_instructions_is_not_named(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["label", "molar_mass"])
    book.create_sheet("Instructions").append(["label", "what stands on the bottle"])
    path = tmp_path / "section.xlsx"
    book.save(path)
    (fault,) = read_runs(path).faults
    assert str(fault).endswith("has column names but no rows below them")


# ------------------------------------------------------------ one dictionary for all kinds of table

KINDS = {"trial": TRIAL_HEADINGS, "stock": STOCK_HEADINGS, "collection": COLLECTION_HEADINGS}


def meaning(kind: str, heading: str) -> str:
    """Return field and unit as `read`, `asked: …`, or why the column is not read; else nothing."""
    try:
        column = KINDS[kind].meaning(heading)
    except QuantityError as error:
        asks = error.advice.startswith("did you mean") and error.reason == "is not a known column"
        return error.advice if asks else f"not read: {error.reason}"
    return "" if column is None else f"{column.field} {column.unit}".strip()


BOILING_POINTS = ["boiling_point_C", "Boiling point (°C)", "boiling-point C", "bp [°C]", "BP"]


@pytest.mark.parametrize(
    ("heading", "kinds", "expected"),
    [
        *((heading, "trial stock collection", "boiling_point C") for heading in BOILING_POINTS),
        ("bp_K", "trial stock collection", "boiling_point K"),
        ("Normal boiling point (F)", "trial stock collection", "boiling_point F"),
        ("Boiling temp (K)", "trial stock collection", "did you mean boiling_point_K?"),
        ("B.P. (°C)", "trial stock collection", "did you mean boiling_point_C?"),
        ("boilling_point_C", "trial stock collection", "did you mean boiling_point_C?"),
        ("boiling_point_mmHg", "trial stock collection", "not read: is a pressure, not a tempera"),
        ("boiling_point_at (kPa)", "trial stock collection", "boiling_point_at kPa"),
        ("molar_mass", "trial stock", "molar_mass g/mol"),
        ("Molar mass (kg/mol)", "trial stock", "molar_mass kg/mol"),
        ("MW", "trial stock", "did you mean molar_mass?"),
        ("LABEL", "trial stock", "label"),
        ("Bottle", "trial stock", "did you mean label?"),
        ("Unknown #", "trial stock", "did you mean label?"),
        ("percent_cl", "trial stock", "percent_Cl %"),
        ("% C", "trial stock", "did you mean percent_C?"),
        ("Carbon (%)", "trial stock", "did you mean percent_C?"),
        ("CAS No.", "stock collection", "cas"),
        ("cas-rn", "stock collection", "cas"),
        ("Canonical SMILES", "stock collection", "smiles"),
        ("Compound", "stock collection", "name"),
        # One word with two meanings.
        ("name", "stock collection", "name"),
        ("Name", "trial", "did you mean student?"),
        # No business of the other kinds.
        ("price", "stock collection", ""),
        ("price", "trial", "not read: is not a known column"),
        ("bath_C", "trial", "bath C"),
        ("bath_C", "stock collection", ""),
        ("Notes", "trial stock collection", ""),
    ],
)
def test_a_heading_means_the_same_in_every_kind_of_table(
    heading: str, kinds: str, expected: str
) -> None:
    for kind in kinds.split():
        found = meaning(kind, heading)
        assert found.startswith(expected) if expected else not found, kind


@pytest.mark.parametrize("kind", KINDS)
def test_a_spelling_is_read_or_asked_about_once(kind: str) -> None:
    own = [heading for heading in HEADINGS if kind in heading.tables.split()]
    read = [heading_key(said) for heading in own for said in heading.spellings()]
    asked = [heading_key(said) for heading in own for said in heading.asked_about()]
    assert len(set(read)) == len(read)
    assert len(set(asked)) == len(asked)
    # A flask's name stands under flask, its mass under "flask (g)".
    assert set(read) & set(asked) <= {"flask"}
    for heading in own:
        if heading.field not in ("note", "percent"):
            column = KINDS[kind].meaning(heading.shown())
            assert (column.field, column.unit) == (heading.field, heading.unit)


def test_the_commands_read_a_heading_alike(tmp_path: Path) -> None:
    text = "label;name;bp (K)\nK-1;ethanol;351,5\n"
    path = tmp_path / "table.csv"
    path.write_text(text, encoding="utf-8")
    (bottle,) = read_stock_sheet(path).bottles
    assert bottle.number("boiling_point", "K") == pytest.approx(351.5)
    runs = read_runs(path)
    assert (str(runs[0].boiling_point), len(runs.faults)) == ("351.5 K", 1)
    said: list[str] = []
    (chunk,) = read_chunks([StructureFile.of(path)], Headings(), 10, said.append)
    assert (chunk.unit, chunk.records[0].boiling_point) == ("K", "351,5")


@pytest.mark.parametrize("further", ["name,Compound", "Compound,name"])
def test_the_usual_spelling_goes_before_another(tmp_path: Path, further: str) -> None:
    path = tmp_path / "stock.csv"
    cells = "ethanol,x" if further.startswith("name") else "x,ethanol"
    path.write_text(f"label,{further}\nA,{cells}\n", encoding="utf-8")
    sheet = read_stock_sheet(path)
    assert sheet.bottles[0].text("name") == "ethanol"
    (fault,) = sheet.faults
    assert 'Compound: says the same as column "name"; keep one' in str(fault)


# ------------------------------------------------------------------------- separators, title rows


def test_marks_at_both_ends_of_a_heading_separate_nothing() -> None:
    content = b"label\t;a;\tboiling_point_C\nK-1\tx\t78.3\n"
    row, _ = table_rows(content, "table.csv", KINDS["trial"].score)
    assert list(row.cells) == ["label", ";a;", "boiling_point_C"]


words = st.text("abcde ;,\t.", min_size=1, max_size=12).filter(lambda text: text.strip(" ,;\t."))


@given(
    kind=st.sampled_from(["trial", "stock", "collection"]),
    mark=st.sampled_from(",;\t"),
    others=st.lists(words, max_size=4),
    titles=st.lists(words, max_size=2),
    data=st.data(),
)
def test_the_separator_is_told_by_the_headings_of_the_kind_of_table(
    kind: str, mark: str, others: list[str], titles: list[str], data: st.DataObject
) -> None:
    """Whatever marks stand in headings and titles that this kind of table does not know."""
    known = {
        "trial": ["label", "boiling_point_C"],
        "stock": ["identity", "boiling_point_C"],
        "collection": ["smiles", "bp_K"],
    }[kind]
    header = data.draw(st.permutations([*known, *others]))
    page = io.StringIO()
    writer = csv.writer(page, delimiter=mark, quoting=csv.QUOTE_MINIMAL)
    writer.writerows([header, ["C,4", "5;6", *("x" for _ in others)]])
    lines = [*titles, page.getvalue()]
    content = "\n".join(lines).encode()
    row, rows = table_rows(content, "table.csv", KINDS[kind].score)
    assert [cell.strip() for cell in row.cells] == [heading.strip() for heading in header]
    assert row.number == len(titles) + 1
    (below,) = rows
    assert (below.number, below.problem, list(below.cells[:2])) == (
        row.number + 1,
        "",
        ["C,4", "5;6"],
    )


@pytest.mark.parametrize(
    ("kind", "text", "header"),
    [
        (
            "stock",
            "identity;supplier, city;price, EUR\n",
            ["identity", "supplier, city", "price, EUR"],
        ),
        ("trial", "label;empty, then full;b, c\n", ["label", "empty, then full", "b, c"]),
        ("collection", "name;city, label, student\n", ["name", "city, label, student"]),
        ("stock", "Stock, autumn, shelf 2\n\nlabel;identity\n", ["label", "identity"]),
        ("trial", "Section 3\nBath; barometer\nlabel,empty_g\n", ["label", "empty_g"]),
        # Without a name that it must have, the first row stands for the header.
        ("trial", "empty_g,condensed_g\n1,2\n", ["empty_g", "condensed_g"]),
    ],
)
def test_headers_and_separators(kind: str, text: str, header: list[str]) -> None:
    row, _ = table_rows(text.encode(), "table.csv", KINDS[kind].score)
    assert list(row.cells) == header
