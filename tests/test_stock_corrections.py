"""A corrected copy of a stock table: what was wrong is right in it, and nothing else is altered."""

from __future__ import annotations

import codecs
import csv
import io
import os
import re
from collections.abc import Callable, Sequence
from pathlib import Path

import openpyxl
import pytest

from identify.bench.laboratory import Laboratory
from identify.stock import corrections
from identify.stock.corrections import corrected_copy
from identify.stock.result import Change, StockCheck, StockRow
from identify.stock.rows.row_checks import checked_rows

HEADER = "label,name,cas,formula,molar_mass,boiling_point_C,percent_C,percent_H,percent_O,price\n"
FAULTY = f"""{HEADER}A,acetone,67-64-1,C3H8O,58.08,56.1,62.04,10.41,27.55,"1,50"
B,ethanol,64-17-6,C2H6O,46.70,78.3 C,52.14,13.13,34.73,"a ""big"" one"
C, methanol,67-56-1,CH4O,32.04,148.1,49.93,12.58,37.48,=1+1
D,xylene,,C8H10,106.17,140,,,,
"""
CORRECTED = f"""{HEADER}A,acetone,67-64-1,C3H6O,58.08,56.1,62.04,10.41,27.55,"1,50"
B,ethanol,64-17-5,C2H6O,46.07,78.3 C,52.14,13.13,34.73,"a ""big"" one"
C, methanol,67-56-1,CH4O,32.04,64.5,37.49,12.58,49.93,'=1+1
D,xylene,,C8H10,106.17,140,,,,
"""


def checked(path: Path) -> StockCheck:
    found = checked_rows(path, Laboratory())
    return StockCheck(str(path), found.rows, findings=found.findings)


def semicolons(text: str) -> str:
    """Return the table with semicolons and decimal commas, the price as it is."""
    rows = list(csv.reader(io.StringIO(text), skipinitialspace=True))
    lines = [";".join(cell.replace(".", ",") for cell in row[:-1]) for row in rows]
    return "\r\n".join(lines) + "\r\n"


@pytest.mark.parametrize(
    ("dress", "read", "written"),
    [
        (lambda text: text, "utf-8", "utf-8"),
        (lambda text: text.replace("\n", "\r\n"), "utf-8", "utf-8"),
        (lambda text: text.replace("\n", "\r"), "utf-8", "utf-8"),
        (lambda text: f"sep=,\n{text}", "utf-8", "utf-8"),
        (lambda text: f"\n\n{text}", "utf-8", "utf-8"),
        (semicolons, "utf-8-sig", "utf-8-sig"),
        (lambda text: text.replace("A,", "Ä 1,"), "cp1252", "utf-8-sig"),
        (lambda text: text.replace("A,", "Ä 1,"), "utf-16", "utf-8-sig"),
        (lambda text: text.replace("A,", '"Ä\n1",', 1), "utf-8", "utf-8"),
    ],
)
def test_a_copy_differs_in_what_is_corrected_alone(
    tmp_path: Path, dress: Callable[[str], str], read: str, written: str
) -> None:
    source, target = tmp_path / "stock.csv", tmp_path / "right.csv"
    before = dress(FAULTY).encode(read)
    source.write_bytes(before)
    check = checked(source)
    assert len(check.changes) == 6
    corrected_copy(check, source, target)
    assert target.read_bytes() == dress(CORRECTED).encode(written)
    assert source.read_bytes() == before
    again = checked(target)
    assert not again.changes
    assert [[one.code for one in row.findings] for row in again.rows] == [
        [],
        [],
        [],
        ["identity-ambiguous"],
    ]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["right.csv", "stock.csv"]


def test_a_row_whose_quotation_marks_do_not_pair_moves_no_other(tmp_path: Path) -> None:
    source, target = tmp_path / "stock.csv", tmp_path / "right.csv"
    text = 'label,identity,formula\nA,"acetone,C3H8O\nB,ethanol,C2H6\nC,"methanol",CH6O\n'
    source.write_text(text)
    corrected_copy(checked(source), source, target)
    assert target.read_text() == text.replace("C2H6\n", "C2H6O\n").replace("CH6O", "CH4O")


