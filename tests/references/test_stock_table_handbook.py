"""A stock table typed from a handbook passes clean; one fault of each kind planted is found alone.

`handbook_liquids.csv`: names, CAS numbers, formulas, molar masses and boiling points at 760 mmHg as
the CRC Handbook of Chemistry and Physics prints them in "Physical Constants of Organic Compounds"
(from memory; typed before anything was compared with them, and none changed afterwards).
Percentages: from the abridged standard atomic weights of 2021 (IUPAC, Pure Appl. Chem. 2022, 94,
573), rounded to two decimals as a card has them.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from pathlib import Path

import pytest

import identify

ATOMIC_WEIGHTS = {"H": 1.008, "C": 12.011, "O": 15.999, "F": 18.998, "S": 32.06}
ATOMIC_WEIGHTS |= {"Cl": 35.45, "Br": 79.904, "I": 126.90}
PERCENT = [f"percent_{element}" for element in ATOMIC_WEIGHTS]
COLUMNS = ["label", "identity", "cas", "formula", "molar_mass", "boiling_point_C", *PERCENT]
HANDBOOK = Path(__file__).parent / "handbook_liquids.csv"

Cells = dict[str, str]
Table = dict[str, Cells]


def row(label: str, name: str, cas: str, formula: str, boils: str) -> Cells:
    counts = {
        element: int(number or 1) for element, number in re.findall(r"([A-Z][a-z]?)(\d*)", formula)
    }
    masses = {element: ATOMIC_WEIGHTS[element] * count for element, count in counts.items()}
    total = sum(masses.values())
    percent = {f"percent_{e}": f"{100.0 * mass / total:.2f}" for e, mass in masses.items()}
    cells = {"label": label, "identity": name, "cas": cas, "formula": formula}
    return cells | {"molar_mass": f"{total:.2f}", "boiling_point_C": boils, **percent}


def handbook() -> Table:
    with HANDBOOK.open(encoding="utf-8", newline="") as file:
        typed = list(csv.DictReader(file))
    table = {}
    for place, one in enumerate(typed, 1):
        cells = row(
            f"H-{place:02}", one["name"], one["cas"], one["formula"], one["boiling_point_C"]
        )
        # The handbook's own molar mass, which also checks that the formula was typed right.
        assert float(cells["molar_mass"]) == pytest.approx(float(one["molar_mass"]), abs=0.021)
        table[one["name"]] = cells | {"molar_mass": one["molar_mass"]}
    return table


def check(rows: list[Cells], folder: Path) -> identify.stock.result.StockCheck:
    path = folder / "stock.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerows(rows)
    return identify.check_stock(path)


def faults(checked: identify.stock.result.StockCheck) -> set[tuple[str, str]]:
    """Return what is wrong or doubtful, as row's label and code."""
    return {
        (one.label, finding.code)
        for one in checked.rows
        for finding in one.findings
        if finding.severity != "note"
    } | {("", finding.code) for finding in checked.findings if finding.severity != "note"}


def test_handbook_passes_clean(tmp_path: Path) -> None:
    table = handbook()
    checked = check(list(table.values()), tmp_path)
    assert len(checked.rows) == len(table) >= 40
    assert faults(checked) == set()
    assert not checked.is_wrong
    assert not checked.changes


def set_cells(name: str, **cells: str) -> Callable[[Table], None]:
    def plant(table: Table) -> None:
        table[name] |= cells

    return plant


def exchange(name: str, one: str, other: str) -> Callable[[Table], None]:
    def plant(table: Table) -> None:
        cells = table[name]
        cells[one], cells[other] = cells[other], cells[one]

    return plant


CARD = ["formula", "molar_mass", "boiling_point_C", *PERCENT]


def take_card(name: str, other: str, back: bool = False) -> Callable[[Table], None]:
    def plant(table: Table) -> None:
        mine, theirs = ({c: table[n].get(c, "") for c in CARD} for n in (name, other))
        table[name] |= theirs
        if back:
            table[other] |= mine

    return plant


def add(*cells: str) -> Callable[[Table], None]:
    def plant(table: Table) -> None:
        table[cells[1]] = row(*cells)

    return plant


def again(name: str, **cells: str) -> Callable[[Table], None]:
    def plant(table: Table) -> None:
        table[f"{name} again"] = table[name] | cells

    return plant


ONLY_NAME = dict.fromkeys(["cas", *CARD], "")

