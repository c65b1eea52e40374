"""Headings of every kind of table: what is read as what, what is asked about, and what is not read.

The headings are common practice: what stands over columns of notebooks and spreadsheets.
"""

from __future__ import annotations

import csv
import io
import itertools
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from identify import match_many
from identify.notebook.quantity.quantities import QuantityError
from identify.tables import read_runs, runs_from_frame
from identify.tables.headings.dictionary import (
    COLLECTION_HEADINGS,
    STOCK_HEADINGS,
    TRIAL_HEADINGS,
    Dictionary,
)
from identify.tables.headings.phrases import Phrase
from identify.tables.headings.spellings import NOTE, Heading
from identify.tables.headings.wording import WORD_OF
from identify.tables.rows import table_rows
from identify.tables.stock_rows import read_stock_sheet
from identify.tables.structures.inputs import read_chunks
from identify.tables.structures.source import Headings, StructureFile

KINDS = {"trial": TRIAL_HEADINGS, "stock": STOCK_HEADINGS, "collection": COLLECTION_HEADINGS}


def meaning(kind: str, heading: str) -> str:
    """Return the column as advice writes it, or what is asked; nothing where it is not read."""
    try:
        column = KINDS[kind].meaning(heading)
    except QuantityError as error:
        return f"{error.reason}; {error.advice}"
    return "" if column is None else KINDS[kind].shown(column.field, column.unit)


# --------------------------------------------------------------------------- what is read as what

