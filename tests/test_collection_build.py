"""Tables built from structures: what is read, what is set aside, and interrupted builds."""

from __future__ import annotations

import csv
import gzip
import importlib.util
import io
import os
import pickle
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np
import openpyxl
import pyarrow.parquet as pq
import pytest
from chemicals.acentric import LK_omega
from chemicals.vapor_pressure import Ambrose_Walton
from chemicals.virial import BVirial_Tsonopoulos_extended
from hypothesis import given
from hypothesis import strategies as st
from rdkit import Chem

from identify import Measurement, match
from identify.chemistry.structures import read_structure
from identify.compounds import parquet
from identify.compounds.collection import (
    BuildOptions,
    Built,
    Headings,
    InputFault,
    build_collection,
    workers,
)
from identify.compounds.collection.identity import (
    _MAX_SMILES_LENGTH,
    IdentifiedRecord,
    RecordIdentities,
    RefusedError,
    _formula_facts,
    _smiles_of_block,
)
from identify.compounds.collection.parts import WorkFolder
from identify.compounds.collection.rows import _MAX_NAME_LENGTH, _name
from identify.compounds.loading import load_candidates
from identify.compounds.published.likeness import Likeness
from identify.compounds.published.vapor.corresponding_states import (
    acentric_factor,
    log_vapor_pressure,
    polar_term,
    virial_coefficients,
)
from identify.compounds.published.vapor.curves import vapor_curve, vapor_curves
from identify.compounds.table import REQUIRED, CandidateTable
from identify.tables.lines import LONGEST_LINE
from identify.tables.structures.source import Chunk, Record

CHECKOUT = Path(__file__).resolve().parents[1]
ACETONE = "InChI=1S/C3H6O/c1-3(2)4/h1-2H3"
ETHANOL = "InChI=1S/C2H6O/c1-2-3/h3H,2H2,1H3"
# A compound that the built-in table lacks.
NEW = "CC(O)C(C)OCCS"


class Made(NamedTuple):
    """What a build left: the table, the lines of the list, and what was said."""

    built: Built
    table: CandidateTable
    aside: list[dict[str, str]]
    said: list[str]

    @property
    def names(self) -> list[str]:
        return self.table.text("name")


Make = Callable[..., Made]


@pytest.fixture
def make(tmp_path: Path) -> Make:
    def build(content: bytes | str | Sequence[Path], name: str = "in.smi", **options: Any) -> Made:
        paths = content
        if isinstance(content, bytes | str):
            paths = [tmp_path / name]
            paths[0].write_bytes(content.encode() if isinstance(content, str) else content)
        said: list[str] = []
        options = {"jobs": 1, **options}
        built = build_collection(
            paths, tmp_path / "out.parquet", BuildOptions(**options), said.append
        )
        with built.set_aside.open(encoding="utf-8", newline="") as page:
            aside = list(csv.DictReader(page))
        assert not (tmp_path / "out.parquet.parts").exists()
        parquet._load.cache_clear()  # the same path again holds another table
        return Made(built, load_candidates(built.table), aside, said)

    return build


def workbook(rows: Sequence[Sequence[object]]) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    page = io.BytesIO()
    book.save(page)
    return page.getvalue()


def molfiles(*compounds: tuple[str, str], **tags: str) -> str:
    """Return an SDF of compounds by SMILES and title, all with the same tags."""
    blocks = []
    for smiles, title in compounds:
        mol = Chem.MolFromSmiles(smiles)
        mol.SetProp("_Name", title)
        lines = "".join(f"> <{tag}>\n{value}\n\n" for tag, value in tags.items())
        blocks.append(f"{Chem.MolToMolBlock(mol)}{lines}$$$$\n")
    return "".join(blocks)


TWO = [("CC(C)=O", "propanone"), ("CCO", "spirit")]
TWO_ROWS = "smiles,name\nCC(C)=O,propanone\nCCO,spirit\n"


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.smi", "CC(C)=O propanone\nCCO\tspirit\n"),
        ("a.smiles", "SMILES name\nCC(C)=O propanone\n\n\nOCC spirit"),
        ("a.smi", "CC(C)=O propanone\r\nCCO spirit\rCCO spirit\n"),
        ("a.smi", "\ufeffCC(C)=O propanone\nCCO spirit\n"),
        ("a.smi", "CC(C)=O propanone\nCCO spirit\n".encode("utf-16")),
        ("a.smi.gz", gzip.compress(b"CC(C)=O propanone\nCCO spirit\n")),
        ("a.smi", gzip.compress(b"CC(C)=O propanone\nCCO spirit\n")),
        ("a.csv", TWO_ROWS),
        ("a.csv", TWO_ROWS.replace(",", ";")),
        ("a.csv", 'sep=;\nname;SMILES\n"propanone";CC(C)=O\nspirit;"CCO"\n'),
        ("a.tsv", TWO_ROWS.replace(",", "\t")),
        ("a.csv.gz", gzip.compress(TWO_ROWS.encode())),
        ("a.csv", f'InChI,name\n"{ACETONE}",propanone\n"{ETHANOL}",spirit\n'),
        ("a.csv", "CAS No.,name\n67-64-1,propanone\n64-17-5,spirit\n"),
        ("a.xlsx", workbook([("smiles", "name"), ("CC(C)=O", "propanone"), ("CCO", "spirit")])),
        ("a.sdf", molfiles(*TWO)),
        ("a.sdf", molfiles(*TWO).replace("\n", "\r\n")),
        ("a.sdf", molfiles(*TWO).removesuffix("$$$$\n")),
        ("a.sdf.gz", gzip.compress(molfiles(*TWO).encode())),
    ],
)
def test_formats(make: Make, name: str, content: bytes | str) -> None:
    made = make(content, name)
    assert made.names == ["propanone", "spirit"]
    assert made.table.text("cas") == ["67-64-1", "64-17-5"]
    assert {line["kind"] for line in made.aside} <= {"same compound"}