def workbook(path: Path, rows: Sequence[Sequence[object]]) -> Path:
    book = openpyxl.Workbook()
    assert book.active is not None
    for row in rows:
        book.active.append(row)
    book.create_sheet("notes")["B2"] = "=1+1"
    book.save(path)
    return path


def values(path: Path) -> list[list[object]]:
    book = openpyxl.load_workbook(path)
    return [[cell.value for cell in row] for sheet in book for row in sheet.iter_rows()]


def test_a_copy_of_a_workbook(tmp_path: Path) -> None:
    header = ["label", "identity", "formula", "molar_mass", "boiling_point_C", "order"]
    source = workbook(
        tmp_path / "stock.xlsx",
        [
            header,
            [14, "acetone", "C3H8O", 58.08, 56.1, "=SUM(D2:D4)"],
            ["B", "ethanol", "C2H6O", "46,70", 78.3, None],
            ["C", "methanol", "CH4O", 32.04, 148, None],
        ],
    )
    before = source.read_bytes()
    expected = values(source)
    expected[1][2], expected[2][3], expected[3][4] = "C3H6O", "46,07", 64.5
    target = tmp_path / "right.xlsx"
    corrected_copy(checked(source), source, target)
    assert values(target) == expected
    assert source.read_bytes() == before
    assert not checked(target).is_wrong


