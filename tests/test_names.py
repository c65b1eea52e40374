"""The index of names, and the one resolver that every command asks."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from identify.chemistry import cas_numbers
from identify.compounds.naming.known_names import COMPOUNDS_FILE, NAMES_FILE, known_names
from identify.compounds.naming.lookup import NameFault, compound_of, row_meant, rows_meant
from identify.compounds.naming.making import collected_names
from identify.compounds.naming.resolver import Kind, built_in_resolver
from identify.compounds.parquet import built_in_table, shipped
from identify.compounds.stock_table import read_stock_candidates

LABORATORY_NAMES = Path(__file__).parents[1] / "data" / "laboratory_names.csv"


def test_the_index_is_what_the_script_makes_for_the_table() -> None:
    """Run ``scripts/build_candidates.py --names`` where this fails."""
    made = collected_names(built_in_table(), LABORATORY_NAMES)
    assert made.names.equals(known_names().names)
    assert made.compounds.equals(known_names().compounds)


def test_the_index_is_small() -> None:
    assert sum(shipped(file).stat().st_size for file in (NAMES_FILE, COMPOUNDS_FILE)) < 4_000_000


def test_names_of_the_table_need_neither_the_collection_nor_rdkit() -> None:
    program = (
        "import sys\n"
        "from identify.compounds.naming.lookup import row_meant\n"
        "from identify.compounds.parquet import built_in_table\n"
        "for name in ('isopropyl alcohol, 99 %', 'THF', 'ether, diethyl', '67-64-1'):\n"
        "    row_meant(built_in_table(), name)\n"
        "print(*sorted({'chemicals', 'rdkit', 'pandas', 'scipy'} & sys.modules.keys()))\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert run.stdout.strip() == ""


@pytest.mark.parametrize("name", [*built_in_table().text("name")[::97]])
def test_a_name_of_the_table_means_its_row_or_is_refused(name: str) -> None:
    meaning = built_in_resolver().meaning(name)
    assert name in {compound.name for compound in meaning.compounds}


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("67-64-1", "67-64-1"),
        ("67 64 1", "67-64-1"),
        ("67 - 64 - 1", "67-64-1"),
        ("67641", "67-64-1"),
        ("000067-64-1", "67-64-1"),
        ("[67-64-1]", "67-64-1"),
        ("CAS 67-64-1", "67-64-1"),
        ("CAS No. 67-64-1", "67-64-1"),
        ("cas-nr: 67641", "67-64-1"),
        ("CAS RN: 67-64-1", "67-64-1"),
        ("CASRN 67-64-1", "67-64-1"),
        ("CAS#67-64-1", "67-64-1"),
        ("67-64-2", "67-64-2"),  # the check digit is looked at later
        ("67642", None),
        ("12345", None),
        ("2-64-1", None),
        ("1,2-dichloroethane", None),
    ],
)
def test_cas_numbers_as_people_write_them(text: str, number: str | None) -> None:
    assert cas_numbers.written_number(text) == number


@pytest.mark.parametrize(
    ("identities", "cas"),
    [
        ({"identity": "dichloroethane", "cas": "107-06-2"}, "107-06-2"),
        ({"identity": "TMP", "smiles": "CC(C)CC(C)(C)C"}, "540-84-1"),
        ({"identity": "butyl chloride", "cas": "78-86-4"}, "78-86-4"),
        ({"identity": "acetone", "name": "house solvent"}, "67-64-1"),
        # A name that says nothing leaves it to the number, as in the check of a stock table.
        ({"identity": "house solvent", "cas": "67-64-1"}, "67-64-1"),
        ({"identity": "ethanol 70 %", "cas": "64-17-5"}, "64-17-5"),
    ],
)
def test_cells_of_a_row_settle_what_one_leaves_open(identities: dict[str, str], cas: str) -> None:
    assert compound_of(identities).cas == cas


@pytest.mark.parametrize(
    ("identities", "column", "words"),
    [
        ({}, "identity", "is empty"),
        ({"identity": "dichloroethane"}, "identity", "107-06-2"),
        ({"identity": "house solvent", "name": "nine"}, "identity", "not a compound known"),
        ({"identity": "water", "cas": "67-64-1"}, "identity", "has no carbon"),
        ({"identity": "ethanol 70 %", "cas": "67-64-1"}, "identity", "is a solution"),
        ({"identity": "acetone", "cas": "64-17-5"}, "cas", "identity says acetone"),
        ({"cas": "67-64-2"}, "cas", "last digit would have to be 1"),
    ],
)
def test_cells_of_a_row_that_mean_no_one_compound(
    identities: dict[str, str], column: str, words: str
) -> None:
    with pytest.raises(NameFault, match=words) as refused:
        compound_of(identities)
    assert refused.value.column == column


def test_an_empty_list_of_isomers_is_refused_too() -> None:
    """An abbreviation that nobody knows ended the check of a stock table once."""
    for text in ("qqs", "xyzs", "TMSs", "s"):
        assert built_in_resolver().meaning(text).problem is not None


@pytest.mark.parametrize("kind", ["identity", "cas", "smiles", "name"])
@pytest.mark.parametrize(
    "text", ["(", "[", "-", ",", "n-", "1,2-", "(n)", "%", "99 %", "=", "( )", "¤", "x" * 5000]
)
def test_what_is_hardly_a_text_is_refused(kind: Kind, text: str) -> None:
    assert built_in_resolver().meaning(text, kind).problem is not None


def test_a_formula_shows_all_its_compounds_and_a_name_one() -> None:
    table = built_in_table()
    assert len(rows_meant(table, "C4H10O")) > 5
    assert len(rows_meant(table, "ethyl ether")) == 1
    with pytest.raises(NameFault, match=r"107-06-2 and 1,1-dichloroethane 75-34-3"):
        rows_meant(table, "dichloroethane")


def test_a_compound_that_a_table_lacks_is_named(tmp_path: Path) -> None:
    path = tmp_path / "stock.csv"
    path.write_text("label,identity\nA-1,acetone\nA-2,THF\n", encoding="utf-8")
    stock = read_stock_candidates(path)
    assert stock.text("name")[row_meant(stock, "A-2")] == "tetrahydrofuran"
    assert stock.text("name")[row_meant(stock, "dimethyl ketone")] == "acetone"
    with pytest.raises(NameFault, match="is ethanol 64-17-5, which is not in this table"):
        row_meant(stock, "ethyl alcohol")


# What stands on a label beside the name. Common practice.
BESIDE = [
    "min. 99 %",
    "min 99 %",
    "minimum 99 %",
    "at least 99 %",
    "approx. 99 %",
    "approx 99%",
    "ca. 99 %",
    "about 99 %",
    "over 99 %",
    ">99 %",
    ">= 99.5 %",
    "≥99.5%",
    "~ 99 %",
    "99.5 percent",
    "99 pct",
    "98-99 %",
    "99+ %",
    "99 %+",
    "99 wt.%",
    "99 vol %",
    "99 % by GC",
    "99 % by volume",
    "99 % by weight",
    "99 % v/v",
    "99 % w/w",
    "99 % vol.",
    "99 % min.",
    "500 ml",
    "2.5 L",
    "1 liter",
    "2 litres",
    "4 x 1 l",
    "800 g",
    "1 kg",
    "1 gal",
    "2 gallons",
    "16 oz",
    "5 lbs",
    "1 pint",
    "3 bottles",
    "2 cans",
    "1 flask",
    "MW 58.08",
    "mw=58.08 g/mol",
    "Mr 58.08",
    "molar mass 58.08 g/mol",
    "Mol. Wt. 58.1 g/mol",
    "d 0.79",
    "d=0.791 g/ml",
    "density 0.79 g/cm3",
    "UN 1090",
    "UN1090",
    "# 7",
    "bottle 3",
    "can no. 4",
    "flask 12",
    "bottle no. 2",
    "?",
    "!",
    "*",
    "H2O < 50 ppm",
    "water max. 0.05 %",
    "moisture: max 0.1 %",
    "< 50 ppm H2O",
    "water content 0.02 %",
    "Wassergehalt max. 0,05 %",
    "eau < 0,1 %",
    "bp 56 C",
    "56-57 C",
    "b.p. 56",
    "lot 1234",
    "batch 7A",
    "shelf 3",
    "cabinet B",
    "cupboard 2",
    "opened 2021",
    "exp 2027",
    "expires 06/2027",
    "received March",
    "made 2020",
    "bought 2021",
    "with stabilizer",
    "w/ stabilizer",
    "stabilized",
    "stabilised",
    "inhibited",
    "stab.",
    "stabilized with BHT",
    "BHT stabilized",
    "for HPLC",
    "for synthesis",
    "zur Analyse",
    "para analisis",
    "para sintesis",
    "pour synthese",
    "fuer die Synthese",
    "from Robin",
    "FW 58.08",
]


@pytest.mark.parametrize(
    ("name", "cas"),
    [
        ("dimethyl sulphoxide", "67-68-5"),
        ("carbon disulphide", "75-15-0"),
        ("diethyl sulphide, 98 %", "352-93-2"),
        ("tetrahydrothiophene 1,1-dioxide (sulpholane)", "126-33-0"),
        ("M.E.K.", "78-93-3"),
        ("rac-2-butanol", "78-92-2"),
        ("(±)-2-butanol", "78-92-2"),
        ("carbon bisulfide", "75-15-0"),
        ("nhexane", "110-54-3"),
        ("ethanol 200 proof", "64-17-5"),
        ("ethanol, 200 Proof, 500 mL", "64-17-5"),
    ],
)
def test_other_spellings_of_a_name(name: str, cas: str) -> None:
    assert compound_of({"name": name}).cas == cas


@pytest.mark.parametrize("separator", [" ", ", "])
@pytest.mark.parametrize("words", BESIDE)
def test_what_stands_beside_a_name_does_not_change_it(words: str, separator: str) -> None:
    table = built_in_table()
    assert table.text("cas")[row_meant(table, f"acetone{separator}{words}")] == "67-64-1"


@pytest.mark.parametrize(
    ("written", "reason", "advice"),
    [
        ("ethanol C3H8O", "says C3H8O, but ethanol 64-17-5 is C2H6O", "Write the name alone."),
        ("ethanol, C3H8O", "says C3H8O, but ethanol 64-17-5 is C2H6O", "Write the name alone."),
        ("acetone / ethanol", "names more than one compound: acetone is acetone 67-64-1 and "
         "ethanol is ethanol 64-17-5", "Write one name alone."),
        ("pentane or hexane", "names more than one compound: pentane is pentane 109-66-0 and "
         "hexane is hexane 110-54-3", "Write one name alone."),
        ("o-xylene xylol", "is not a compound known here", "Did you mean o-xylene?"),
    ],
)  # fmt: skip
def test_what_contradicts_itself_is_told(written: str, reason: str, advice: str) -> None:
    meaning = built_in_resolver().meaning(written)
    assert meaning.problem is not None
    assert (meaning.problem.reason, meaning.problem.advice) == (reason, advice)