TRIAL = """
label: LABEL | Bottle No. | Bottle # | bottle number | Bottle ID | Bottle | Unknown # | Unknown
label: Unknown No.
label: Unknown code | Unknown letter | Unknown liquid | Unknown sample no. | Sample ID | Sample
label: Vial # | Bottle (label)
student: Student | Student name | Name | Student's name | Names | Student(s) | Name of student
student: Full name | Last name
student: Student ID | Group | Group # | Lab group | Team | Lab partners | Partners
student: Student (last, first)
trial: trial | Trial # | Trial No. | Run | Run # | Replicate | Trial number | Determination
empty_g: Mass of flask + foil (g) | Mass of empty flask (g) | Empty flask (g)
empty_g: Wt. of empty flask, g | m(flask + foil) / g
empty_g: Weight of flask & lid (g) | Mass of dry flask and foil | Flask + foil + rubber band (g)
empty_g: Mass of flask (g)
empty_g: Empty mass (g) | Tare (g) | Mass of clean, dry flask + aluminum foil (g)
empty_g: flask_foil_mass_g | Flask and stopper [g]
empty_mg: Mass of flask + foil (mg)
condensed_g: Mass of flask + condensed liquid (g) | Mass of flask + foil + condensed liquid (g)
condensed_g: m(flask+foil+liquid)
condensed_g: Mass of flask, foil, and condensed vapor (g) | Flask + foil + condensate (g)
condensed_g: Flask w/ liquid (g)
condensed_g: Mass of flask + vapor (g) | Mass of flask with condensed unknown (g)
condensed_g: Mass of flask + foil + unknown (grams)
condensed_g: Weight flask + lid + cond. liquid, g | Final mass of flask + foil (g)
gain_g: Mass of condensed liquid (g) | Mass of condensate (g) | Mass of vapor (g)
gain_g: Mass gain (g) | Δm (g)
gain_g: Gain in mass / g | Mass difference (g) | Mass of liquid (g) | Condensed vapor, mass (g)
gain_g: gain_g
bath_C: Bath temp (°C) | T bath | Temp. of water bath | Water bath temperature, °C | T(bath)/°C
bath_C: bathTemp_C | Bath T (deg C)
bath_C: Temperature of boiling water (°C) | Boiling water bath temp (°C) | Temp. of vapor (°C)
bath_C: BATH TEMPERATURE
bath_K: Bath temperature (K) | T_bath / K
bath_F: Bath (°F)
room_C: Room temp (°C) | T room | Lab temperature (°C) | Ambient temp. | Temp. of room
room_C: Air temp (°C) | Room T, degrees C
pressure_mmHg: Barometric pressure (mmHg) | Atm. pressure | Barometer (mm Hg) | P_atm (mmHg)
pressure_mmHg: Lab pressure
pressure_mmHg: Barometer reading (mm of Hg) | Atmospheric Pressure | Pbar (mmHg)
pressure_torr: P (torr) | Pressure in torr | Atmospheric pressure, torr
pressure_kPa: Patm (kPa) | Pressure / kPa | Room pressure [kPa]
pressure_inHg: Barometer (in Hg) | Barometric pressure (inches Hg)
pressure_atm: Pressure (atm) | Barometric pressure (atm)
volume_mL: Flask vol. (mL) | Volume | Volume of flask (mL) | V (mL) | Flask capacity (mL)
volume_mL: Brim volume, mL | Volume of gas (mL)
volume_L: V flask (L)
volume_cm3: Vol. of flask (cm³)
size_mL: Flask size (mL) | Nominal volume (mL)
water_mass_g: Mass of water (g) | Mass of water in flask (g)
water_volume_mL: Volume of water (mL)
humidity_%: RH (%) | Relative humidity (%) | Humidity %
height_m: Altitude (m) | Elevation (m) | height_m
height_ft: Elevation (ft)
weighed_at_C: Weighing temp (°C) | Temp. at weighing (°C)
liquid_mL: liquid_mL | Liquid (mL) | Volume of liquid added (mL) | Liquid poured in (mL)
liquid_mL: Volume of unknown poured in (mL) | Amount of liquid (mL)
boiling_point_C: B.P. (°C) | BP | b.p. / °C | Boiling Pt (C) | Normal boiling point (°C)
boiling_point_C: Tb (°C) | bp, C | Boiling range (°C)
boiling_point_C: Observed bp (°C) | Boiling Point of Unknown (°C) | bp (760 mmHg)
boiling_point_C: b.p. at 1 atm (°C) | boiling temp.
boiling_point_K: BP [K] | T_b / K
boiling_point_at_mmHg: b.p. pressure (mmHg) | Boiling point at (mmHg)
molar_mass: MW | M (g/mol) | Molar mass | Mol. wt. | Molecular weight (g/mol) | M.W.
molar_mass: MM (g/mol) | FW | M / g mol⁻¹ | Mr
reported_molar_mass: Reported molar mass (g/mol) | Student's molar mass
reported_molar_mass: Calculated molar mass (g/mol) | Exp. molar mass
answer: Answer | Student answer | Identified as | Identity of unknown | Proposed identity
percent_C: % C | wt% C | C % | C wt% | mass % C | Percent Carbon | Carbon (%) | %C | C (wt. %)
percent_C: Percent by mass C | % carbon found
percent_H: %H | H (%) | Percentage of hydrogen | Hydrogen, %
percent_O: % O | pct O | % oxygen
percent_Cl: %Cl | Chlorine (wt%)
percent_N: N% | % N
refractive_index: n20/D | Refractive index (20 °C) | nD | n_D | RI | Index of refraction | nD20
density_g/mL: Density g/mL | Density (g/mL) | ρ (g/mL) | d (g/mL) | Density of liquid (g/mL)
density_g/mL: Density (20 °C), g/mL
melting_point_C: m.p. | Melting pt. (°C) | Freezing point (°C) | MP
day: Date | Date of experiment | Day
flask: Flask # | Flask No. | Flask
balance: Balance # | Balance
bench: Lab bench | Bench no.
thermometer: Thermometer #
barometer_name: Barometer #
"""
STOCK = """
label: Bottle No. | Bottle # | Bottle | Unknown # | Unknown | Unknown Code | Vial # | Sample ID
label: Code | No. | ID | # | Jar #
identity: Identity | Chemical identity | Actual identity | Answer
name: Name | Chemical | Compound | Substance | Chemical Name | Compound Name | Liquid | Contents
name: IUPAC name | Solvent | Reagent
cas: CAS # | CAS-No. | CAS RN | CAS | CASRN | CAS Registry Number | CAS Reg. No. | CAS Nr.
cas: cas_number
smiles: SMILES | Canonical SMILES | SMILES string | Isomeric SMILES
formula: Formula | Molecular formula | Chemical Formula | Mol. formula | MF
molar_mass: MW | M.W. | Mol. wt. | Molar mass (g/mol) | Molecular weight | FW | Formula weight
molar_mass: M (g/mol) | Molecular mass (amu)
molar_mass: Mol Wt (g/mole) | molecular_weight | Theoretical molar mass
boiling_point_C: B.P. (°C) | BP | b.p. / °C | Boiling Pt (C) | Boiling point | Normal BP (°C)
boiling_point_C: Lit. bp (°C) | Literature boiling point
boiling_point_C: BP (deg C) | Boiling temp. | bp, °C | Boiling point at 760 mmHg (°C) | Bpt
boiling_point_C: BOILING POINT (CELSIUS)
boiling_point_K: Bp (K) | Boiling point, K
boiling_point_F: bp [F]
boiling_point_at_mmHg: bp pressure (mmHg) | Boiling point at (mmHg)
percent_C: %C | % C | C (%) | wt% C | Carbon % | Mass % C | % C (calc) | Theoretical % C
percent_C: Percent carbon by mass | Carbon (wt%)
percent_H: %H | % Hydrogen | H%
percent_O: %O | Oxygen (%)
percent_N: % N
percent_S: %S | Sulphur %
percent_Br: % Br
"""
COLLECTION = """
smiles: SMILES | smiles | Canonical SMILES | canonical_smiles | Isomeric SMILES
smiles: CanonicalSMILES | SMILES string | Smiles code
smiles: SMILES (canonical) | smi | Structure (SMILES) | Unique SMILES
name: Name | Compound | Compound name | Chemical name | Chemical | Substance | IUPAC name
name: Common name | Preferred name
name: Molecule name | Name of compound
cas: CAS | CAS number | CAS No. | CAS-RN | CAS # | casrn | CAS Registry Number
cas: CAS registry no. | CASNo
inchi: InChI | Standard InChI | InChI string
boiling_point_C: bp | BP | b.p. | bp_C | bp (°C) | B.P. [°C] | Boiling point
boiling_point_C: Boiling Point (deg C) | Boiling_Point_C | BoilingPoint
boiling_point_C: Boiling pt. (°C) | Normal B.P. | T_b / °C | Tboil | Literature bp (°C)
boiling_point_C: Exp. bp (°C) | Boiling point at 760 mmHg
boiling_point_C: bp, °C | bp in °C | bp (760 torr) / °C | Boiling temperature
boiling_point_K: bp_K | BP / K | boilingPoint_K | Normal boiling point (K) | Tb (K)
boiling_point_K: Boiling temperature (K)
boiling_point_F: boiling point °F | bp (F)
boiling_point_at_mmHg: boiling point pressure (mmHg)
"""


