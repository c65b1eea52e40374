"""What is said once of many bottles, and what was not checked."""

from __future__ import annotations

from pathlib import Path

import pytest

from identify.stock import check_stock
from identify.stock.corrections import left_to_decide
from identify.stock.remarks import told_once
from identify.stock.result import StockCheck

HEADER = (
    "label,name,cas,formula,molar_mass,boiling_point_C,percent_C,percent_H,percent_O,percent_Cl"
)
CARD = "C3H6O,58.08,56.1,62.04,10.41,27.55,"
TEN_HIGH = ("toluene", "octane", "pyridine", "nonane", "1-butanol", "decane", "cumene", "anisole",
            "mesitylene", "cyclohexanone")  # fmt: skip


def checked(folder: Path, *rows: str, header: str = HEADER) -> StockCheck:
    path = folder / "stock.csv"
    path.write_text("\n".join([header, *rows, ""]), encoding="utf-8")
    return check_stock(path)


@pytest.mark.parametrize(
    ("names", "told"),
    [
        (("toluene", "octane"), []),  # two are told one by one
        (("toluene", "octane", "pyridine"), [("not-boiled-off", 3)]),
        (TEN_HIGH, [("not-boiled-off", 10)]),
        (("acetone", "acetone", "acetone", "acetone"), [("compound-again", 3)]),
        (
            ("chloroform", "benzene", "dichloromethane", "tetrahydrofuran"),
            [("carcinogen", 3)],  # the fourth is a note: it is only possibly one
        ),
        (("acetone", "hexane", "ethyl acetate"), []),
        (("pentane", "diethyl ether", "isopentane"), [("vapor-pressure-high", 3)]),
        (("1-propanol", "heptane", "isooctane"), [("bath-margin", 3)]),
        (("toluene", "acetonitrile", "chloroform"), [("exposure-limit-low", 3)]),
    ],
)
def test_a_remark_that_holds_for_many_is_made_once(
    tmp_path: Path, names: tuple[str, ...], told: list[tuple[str, int]]
) -> None:
    rows = [f"K-{place},{name},,,,,,,," for place, name in enumerate(names, 1)]
    check = checked(tmp_path, *rows)
    about_method = [one for one in check.remarks if one.code in dict(told)]
    assert [(one.code, len(one.rows)) for one in about_method] == told
    for remark in check.remarks:
        # Each of its bottles is in the sentence, has the finding, and is not told again.
        for row in check.rows:
            if row.row in remark.rows:
                assert row.title in remark.message
                assert remark.code in [one.code for one in row.findings]
                assert remark.code not in [
                    one.code for one in told_once(row, check.remarks).findings
                ]
    kept = [told_once(row, check.remarks).findings for row in check.rows]
    count = sum(map(len, kept)) + sum(len(one.rows) for one in check.remarks)
    assert count == sum(len(row.findings) for row in check.rows)


@pytest.mark.parametrize(
    ("row", "missing"),
    [
        (f"A,acetone,,{CARD}", ()),
        ("A,acetone,,,58.08,56.1,62.04,10.41,27.55,", ("formula",)),
        ("A,acetone,,C3H6O,,56.1,62.04,10.41,27.55,", ("molar mass",)),
        ("A,acetone,,C3H6O,58.08,56.1,,,,", ("percentages",)),
        ("A,acetone,,C3H6O,58.08,56.1,62.04,10.41,,", ("% O",)),
        ("A,hexane,,C6H14,86.18,68.7,83.63,16.37,,", ()),
        ("A,acetone,,C3H6O,58.08,,62.04,10.41,27.55,", ("boiling point",)),
        ("A,acetone,,,,,,,,", ("formula", "molar mass", "percentages", "boiling point")),
        (f"A,shelf nine,,{CARD}", ("all that it states",)),
    ],
)
def test_what_a_row_leaves_unsaid_was_not_checked(
    tmp_path: Path, row: str, missing: tuple[str, ...]
) -> None:
    check = checked(tmp_path, row, f"B,acetone,,{CARD}")
    assert check.rows[0].not_checked == missing
    assert check.rows[1].not_checked == ()
    told = [one.message for one in check.findings if one.code == "not-checked"]
    assert len(told) == bool(missing)
    assert all(f"{what} of A" in told[0] for what in missing)


def test_a_column_that_is_missing_everywhere_is_said_in_two_words(tmp_path: Path) -> None:
    rows = [f"K-{place},acetone" for place in range(40)]
    (told,) = (
        one.message
        for one in checked(tmp_path, *rows, header="label,name").findings
        if one.code == "not-checked"
    )
    assert "boiling point of any bottle" in told
    assert "K-1" not in told


@pytest.mark.parametrize(
    ("row", "left"),
    [
        (f"A,acetone,67-63-0,{CARD}", False),  # the card decides, and the copy has it
        ("A,acetone,67-63-0,,,,,,,", True),
        ("A,acetone,,C3H6O,58.08,56.1,26.04,10.41,27.55,", False),
        ("A,toluene,,,,,,,,", True),  # no bath for it
        ("A,xylene,,,,,,,,", True),
        (f"A,acetone,,{CARD}", False),
        # One cell is written anew, but there is more.
        ("A,toluene,108-88-3,C7H9,,,,,,", True),
    ],
)
def test_only_what_a_person_must_decide_is_left(tmp_path: Path, row: str, left: bool) -> None:
    assert [one.title for one in left_to_decide(checked(tmp_path, row))] == (["A"] if left else [])
