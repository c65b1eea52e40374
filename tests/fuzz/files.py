"""Cells, structures and constants as the files that hold them, sound or damaged."""

from __future__ import annotations

import csv
import datetime
import gzip
import io
import zipfile
from functools import cache

import pyarrow as pa
import pyarrow.parquet as pq
from hypothesis import strategies as st
from openpyxl import Workbook
from openpyxl.utils.exceptions import IllegalCharacterError
from rdkit import Chem

from identify import load_candidates
from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS
from tests.fuzz.spoiling import WORDS, Cells, Draw, damaged, encoded, spoiled
from tests.fuzz.usual_files import usual_files

ODD_CELLS = (
    *(True, False, 0, -1, 7, 78.4, 1e308, 10**20, 0.1 + 0.2),
    *(datetime.date(2026, 3, 4), datetime.datetime(2026, 3, 4, 12, 30), datetime.time(9, 5)),
    *("=A1+1", "=1/0", '=HYPERLINK("x")', "#REF!"),
)
SMILES = (
    *("CCO", "CC(C)=O", "CO", "CCCCCC", "ClC(Cl)Cl", "CCOCC", "c1ccccc1", "CC#N", "CCOC(C)=O"),
    *("C[C@H](O)CC", "F/C=C/F", "[13CH3]O", "O", "[Na+].[Cl-]", "C.C", "[CH3]", "CC(", "C1CC", "Q"),
    *(
        "C" * 300,
        "C1CCC2" * 40,
        "[Fe]",
        "[2H]C([2H])([2H])O",
        "*C",
        "N#N",
        "[C-]#[O+]",
        "CC(=O)O",
        "",
    ),
)
_NAMES = ("ethanol", "acetone", "Zoë's", "64-17-5", "", "78.4", "bp 64", "name", "=1+1")


@st.composite
def table_file(draw: Draw, cells: st.SearchStrategy[Cells], name: str) -> tuple[str, bytes]:
    """Draw a table's file and its name: text, however separated and encoded."""
    rows = draw(cells)
    text = st.just(_separated(draw, rows))
    return f"{name}.csv", draw(encoded(spoiled(text, draw(st.sampled_from([0, 0, 1])))))


def _separated(draw: Draw, rows: Cells) -> str:
    page = io.StringIO()
    mark = draw(st.sampled_from(",,,;\t"))
    quoting = draw(st.sampled_from([csv.QUOTE_MINIMAL] * 3 + [csv.QUOTE_ALL]))
    end = draw(st.sampled_from(["\n", "\n", "\r\n", "\r"]))
    csv.writer(page, delimiter=mark, quoting=quoting, lineterminator=end).writerows(rows)
    return page.getvalue()


@st.composite
def workbook(draw: Draw, cells: st.SearchStrategy[Cells], name: str) -> tuple[str, bytes]:
    """Draw a workbook and its name: numbers as such, further sheets, or a part that is damaged."""
    book = Workbook()
    sheets = [book.active]
    if draw(st.sampled_from([False, False, True])):
        sheets.insert(draw(st.sampled_from([0, 1])), book.create_sheet("notes"))
        sheets[0].sheet_state = draw(st.sampled_from(["visible", "hidden", "veryHidden"]))
        sheets[-1].append(draw(st.sampled_from([["notes"], ["label", "boiling_point_C"], []])))
    as_numbers = draw(st.booleans())
    for row in draw(cells):
        _append(sheets[0], [_number(cell) if as_numbers else cell for cell in row])
    if draw(st.sampled_from([False] * 5 + [True])):
        sheets[0].merge_cells("A1:B2")
    file = io.BytesIO()
    if all(sheet.sheet_state != "visible" for sheet in book):
        book.create_sheet("seen")
    book.save(file)
    data = file.getvalue()
    way = draw(st.sampled_from(["sound"] * 4 + ["part", "bytes"]))
    if way == "part":
        data = _with_a_damaged_part(draw, data)
    elif way == "bytes":
        data = damaged(draw, data)
    return f"{name}.xlsx", data


def _append(sheet: object, cells: list[object]) -> None:
    """Append a row, without the letters that XML cannot hold."""
    for length in (None, 3):
        try:
            sheet.append([_cell(cell, length) for cell in cells])
            return
        except (IllegalCharacterError, ValueError):
            continue
    sheet.append(["?"] * len(cells))


def _cell(cell: object, length: int | None) -> object:
    if not isinstance(cell, str):
        return cell
    return "".join(one for one in cell[: length or 32_000] if one.isprintable())


def _number(cell: object) -> object:
    try:
        return float(cell) if isinstance(cell, str) and len(cell) < 20 else cell
    except ValueError:
        return cell


