"""A laboratory's own stock table as candidates: identities, numbers, faults, and the match."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from identify import Measurement, load_candidates, match, match_many
from identify.compounds import stock_table
from identify.compounds.stock_table import read_stock_candidates
from identify.compounds.table import REQUIRED, CandidateTable
from identify.matching.expected.expectation import Expectation
from identify.physics.vapor import Weighing
from identify.tables.faults import TableError

Write = Callable[..., Path]
UNKNOWN = "CC(C)(C)OCC(F)F"  # in no collection


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def write_file(content: str | bytes, name: str = "stock.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    return write_file


@pytest.fixture
def read(write: Write) -> Callable[[str], CandidateTable]:
    return lambda content: read_stock_candidates(write(content))


Read = Callable[[str], CandidateTable]


def faults_of(table: CandidateTable) -> list[str]:
    """Return the faults without the folder."""
    return [re.sub(r"^.*?(?=[^/\\]+\.(csv|xlsx)\b)", "", fault) for fault in table.faults]


# ----------------------------------------------------------------------------------- identities


@pytest.mark.parametrize(
    ("identity", "cas"),
    [
        ("ethanol", "64-17-5"),
        ("Ethanol", "64-17-5"),
        ("ETHYL ALCOHOL", "64-17-5"),
        ("64-17-5", "64-17-5"),
        ("CCO", "64-17-5"),
        ("OCC", "64-17-5"),
        ("C(O)C", "64-17-5"),
        ("LFQSCWFLJHTTHZ-UHFFFAOYSA-N", "64-17-5"),
        ("2-propanone", "67-64-1"),
        ("isopropyl alcohol", "67-63-0"),
        ("MEK", "78-93-3"),
        ("C1CCOC1", "109-99-9"),
        # Both forms of a mirror pair are the table's one compound.
        ("CC[C@H](C)O", "78-92-2"),
        ("CC[C@@H](C)O", "78-92-2"),
        ("CCC(C)O", "78-92-2"),
    ],
)
def test_a_compound_by_any_of_its_names(read: Read, identity: str, cas: str) -> None:
    table = read(f'label,identity\nA-1,"{identity}"\n')
    assert (table.text("cas"), table.text("label"), table.faults) == ([cas], ["A-1"], ())


def test_isomers_with_boiling_points_of_their_own_stay_apart(read: Read) -> None:
    table = read("label,identity\nA,Cl/C=C/Cl\nB,Cl/C=C\\Cl\n")
    assert sorted(table.text("cas")) == ["156-59-2", "156-60-5"]


@pytest.mark.parametrize(
    ("identity", "reason"),
    [
        ("", "is empty; give a name, a CAS number or a SMILES"),
        ("ethonal", '"ethonal" is not a compound known here; did you mean ethanol'),
        ("00-00-0", '"00-00-0" is the CAS number of no compound known here'),
        ("water", '"water" has no carbon'),
        ("[Na+].[Cl-]", "is a salt or a mixture"),
        ("CCO.CC", "is a salt or a mixture"),
        ("[13CH4]", "labeled with isotopes"),
        # Several compounds share a formula: none of them is taken.
        ("C4H10O", '"C4H10O" is a formula, which several compounds may share: diethyl ether'),
        ("dichloroethane", "1,2-dichloroethane 107-06-2 and 1,1-dichloroethane 75-34-3"),
        ("TMP", "2,2,4-trimethylpentane 540-84-1"),
        ("C" * 1_000_000, "is too long"),
        ("x" * 400, "is not a compound known here"),
    ],
)
def test_identity_that_names_no_compound(read: Read, identity: str, reason: str) -> None:
    table = read(f"label,identity\nA,{identity}\nB,acetone\n")
    (fault,) = faults_of(table)
    assert fault.startswith("stock.csv, row 2, identity: ")
    assert reason in fault
    assert len(fault) < 320
    assert table.text("label") == ["B"]


# --------------------------------------------------------------------------- numbers and columns


@pytest.mark.parametrize(
    "content",
    [
        "label,identity,boiling_point_C\nA,ethanol,78.1\n",
        "label;identity;boiling_point_C\nA;ethanol;78,1\n",
        "label\tidentity\tboiling_point_C\nA\tethanol\t78,1\n",
        'label,identity,boiling_point_C\nA,ethanol,"78,1"\n',
        "\ufefflabel,identity,boiling_point_C\nA,ethanol,78.1 °C\n",
        "label,identity,boiling_point_K\nA,ethanol,351.25\n",
        "label,identity,boiling_point_F\nA,ethanol,172.58\n",
        "label,identity,boiling_point_C\nA,ethanol,351.25 K\n",
        "label,identity,boiling_point\nA,ethanol,78.1\n",
        "Label,Identity,Boiling point (°C)\nA,ethanol,78.1\n",
        "identity,BOILING_POINT_C,label,price,shelf\nethanol,78.1,A,12.50,north\n",
        "\n\nlabel,identity,boiling_point_C\n\nA,ethanol,78.1\n,,\n",
    ],
)
def test_ways_to_write_a_table(read: Read, content: str) -> None:
    table = read(content)
    assert (table.text("name"), table.text("label"), table.faults) == (["ethanol"], ["A"], ())
    assert table.number("boiling_point_C") == pytest.approx([78.1], abs=1e-6)
    assert table.number("boiling_point_u") == pytest.approx([0.5])
    assert table.text("boiling_point_source") == ["stock table"]


def test_windows_encoding(write: Write) -> None:
    file = write("label,identity,boiling_point_C\nSäure 1,acetic acid,118 °C\n".encode("cp1252"))
    assert read_stock_candidates(file).text("label") == ["Säure 1"]


def workbook(path: Path, *rows: Sequence[object]) -> Path:
    book = openpyxl.Workbook()
    assert book.active is not None
    for row in rows:
        book.active.append(row)
    book.save(path)
    return path


def test_workbook(tmp_path: Path) -> None:
    table = read_stock_candidates(
        workbook(
            tmp_path / "stock.xlsx",
            ["label", "identity", "boiling_point_C", "percent_C"],
            [14, "ethanol", 78.1, 52.14],
            ["B", "67-64-1", None, None],
            [16, "methanol", "64,5", "37.48 %"],
            [17, "hexane", "warm", None],
        )
    )
    assert table.text("label") == ["14", "B", "16"]
    assert table.number("boiling_point_C") == pytest.approx([78.1, 56.1, 64.5], abs=0.1)
    assert faults_of(table) == [
        'stock.xlsx, row 5, boiling_point_C: "warm" does not start with a number; '
        "write it like 22.5 °C"
    ]


def test_what_the_file_does_not_say_comes_from_the_built_in_table(read: Read) -> None:
    built_in = load_candidates()
    (place,) = built_in.find("67-64-1")
    plain, carded = read("identity\nacetone\n"), read("identity,boiling_point_C\nacetone,56.4\n")
    for column in (*REQUIRED, "flash_point_C", "liquid_density_25C"):
        if column == "prior":
            continue
        expected = built_in.number(column)[place]
        np.testing.assert_array_equal(plain.number(column), [expected], err_msg=column)
        if not column.startswith("boiling_point"):
            np.testing.assert_array_equal(carded.number(column), [expected], err_msg=column)
    assert carded.number("boiling_point_C") == pytest.approx([56.4])
    assert carded.text("set_aside") == built_in.text("set_aside")[place : place + 1]


@pytest.mark.parametrize(
    ("celsius", "noted"),
    [("78.4", ""), ("82", ""), ("70", "8 K above the stock table's"), ("90", "12 K below")],
)
def test_a_card_far_from_the_table_is_used_and_noted(read: Read, celsius: str, noted: str) -> None:
    table = read(f"identity,boiling_point_C\nethanol,{celsius}\n")
    assert table.number("boiling_point_C") == pytest.approx([float(celsius)])
    assert noted in table.text("set_aside")[0]
    assert bool(noted) is bool(table.text("set_aside")[0])


@pytest.mark.parametrize(
    ("columns", "cells", "fault"),
    [
        ("formula", "C2H6O", None),
        ("formula", "CH3CH2OH", None),
        ("formula", "C2H6", 'formula: "C2H6" is not C2H6O; correct it, or the identity (ethanol)'),
        ("formula", "alcohol", "formula: "),
        ("molar_mass", "46.07", None),
        ("molar_mass", "0.04607 kg/mol", None),
        ("molar_mass", "46.4", 'molar_mass: "46.4" is not 46.07 g/mol; correct it'),
        ("molar_mass", "heavy", "molar_mass: "),
        ("percent_C,percent_H,percent_O", "52.14,13.13,34.73", None),
        ("percent_C", "52.5", None),
        ("percent_C", "53", 'percent_C: "53" is not 52.14 %; correct it, or the identity'),
        ("percent_N", "5", 'percent_N: "5" is not 0.00 %'),
        ("boiling_point_C", "hot", 'boiling_point_C: "hot" does not start with a number'),
        ("boiling_point_C", "5 g", 'boiling_point_C: "5 g" is a mass, not a temperature'),
        ("boiling_point_C", "1e9", 'boiling_point_C: "1e9" would be'),
        ("boiling_point_C", "nan", "boiling_point_C: "),
        ("boiling_point_C", "-400", "boiling_point_C: "),
        # A decimal comma between commas: the row has a cell too many.
        ("boiling_point_C", "78,3", "has 4 cells where there are 3 column names; if commas"),
    ],
)
def test_what_the_file_says_must_be_the_identitys(
    read: Read, columns: str, cells: str, fault: str | None
) -> None:
    tail = "," * columns.count(",")
    content = f"label,identity,{columns}\nA,ethanol,{cells}\nB,acetone,{tail}\n"
    table = read(content)
    if fault is None:
        assert (table.text("label"), table.faults) == (["A", "B"], ())
        return
    (line,) = faults_of(table)
    assert line.startswith("stock.csv, row 2")
    assert fault in line
    assert "\n" not in line
    assert table.text("label") == ["B"]  # the good row is there


def test_one_line_a_fault_and_the_good_rows_answered(read: Read) -> None:
    table = read(
        "label,identity,boiling_point_C\n"
        "A,ethonal,\nB,acetone,56.1\nC,methanol,cold\nD,,\nE,hexane,68.7\n"
    )
    assert table.text("label") == ["B", "E"]
    places = [fault.split(":")[0] for fault in faults_of(table)]
    assert places == [
        "stock.csv, row 2, identity",
        "stock.csv, row 4, boiling_point_C",
        "stock.csv, row 5, identity",
    ]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "is empty; check that it was saved"),
        (b"\x00\x01\x02\xff" * 50, "is not text in a known encoding"),
        ("shelf,bp\nethanol,78\n", "has no column named identity; begin with a row of column "),
        ("label,identity\n", "has no rows below its column names"),
        ("label,identity\nA,ethonal\n", "row 2, identity: .*not a compound known here"),
        ("identity,identity\nacetone,ethanol\n", 'says the same as column "identity"'),
        ("identity,boiling_point_C,boiling_point_F\nacetone,56,133\n", "boiling_point_F: says the"),
        ('label,identity\nA,"ethanol\n', "row 2: has quotation marks that do not pair"),
    ],
)
def test_table_that_cannot_be_used(write: Write, content: str | bytes, words: str) -> None:
    with pytest.raises(TableError, match=words) as caught:
        read_stock_candidates(write(content))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("boilling_point_C", "is not a known column; did you mean boiling_point_C?"),
        ("molar_mas", "did you mean molar_mass?"),
        ("boiling_point_mmHg", "mmHg"),
    ],
)
def test_a_column_that_is_nearly_known_is_not_passed_over(
    read: Read, header: str, words: str
) -> None:
    table = read(f"identity,{header}\nethanol,1\n")
    (fault,) = faults_of(table)
    assert fault.startswith(f"stock.csv, row 1, {header}: ")
    assert words in fault
    assert fault.endswith("(this column is not read)")


def test_load_warns_of_faults(write: Write) -> None:
    file = write("label,identity\nA,ethonal\nB,acetone\nC,\n")
    with pytest.warns(UserWarning, match=r"row 2, identity: .* \(and 1 more, see \.faults\)"):
        table = load_candidates(file)
    assert len(table) == 1


# ------------------------------------------------------------------------------------ duplicates


@pytest.mark.parametrize(
    ("rows", "labels", "celsius"),
    [
        ("A,ethanol,78.3\nB,64-17-5,78.3\nC,CCO,78.5\n", "A, B, C", 78.3),
        # What is stated goes before what the built-in table says, in either order.
        ("A,ethanol,\nB,CCO,77.0\n", "A, B", 77.0),
        ("A,ethanol,77.0\nB,CCO,\n", "A, B", 77.0),
        ("A,ethanol,\nB,CCO,\n,OCC,\n", "A, B", 78.4),
    ],
)
def test_bottles_of_one_compound_share_a_row(
    read: Read, rows: str, labels: str, celsius: float
) -> None:
    table = read(f"label,identity,boiling_point_C\n{rows}D,acetone,56.1\n")
    assert (table.text("label"), table.faults) == ([labels, "D"], ())
    assert table.number("boiling_point_C")[0] == pytest.approx(celsius, abs=0.05)
    for prior in ("commerce", "classroom"):
        assert table.weights(prior) == pytest.approx([0.5, 0.5])


def test_bottles_of_one_compound_that_contradict_each_other(read: Read) -> None:
    table = read("label,identity,boiling_point_C\nA,benzene,80.1\nB,benzene,81.0\n")
    assert table.text("label") == ["A"]
    assert faults_of(table) == [
        "stock.csv, row 3, boiling_point_C: benzene stands in this file with 80.1 °C too (bottle "
        "A); correct one of them"
    ]


# ------------------------------------------------------- a compound that the built-in table lacks


def test_unknown_compound_with_a_boiling_point(read: Read) -> None:
    table = read(f"label,identity,boiling_point_C\nX,{UNKNOWN},95\nA,ethanol,78.3\n")
    assert table.faults == ()
    assert table.text("formula")[0] == "C6H12F2O"
    for column in REQUIRED:
        assert np.isfinite(table.number(column)).all(), column
    assert table.number("molar_mass")[0] == pytest.approx(138.158, abs=0.01)
    assert table.percent[0].sum() == pytest.approx(100.0, abs=1e-6)
    # Like its neighbors: critical temperature about 1.5 times the boiling point, 2 to 5 MPa.
    assert 1.35 < table.number("critical_temperature_K")[0] / 368.15 < 1.65
    assert 2e6 < table.number("critical_pressure_Pa")[0] < 5e6
    assert table.text("critical_source")[0] == "median of the 5 compounds most like it"
    assert table.text("virial_source")[0] == "Tsonopoulos 1974"


def test_unknown_compound_without_a_boiling_point(read: Read) -> None:
    table = read(f"label,identity,boiling_point_C\nX,{UNKNOWN},\nA,ethanol,78.3\n")
    assert faults_of(table) == [
        f"stock.csv, row 2, boiling_point_C: is empty, and none is known for {UNKNOWN}; "
        "look it up and give it"
    ]
    assert table.text("label") == ["A"]


@pytest.mark.parametrize(
    "cas", ["67-64-1", "110-54-3", "67-56-1", "110-82-7", "67-66-3", "109-99-9", "141-78-6"]
)
def test_estimated_constants_serve_as_well_as_the_published(
    read: Read, cas: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Take a compound out of the built-in table; its weighing still gives its molar mass."""
    built_in = load_candidates()
    (place,) = built_in.find(cas)
    others = built_in.take(np.delete(np.arange(len(built_in)), place))
    monkeypatch.setattr(stock_table, "built_in_table", lambda: others)
    celsius, smiles = built_in.number("boiling_point_C")[place], built_in.text("smiles")[place]
    # Its name would be looked up by its CAS number; its structure is all there is.
    table = read(f'identity,boiling_point_C\n"{smiles}",{celsius}\n')
    assert "most like it" in table.text("critical_source")[0]
    readings = (0.5e-3, 372.0, 296.0, 98e3, 287e-6, 296.0, 0.5)
    weighing = Weighing(*(np.array([value]) for value in readings))
    estimated = Expectation.of(table).implied_molar_mass(weighing)[0, 0]
    published = Expectation.of(built_in).implied_molar_mass(weighing)[0, place]
    assert estimated == pytest.approx(published, rel=0.02)