def listed(text: str) -> list[tuple[str, str]]:
    """Return heading and column of each of the headings above."""
    lines = [line.partition(": ") for line in text.strip().splitlines()]
    return [(heading, column) for column, _, all_of in lines for heading in all_of.split(" | ")]


READ = {"trial": listed(TRIAL), "stock": listed(STOCK), "collection": listed(COLLECTION)}


@pytest.mark.parametrize(
    ("kind", "heading", "column"),
    [(kind, heading, column) for kind, cases in READ.items() for heading, column in cases],
)
def test_what_plainly_means_a_column_is_read(kind: str, heading: str, column: str) -> None:
    assert meaning(kind, heading) == column


@pytest.mark.parametrize(
    ("heading", "column"),
    [
        ("Mass of flask\n+ foil\n(g)", "empty_g"),
        ("Bath temp\N{NO-BREAK SPACE}(˚C)", "bath_C"),
        ("**Unknown #**", "label"),
        ("1. Mass of flask + foil (g)", "empty_g"),
        ("b) Bath temp (°C)", "bath_C"),
        ("Bath temp (±0.5 °C)", "bath_C"),
        ("Volume (+/- 1 mL)", "volume_mL"),
        ("Temp. bath (C°)", "bath_C"),
        ("Bath Temp. ( °C )", "bath_C"),
        ("Boiling.Point..°C.", "boiling_point_C"),
        ("Bath.temp..K.", "bath_K"),
        ("Mass.of.flask...foil..g.", "empty_g"),
        ("bp(ºC)", "boiling_point_C"),
        ("MW g/mol", "molar_mass"),
        ("molar_mass_g_mol", "molar_mass"),
        ("Mass of flask + foil in grams", "empty_g"),
        ("PRESSURE, ATM", "pressure_atm"),
        ("Pressure, atm", "pressure_atm"),
        ("Press. atm", "pressure_atm"),
        ("Atm press. (torr)", "pressure_torr"),
    ],
)
def test_marks_and_breaks_say_nothing(heading: str, column: str) -> None:
    assert meaning("trial", heading) == column


