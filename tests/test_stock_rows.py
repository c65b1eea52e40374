"""The rows of a stock table one by one: identities, what is stated, labels and duplicates."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from identify.bench.laboratory import Laboratory
from identify.compounds.stock_table import read_stock_candidates
from identify.compounds.table import CandidateTable
from identify.notebook.findings import Finding
from identify.stock.result import StockRow
from identify.stock.rows.row_checks import CheckedRows, checked_rows
from identify.tables.faults import TableError

Check = Callable[[str], CheckedRows]
MOUNTAIN = Laboratory.of(pressure="640 mmHg")


@pytest.fixture
def check(tmp_path: Path) -> Check:
    def check_text(text: str) -> CheckedRows:
        path = tmp_path / "stock.csv"
        path.write_text(text, encoding="utf-8")
        return checked_rows(path, Laboratory())

    return check_text


def codes(row: StockRow, notes: bool = False) -> list[str]:
    return [one.code for one in row.findings if notes or one.severity != "note"]


def only(row: StockRow) -> Finding:
    (finding,) = row.findings
    return finding


# ------------------------------------------------------------------------------------ identities


@pytest.mark.parametrize(
    ("columns", "cells", "cas"),
    [
        ("identity", "acetone", "67-64-1"),
        ("identity", "ACETONE", "67-64-1"),
        ("identity", "2-propanone", "67-64-1"),
        ("identity", "67-64-1", "67-64-1"),
        ("identity", "CC(=O)C", "67-64-1"),
        ("identity", "CSCPPACGZOOCGX-UHFFFAOYSA-N", "67-64-1"),
        ("identity", "InChIKey=CSCPPACGZOOCGY-UHFFFAOYSA-N", None),  # no compound has it
        ("name", "acetone", "67-64-1"),
        ("cas", "67-64-1", "67-64-1"),
        ("CAS number", "67-64-1", "67-64-1"),
        ("smiles", "CC(=O)C", "67-64-1"),
        # An earlier number of the same compound, and a mirror image: one row of the table.
        ("cas", "15892-23-6", "78-92-2"),
        ("smiles", "CC[C@H](C)O", "78-92-2"),
        # Blanks and hyphens in another way.
        ("name", "2 butanone", "78-93-3"),
        ("name", "ethyl-acetate", "141-78-6"),
        # Without locants, but one compound alone has this name.
        ("name", "butanone", "78-93-3"),
        ("name", "trifluoroethanol", "75-89-8"),
        # The main name of one compound, though n-, sec- and tert- can stand in front of it.
        ("name", "butylamine", "109-73-9"),
        ("name", "hexane", "110-54-3"),
        # The formula of a gas, and the SMILES of a liquid.
        ("identity", "CO", "67-56-1"),
        # Formulas that only one compound can have, or that say how the atoms are joined.
        ("identity", "CHCl3", "67-66-3"),
        ("identity", "CH3CH2CHO", "123-38-6"),
        # What stands beside a name on a label.
        ("identity", '"acetone, for rinsing"', "67-64-1"),
        # What two or three cells say alike.
        ("name,cas", "acetone,67-64-1", "67-64-1"),
        ("cas,name", "67-64-1,2-propanone", "67-64-1"),
        ("name,cas,smiles", "acetone,67-64-1,CC(C)=O", "67-64-1"),
        # What one cell leaves open, another settles.
        ("name,cas", "xylene,95-47-6", "95-47-6"),
        ("name,cas", "C3H6O,67-64-1", "67-64-1"),
        ("name,cas", "methyl crotonate,4358-59-2", "4358-59-2"),
        ("name,smiles", "butyl chloride,CCC(C)Cl", "78-86-4"),
        ("name,cas", '"1,2-dichloroethene",156-59-2', "156-59-2"),
    ],
)
def test_what_a_row_is(check: Check, columns: str, cells: str, cas: str | None) -> None:
    (row,) = check(f"label,{columns}\nA,{cells}\n").rows
    if cas is None:
        assert row.compound is None
        assert row.is_wrong
        return
    assert row.compound is not None
    assert (row.compound.cas, row.findings) == (cas, ())


@pytest.mark.parametrize(
    ("columns", "cells", "code", "words"),
    [
        ("identity", "C3H6O", "identity-ambiguous", "acetone 67-64-1"),
        ("name", "xylene", "identity-ambiguous", "o-xylene 95-47-6"),
        ("name", "xylenes", "identity-ambiguous", "a mixture of isomers"),
        ("name", "propanol", "identity-ambiguous", "isopropanol 67-63-0 and 1-propanol 71-23-8"),
        ("name", "butanol", "identity-ambiguous", "tert-butanol 75-65-0"),
        ("name", "dichloroethane", "identity-ambiguous", "1,1-dichloroethane 75-34-3"),
        ("name", "dimethylpentane", "identity-ambiguous", "2,2-dimethylpentane 590-35-2"),
        ("name", "methyl butanol", "identity-ambiguous", "3-methyl-1-butanol 123-51-3"),
        ("name", "hexanes", "identity-ambiguous", "hexane 110-54-3"),
        ("name", "methyl crotonate", "identity-ambiguous", "which stereo form it is"),
        ("identity", "ethonal", "identity-unknown", "Did you mean ethanol?"),
        ("identity", '"acetone, sticky"', "identity-unknown", "Did you mean acetone?"),
        ("identity", "bottle seven", "identity-unknown", "its CAS number or its SMILES"),
        ("identity", "1975-09-02", "identity-unknown", "made a date of 75-09-2"),
        ("cas", "1975-09-02", "identity-unknown", "made a date of 75-09-2"),
        ("cas", "ethanol", "identity-unknown", "is not a CAS number"),
        ("cas", "9999999-99-5", "identity-unknown", "of no compound known here"),
        ("smiles", "ethanol", "identity-unknown", "is not a SMILES"),
        ("identity", "C99H3O", "identity-unknown", "no compound known here has it"),
        ("identity,label", ",A", "identity-unknown", "nothing says which compound it is"),
        ("identity", "water", "identity-unsuitable", "has no carbon"),
        ("identity", "7732-18-5", "identity-unsuitable", "has no carbon"),
        ("smiles", "O", "identity-unsuitable", "has no carbon"),
        ("identity", "bromine", "identity-unsuitable", "has no carbon"),
        ("identity", "H2O", "identity-unsuitable", "has no carbon"),
        ("identity", "sodium chloride", "identity-unsuitable", "is a salt or a mixture"),
        ("smiles", "CC(=O)[O-].[Na+]", "identity-unsuitable", "is a salt or a mixture"),
        ("smiles", "[13CH3]O", "identity-unsuitable", "isotopes"),
        ("smiles", "C[Hg]C", "identity-unsuitable", "has Hg in it"),
        ("identity", "petroleum ether", "identity-unsuitable", "sold as a mixture"),
        ("identity", "glucose", "identity-unsuitable", "is a solid that melts at 146 °C"),
        ("name,cas", "acetone,64-17-5", "identity-disagrees", 'cas "64-17-5" is ethanol'),
        ("name,smiles", "acetone,CCO", "identity-disagrees", 'smiles "CCO" is ethanol'),
        ("name,cas", "butyl alcohol,64-17-5", "identity-disagrees", "1-butanol"),
        ("name,smiles,cas", "acetone,CCO,64-17-5", "identity-disagrees", "cas and smiles agree"),
    ],
)
def test_a_row_that_is_no_one_compound(
    check: Check, columns: str, cells: str, code: str, words: str
) -> None:
    columns, cells = (columns, cells) if "label" in columns else (f"label,{columns}", f"A,{cells}")
    (row,) = check(f"{columns}\n{cells}\n").rows
    finding = only(row)
    assert (row.compound, finding.code, finding.severity) == (None, code, "error")
    assert words in f"{finding.message} {finding.advice}"
    assert row.changes == ()


@pytest.mark.parametrize("name", ["butyl chloride", "propyl alcohol", "methyl butyl ether"])
def test_an_alkyl_group_without_a_mark_is_the_straight_chain_and_said(
    check: Check, name: str
) -> None:
    (row,) = check(f"label,name\nA,{name}\n").rows
    finding = only(row)
    assert (finding.code, finding.severity) == ("identity-ambiguous", "warning")
    assert row.compound is not None
    assert f"taken for {row.compound.name}" in finding.message
    assert "C(C)" not in row.compound.smiles.replace("=", "")


@pytest.mark.parametrize(
    ("written", "name"),
    [("THF", "tetrahydrofuran"), ("IPA", "isopropanol"), ("dcm", "dichloromethane")],
)
def test_what_solvents_are_called_in_the_laboratory(check: Check, written: str, name: str) -> None:
    (row,) = check(f"label,identity\nA,{written}\n").rows
    assert row.compound is not None
    assert row.compound.name == name


def test_a_further_name_that_nobody_knows_is_a_doubt_only(check: Check) -> None:
    known, unknown = check("label,cas,name\nA,67-64-1,acetone\nB,67-56-1,shelf nine\n").rows
    assert known.findings == ()
    assert (only(unknown).code, only(unknown).severity) == ("identity-unknown", "warning")
    assert unknown.compound is not None


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ("acetone,67-64-1,C3H6O,58.08", 'smiles "CCO" is ethanol'),
        ("acetone,,C3H6O,58.08", "Formula and molar mass fit name"),
        ("acetone,,C2H6O,46.07", "Formula and molar mass fit smiles"),
    ],
)
def test_names_that_disagree_are_weighed_by_the_rest_of_the_row(
    check: Check, cells: str, words: str
) -> None:
    (row,) = check(f"label,smiles,name,cas,formula,molar_mass\nA,CCO,{cells}\n").rows
    assert only(row).code == "identity-disagrees"
    assert words in only(row).message


ACETONE, ISOPROPANOL = "C3H6O,58.08,56.1,62.04", "C3H8O,60.10,82.3,59.96"
UNKNOWN, UNSUITABLE, DISAGREES = "identity-unknown", "identity-unsuitable", "identity-disagrees"
AMBIGUOUS, DIGIT = "identity-ambiguous", "cas-check-digit"


@pytest.mark.parametrize(
    ("names", "card", "cas", "code", "severity", "changed"),
    [
        # A synonym, a grade, a solution: what number and card agree on is not an error.
        ("Spiritus fortis,64-17-5", "C2H6O,46.07,78.3,52.14", "64-17-5", UNKNOWN, "note", {}),
        ("Spiritus fortis,64-17-5", ",,,", "64-17-5", UNKNOWN, "warning", {}),
        ("isopropanol 70 %,67-63-0", ISOPROPANOL, "67-63-0", UNSUITABLE, "warning", {}),
        ("petroleum ether,110-54-3", ",,68.7,", "110-54-3", UNSUITABLE, "warning", {}),
        ('"acetone, ACS grade",67-64-1', ACETONE, "67-64-1", "", "", {}),
        # But water is not a grade of acetone, nor is ethanol of 70 %.
        ("water,67-64-1", ACETONE, "67-64-1", UNSUITABLE, "error", {}),
        ("ethanol 70 %,67-64-1", ACETONE, "67-64-1", UNSUITABLE, "error", {}),
        # Name and number of two compounds: the card decides, by any of its values.
        ("acetone,67-63-0", ISOPROPANOL, "67-63-0", DISAGREES, "error", {"name": "isopropanol"}),
        ("acetone,67-63-0", ACETONE, "67-64-1", DISAGREES, "error", {"cas": "67-64-1"}),
        ("acetone,67-63-0", "C3H8O,,,", "67-63-0", DISAGREES, "error", {"name": "isopropanol"}),
        ("acetone,67-63-0", ",58.08,,", "67-64-1", DISAGREES, "error", {"cas": "67-64-1"}),
        ("acetone,67-63-0", ",,82.3,", "67-63-0", DISAGREES, "error", {"name": "isopropanol"}),
        ("acetone,67-63-0", ",,,62.04", "67-64-1", DISAGREES, "error", {"cas": "67-64-1"}),
        # Not where it fits neither, or in part only.
        ("acetone,67-63-0", ",,77.1,", None, DISAGREES, "error", {}),
        ("acetone,67-63-0", "C3H8O,58.08,,", None, DISAGREES, "error", {}),
        # A name that several compounds have, and only one of them boils there.
        ("xylene,", ",,144.4,", "95-47-6", AMBIGUOUS, "warning", {"name": "o-xylene"}),
        ("dichloroethane,", ",,83.5,", "107-06-2", AMBIGUOUS, "warning",
         {"name": "1,2-dichloroethane"}),
        ("butyl chloride,", ",,50.8,", "507-20-0", AMBIGUOUS, "warning",
         {"name": "2-chloro-2-methylpropane"}),
        ("butyl chloride,", ",,78.4,", "109-69-3", AMBIGUOUS, "warning", {}),
        ("xylene,", "C8H10,106.17,,", None, AMBIGUOUS, "error", {}),  # all of them have it
        # A mistyped number: the only one like it that boils there.
        (",110-54-4", ",,68.7,83.63", "110-54-3", DIGIT, "error", {"cas": "110-54-3"}),
        (",110-54-4", ",,,83.63", None, DIGIT, "error", {}),
        (",110-54-4", ",,98.4,", None, DIGIT, "error", {}),
    ],
)  # fmt: skip
def test_what_the_names_leave_open_the_card_decides(
    check: Check,
    names: str,
    card: str,
    cas: str | None,
    code: str,
    severity: str,
    changed: dict[str, str],
) -> None:
    header = "label,name,cas,formula,molar_mass,boiling_point_C,percent_C"
    (row,) = check(f"{header}\nA,{names},{card}\n").rows
    assert (row.compound and row.compound.cas) == cas
    found = [(one.code, one.severity) for one in row.findings]
    assert found == ([(code, severity)] if code else [])
    assert {change.column: change.written for change in row.changes} == changed


def test_the_corrected_copy_has_nothing_left_to_decide(check: Check) -> None:
    header = "label,name,cas,formula,boiling_point_C"
    rows = check(f"{header}\nA,acetone,67-63-0,C3H8O,82.3\nB,xylene,,C8H10,144.4\n").rows
    right = {(change.row, change.column): change.written for row in rows for change in row.changes}
    again = check(
        f"{header}\nA,{right[2, 'name']},67-63-0,C3H8O,82.3\nB,{right[3, 'name']},,C8H10,144.4\n"
    ).rows
    assert [row.findings for row in again] == [(), ()]


@pytest.mark.parametrize(
    ("cells", "name"),
    [
        ("Spiritus fortis,64-17-5", "ethanol"),
        ("isopropanol 70 %,67-63-0", "isopropanol"),
        ("water,67-64-1", None),
        ("acetone,64-17-5", None),
        ("Spiritus fortis,", None),
    ],
)
def test_what_the_check_passes_over_is_passed_over_elsewhere(
    tmp_path: Path, cells: str, name: str | None
) -> None:
    found = loaded(tmp_path, f"name,cas\nhexane,\n{cells}\n")
    assert found.text("name") == ["hexane", *([name] if name else [])]


@pytest.mark.parametrize(
    ("row", "written", "words"),
    [
        # One digit, two neighbors, the check digit: the name says which number was meant.
        ("acetone,67-64-2,", "67-64-1", "acetone has 67-64-1"),
        ("acetone,76-64-1,", "67-64-1", "acetone has 67-64-1"),
        ("acetone,67-74-1,", "67-64-1", "its last digit would have to be"),
        # No slip away from the name's number: another compound's may have been meant.
        ("ethanol,67-64-2,", "", "ethanol has 64-17-5"),
        # Nothing but the number, and the formula to choose by.
        (",67-64-2,", "", "67-64-1 (acetone)"),
        (",67-46-1,C3H6O", "", "Numbers like it are 67-64-1 (acetone)."),
        (",67-64-2,C2H6O", "", "would have to be 1."),
    ],
)
def test_a_check_digit(check: Check, row: str, written: str, words: str) -> None:
    (checked,) = check(f"label,name,cas,formula\nA,{row}\n").rows
    finding = only(checked)
    assert (finding.code, finding.severity) == ("cas-check-digit", "error")
    assert words in finding.message
    assert [change.written for change in checked.changes] == ([written] if written else [])


def test_a_wrong_digit_is_told_beside_a_contradiction(check: Check) -> None:
    (row,) = check("label,name,smiles,cas\nA,acetone,CCO,67-64-2\n").rows
    assert codes(row) == ["identity-disagrees", "cas-check-digit"]
    assert row.changes == ()


# ----------------------------------------------------------------------------- what a row states


@pytest.mark.parametrize(
    ("columns", "cells", "code", "severity", "words"),
    [
        ("formula", "C2H6O", None, "", ""),
        ("formula", "CH3CH2OH", None, "", ""),
        ("formula", "C2H6", "formula-wrong", "error", "is not C2H6O, which is ethanol's (O 0 for"),
        ("formula", "alcohol", "cell-unreadable", "error", "alcohol"),
        ("molar_mass", "46.07", None, "", ""),
        ("molar_mass", "46", None, "", ""),
        ("molar_mass", "46.1", None, "", ""),
        ("molar_mass", "46.08", None, "", ""),  # H 1.01, C 12.01, O 16.00: 46.08
        ("molar_mass", "0.04607 kg/mol", None, "", ""),
        ("molar_mass", "46.0", "molar-mass-wrong", "warning", "rounded atomic weights"),
        ("molar_mass", "46.12", "molar-mass-wrong", "error", "is not 46.07 g/mol"),
        ("molar_mass", "46.70", "molar-mass-wrong", "error", "is not 46.07 g/mol"),
        ("molar_mass", "heavy", "cell-unreadable", "error", "heavy"),
        ("percent_C,percent_H,percent_O", "52.14,13.13,34.73", None, "", ""),
        ("percent_C,percent_H,percent_O", "52.1,13.1,34.7", None, "", ""),
        ("percent_C,percent_H,percent_O", "52,13,35", None, "", ""),
        ("percent_C", "52.14", None, "", ""),
        ("percent_C,percent_N", "52.14,0", None, "", ""),
        # H 1, C 12, O 16.
        ("percent_C,percent_H,percent_O", "52.17,13.04,34.78", "percent-wrong", "warning", "round"),
        ("percent_C", "52.41", "percent-wrong", "error", "C 52.41 is 52.14 in ethanol"),
        ("percent_N", "5", "percent-wrong", "error", "N 5 is 0.00 in ethanol"),
        (
            "percent_C,percent_H,percent_O",
            "34.73,13.13,52.14",
            "percent-wrong",
            "error",
            "those of C and O are exchanged",
        ),
        (
            "percent_C,percent_H,percent_O",
            "62.04,10.41,27.55",
            "percent-wrong",
            "error",
            "these are the percentages of C3H6O",
        ),
        (
            "percent_C,percent_H,percent_O",
            "0.5214,0.1313,0.3473",
            "percent-wrong",
            "error",
            "look like fractions",
        ),
        ("percent_C", "much", "cell-unreadable", "error", "much"),
        # Rounded, cut off, or with older weights: still 100.
        ("percent_C,percent_H,percent_O", "52.13,13.12,34.73", None, "", ""),
        ("percent_C,percent_H,percent_O", "52.18,13.17,34.77", "percent-sum", "warning", "100.12"),
        ("boiling_point_C", "78.4", None, "", ""),
        ("boiling_point_C", "77", None, "", ""),
        ("boiling_point_C", "79.6", None, "", ""),
        ("boiling_point_C", "80.3", "boiling-point-wrong", "warning", "1.9 K too high"),
        ("boiling_point_C", "82.0", "boiling-point-wrong", "error", "3.6 K too high"),
        ("boiling_point_C", "173.1", "boiling-point-wrong", "error", "in degrees Fahrenheit"),
        ("boiling_point_F", "173.1", None, "", ""),
        ("boiling_point_C", "351.5", "boiling-point-wrong", "error", "right in kelvin"),
        ("boiling_point_C", "hot", "cell-unreadable", "error", "hot"),
        ("boiling_point_C,boiling_point_at_mmHg", "76.3,700", None, "", ""),
        ("boiling_point_C,boiling_point_at_kPa", "76.3,93.33", None, "", ""),
        (
            "boiling_point_C,boiling_point_at_mmHg",
            "78.4,640",
            "boiling-point-wrong",
            "error",
            "under 640 mmHg",
        ),
        ("boiling_point_C,boiling_point_at", "78.4,high", "cell-unreadable", "error", "high"),
    ],
)
def test_what_a_row_states(
    check: Check, columns: str, cells: str, code: str | None, severity: str, words: str
) -> None:
    (row,) = check(f"label,identity,{columns}\nA,ethanol,{cells}\n").rows
    assert row.compound is not None
    if code is None:
        assert row.findings == ()
        assert row.changes == ()
        return
    assert (only(row).code, only(row).severity) == (code, severity)
    assert words in only(row).message


@pytest.mark.parametrize(
    ("identity", "boils", "words"),
    [
        ("1-propanol", "82.3", "where its isomer isopropanol boils"),
        ("2-methylpentane", "49.7", "where its isomer 2,2-dimethylbutane boils"),
    ],
)
def test_the_boiling_point_of_an_isomer(
    check: Check, identity: str, boils: str, words: str
) -> None:
    """It is not corrected by the name alone: the name may be the one that is wrong."""
    (row,) = check(f"label,identity,boiling_point_C\nA,{identity},{boils}\n").rows
    assert only(row).code == "boiling-point-wrong"
    assert words in only(row).message
    assert row.changes == ()
    assert row.compound is not None
    both = f"label,identity,cas,boiling_point_C\nA,{identity},{row.compound.cas},{boils}\n"
    assert [change.column for change in check(both).rows[0].changes] == ["boiling_point_C"]


@pytest.mark.parametrize(
    ("cells", "found", "words"),
    [
        ("73.9,laboratory", None, ""),
        ("78.4,", None, ""),
        ("73.9,", "boiling-point-wrong", "right for 640 mmHg, the pressure of this laboratory"),
        ("78.4,laboratory", "boiling-point-wrong", "under 640 mmHg"),
    ],
)
def test_at_the_laboratorys_pressure(
    tmp_path: Path, cells: str, found: str | None, words: str
) -> None:
    path = tmp_path / "stock.csv"
    path.write_text(f"label,identity,boiling_point_C,boiling_point_at\nA,ethanol,{cells}\n")
    (row,) = checked_rows(path, MOUNTAIN).rows
    assert codes(row) == ([found] if found else [])
    assert words in "".join(finding.message for finding in row.findings)


def test_a_boiling_point_that_is_hardly_known(check: Check) -> None:
    """It is a note, allows for more, and corrects nothing."""
    rows = check("label,cas,boiling_point_C\nA,358-23-6,70\n").rows
    assert codes(rows[0], notes=True) == ["boiling-point-uncertain"]
    (far,) = check("label,cas,boiling_point_C\nA,358-23-6,190\n").rows
    assert codes(far) == ["boiling-point-wrong"]
    assert far.changes == ()
    (known,) = check("label,name\nA,acetone\n").rows
    assert known.findings == ()


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        # Nothing says which compound it is, and the formula which elements there are.
        ("shelf nine,C2H6O,52.14,13.13,34.73", []),
        ("shelf nine,C2H6O,52.14,13.13,30.73", ["percent-sum"]),
        # Without formula an element may be left out: less than 100 is not a fault, more is.
        ("shelf nine,,52.14,13.13,30.73", []),
        ("shelf nine,,72.14,13.13,34.73", ["percent-sum"]),
        ("ethanol,C2H6O,52.14,13.13,34.73", []),
    ],
)
def test_the_sum_of_percentages(check: Check, cells: str, found: list[str]) -> None:
    (row,) = check(f"label,name,formula,percent_C,percent_H,percent_O\nA,{cells}\n").rows
    assert [code for code in codes(row) if code != "identity-unknown"] == found


@pytest.mark.parametrize(
    ("cells", "compound", "found"),
    [
        # Two things of another formula: the name is the one that is wrong.
        ("ethanol,C3H8O,60.10,", None, ["identity-disagrees"]),
        ("ethanol,C3H8O,60.10,82.3", None, ["identity-disagrees"]),
        # Wrong in two ways that fit nothing together: two errors.
        ("ethanol,C2H6,46.70,", "ethanol", ["formula-wrong", "molar-mass-wrong"]),
        ("ethanol,C3H8O,46.07,", "ethanol", ["formula-wrong"]),
    ],
)
def test_a_row_that_states_another_compound(
    check: Check, cells: str, compound: str | None, found: list[str]
) -> None:
    (row,) = check(f"label,identity,formula,molar_mass,boiling_point_C\nA,{cells}\n").rows
    assert codes(row) == found
    assert (None if row.compound is None else row.compound.name) == compound
    # One error is corrected by the name; two against one are not.
    assert len(row.changes) == (1 if found == ["formula-wrong"] else 0)


# ------------------------------------------------------------------------------ labels, duplicates


@pytest.mark.parametrize(
    ("rows", "row", "code", "severity"),
    [
        ("A,acetone,\nB,ethanol,\n", 3, None, ""),
        ("A,acetone,\na,ethanol,\n", 3, "label-twice", "error"),
        ("A,acetone,\nA,shelf nine,\n", 3, "label-twice", "error"),
        ("A,acetone,\nA,2-propanone,\n", 3, "label-twice", "warning"),
        ("A,acetone,56.1\nA,acetone,56.1\n", 3, "bottle-twice", "warning"),
        ("A,acetone,56.1\nB,acetone,56.1\n", 3, "compound-again", "note"),
        (",acetone,\nB,ethanol,\n", 2, "label-missing", "warning"),
    ],
)
def test_duplicates(check: Check, rows: str, row: int, code: str | None, severity: str) -> None:
    checked = check(f"label,identity,boiling_point_C\n{rows}")
    found = {
        (one.row, finding.code, finding.severity)
        for one in checked.rows
        for finding in one.findings
        if finding.code != "identity-unknown"
    }
    assert found == ({(row, code, severity)} if code else set())
    assert checked.findings == ()


def test_a_table_without_labels(check: Check) -> None:
    checked = check("identity\nacetone\nethanol\n")
    assert [finding.code for finding in checked.findings] == ["label-missing"]
    assert not any(row.findings for row in checked.rows)


# ------------------------------------------------------------------------------- rows and columns


def test_every_row_is_there_once(check: Check) -> None:
    checked = check(
        "label,identity,bolling_point_C\n\nA,acetone,56.1\n,,\nB,ethonal,\n"
        'C,hexane,68,7\nD,"ethanol\nE,water,\n'
    )
    assert [row.row for row in checked.rows] == [3, 5, 6, 7, 8]
    assert [codes(row) for row in checked.rows[1:]] == [
        ["identity-unknown"],
        ["row-unreadable"],
        ["row-unreadable"],
        ["identity-unsuitable"],
    ]
    assert [finding.code for finding in checked.findings] == ["column-not-read"]
    assert "did you mean boiling_point_C?" in checked.findings[0].message


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("label,identity\n", "has no rows below its column names"),
        ("bottle,shelf\nA,acetone\n", "has no column named identity"),
        ("name,name\nacetone,acetone\n", "says the same as column"),
    ],
)
def test_a_table_that_cannot_be_used(check: Check, text: str, words: str) -> None:
    with pytest.raises(TableError, match=words):
        check(text)


CELLS = st.one_of(
    st.sampled_from(
        ["acetone", "67-64-1", "67-64-2", "CCO", "C3H6O", "xylene", "water", "56.1", "58.08", "="]
    ),
    st.sampled_from(["1e400", "-1e9", "nan", "0", "700 mmHg", "laboratory", "1.2.3", "C" * 600]),
    st.text(max_size=12),
    st.floats().map(str),
)
NUMBERS = ["molar_mass", "boiling_point_C", "boiling_point_at", "percent_C", "percent_O"]
PROPERTY_COLUMNS = ["label", "identity", "cas", "smiles", "name", "formula", *NUMBERS]
CODES = {
    *("identity-unknown", "identity-ambiguous", "identity-unsuitable", "identity-disagrees"),
    *("cas-check-digit", "formula-wrong", "molar-mass-wrong", "percent-wrong", "percent-sum"),
    *("boiling-point-wrong", "boiling-point-uncertain", "cell-unreadable", "row-unreadable"),
    *("label-twice", "label-missing", "bottle-twice", "compound-again"),
}


@given(st.lists(st.lists(CELLS, min_size=11, max_size=11), min_size=1, max_size=4))
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_anything_may_stand_in_a_cell(tmp_path: Path, rows: list[list[str]]) -> None:
    """Whatever it is: each filled row is there once, with findings that are documented."""
    path = tmp_path / "stock.csv"
    text = io.StringIO()
    csv.writer(text).writerows([PROPERTY_COLUMNS, *rows])
    path.write_text(text.getvalue(), encoding="utf-8", newline="")
    filled = [cells for cells in rows if any(cell.strip() for cell in cells)]
    try:
        checked = checked_rows(path, Laboratory())
    except TableError:  # control characters, which no text has, or nothing below the column names
        return
    assert len(checked.rows) == len(filled)
    for row in checked.rows:
        assert {finding.code for finding in row.findings} <= CODES
        assert all("\n" not in finding.message for finding in row.findings)
        assert len({(change.column) for change in row.changes}) == len(row.changes)


def test_whatever_the_table_knows_passes_clean(tmp_path: Path, table: CandidateTable) -> None:
    """Its own names, numbers and structures mean the same compound, and its values are right."""
    columns = ("name", "cas", "smiles", "formula", "molar_mass", "boiling_point_C", "percent_C")
    boils = table.number("boiling_point_C")
    liquids = [place for place in range(len(table)) if 20.0 < boils[place] < 130.0]
    path = tmp_path / "stock.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["label", *columns])
        for place in liquids:
            texts = [table.text(column)[place] for column in columns[:4]]
            numbers = [f"{table.number(column)[place]:.2f}" for column in columns[4:]]
            writer.writerow([f"L{place}", *texts, *numbers])
    rows = checked_rows(path, Laboratory()).rows
    assert [row.compound and row.compound.place for row in rows] == liquids
    assert [finding for row in rows for finding in row.findings if finding.severity != "note"] == []


# ------------------------------------------------------------ the same columns for --candidates


@pytest.mark.parametrize(
    ("content", "celsius"),
    [
        ("name,boiling_point_C\nethanol,78.3\n", 78.3),
        ("cas,boiling_point_C\n64-17-5,78.3\n", 78.3),
        ("smiles,name,boiling_point_C\nCCO,shelf nine,78.3\n", 78.3),
        ("identity,boiling_point_C,boiling_point_at_mmHg\nethanol,76.24,700\n", 78.3),
        ("identity,boiling_point_C,boiling_point_at_kPa\nethanol,76.24,93.326\n", 78.3),
        ("identity,boiling_point_C,boiling_point_at\nethanol,76.24,700 mmHg\n", 78.3),
        ("identity,boiling_point_C,boiling_point_at_mmHg\nethanol,78.3,\n", 78.3),
        ("identity,boiling_point_at\nethanol,laboratory\n", 78.4),
    ],
)
def test_columns_of_candidates(tmp_path: Path, content: str, celsius: float) -> None:
    """Ethanol boils 2.05 K lower at 700 mmHg than at 760: its equation of state."""
    table = loaded(tmp_path, content)
    assert (table.text("name"), table.faults) == (["ethanol"], ())
    assert table.number("boiling_point_C") == pytest.approx([celsius], abs=0.06)


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ("ethanol,67-64-1,", "is acetone, but identity says ethanol"),
        ("ethanol,,laboratory", '"laboratory" gives no pressure here; write it, such as 742'),
        ("ethanol,,high", "high"),
    ],
)
def test_candidates_that_cannot_be_used(tmp_path: Path, cells: str, words: str) -> None:
    header = "identity,cas,boiling_point_at,boiling_point_C"
    table = loaded(tmp_path, f"{header}\nacetone,,,56.1\n{cells},78.3\n")
    assert table.text("name") == ["acetone"]
    (fault,) = table.faults
    assert words in fault


def loaded(folder: Path, content: str) -> CandidateTable:
    path = folder / "stock.csv"
    path.write_text(content)
    return read_stock_candidates(path)


@pytest.mark.parametrize("word", ["n/a", "-", "not measured"])
def test_a_word_for_nothing_is_none(check, word):
    header = "label,name,cas,formula,boiling_point_C,percent_O"
    rows = check(f"{header}\nA,acetone,{word},{word},{word},{word}\n")
    assert codes(rows.rows[0]) == []