PLANTED = {
    "a name misspelled": (
        set_cells("acetone", identity="acetoin acid", cas=""),
        {("H-01", "identity-unknown")},
    ),
    "a name of several": (
        set_cells("acetone", **ONLY_NAME, identity="dichloropropane"),
        {("H-01", "identity-ambiguous")},
    ),
    "a salt": (
        set_cells("acetone", **ONLY_NAME, identity="sodium acetate"),
        {("H-01", "identity-unsuitable")},
    ),
    "another compound's CAS number": (
        set_cells("acetone", cas="67-56-1"),
        {("H-01", "identity-disagrees")},
    ),
    "a CAS number's digit": (set_cells("acetone", cas="67-64-2"), {("H-01", "cas-check-digit")}),
    "a formula": (set_cells("acetone", formula="C3H8O"), {("H-01", "formula-wrong")}),
    "a molar mass": (set_cells("hexane", molar_mass="68.18"), {("H-12", "molar-mass-wrong")}),
    "digits of a percentage": (
        set_cells("acetone", percent_C="60.24"),
        {("H-01", "percent-wrong")},
    ),
    "percentages exchanged": (
        exchange("acetone", "percent_C", "percent_O"),
        {("H-01", "percent-wrong")},
    ),
    "percentages all a little high": (
        set_cells("acetone", percent_C="62.08", percent_H="10.45", percent_O="27.60"),
        {("H-01", "percent-sum")},
    ),
    "a boiling point": (
        set_cells("acetone", boiling_point_C="65.1"),
        {("H-01", "boiling-point-wrong")},
    ),
    "a boiling point in Fahrenheit": (
        set_cells("hexane", boiling_point_C="155.7"),
        {("H-12", "boiling-point-wrong")},
    ),
    "a cell that is not a number": (
        set_cells("hexane", boiling_point_C="sixty"),
        {("H-12", "cell-unreadable")},
    ),
    "no label": (set_cells("hexane", label=""), {("", "label-missing")}),
    "a label twice": (set_cells("hexane", label="H-01"), {("H-01", "label-twice")}),
    "a row twice": (again("hexane"), {("H-12", "bottle-twice")}),
    "another bottle's card": (
        take_card("hexane", "thiophene"),
        {("H-12", "card-of-another-bottle")},
    ),
    "two cards exchanged": (
        take_card("hexane", "thiophene", back=True),
        {("H-12", "cards-exchanged"), ("H-40", "cards-exchanged")},
    ),
    "a liquid that stays in the bath": (
        add("H-90", "octane", "111-65-9", "C8H18", "125.6"),
        {("H-90", "not-boiled-off")},
    ),
    "a liquid that hardly boils off": (
        add("H-90", "1-propanol", "71-23-8", "C3H8O", "97.2"),
        {("H-90", "bath-margin")},
    ),
    "a gas": (
        add("H-90", "butane", "106-97-8", "C4H10", "-0.5"),
        {("H-90", "gas-in-the-room")},
    ),
    "a solid": (
        add("H-90", "2-methyl-2-propanol", "75-65-0", "C4H10O", "82.4"),
        {("H-90", "solid-in-the-room")},
    ),
    "a liquid that hardly condenses": (
        add("H-90", "pentane", "109-66-0", "C5H12", "36.1"),
        {("H-90", "vapor-pressure-high")},
    ),
    "a carcinogen": (
        add("H-90", "1,2-dichloropropane", "78-87-5", "C3H6Cl2", "96.4"),
        {("H-90", "carcinogen"), ("H-90", "bath-margin"), ("H-90", "exposure-limit-low")},
    ),
}


@pytest.mark.parametrize("kind", PLANTED)
def test_planted_fault_is_found_alone(kind: str, tmp_path: Path) -> None:
    plant, expected = PLANTED[kind]
    table = handbook()
    plant(table)
    assert faults(check(list(table.values()), tmp_path)) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("label,identity,bolling_point_C\nA,acetone,56.1\n", {("", "column-not-read")}),
        ("label,identity\nA,acetone\nB,hexane,68,7\n", {("", "row-unreadable")}),
        ("label,identity\nA,2-methyl-3-oxapent-1-yne\n", {("A", "identity-unknown")}),
        ("label,identity\nA,COC#CC\n", {("A", "boiling-point-unknown")}),
    ],
)
def test_planted_in_the_file_itself(
    text: str, expected: set[tuple[str, str]], tmp_path: Path
) -> None:
    (tmp_path / "stock.csv").write_text(text, encoding="utf-8")
    found = faults(identify.check_stock(tmp_path / "stock.csv"))
    assert {code for _, code in found} == {code for _, code in expected}


def test_all_faults_at_once(tmp_path: Path) -> None:
    """One fault in each of several bottles: every one is found, and nothing else."""
    table = handbook()
    for plant in (
        set_cells("acetone", cas="67-64-2"),
        set_cells("methanol", formula="C2H4O"),
        set_cells("hexane", molar_mass="68.18"),
        set_cells("ethyl acetate", percent_C="45.53"),
        set_cells("cyclohexane", boiling_point_C="87.0"),
        take_card("diethyl sulfide", "thiophene", back=True),
        add("H-90", "octane", "111-65-9", "C8H18", "125.6"),
    ):
        plant(table)
    assert faults(check(list(table.values()), tmp_path)) == {
        ("H-01", "cas-check-digit"),
        ("H-02", "formula-wrong"),
        ("H-12", "molar-mass-wrong"),
        ("H-06", "percent-wrong"),
        ("H-13", "boiling-point-wrong"),
        ("H-47", "cards-exchanged"),
        ("H-40", "cards-exchanged"),
        ("H-90", "not-boiled-off"),
    }


def test_isomers_of_the_handbook_form_groups(tmp_path: Path) -> None:
    """Those within 1 or 2 K of each other, of one formula: by the handbook's own numbers."""
    checked = check(list(handbook().values()), tmp_path)
    grouped = [set(group.labels) for group in checked.groups]
    assert {"H-20", "H-21"} in grouped  # 2,4- and 2,2-dimethylpentane, 80.5 and 79.2
    assert {"H-23", "H-24", "H-25"} in grouped  # heptanes at 89.8, 90.0 and 92.0
    alone = {"H-17", "H-13", "H-26", "H-31", "H-02"}  # no isomer of theirs boils within 5 K
    assert not alone & set().union(*grouped)