@pytest.mark.parametrize(
    ("content", "name", "headings", "names", "said"),
    [
        (
            "id,code,structure\n1,K-7,CCO\n",
            "a.csv",
            {"smiles": "structure", "name": "code"},
            ["K-7"],
            ["not read: id"],
        ),
        (
            "smiles,name\nCCO,\n",
            "a.csv",
            {},
            ["ethanol"],
            ['SMILES from "smiles", names from "name"'],
        ),
        (
            "name\nethyl alcohol\nbutanone\n",
            "a.csv",
            {},
            ["ethyl alcohol", "butanone"],
            ['names from "name"'],
        ),
        (molfiles(("CCO", "x"), CODE="K-7"), "a.sdf", {"name": "CODE"}, ["K-7"], []),
        (
            molfiles(("CCO", ""), CAS="64-17-5"),
            "a.sdf",
            {},
            ["ethanol"],
            ['CAS numbers from "CAS"'],
        ),
    ],
)
def test_columns(
    make: Make, content: str, name: str, headings: dict[str, str], names: list[str], said: list[str]
) -> None:
    made = make(content, name, headings=Headings(**headings))
    assert made.names == names
    assert [line.partition(": ")[2] for line in made.said] == said


@pytest.mark.parametrize(
    ("content", "name", "headings", "fragment"),
    [
        (
            "smiles,canonical_smiles\nC,C\n",
            "a.csv",
            {},
            'a.csv: "smiles" and "canonical_smiles" may',
        ),
        ("a,b\n1,2\n", "a.csv", {}, "no column says which compound it is"),
        (
            "smiles,name\nCCO,x\n",
            "a.csv",
            {"name": "title"},
            'no column "title", which --name-column',
        ),
        ("smiles,bp_K\nCCO,351\n", "a.csv", {"boiling_point": "bp_C"}, 'no column "bp_C"'),
        ("smiles,boiling_point_mmHg\nCCO,1\n", "a.csv", {}, "boiling_point_mmHg"),
        ("CCO\n", "a.doc", {}, "is of no kind that is read here"),
        ("", "a.smi", {}, "is empty"),
        (bytes(range(256)), "a.smi", {}, "not text in a known encoding"),
        (b"PK\x03\x04" + bytes(500), "a.xlsx", {}, "not a workbook that can be read"),
        ("[Na+].[Cl-]\n", "a.smi", {}, "no record makes a row"),
        ("smiles,name\n", "a.csv", {}, "no record makes a row"),
        (
            gzip.compress(b"CCO x\n" * 100)[:-8],
            "a.smi.gz",
            {},
            "ends too early; read up to row 100;",
        ),
        (
            gzip.compress(b"CCO x\n" * 100)[:20] + bytes(50),
            "a.smi.gz",
            {},
            "is damaged; read up to",
        ),
    ],
)
def test_inputs_that_cannot_be_used(
    make: Make,
    tmp_path: Path,
    content: bytes | str,
    name: str,
    headings: dict[str, str],
    fragment: str,
) -> None:
    (tmp_path / "out.parquet").write_bytes(b"before")
    with pytest.raises(InputFault) as fault:
        make(content, name, headings=Headings(**headings))
    assert fragment in str(fault.value)
    assert (tmp_path / "out.parquet").read_bytes() == b"before"
    assert not (tmp_path / "out.parquet.parts").exists()