def test_at_least_sixty_headings_a_kind_are_tried() -> None:
    assert min(len({heading for heading, _ in cases}) for cases in READ.values()) >= 60


# ------------------------------------------------------------------------------- what is not read

NOT_READ = {
    "trial": "Initials | Section | Class | Instructor | Email | Grade | Score | % error | "
    "% yield | Percent error | Mass error | Percent difference | % deviation | "
    "Molar mass error (%) | Error (%) | Average molar mass | "
    "Mean molar mass | True molar mass | Literature molar mass (g/mol) | Accepted molar "
    "mass | Standard deviation | RSD (%) | Moles | n (mol) | Moles of gas | Density of gas "
    "(g/L) | Density of water (g/mL) | Density of air | Vapor pressure (mmHg) | Vapor "
    "pressure of water (torr) | Flash point (°C) | Critical temperature | Boiling point of "
    "water (°C) | Mass of foil (g) | Mass of boiling chips (g) | Boiling chips | Volume of "
    "liquid (mL) | Volume added (mL) | Mass of beaker (g) | Heating time (min) | Time | "
    "Color | Odor | Hazard | Oven temperature | C (mol/L) | Concentration | Purity (%) | "
    "P-code | Quantity | Location | Supplier | Price | Lab section | Checked by | Gas "
    "constant | pH | Partial pressure (torr) | Gauge pressure | Corrected pressure (mmHg) | "
    "Mass of CO2 (g) | Mass of flask + foil + liquid before heating (g) | Refractive index "
    "of water | Room number | Percent composition | Mass % solute | Tm (°C) | percent | "
    "Empirical formula | Water",
    "stock": "Supplier | Vendor | Lot # | Catalog No. | Price | Price (USD) | Quantity | Qty | "
    "Amount (mL) | Volume (mL) | Mass (g) | Density (g/mL) | Flash point (°C) | Flash pt. | "
    "Vapor pressure (mmHg) | Vapour density | Hazard | GHS | H-codes | P-code | Location | "
    "Shelf | Room | Cabinet | Date received | Date opened | Expiration date | Purity (%) | "
    "Assay % | % yield | Grade | Critical temperature (°C) | Melting point (°C) | mp | "
    "Refractive index | InChIKey | EC number | UN No. | PubChem CID | Storage temp (°C) | "
    "Synonyms | Empirical formula | Heat of vaporization | Initials | Prepared by | "
    "Concentration (mol/L) | C (mol/L) | Item # | Boiling chips | Average molar mass | "
    "Percent difference | % error | M",
    "collection": "ID | Compound ID | CID | InChIKey | InChI Key | MW | Molecular weight | "
    "Formula | LogP | Flash point | Melting point | mp | Vapor pressure | Density | "
    "Refractive index | Critical temperature | Source | Reference | Supplier | Price | "
    "EC number | PubChem CID | Synonyms | Catalog number | Purity | Boiling point source | "
    "Name of supplier | "
    "SMILES hash | Heat of vaporization | Boiling chips | TPSA | Activity | label | Boiling "
    "point of water",
}


@pytest.mark.parametrize(
    ("kind", "heading"),
    [(kind, heading) for kind, text in NOT_READ.items() for heading in text.split(" | ")],
)
def test_what_is_no_column_of_a_table_is_not_read(kind: str, heading: str) -> None:
    assert meaning(kind, heading) == ""