# -------------------------------------------------------------------------------------- the match

STOCK = f"""\
label,identity,boiling_point_C
C-01,methanol,64.6
C-02,ethanol,78.3
C-03,acetone,56.1
C-04,{UNKNOWN},95
C-05,67-64-1,56.2
"""


@pytest.mark.parametrize(
    ("reading", "label"),
    [
        ({"boiling_point": 78.0, "molar_mass": 46.0}, "C-02"),
        ({"boiling_point": 56.0}, "C-03, C-05"),
        ({"molar_mass": 138.0, "percent": {"F": 27.5}}, "C-04"),
    ],
)
def test_match_against_the_stock(write: Write, reading: dict[str, object], label: str) -> None:
    file = write(STOCK)
    ranking = match(Measurement("X", **reading), candidates=file)
    assert ranking.verdict == "single match"
    assert ranking.candidates[0].bottle == label
    assert ranking.to_dict()["candidates"][0]["bottle"] == label
    assert len({candidate.inchikey for candidate in ranking.candidates}) <= 4
    many = match_many([Measurement("X", **reading)], candidates=file)
    assert list(many["name"]) == [candidate.name for candidate in ranking.candidates]


def test_bottles_are_equally_probable_whatever_is_in_commerce(write: Write) -> None:
    table = load_candidates(write(STOCK))
    for ranking in (
        match(Measurement("X"), table),
        match(Measurement("X"), table, prior="uniform"),
    ):
        probabilities = [candidate.probability for candidate in ranking.candidates]
        assert probabilities == pytest.approx([0.99 / 4] * 4)


def test_the_cards_own_boiling_point_decides(write: Write) -> None:
    run = Measurement("X", boiling_point=70.0)
    usual = match(run, candidates=write("identity\nethanol\nmethanol\n"))
    carded = match(run, candidates=write("identity,boiling_point_C\nethanol,70\nmethanol,\n"))
    assert not usual.candidates[0].plausible
    assert (carded.candidates[0].name, carded.candidates[0].plausible) == ("ethanol", True)