def _with_a_damaged_part(draw: Draw, data: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(file, "w") as new:
        hit = draw(st.sampled_from(sorted(old.namelist())))
        for part in old.namelist():
            content = old.read(part)
            if part == hit:
                content = draw(encoded(spoiled(st.just(content.decode()), 2)))
            new.writestr(part, content)
    return file.getvalue()


# ------------------------------------------------------------------------------------ structures


@st.composite
def structures(draw: Draw) -> tuple[str, bytes]:
    """Draw a file of structures and its name: SMILES or SDF, also compressed."""
    some = draw(st.lists(st.sampled_from(SMILES), min_size=1, max_size=6))
    if draw(st.booleans()):
        name, text = "new.smi", "\n".join(f"{one} {draw(st.sampled_from(_NAMES))}" for one in some)
    else:
        name, text = "new.sdf", "".join(_molfile(draw, one) for one in some)
    data = draw(encoded(spoiled(st.just(text + "\n"), 2)))
    if draw(st.sampled_from([False] * 4 + [True])):
        name, data = f"{name}.gz", gzip.compress(data, mtime=0)
        if draw(st.booleans()):
            data = damaged(draw, data)
    return name, data


@cache
def _block(smiles: str) -> str:
    molecule = Chem.MolFromSmiles(smiles, sanitize=False)
    return Chem.MolToMolBlock(molecule, kekulize=False) if molecule is not None else "bad\n"


def _molfile(draw: Draw, smiles: str) -> str:
    tag = draw(
        st.sampled_from(["", "> <bp_K>\n351.5\n\n", ">  <CAS>\n64-17-5\n\n", "> <name>\n\n"])
    )
    end = draw(st.sampled_from(["$$$$\n"] * 6 + ["", "\n" * 50, "$$$$"]))
    return f"{draw(st.sampled_from(_NAMES))}{_quiet_block(smiles)}{tag}{end}"


def _quiet_block(smiles: str) -> str:
    from rdkit import RDLogger

    RDLogger.DisableLog("rdApp.*")
    try:
        return _block(smiles)
    finally:
        RDLogger.EnableLog("rdApp.*")


@st.composite
def collections(draw: Draw) -> Cells:
    """Draw a table of structures, header first."""
    header: list[object] = ["smiles", "name", "cas", "bp_K"]
    numbers = st.sampled_from(["351.5", "", "78.4 C", "330", "x"])
    row = st.tuples(st.sampled_from(SMILES), st.sampled_from(_NAMES), st.just(""), numbers)
    return [header, *map(list, draw(st.lists(row, min_size=1, max_size=6)))]


# ------------------------------------------------------------------------- Parquet and Arrow files


@cache
def _candidates() -> pa.Table:
    table = load_candidates()
    return pa.Table.from_pandas(table.take(list(range(0, len(table), 200))).frame)


_TYPES = (pa.string(), pa.int64(), pa.float32(), pa.bool_(), pa.date32(), pa.binary(), pa.float64())
_VALUES = (None, 0, -1, 1e308, float("nan"), float("inf"), "", "x" * 5_000, "=1+1", *WORDS[:24])


@st.composite
def parquet_file(draw: Draw) -> tuple[str, bytes]:
    """Draw a candidate table as Parquet and its name."""
    table = _candidates().slice(draw(st.integers(0, 40)), draw(st.sampled_from([0, 1, 2, 20, 20])))
    for _ in range(draw(st.integers(0, 3))):
        table = _spoiled_column(draw, table)
    file = io.BytesIO()
    options = {"compression": draw(st.sampled_from(["snappy", "zstd", "none"]))}
    pq.write_table(table, file, use_dictionary=draw(st.booleans()), **options)
    data = file.getvalue()
    return "own.parquet", damaged(draw, data) if draw(st.sampled_from([0, 0, 0, 1])) else data


def _spoiled_column(draw: Draw, table: pa.Table) -> pa.Table:
    known = [one for one in (*TEXT_COLUMNS, *NUMBER_COLUMNS) if table.column_names.count(one) == 1]
    if not known:
        return table
    name = draw(st.sampled_from(known))
    place = table.column_names.index(name)
    way = draw(st.sampled_from(["value", "value", "value", "type", "out", "twice", "name"]))
    if way == "out":
        return table.drop_columns([name])
    if way == "twice":
        return table.append_column(name, table.column(name))
    if way == "name":
        return table.rename_columns(
            [
                draw(st.sampled_from(WORDS[:20])) if one == name else one
                for one in table.column_names
            ]
        )
    values = table.column(name).to_pylist()
    kind = table.column(name).type
    if way == "type":
        kind = draw(st.sampled_from(_TYPES))
    elif values:
        values[draw(st.integers(0, len(values) - 1))] = draw(st.sampled_from(_VALUES))
    return table.set_column(place, name, _array(values, kind))


def _array(values: list[object], kind: pa.DataType) -> pa.Array:
    """Return values in a type, each that it cannot hold as null."""
    held = []
    for value in values:
        try:
            pa.array([value], kind)
        except (pa.ArrowException, TypeError, ValueError, OverflowError):
            value = None
        held.append(value)
    return pa.array(held, kind)


@st.composite
def arrow_file(draw: Draw) -> tuple[str, bytes]:
    """Draw an index, or a table in parts, with one file damaged, and that file's name."""
    names = ["index.arrow", *(one for one in usual_files() if one.startswith("parts"))]
    name = draw(st.sampled_from(names))
    data = usual_files()[name]
    for _ in range(draw(st.integers(0, 2))):
        data = damaged(draw, data)
    return name, data