ASKED = {
    "could mean bath_C or room_C": "Temp | Temperature (°C) | T | Temp. | T (deg C)",
    "could mean bath_K or room_K": "Temperature (K) | T / K",
    "could mean empty_g, condensed_g or gain_g": "Mass (g) | Mass | Weight | m (g) | wt (g)",
    "could mean bath_C or water_temperature_C": "Water temp | Temp. of water (°C)",
    "could mean condensed_g or gain_g": "Condensed mass (g) | Mass of vapor in flask (g)",
    "could mean label, student or trial": "ID | Code | No. | # | Number",
    "could mean label or answer": "Compound | Chemical | Substance | Liquid",
    "could mean label, student or answer": "Unknown name",
    "could mean pressure_mmHg or percent_P": "P",
    "did you mean pressure_mmHg?": "P atm | P_atm",
    "did you mean percent_C?": "C | Carbon",
    "did you mean empty_g?": "Mass before (g) | m1 (g) | Initial mass (g) | emtpy_g",
    "did you mean condensed_g?": "Mass after (g) | m2 | Final mass (g) | Condesed (g)",
    "did you mean gain_g?": "Mass of sample (g)",
    "did you mean water_mass_g?": "Mass of flask + water (g) | Mass of flask filled with water",
    "did you mean bath_C_u?": "Uncertainty in bath temp (°C) | Bath temp ± (°C)",
    "did you mean boiling_point_C?": "Boilling point | boilng_point_C | Bolling pt (°C)",
    "did you mean label?": "lable",
    "one trial of several; write one row a trial, with a column bath_C": "Bath temp 1 (°C) | "
    "Trial 2 bath temp (°C) | T bath (trial 3)",
    "one trial of several; write one row a trial, with a column empty_g": "Flask + foil #1 (g)",
    '"kPa" is a pressure, not a temperature': "Bath temp (kPa)",
    "is not a known unit of pressure; did you mean mmHg": "pressure_mmHgg",
    "is not a known unit of pressure": "pressure_bananas",
    "does not say which degrees": "Bath temp (deg)",
}


@pytest.mark.parametrize(
    ("words", "heading"),
    [(words, heading) for words, text in ASKED.items() for heading in text.split(" | ")],
)
def test_what_could_mean_two_columns_or_nearly_one_is_asked_about(words: str, heading: str) -> None:
    runs = runs_from_frame(pd.DataFrame([["K-1", "46.1", "5"]], columns=["label", "MW", heading]))
    (fault,) = runs.faults
    assert words in str(fault)
    assert str(fault).endswith(" (this column is not read)")
    assert runs[0].molar_mass is not None


def test_what_is_advised_is_read() -> None:
    advised = [
        words.removeprefix("did you mean ").removesuffix("?")
        for words in ASKED
        if words.startswith("did you mean")
    ]
    assert all(TRIAL_HEADINGS.meaning(column) is not None for column in advised)


# ------------------------------------------------- words in any order and any decoration

BY_FIELD = {kind: list(headings._by_field.values()) for kind, headings in KINDS.items()}
SPELT = {
    word: [word, *(spelling for spelling, usual in WORD_OF.items() if usual == word)]
    for word in {*WORD_OF.values(), *(one for d in KINDS.values() for one in d._vocabulary)}
}


@st.composite
def worded(draw: st.DrawFn) -> tuple[Dictionary, Heading, str]:
    """Draw a phrase of a heading, its words spelled, ordered and decorated anyhow."""
    kind = draw(st.sampled_from(sorted(KINDS)))
    heading = draw(st.sampled_from([one for one in BY_FIELD[kind] if one.phrases]))
    phrase: Phrase = draw(st.sampled_from(heading.phrases))
    groups, optional = phrase._parts
    words = [draw(st.sampled_from(sorted(group))) for group in groups]
    if optional:
        words += draw(st.lists(st.sampled_from(sorted(optional)), max_size=2))
    words = [draw(st.sampled_from(SPELT[word])) for word in dict.fromkeys(words)]
    text = draw(st.sampled_from([" ", "_", "-", " of ", "  ", ". "])).join(
        draw(st.permutations(words))
    )
    text = draw(st.sampled_from([str.upper, str.lower, str.title]))(text)
    unit = "" if heading.unit == "1" else heading.unit
    marks = ["", " ({})", " / {}", ", {}", " [{}]", " in {}", "_{}", " {}", " (in {})"]
    mark = draw(st.sampled_from(marks[phrase.needs_unit :])) if unit else ""
    return KINDS[kind], heading, text + mark.format(unit)


@settings(deadline=None, max_examples=600)
@given(worded())
def test_any_order_and_decoration_gives_the_same_column_or_a_question(
    drawn: tuple[Dictionary, Heading, str],
) -> None:
    headings, heading, text = drawn
    try:
        column = headings.meaning(text)
    except QuantityError:
        return
    assert column is None or column.field == heading.field