@pytest.mark.parametrize(
    ("content", "name", "row", "kind", "fragment"),
    [
        ("CCO\nC1CC\n", "a.smi", 2, "cannot be read", "not a SMILES"),
        ("CCO\nc1cccc1\n", "a.smi", 2, "cannot be read", "not a SMILES"),
        ("CCO\nCC |^1:0| x\n", "a.smi", 2, "cannot be read", "extension between bars"),
        ("CCO\n" + "C" * 10_000, "a.smi", 2, "no volatile liquid", "SMILES of 10000 characters"),
        ("CCO\n" + "C" * (LONGEST_LINE + 1), "a.smi", 2, "cannot be read", "is longer than"),
        (b"CCO\n\x81\x8d\xff x\n", "a.smi", 2, "cannot be read", "not text in a known encoding"),
        (b"CCO\nCC\x01O x\n", "a.smi", 2, "cannot be read", "not text in a known encoding"),
        ("C" + "C(I)(I)" * 90 + "\nCCO\n", "a.smi", 1, "no volatile liquid", "molar mass above"),
        ("CCO\n[Na+].[Cl-]\n", "a.smi", 2, "no volatile liquid", "salt or mixture"),
        ("CCO\nCC[O-]\n", "a.smi", 2, "no volatile liquid", "is an ion"),
        ("CCO\nC[CH2]\n", "a.smi", 2, "no volatile liquid", "is a radical"),
        ("CCO\n[2H]C\n", "a.smi", 2, "no volatile liquid", "isotopes"),
        ("CCO\nO\n", "a.smi", 2, "no volatile liquid", "no carbon"),
        ("CCO\nC[Se]C\n", "a.smi", 2, "no volatile liquid", "has Se in it"),
        ("CCO\nC*\n", "a.smi", 2, "no volatile liquid", "a place holder"),
        (f"CCO\n{NEW}\n", "a.smi", 2, "no boiling point", "outside what is known"),
        ("CCO\nOCC\n", "a.smi", 2, "same compound", "as row 1 of "),
        ('smiles,name\nCCO,x\nCC,"y\n', "a.csv", 3, "cannot be read", "quotation marks"),
        ("smiles,name\nCCO,x\nCC,y,z\n", "a.csv", 3, "cannot be read", "3 cells where there are 2"),
        (
            "smiles,cas\nCCO,\n,64-17-6\n",
            "a.csv",
            3,
            "cannot be read",
            "its last digit would have to be",
        ),
        ("smiles,name\nCCO,\n,C4H8O\n", "a.csv", 3, "cannot be read", "is a formula"),
        ("smiles,name\nCCO,\n,bottle seven\n", "a.csv", 3, "cannot be read", "not a compound"),
        ("smiles,inchi\nCCO,\n,InChI=1S/x\n", "a.csv", 3, "cannot be read", "not an InChI"),
        ("smiles,cas\nCC(C)=O,\nCCO,64-17-6\n", "a.csv", 3, "kept", "check digit is wrong"),
        ("smiles,cas\nCC(C)=O,\nCCO,67-64-1\n", "a.csv", 3, "kept", "64-17-5 is the table's"),
        ("smiles,bp\nCCO,78\nCC(C)=O,hot\n", "a.csv", 3, "cannot be read", "as a boiling point"),
        ("smiles,bp\nCCO,78\nCC(C)=O,1_0\n", "a.csv", 3, "cannot be read", "as a boiling point"),
        ("smiles,bp\nCCO,78\nCC(C)=O,5600\n", "a.csv", 3, "cannot be read", "check its unit"),
        (
            workbook([("cas", "name"), ("64-17-5", "x"), (date(2000, 1, 2), "y")]),
            "a.xlsx",
            3,
            "cannot be read",
            "is a date to the spreadsheet",
        ),
        (
            molfiles(("CCO", "x")) + molfiles(("CC=O", "y")).replace(" C   ", " Se  ", 1),
            "a.sdf",
            2,
            "no volatile liquid",
            "has Se in it",
        ),
        (
            molfiles(("CCO", "x")) + molfiles(("CC=O", "y")).replace("V2000", "V20"),
            "a.sdf",
            2,
            "cannot be read",
            "not a structure that can be read",
        ),
        (
            molfiles(("CCO", "x")) + molfiles(("CC=O", "y"))[:120],
            "a.sdf",
            2,
            "cannot be read",
            "not a structure that can be read",
        ),
        (
            molfiles(("CCO", "x"))
            + molfiles(("CC=O", "y")).removesuffix("$$$$\n")
            + molfiles(("CCC=O", "z")),
            "a.sdf",
            2,
            "cannot be read",
            "holds more than one structure",
        ),
        (
            workbook([("smiles", "name"), ("CCO", "x"), ('=CONCAT("C","CO")', "y")]),
            "a.xlsx",
            3,
            "cannot be read",
            "not a SMILES",
        ),
        (
            workbook([("smiles", "bp"), ("CCO", 78), ("CC(C)=O", "=50+6")]),
            "a.xlsx",
            3,
            "cannot be read",
            "as a boiling point",
        ),
        (
            f"smiles,cas,bp\nCCO,,78\n{NEW},67-64-1,200\n",
            "a.csv",
            3,
            "kept",
            "67-64-1 is that of acetone",
        ),
        (
            molfiles(("CCO", "x")) + "junk\n" * 250_000 + "$$$$\n" + molfiles(("CC=O", "y")),
            "a.sdf",
            2,
            "cannot be read",
            "must end each record",
        ),
    ],
)
def test_set_aside(
    make: Make,
    estimator: list[list[str]],
    content: bytes | str,
    name: str,
    row: int,
    kind: str,
    fragment: str,
) -> None:
    made = make(content, name)
    (line,) = made.aside
    assert (line["row"], line["kind"]) == (str(row), kind)
    assert fragment in line["reason"]
    assert line["file"].endswith(name)
    assert made.built.counts == {kind: 1}
    assert made.built.unreadable == (kind == "cannot be read")
    assert "ethanol" in made.names or "x" in made.names