@pytest.mark.parametrize(
    ("source", "target", "words"),
    [
        ("stock.csv", "stock.csv", "is the table itself"),
        ("stock.csv", "folder/../stock.csv", "is the table itself"),
        ("stock.csv", "soft.csv", "is the table itself"),
        ("stock.csv", "hard.csv", "is the table itself"),
        ("stock.csv", "right.xlsx", "is a text table"),
        ("stock.xlsx", "right.csv", "is a workbook"),
        ("stock.xlsx", "stock.xlsx", "is the table itself"),
    ],
)
def test_a_target_that_is_refused(tmp_path: Path, source: str, target: str, words: str) -> None:
    (tmp_path / "folder").mkdir()
    text = tmp_path / "stock.csv"
    text.write_text(FAULTY)
    (tmp_path / "soft.csv").symlink_to(text)
    os.link(text, tmp_path / "hard.csv")
    workbook(tmp_path / "stock.xlsx", [["label", "identity"], ["A", "acetone"]])
    before = {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    with pytest.raises(ValueError, match=words):
        corrected_copy(checked(tmp_path / source), tmp_path / source, tmp_path / target)
    assert {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()} == before


@pytest.mark.parametrize("name", ["stock.csv", "stock.xlsx"])
def test_a_source_that_is_no_longer_what_was_checked(tmp_path: Path, name: str) -> None:
    source, target = tmp_path / name, tmp_path / f"right{Path(name).suffix}"

    def write(formula: str) -> None:
        rows = [["label", "identity", "formula"], ["A", "acetone", formula]]
        if name == "stock.xlsx":
            workbook(source, rows)
        else:
            source.write_text("".join(f"{','.join(row)}\n" for row in rows))

    write("C3H8O")
    check = checked(source)
    write("C3H4O")
    with pytest.raises(ValueError, match=r"row 2, formula: no longer holds .*; check the table"):
        corrected_copy(check, source, target)
    assert not target.exists()


def test_a_source_that_has_lost_a_column(tmp_path: Path) -> None:
    source, target = tmp_path / "stock.csv", tmp_path / "right.csv"
    source.write_text("label,identity,formula\nA,acetone,C3H8O\n")
    check = checked(source)
    source.write_text("label,identity,price\nA,acetone,C3H8O\n")
    words = f'{source}, row 2, formula: no longer holds "C3H8O"; check the table again'
    with pytest.raises(ValueError, match=f"^{re.escape(words)}$"):
        corrected_copy(check, source, target)
    assert not target.exists()


@pytest.mark.parametrize(
    ("cell", "read", "is_held"),
    [
        ("C3H8O", "C3H8O", True),
        (" C3H8O\n", "C3H8O", True),
        ("c3h8o", "C3H8O", False),
        (58, "58", True),
        (58.0, "58", True),
        (58.0, "58.0", False),
        (58.5, "58.5", True),
        (None, "", True),
        (None, "None", False),
        (0, "", False),
    ],
)
def test_whether_a_cell_still_holds_what_was_checked(
    cell: object, read: str, is_held: bool
) -> None:
    assert corrections._holds(cell, Change(2, "formula", read, "C3H6O", "")) is is_held


@pytest.mark.parametrize(
    ("written", "stands"),
    [
        ("=HYPERLINK(1)", "'=HYPERLINK(1)"),
        ("+1+1", "'+1+1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("-0.5", "-0.5"),
        ("C3H6O", "C3H6O"),
    ],
)
@pytest.mark.parametrize("name", ["stock.csv", "stock.xlsx"])
def test_no_cell_written_can_run_a_formula(
    tmp_path: Path, name: str, written: str, stands: str
) -> None:
    source, target = tmp_path / name, tmp_path / f"right{Path(name).suffix}"
    if name == "stock.xlsx":
        workbook(source, [["label", "identity"], ["A", "acetone"]])
    else:
        source.write_text("label,identity\nA,acetone\n")
    change = Change(2, "identity", "acetone", written, "")
    row = StockRow(2, "A", "acetone", None, changes=(change,))
    corrected_copy(StockCheck(str(source), (row,)), source, target)
    if name == "stock.csv":
        assert target.read_text() == f"label,identity\nA,{stands}\n"
    else:
        cell = openpyxl.load_workbook(target).worksheets[0]["B2"]
        assert (cell.value, cell.data_type) == (stands, "s")


@pytest.mark.parametrize(
    ("column", "read", "written"),
    [
        ("molar_mass", "46.70", "46.07"),
        ("molar_mass", "46,7", "46,07"),
        ("molar_mass", "46.700", "46.069"),
        ("molar_mass", "46.70 g/mol", "46.07 g/mol"),
        ("molar_mass", "0.04670 kg/mol", "0.0461 kg/mol"),
        ("boiling_point_C", "90", "78.4"),
        ("boiling_point_C", "90.0 ± 0.2 °C", "78.4 ± 0.2 °C"),
        ("boiling_point_C", "370 K", "351.6 K"),
        ("boiling_point_F", "200", "173.1"),
        ("percent_C", "53", "52.14"),
        ("percent_C", "53.0 %", "52.14 %"),
        ("percent_N", "5", "0.00"),
    ],
)
def test_a_number_is_corrected_in_the_manner_of_its_cell(
    tmp_path: Path, column: str, read: str, written: str
) -> None:
    source, target = tmp_path / "stock.csv", tmp_path / "right.csv"
    source.write_text(f'label,identity,{column}\nA,ethanol,"{read}"\n')
    check = checked(source)
    (change,) = check.changes
    assert (change.read, change.written) == (read, written)
    corrected_copy(check, source, target)
    assert checked(target).rows[0].findings == ()


def test_a_mark_stands_in_the_copy_of_a_table_that_had_one(tmp_path: Path) -> None:
    source, target = tmp_path / "stock.csv", tmp_path / "right.csv"
    source.write_bytes(codecs.BOM_UTF8 + b"label,identity\nA,acetone\n")
    corrected_copy(checked(source), source, target)
    assert target.read_bytes() == source.read_bytes()


@pytest.mark.parametrize(
    ("cell", "is_number"),
    [
        ("-7.5", True),
        ("+58.08", True),
        (" -1,5 ", True),
        ("+56.1 C", True),
        ("-20 °C", True),
        ("-40%", True),
        ("+12.5 g/mol", True),
        ("-742 mmHg", True),
        ("-3e5", True),
        ("+5E-3 g", True),
        ("-", True),
        ("--", True),
        ("-C", False),
        ("+A1", False),
        ("=1", False),
        ("-1+1", False),
        ("-7.5 kelvins", False),
        ("-7.5 g/moles", False),
    ],
)
def test_a_number_with_its_sign_is_not_a_formula(cell: str, is_number: bool) -> None:
    assert bool(corrections._NO_FORMULA.fullmatch(cell)) is is_number