@settings(deadline=None, max_examples=300)
@given(
    kind=st.sampled_from(sorted(KINDS)),
    words=st.lists(st.sampled_from(sorted(SPELT)), min_size=1, max_size=4, unique=True),
    data=st.data(),
)
def test_no_order_of_known_words_gives_another_column(
    kind: str, words: list[str], data: st.DataObject
) -> None:
    spelt = [data.draw(st.sampled_from(SPELT[word])) for word in words]
    found = set()
    for order in itertools.permutations(spelt):
        for gap in (" ", "_"):
            try:
                column = KINDS[kind].meaning(gap.join(order))
            except QuantityError:
                continue
            found |= {column.field} if column else set()
    assert len(found) <= 1


@pytest.mark.parametrize("kind", KINDS)
def test_the_guides_own_headings_are_read(kind: str) -> None:
    for heading in BY_FIELD[kind]:
        if heading.field not in (NOTE, "percent"):
            column = KINDS[kind].meaning(heading.shown())
            assert column is not None
            assert (column.field, column.unit, column.rank) == (heading.field, heading.unit, 0)


# ------------------------------------------------------------------- two columns, and what is told


def runs_of(tmp_path: Path, text: str):
    path = tmp_path / "section.csv"
    path.write_text(text, encoding="utf-8")
    return read_runs(path)


def test_headings_are_told_once(tmp_path: Path) -> None:
    runs = runs_of(tmp_path, "Bottle No.,B.P. (°C),molar_mass,price,Notes\nK-1,78.3,46.1,5,x\n")
    assert not runs.faults
    assert runs.told == (
        f'{runs.path}: read: "Bottle No." as label, "B.P. (°C)" as boiling_point_C; '
        'not read: "price"',
    )
    assert runs.headings.to_dict() == {
        "read": [
            {"heading": "Bottle No.", "column": "label"},
            {"heading": "B.P. (°C)", "column": "boiling_point_C"},
        ],
        "not_read": ["price"],
    }
    assert runs_of(tmp_path, "label,boiling_point_K\nK-1,351\n").told == ()


@pytest.mark.parametrize(
    ("headings", "student", "not_read"),
    [
        ("Student name,Group,Student ID", "a", ("Group", "Student ID")),
        ("Group,x,y", "a", ("x", "y")),
        ("First name,Last name,Group", "a b", ("Group",)),
        ("Last name,First name,Group", "b a", ("Group",)),
        ("x,First name,y", "b", ("x", "y")),
    ],
)
def test_the_plainest_column_names_the_student(
    tmp_path: Path, headings: str, student: str, not_read: tuple[str, ...]
) -> None:
    runs = runs_of(tmp_path, f"label,molar_mass,{headings}\nK-1,46,a,b,c\n")
    assert (runs[0].student, runs.headings.not_read, runs.faults) == (student, not_read, ())


def test_a_molar_mass_worked_out_is_a_reading_only_where_nothing_was_weighed(
    tmp_path: Path,
) -> None:
    alone = runs_of(tmp_path, "label,Calculated molar mass\nK-1,46.1\n")
    assert str(alone[0].molar_mass) == "46.1 g/mol"
    assert alone.headings.read[0].column == "molar_mass"
    beside = runs_of(tmp_path, "label,Calculated molar mass,gain_g,bp\nK-1,46.1,0.3,78\n")
    assert beside[0].molar_mass is None


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_the_flask_with_its_foil_goes_before_the_flask(tmp_path: Path, order) -> None:
    columns = [("Mass of flask (g)", "98.0"), ("Mass of flask + foil (g)", "98.6")]
    names = ",".join(columns[place][0] for place in order)
    cells = ",".join(columns[place][1] for place in order)
    text = f"label,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL,{names}\n"
    runs = runs_of(tmp_path, f"{text}K-1,98.9,98,22,742,287,{cells}\n")
    assert str(runs[0].trials[0].empty) == "98.6 g"
    assert runs.headings.not_read == ("Mass of flask (g)",)


@pytest.mark.parametrize("foil", ["Mass of foil (g)", "Foil mass (g)", "Mass of lid, g", "Foil"])
def test_a_flask_beside_its_foil_may_be_without_it(tmp_path: Path, foil: str) -> None:
    text = f'label,bp,Mass of flask (g),"{foil}",condensed_g\nK-1,78,98.0,0.6,98.9\n'
    faults = [str(fault) for fault in runs_of(tmp_path, text).faults]
    told = [fault for fault in faults if "Mass of flask (g): may be without the foil" in fault]
    assert len(told) == (foil != "Foil")