@pytest.fixture
def estimator(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Put an invented estimator in: 100 C plus one a carbon, sulfur unknown; returns its calls."""
    calls: list[list[str]] = []

    def estimate(smiles: Sequence[str]) -> SimpleNamespace:
        calls.append(list(smiles))
        inside = ["S" not in one for one in smiles]
        return SimpleNamespace(
            value_C=np.array([100.0 + one.count("C") for one in smiles]),
            standard_uncertainty_K=np.array([7.0] * len(smiles)),
            in_domain=np.array(inside, dtype=bool),
            reason=["" if one else "is outside what is known" for one in inside],
        )

    monkeypatch.setattr(workers, "trained_estimator", lambda: estimate)
    return calls


def test_estimates(make: Make, estimator: list[list[str]]) -> None:
    made = make("CCO\nCC(O)C(C)OCCOC new\n")
    assert estimator == [["COCCOC(C)C(C)O"]]
    table = made.table
    assert made.names == ["ethanol", "new"]
    assert table.text("boiling_point_source")[1] == "estimated from structure"
    values = [table.number(name)[1] for name in ("boiling_point_C", "boiling_point_u")]
    assert values == [107.0, 7.0]
    assert table.number("boiling_point_published").tolist() == [1.0, 0.0]


# What the file says, and the row's boiling point, its uncertainty and what its source says.
@pytest.mark.parametrize(
    ("heading", "cell", "smiles", "celsius", "doubt"),
    [
        ("boiling_point_C", "78.0", "CCO", 78.0, ""),
        ("boiling_point_K", "351.15", "CCO", 78.0, ""),
        ("bp (F)", "172.4", "CCO", 78.0, ""),
        ("boiling point", "351.15 K", "CCO", 78.0, ""),
        ("boiling_point_C", "64.7", "CCO", 64.7, "78.4 C (built-in table): 14 K above what "),
        ("boiling_point_C", "181", NEW, 181.0, ""),
        ("boiling_point_C", '"181,5"', NEW, 181.5, ""),
    ],
)
def test_boiling_points_given(
    make: Make, heading: str, cell: str, smiles: str, celsius: float, doubt: str
) -> None:
    table = make(f"smiles,{heading}\n{smiles},{cell}\n", "a.csv").table
    assert table.number("boiling_point_C")[0] == pytest.approx(celsius, abs=1e-4)
    assert table.number("boiling_point_u")[0] == 0.5
    assert table.text("boiling_point_source")[0].startswith("given in ")
    assert table.text("set_aside")[0].startswith(doubt)
    assert bool(table.text("set_aside")[0]) == bool(doubt)


def test_published_constants_are_taken_over(make: Make, table: CandidateTable) -> None:
    made = make("CC(C)=O\nCC[C@H](C)O\n").table
    for row, name in enumerate(("acetone", "2-butanol")):
        place = table.text("name").index(name)
        for column in REQUIRED:
            if column != "prior":
                assert made.number(column)[row] == table.number(column)[place]
        for column in ("cas", "inchikey", "boiling_point_source", "critical_source", "groups"):
            assert made.text(column)[row] == table.text(column)[place]


def test_first_of_a_compound_stays_but_one_with_a_boiling_point_goes_first(make: Make) -> None:
    rows = ("CCO,a,", "OCC,b,79", "C(C)O,c,80", "CC(C)=O,d,", "CC(=O)C,e,")
    made = make("smiles,name,bp\n" + "\n".join(rows), "a.csv", chunk=2)
    assert made.names == ["b", "d"]
    assert [(line["row"], line["read"]) for line in made.aside] == [
        ("2", "a"),
        ("4", "c"),
        ("6", "e"),
    ]
    assert made.aside[0]["reason"].endswith("as row 3 of " + made.aside[0]["file"])
    for prior in ("commerce", "classroom"):
        assert made.table.weights(prior).sum() == pytest.approx(1.0, abs=1e-6)


def test_what_classes_are_handed_is_known_by_its_structure(make: Make) -> None:
    """As in the built-in table, what is in commerce by the compounds of this one."""
    rows = f"smiles,bp\nCC(C)=O,\nC=CC=O,\n{NEW},181\n"
    acetone, acrolein, new = make(rows, "a.csv").table.weights("classroom")
    assert acetone > 0.4
    assert 0.2 < acrolein < 0.4 > new > 0.0


def test_new_compounds_alone_keep_their_prior(make: Make) -> None:
    made = make(f"smiles,bp\n{NEW},181\nCCCCC(CC)(CCC)OCC(F)CF,190\n", "a.csv").table
    np.testing.assert_allclose(made.weights("classroom"), made.weights("commerce"), rtol=1e-6)


def test_a_record_is_never_lost(make: Make, tmp_path: Path, table: CandidateTable) -> None:
    smiles = [*table.text("smiles")[::40], "[Na+].[Cl-]", "C1CC", "O", NEW, "CCO", "OCC"]
    first, second = tmp_path / "a.smi", tmp_path / "b.sdf"
    first.write_text("\n".join(smiles), encoding="utf-8")
    second.write_text(molfiles(*TWO), encoding="utf-8")
    made = make([first, second], chunk=37)
    assert made.built.rows + len(made.aside) == len(smiles) + 2
    assert sum(made.built.counts.values()) == len(made.aside)


CASES = ["CCO", "C", "[CH3]", "C[N+](=O)[O-]", "CN(=O)=O", "[2H]C", "[13CH4]", "[CH4]", "[H]C", "N"]
CASES += ["O=C=O", "[C-]#[O+]", "C[O-]", "[Na]C", "C[Si](C)(C)C", "CB(C)C", "CI", "C[As]", "C*"]
CASES += ["C.C", "C1.C1", "[C]", "[CH2]C[CH2]", "C[P+](C)(C)C", "c1ccccc1", "C[C@H](O)F", "OO", "F"]
CASES += ["C/C=C/C", "[H][H]", "[He]", "CC(C)(C)(C)C", "c1ccc1c", "C[Hg]C", "C#[O]", "N#C", ""]
CASES += ["c1cc[nH]c1", "[cH-]1cccc1", "c1cc[n+]([O-])cc1", "[O]c1ccccc1", "[n]1ccccc1", "C[N]C"]
CASES += [
    "O=[N+]([O-])c1ccccc1",
    "[O-][N+](=O)OC",
    "C[S+]([O-])C",
    "C[N](C)C",
    "[CH3][OH]",
    "[NH4+]",
]


@pytest.mark.parametrize("quick", [False, True])
def test_suitable_as_everywhere_else(make: Make, estimator: list[list[str]], quick: bool) -> None:
    """The same structures are suitable as where `read_structure` reads them."""
    written = [one for one in CASES if one]
    made = make("\n".join(f"{one} K-{n}" for n, one in enumerate(written)), quick=quick)
    refused = {line["row"] for line in made.aside if line["kind"] != "same compound"}
    unsuitable = {str(n) for n, one in enumerate(written, 1) if read_structure(one) is None}
    no_estimate = {line["row"] for line in made.aside if line["kind"] == "no boiling point"}
    assert refused - no_estimate == unsuitable


def test_quick_knows_the_table_however_written(table: CandidateTable) -> None:
    """Whatever atom is written first, and with or without aromatic letters."""
    identities = RecordIdentities(table, quick=True)
    for place, smiles in enumerate(table.text("smiles")):
        if place % 10 and "[" not in smiles:
            continue
        mol = Chem.MolFromSmiles(smiles)
        last = Chem.MolToSmiles(mol, rootedAtAtom=mol.GetNumAtoms() - 1)
        for written in (smiles, last, Chem.MolToSmiles(mol, kekuleSmiles=True)):
            assert identities.identified(Record(1, written)).row == place, written


def test_quick_has_the_same_numbers(make: Make, table: CandidateTable) -> None:
    smiles = [*table.text("smiles")[3::60], "CC(O)C(C)OCCOC", "OC(C)C(C)OCCSC", NEW]
    content = "smiles,bp\n" + "".join(f"{one},{50 + n % 100}\n" for n, one in enumerate(smiles))
    full = make(content, "a.csv").table
    quick = make(content, "a.csv", quick=True).table
    assert len(full) == len(quick) == len(smiles)
    for column in REQUIRED:
        assert quick.number(column).tolist() == full.number(column).tolist()
    assert full.text("inchikey")[0] == quick.text("inchikey")[0] == table.text("inchikey")[3]
    assert full.text("groups")[-1] != ""
    assert quick.text("groups")[-1] == ""
    assert np.isnan(quick.number("log_p")[-1])


def test_the_table_is_one_to_match_against(make: Make) -> None:
    table = make(f"smiles,name,bp\n{NEW},sought,101\nCC(C)=O,,\n", "a.csv").table
    run = Measurement(label="K-7", molar_mass=150.0, boiling_point=101.0)
    assert match(run, candidates=table).table["name"][0] == "sought"


def lines_of(table: CandidateTable, count: int) -> str:
    smiles = table.text("smiles")[:count]
    return "".join(f"{one} compound {number}\n" for number, one in enumerate(smiles))


@given(
    st.lists(
        st.builds(
            Record, st.integers(1), *[st.text(st.sampled_from("C(\x1f\n=é"), max_size=3)] * 6
        ),
        max_size=4,
    )
)
def test_chunks_reach_other_processes_as_they_are(records: list[Record]) -> None:
    chunk = Chunk(1, records, [], "K", 0.5)
    assert pickle.loads(pickle.dumps(chunk)) == chunk


@pytest.mark.parametrize("jobs", [2, 3])
def test_same_bytes_whatever_the_jobs(make: Make, table: CandidateTable, jobs: int) -> None:
    text = lines_of(table, 60) + "[Na+].[Cl-]\nCCO\n"
    made = make(text, jobs=jobs, chunk=7)
    found = made.built.table.read_bytes(), made.built.set_aside.read_bytes()
    made = make(text, jobs=1, chunk=7)
    assert found == (made.built.table.read_bytes(), made.built.set_aside.read_bytes())


# Chunks so small that a build can be interrupted between two of them.
_BUILD = """
import functools, sys
from identify.compounds import collection
from identify.cli import main
collection.BuildOptions = functools.partial(collection.BuildOptions, chunk=50)
if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
"""


@pytest.fixture
def collection(tmp_path: Path, table: CandidateTable) -> Path:
    path = tmp_path / "collection.smi"
    path.write_text(lines_of(table, 2000), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory, table: CandidateTable) -> bytes:
    """Return what a build of that collection makes when nothing interrupts it."""
    folder = tmp_path_factory.mktemp("whole")
    path, out = folder / "collection.smi", folder / "out.parquet"
    path.write_text(lines_of(table, 2000), encoding="utf-8")
    build_collection([path], out, BuildOptions(jobs=1, chunk=50))
    return out.read_bytes()


def started(collection: Path, jobs: int, **options: Any) -> subprocess.Popen[bytes]:
    """Start a build of small chunks, in a process group of its own."""
    script = collection.with_name("run.py")
    script.write_text(_BUILD, encoding="utf-8")
    out = collection.with_name("out.parquet")
    arguments = ["candidates", "build", str(collection), "--out", str(out), "--jobs", str(jobs)]
    return subprocess.Popen(
        [sys.executable, str(script), *arguments],
        env={**os.environ, "PYTHONPATH": str(CHECKOUT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
        **options,
    )


def wait_for(condition: Callable[[], Any], seconds: float = 60.0) -> Any:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := condition():
            return found
        time.sleep(0.01)
    raise AssertionError("waited in vain")


def after_first_chunk(collection: Path) -> None:
    folder = collection.with_name("out.parquet.parts")
    wait_for(lambda: list(folder.glob("chunk-*.arrow")))


def is_gone(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return True
    return False


def must_go_on(collection: Path, whole: bytes) -> None:
    """Finish an interrupted build, and compare it with one that never was."""
    out = collection.with_name("out.parquet")
    assert not out.exists()
    there = len(list(out.with_name("out.parquet.parts").glob("chunk-*.arrow")))
    assert 0 < there < 40
    said: list[str] = []
    build_collection([collection], out, BuildOptions(jobs=1, chunk=50), said.append)
    chunks_are = "chunk is" if there == 1 else "chunks are"
    assert said == [f"goes on from an interrupted build: {there} {chunks_are} there already"]
    assert out.read_bytes() == whole
    names = {path.name for path in collection.parent.iterdir()}
    assert names == {"collection.smi", "run.py", "out.parquet", "out.set-aside.csv"}


@pytest.mark.parametrize("jobs", [1, 2])
def test_killed_and_restarted(collection: Path, whole: bytes, jobs: int) -> None:
    process = started(collection, jobs)
    after_first_chunk(collection)
    process.kill()
    process.communicate()
    # Its workers end by themselves.
    wait_for(lambda: is_gone(process.pid))
    must_go_on(collection, whole)


@pytest.mark.parametrize(
    ("jobs", "number", "to_all"),  # or to the first process alone
    [
        (1, signal.SIGTERM, False),
        (2, signal.SIGINT, True),
        (2, signal.SIGTERM, False),
        (2, signal.SIGTERM, True),
    ],
)
def test_interrupted_and_restarted(
    collection: Path, whole: bytes, jobs: int, number: int, to_all: bool
) -> None:
    process = started(collection, jobs)
    after_first_chunk(collection)
    (os.killpg if to_all else os.kill)(process.pid, number)
    _, complaints = process.communicate()
    (line,) = complaints.decode().splitlines()
    if process.returncode == 2:  # it saw that its workers had been ended before it was itself
        assert (jobs, number, to_all) == (2, signal.SIGTERM, True)
    else:
        assert process.returncode == 130
        assert line.startswith("stopped; ")
    wait_for(lambda: is_gone(process.pid))
    must_go_on(collection, whole)


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="tells children by /proc")
def test_a_worker_that_is_killed(collection: Path, whole: bytes) -> None:
    process = started(collection, 2)
    after_first_chunk(collection)
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
    workers = [
        int(one) for one in children if b"spawn_main" in Path(f"/proc/{one}/cmdline").read_bytes()
    ]
    os.kill(workers[0], signal.SIGKILL)
    _, complaints = process.communicate()
    assert process.returncode == 2
    (line,) = complaints.decode().splitlines()
    assert line.startswith("a process of the build was ended from outside")
    must_go_on(collection, whole)


def test_a_disk_that_is_full(collection: Path, tmp_path: Path) -> None:
    import resource

    limit = 24_000  # bytes a file: a chunk of 50 compounds takes more

    def limited() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

    process = started(collection, 1, preexec_fn=limited)
    _, complaints = process.communicate()
    assert process.returncode == 2
    (line,) = complaints.decode().splitlines()
    assert "cannot be written" in line
    assert "goes on from there" in line
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"collection.smi", "run.py", "out.parquet.parts"}


def test_a_table_that_is_being_built_already(collection: Path, whole: bytes) -> None:
    process = started(collection, 1)
    after_first_chunk(collection)
    out = collection.with_name("out.parquet")
    with pytest.raises(InputFault, match="another build of this table is running"):
        build_collection([collection], out, BuildOptions(jobs=1, chunk=50))
    _, complaints = process.communicate()
    assert (process.returncode, out.read_bytes() == whole) == (0, True), complaints


def test_another_input_starts_anew(make: Make, tmp_path: Path, table: CandidateTable) -> None:
    """Chunks of other inputs or options are not gone on from, and a strange folder is left."""
    path = tmp_path / "in.smi"
    path.write_text(lines_of(table, 20), encoding="utf-8")
    folder = tmp_path / "out.parquet.parts"

    def interrupted(fraction: float) -> None:
        raise KeyboardInterrupt("stopped")

    options = BuildOptions(jobs=1, chunk=5)
    with pytest.raises(KeyboardInterrupt, match="stopped"):
        build_collection([path], tmp_path / "out.parquet", options, progress=interrupted)
    assert len(list(folder.glob("chunk-*.arrow"))) == 1
    path.write_text("CCO\n" + lines_of(table, 20), encoding="utf-8")
    made = make([path], chunk=5)
    assert "starts anew" in made.said[0]
    assert made.built.rows + len(made.aside) == 21
    folder.mkdir()
    (folder / "mine.txt").write_text("kept", encoding="utf-8")
    with pytest.raises(InputFault, match=r"holds mine\.txt"):
        make([path])
    assert (folder / "mine.txt").read_text(encoding="utf-8") == "kept"


def test_folder_of_files(make: Make, tmp_path: Path, table: CandidateTable) -> None:
    path = tmp_path / "in.smi"
    path.write_text(lines_of(table, 25), encoding="utf-8")
    whole = make([path], chunk=6).table
    folder = tmp_path / "parts"
    build_collection([path], folder, BuildOptions(jobs=1, chunk=6, partition_rows=10))
    files = sorted(folder.glob("part-*.parquet"))
    assert [pq.ParquetFile(one).metadata.num_rows for one in files] == [10, 10, 5]
    columns = ("prior", "classroom")
    pieces = [pq.ParquetFile(one).read(["name", *columns]).to_pydict() for one in files]
    assert [name for one in pieces for name in one["name"]] == whole.text("name")
    for column in columns:
        priors = [prior for one in pieces for prior in one[column]]
        assert priors == whole.number(column).tolist()
    with pytest.raises(InputFault, match="is there already"):
        build_collection([path], folder, BuildOptions(jobs=1, partition_rows=10))


@pytest.mark.parametrize(
    ("out", "aside", "fragment"),
    [
        ("in.smi", None, "is one of the inputs"),
        ("no/out.parquet", None, "there is no such folder"),
        ("out.parquet", "in.smi", "is one of the inputs"),
        ("out.parquet", "out.parquet", "is named twice"),
        ("out.xlsx", None, "a table ends in .parquet"),
        (".", None, "is a folder"),
        ("", None, "is a folder"),
        ("out.parquet", "folder", "is a folder; name a file for what is set aside"),
        ("out.parquet", "pipe", "is not an ordinary file"),
        ("pipe", None, "is not an ordinary file"),
    ],
)
def test_targets_that_are_refused(
    tmp_path: Path, out: str, aside: str | None, fragment: str
) -> None:
    path = tmp_path / "in.smi"
    path.write_text("CCO\n", encoding="utf-8")
    (tmp_path / "folder").mkdir()
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
    options = BuildOptions(jobs=1, set_aside=None if aside is None else tmp_path / aside)
    with pytest.raises(InputFault, match=fragment):
        build_collection([path], tmp_path / out if out else Path(), options)
    assert path.read_text(encoding="utf-8") == "CCO\n"


def test_a_list_in_the_tables_own_folder_is_refused(tmp_path: Path) -> None:
    path, folder = tmp_path / "in.smi", tmp_path / "parts"
    path.write_text("CCO\n", encoding="utf-8")
    folder.mkdir()
    options = BuildOptions(jobs=1, partition_rows=10, set_aside=folder / "list.csv")
    with pytest.raises(InputFault, match="in the table's own folder"):
        build_collection([path], folder, options)
    assert not any(folder.iterdir())


@pytest.mark.parametrize("named", ["", "bp_K"])
def test_a_tag_that_only_a_late_record_has(make: Make, named: str) -> None:
    early = molfiles(*[("CC(C)=O", "propanone")] * 150)
    late = molfiles((NEW, "late"), bp_K="410")
    made = make(early + late, "a.sdf", headings=Headings(boiling_point=named))
    row = made.names.index("late")
    assert made.table.number("boiling_point_C")[row] == pytest.approx(410 - 273.15)


def test_finished_chunks_outlive_a_reader_that_leaves(
    tmp_path: Path, table: CandidateTable
) -> None:
    """What is said goes nowhere, and nothing of the work is lost by it."""
    path, out = tmp_path / "in.csv", tmp_path / "out.parquet"
    path.write_text("smiles\n" + lines_of(table, 30), encoding="utf-8")

    def interrupted(fraction: float) -> None:
        raise KeyboardInterrupt("stopped")

    def left(line: str) -> None:
        if "SMILES from" in line:  # said while the input is read
            raise BrokenPipeError("closed")

    options = BuildOptions(jobs=1, chunk=5)
    with pytest.raises(KeyboardInterrupt, match="stopped"):
        build_collection([path], out, options, progress=interrupted)
    there = sorted(tmp_path.glob("out.parquet.parts/chunk-*.arrow"))
    assert there
    with pytest.raises(BrokenPipeError, match="closed"):
        build_collection([path], out, options, left)
    assert sorted(tmp_path.glob("out.parquet.parts/chunk-*.arrow")) == there


def test_memory_stays_within_a_chunk(tmp_path: Path) -> None:
    """A file of any size is never in memory whole: what is read ahead is counted."""
    from identify.tables.structures.inputs import read_chunks
    from identify.tables.structures.source import StructureFile

    path = tmp_path / "long.smi"
    path.write_text("CCO\n" * 200_000, encoding="utf-8")
    chunks = read_chunks([StructureFile.of(path)], Headings(), 1000, print)
    first = next(chunks)
    assert len(first.records) == 1000
    assert sum(len(chunk.records) for chunk in chunks) == 199_000
    path = tmp_path / "long.sdf"
    path.write_text((("y" * 90_000 + "\n") * 10 + "$$$$\n") * 30, encoding="utf-8")
    sizes = [
        len(chunk.records)
        for chunk in read_chunks([StructureFile.of(path)], Headings(), 1000, print)
    ]
    assert sum(sizes) == 30
    assert max(sizes) <= 23


def test_progress(tmp_path: Path, table: CandidateTable) -> None:
    paths = [tmp_path / "a.smi", tmp_path / "b.smi.gz"]
    paths[0].write_text(lines_of(table, 30), encoding="utf-8")
    paths[1].write_bytes(gzip.compress(lines_of(table, 20).encode()))
    told: list[float] = []
    options = BuildOptions(jobs=1, chunk=9)
    build_collection(paths, tmp_path / "out.parquet", options, progress=told.append)
    assert len(told) == 7
    assert told == sorted(told)
    assert 0.0 < told[0] <= told[-1] == 1.0


def test_corresponding_states_are_those_of_the_library(table: CandidateTable) -> None:
    """The array arithmetic gives what chemicals gives for one compound at a time."""
    rows = np.arange(7, len(table), 150)
    boiling = table.number("boiling_point_C")[rows] + 273.15
    temperature = table.number("critical_temperature_K")[rows]
    pressure = table.number("critical_pressure_Pa")[rows]
    dipole = np.where(rows % 2, 2.9, 0.0)
    acentric = acentric_factor(boiling, temperature, pressure)
    points = np.array([[280.0, 350.0]])
    logarithm = log_vapor_pressure(np.repeat(points, len(rows), axis=0), temperature, acentric)
    virial = virial_coefficients(
        temperature, pressure, acentric, polar_term(dipole, temperature, pressure)
    )
    tau = (300.0 / (at := np.linspace(270.0, 410.0, 29)))[:, None] ** [0, 1, 3, 8]
    for row, (tb, tc, pc) in enumerate(zip(boiling, temperature, pressure, strict=True)):
        omega = np.clip(LK_omega(tb, tc, pc), -0.2, 1.5)
        assert acentric[row] == pytest.approx(omega, rel=1e-9)
        pressures = [Ambrose_Walton(t, tc, pc, omega) / pc for t in points[0]]
        assert np.exp(logarithm[row]) == pytest.approx(pressures, rel=1e-9)
        values = [
            BVirial_Tsonopoulos_extended(
                t, tc, pc, omega, species_type="ketone", dipole=dipole[row]
            )
            for t in at
        ]
        expected, *_ = np.linalg.lstsq(tau, values, rcond=None)
        assert virial[row] == pytest.approx(expected, rel=1e-6, abs=1e-12)


def test_curves_of_many_are_those_of_one(table: CandidateTable) -> None:
    rows = np.arange(7, len(table), 150)
    boiling = table.number("boiling_point_C")[rows] + 273.15
    temperature = table.number("critical_temperature_K")[rows]
    pressure = table.number("critical_pressure_Pa")[rows]
    curve, sources = vapor_curves(boiling, temperature, pressure)
    for row, constants in enumerate(zip(boiling, temperature, pressure, strict=True)):
        coefficients, source = vapor_curve(*constants, ())
        assert curve[row] == pytest.approx(coefficients, abs=1e-5)
        assert source == sources[row]


def test_likeness_finds_the_nearest(table: CandidateTable) -> None:
    """The tree finds the compounds that a search through all of them finds."""
    rows = np.arange(11, len(table), 700)
    boiling = table.number("boiling_point_C")[rows] + 3.0
    molar_mass, percent = table.number("molar_mass")[rows] + 0.7, table.percent[rows]
    found = Likeness(table).columns(boiling, molar_mass, percent)
    for row in range(len(rows)):
        distance = ((table.number("boiling_point_C") - boiling[row]) / 20.0) ** 2
        distance += ((table.number("molar_mass") - molar_mass[row]) / 15.0) ** 2
        distance += (((table.percent - percent[row]) / 10.0) ** 2).sum(axis=1)
        nearest = np.argsort(distance, kind="stable")[:5]
        pressure = np.median(table.number("critical_pressure_Pa")[nearest])
        assert found.numbers["critical_pressure_Pa"][row] == pytest.approx(pressure, rel=1e-12)


@pytest.mark.parametrize("keeps_locks", [True, False])
def test_two_builds_of_one_table(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, keeps_locks: bool
) -> None:
    """One waits for the other, where the system can tell."""
    folder = tmp_path / "out.work"
    if not keeps_locks:
        monkeypatch.setitem(sys.modules, "fcntl", None)
    elif importlib.util.find_spec("fcntl") is None:
        pytest.skip("no locks there")
    with WorkFolder(folder).held():
        if keeps_locks:
            other = f"{folder}: another build of this table is running; wait for it, or name "
            with (
                pytest.raises(InputFault, match=re.escape(f"{other}another --out")),
                WorkFolder(folder).held(),
            ):
                pass
        else:
            with WorkFolder(folder).held():
                assert folder.is_dir()
    with WorkFolder(folder).held():  # the first has ended
        assert folder.is_dir()


INCHI = "InChI=1S/C2H6O/c1-2-3/h3H,2H2,1H3"


@pytest.mark.parametrize(
    ("record", "refused"),
    [
        (Record(1, block="x" * 50, cas="64-17-5"), None),
        (Record(1, block="x" * 50, inchi=INCHI), None),
        (Record(1, block="x" * 50, cas="64-17-5", inchi=INCHI), None),
        (Record(1, block="x" * 50, name="ethanol"), "ethanol"),
        (Record(1, block="x" * 50), "x" * 40),
    ],
)
def test_a_block_that_cannot_be_read_beside_other_names(
    record: Record, refused: str | None
) -> None:
    if refused is None:
        assert _smiles_of_block(record) == ""
        return
    with pytest.raises(RefusedError) as error:
        _smiles_of_block(record)
    assert (error.value.kind, error.value.read) == ("cannot be read", refused)
    assert error.value.reason == "is not a structure that can be read"


@pytest.mark.parametrize(
    ("names", "smiles"),
    [
        ({"inchi": INCHI, "cas": "67-64-1", "name": "toluene"}, "CCO"),
        ({"cas": "67-64-1", "name": "toluene"}, "CC(C)=O"),
        ({"name": "toluene"}, "Cc1ccccc1"),
    ],
)
def test_a_record_without_a_structure_is_found_by_its_first_name(
    names: dict[str, str], smiles: str
) -> None:
    identities = RecordIdentities(load_candidates(), quick=True)
    assert identities._by_name(Record(1, **names)).smiles == smiles


@pytest.mark.parametrize(
    ("names", "reason"),
    [
        ({"inchi": "InChI=1S/x"}, "is not an InChI that can be read"),
        ({"inchi": "1S/C2H6O/c1-2-3/h3H,2H2,1H3"}, "is not an InChI that can be read"),
        ({}, "says nothing of which compound it is"),
    ],
)
def test_a_record_without_a_structure_that_nothing_tells(
    names: dict[str, str], reason: str
) -> None:
    with pytest.raises(RefusedError) as error:
        RecordIdentities(load_candidates(), quick=True)._by_name(Record(1, **names))
    assert (error.value.read, error.value.reason) == (names.get("inchi", ""), reason)


@pytest.mark.parametrize(
    ("given", "known", "kept", "remark"),
    [
        ("", "64-17-5", "64-17-5", ""),
        ("64-17-5", "64-17-5", "64-17-5", ""),
        ("64-17-6", "", "", "CAS number 64-17-6 is none: its check digit is wrong; left out"),
        ("64-17-6", "64-17-5", "64-17-5",
         "CAS number 64-17-6 is none: its check digit is wrong; left out"),
        ("67-64-1", "64-17-5", "64-17-5",
         "CAS number 67-64-1 is given, 64-17-5 is the table's; the latter stands"),
        ("67-64-1", "", "", "CAS number 67-64-1 is that of acetone; left out"),
        ("71-43-2", "", "71-43-2", ""),
    ],
)  # fmt: skip
def test_cas_numbers_of_a_record_and_of_the_table(
    given: str, known: str, kept: str, remark: str
) -> None:
    record = IdentifiedRecord(Record(1, cas=given), _formula_facts("C2H6O"), "CCO")
    assert (record.checked_cas(known, {"67-64-1": "acetone"}), record.remark) == (kept, remark)


@pytest.mark.parametrize("length", [1, _MAX_NAME_LENGTH, _MAX_NAME_LENGTH + 1])
def test_names_that_are_too_long_for_a_table(length: int) -> None:
    record = IdentifiedRecord(Record(1, name="n" * length), _formula_facts("C2H6O"), "CCO")
    is_long = length > _MAX_NAME_LENGTH
    assert _name(record, "otherwise") == ("otherwise" if is_long else "n" * length)
    assert record.remark == (f"its name of {length} characters is left out" if is_long else "")
    blank = IdentifiedRecord(Record(1, name="  "), _formula_facts("C2H6O"), "CCO")
    assert _name(blank, "otherwise") == "otherwise"


@pytest.mark.parametrize("length", [_MAX_SMILES_LENGTH, _MAX_SMILES_LENGTH + 1])
def test_smiles_that_are_too_long(length: int) -> None:
    identities = RecordIdentities(load_candidates(), quick=True)
    smiles = "C" * length
    words = "has a molar mass above "
    if length > _MAX_SMILES_LENGTH:
        words = f"is a SMILES of {length} characters, more than {_MAX_SMILES_LENGTH}: nothing of "
    with pytest.raises(RefusedError) as error:
        identities.identified(Record(1, smiles=smiles))
    assert error.value.reason.startswith(words)