def test_what_is_asked_about_is_no_fault_in_a_stock_table_that_says_it(tmp_path: Path) -> None:
    path = tmp_path / "stock.csv"
    path.write_text("label,name,Unknown name\nA,ethanol,x\n", encoding="utf-8")
    sheet = read_stock_sheet(path)
    assert (sheet.faults, sheet.headings.not_read) == ([], ("Unknown name",))
    runs = runs_of(tmp_path, "label,room_C,bath_C,Temp,molar_mass\nK-1,22,98,22,46\n")
    assert "could mean bath_C or room_C" in str(runs.faults[0])


@pytest.mark.parametrize(
    ("heading", "reading", "at"),
    [
        ("Refractive index (25 °C)", "refractive_index", "25 °C"),
        ("nD25", "refractive_index", "25 °C"),
        ("Density at 25 °C", "density", "25 °C"),
        ("bp at 742 mmHg", "boiling_point", "742 mmHg"),
        ("bp (100 kPa)", "boiling_point", "100 kPa"),
        ("n20/D", "refractive_index", None),
        ("bp (760 torr)", "boiling_point", None),
    ],
)
def test_a_condition_in_the_heading_holds_for_its_column(
    tmp_path: Path, heading: str, reading: str, at: str | None
) -> None:
    run = runs_of(tmp_path, f"label,{heading}\nK-1,1.38\n")[0]
    stated = getattr(run, f"{reading}_at")
    assert str(getattr(run, reading).value) == "1.38"
    assert (None if stated is None else str(stated)) == at


def test_a_stock_tables_heading_states_the_pressure(tmp_path: Path) -> None:
    path = tmp_path / "stock.csv"
    path.write_text("label,name,bp at 640 mmHg (°C)\nA,ethanol,73.9\n", encoding="utf-8")
    (bottle,) = read_stock_sheet(path).bottles
    assert bottle.boiling_pressure() == pytest.approx(640 * 133.322, rel=1e-5)


def test_trials_are_put_in_the_order_of_their_numbers(tmp_path: Path) -> None:
    text = "label,student,Trial #,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL\n"
    rows = [
        f"K-1,{who},{trial},98.{trial},99.1,98,22,742,287" for who in "AB" for trial in (3, 1, 2)
    ]
    runs = runs_of(tmp_path, text + "\n".join(rows))
    for run in runs:
        assert [str(trial.empty) for trial in run.trials] == ["98.1 g", "98.2 g", "98.3 g"]
    assert runs.rows_of == ((2, 3, 4), (5, 6, 7))


@pytest.mark.parametrize(
    ("count", "students", "said"), [(5, "", True), (4, "", False), (9, "A", False)]
)
def test_a_class_is_not_taken_for_one_student_unsaid(
    tmp_path: Path, count: int, students: str, said: bool
) -> None:
    names = ["label", "student"] if students else ["label"]
    text = ",".join([*names, "empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL"])
    rows = [
        ",".join(["K-1", *(f"{students}{row}" for _ in students), f"98.{row},99.1,98,22,742,287"])
        for row in range(count)
    ]
    runs = runs_of(tmp_path, "\n".join([text, *rows]))
    assert bool(runs.notes) == said
    if said:
        assert 'the 5 rows of "K-1" are taken for the trials of one person' in runs.told[0]


@pytest.mark.parametrize("units", [",(g/mol),(K)", ",g/mol,K", ",[g/mol],K,"])
def test_units_may_stand_in_a_row_of_their_own(tmp_path: Path, units: str) -> None:
    runs = runs_of(tmp_path, f"Bottle,MW,b.p.,\n{units}\nK-1,46,351\n")
    assert (runs.faults, runs.rows, str(runs[0].boiling_point)) == ((), (3,), "351 K")
    path = tmp_path / "stock.csv"
    path.write_text(f"name,MW,bp,\n{units}\nethanol,46,351\n", encoding="utf-8")
    (bottle,) = read_stock_sheet(path).bottles
    assert (bottle.row, bottle.number("boiling_point", "K")) == (3, 351)


def test_a_row_of_a_bottle_is_no_row_of_units(tmp_path: Path) -> None:
    runs = runs_of(tmp_path, "label,molar_mass\nC,\nK,46\n")
    assert [run.label for run in runs] == ["K"]
    assert runs.rows == (2, 3)


def test_a_column_that_no_row_has_is_one_line(tmp_path: Path) -> None:
    text = "label,empty_g,bath_C,room_C,pressure_mmHg,volume_mL\n"
    runs = runs_of(tmp_path, text + "".join(f"K-{row},98,98,22,742,287\n" for row in range(8)))
    (fault,) = runs.faults
    assert str(fault).startswith(f"{runs.path}, row 1, condensed_g: there is no such column")
    assert "8 rows" in str(fault)
    assert [row for row, _ in runs.set_aside] == list(range(2, 10))
    empty = "label,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL\n"
    rows = "".join(f"K-{row},98,,98,22,742,287\n" for row in range(8))
    (fault,) = runs_of(tmp_path, empty + rows).faults
    assert "row 1, condensed_g: is empty in all rows; write the mass of flask" in str(fault)


def test_table_without_labels_says_which_column_may_name_them() -> None:
    (_, fault) = runs_from_frame(pd.DataFrame({"ID": ["K-1"], "%C": ["52.1"]})).faults
    assert 'has no column named label; rename the column "ID" to label' in str(fault)


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


def test_the_commands_read_a_heading_alike(tmp_path: Path) -> None:
    text = "label;name;bp (K)\nK-1;ethanol;351,5\n"
    path = tmp_path / "table.csv"
    path.write_text(text, encoding="utf-8")
    (bottle,) = read_stock_sheet(path).bottles
    assert bottle.number("boiling_point", "K") == pytest.approx(351.5)
    runs = read_runs(path)
    assert (str(runs[0].boiling_point), runs[0].student, runs.faults) == ("351.5 K", "ethanol", ())
    said: list[str] = []
    (chunk,) = read_chunks([StructureFile.of(path)], Headings(), 10, said.append)
    assert (chunk.unit, chunk.records[0].boiling_point) == ("K", "351,5")
    assert said[0].endswith('boiling points in K from "bp (K)"; not read: label')


@pytest.mark.parametrize("further", ["name,Compound", "Compound,name"])
def test_the_usual_spelling_goes_before_another(tmp_path: Path, further: str) -> None:
    path = tmp_path / "stock.csv"
    cells = "ethanol,x" if further.startswith("name") else "x,ethanol"
    path.write_text(f"label,{further}\nA,{cells}\n", encoding="utf-8")
    sheet = read_stock_sheet(path)
    assert sheet.bottles[0].text("name") == "ethanol"
    (fault,) = sheet.faults
    assert 'Compound: says the same as column "name"; keep one' in str(fault)


def test_less_plain_words_give_way(tmp_path: Path) -> None:
    path = tmp_path / "stock.csv"
    path.write_text("No.,Bottle,Common name,Chemical\n1,A,spirit,ethanol\n", encoding="utf-8")
    sheet = read_stock_sheet(path)
    (bottle,) = sheet.bottles
    assert (bottle.text("label"), bottle.text("name"), sheet.faults) == ("A", "ethanol", [])
    assert sheet.headings.not_read == ("No.", "Common name")


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
        (
            "trial",
            "Unknowns of week 3\nUnknown;14;Name;Ann\nUnknown,empty_g,MW\n",
            ["Unknown", "empty_g", "MW"],
        ),
        ("trial", "label\t;;a;\tboiling_point_C\n", ["label", ";;a;", "boiling_point_C"]),
        # Without a name that it must have, the first row stands for the header.
        ("trial", "empty_g,condensed_g\n1,2\n", ["empty_g", "condensed_g"]),
    ],
)
def test_headers_and_separators(kind: str, text: str, header: list[str]) -> None:
    row, _ = table_rows(text.encode(), "table.csv", KINDS[kind].score)
    assert list(row.cells) == header


def test_what_a_frames_columns_were_read_as_goes_with_the_answer() -> None:
    frame = pd.DataFrame({"Bottle No.": ["A"], "MW": [58.1], "B.P. (°C)": [56.1]})
    told = match_many(frame).attrs["told"]
    assert told == [
        'data frame: read: "Bottle No." as label, "MW" as molar_mass, '
        '"B.P. (°C)" as boiling_point_C'
    ]
    usual = frame.set_axis(["label", "molar_mass", "boiling_point_C"], axis="columns")
    assert "told" not in match_many(usual).attrs
