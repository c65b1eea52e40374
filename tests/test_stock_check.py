"""Across the rows of a stock table: bottles alike, exchanged cards, the method, hazards."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isnan, nan

import pytest

from identify.bench.laboratory import Laboratory
from identify.chemistry.structures import read_structure
from identify.compounds.naming.meaning import Compound
from identify.compounds.naming.resolver import Resolver
from identify.compounds.table import CandidateTable
from identify.matching.advise.separation import APART
from identify.notebook.findings import Finding
from identify.notebook.quantity.quantities import Quantity
from identify.observables.tolerances import Tolerances
from identify.physics.constants import ELEMENTS, STANDARD_PRESSURE
from identify.stock.class_use.groups import groups_of
from identify.stock.class_use.hazards import hazard_findings, hazards_of, table_hazards
from identify.stock.class_use.method import suitabilities
from identify.stock.class_use.shelf import Shelf
from identify.stock.result import BottleGroup, Change, Hazards, StockRow
from identify.stock.rows.boiling_points import BoilingPointChecks
from identify.stock.rows.exchanged_cards import with_exchanged_cards
from identify.stock.rows.stated_values import StatedValues
from identify.tables.stock_rows import StockBottle

USUAL = Laboratory()

# Boiling points at 760 mmHg and percentages of cards: CRC Handbook of Chemistry and Physics, from
# memory; percentages worked out by hand from the formulas.
CARDS: Mapping[str, tuple[float, Mapping[str, float]]] = {
    "acetone": (56.1, {"C": 62.0, "H": 10.4, "O": 27.6}),
    "methanol": (64.6, {"C": 37.5, "H": 12.6, "O": 49.9}),
    "ethanol": (78.3, {"C": 52.1, "H": 13.1, "O": 34.7}),
    "isopropanol": (82.3, {"C": 60.0, "H": 13.4, "O": 26.6}),
    "1-propanol": (97.2, {"C": 60.0, "H": 13.4, "O": 26.6}),
    "hexane": (68.7, {"C": 83.6, "H": 16.4}),
    "ethyl acetate": (77.1, {"C": 54.5, "H": 9.2, "O": 36.3}),
}


def compound(table: CandidateTable, name: str) -> Compound:
    (place,) = table.find(name)
    number = {column: float(table.number(column)[place]) for column in ("molar_mass",)}
    return Compound(
        *(table.text(column)[place] for column in ("name", "cas", "smiles", "inchikey", "formula")),
        number["molar_mass"],
        {e: float(p) for e, p in zip(ELEMENTS, table.percent[place], strict=True) if p > 0.0},
        float(table.number("boiling_point_C")[place]),
        float(table.number("boiling_point_u")[place]),
        place,
    )


def outside(name: str, smiles: str, boils: float = nan) -> Compound:
    """Return a compound that the built-in table is told to lack."""
    structure = read_structure(smiles)
    assert structure is not None
    percent = dict(zip(ELEMENTS, structure.percent, strict=True))
    return Compound(
        name, "", structure.smiles, structure.inchikey, structure.formula, structure.molar_mass,
        percent, boils,
    )  # fmt: skip


def shelf(table: CandidateTable, *names: str) -> list[StockRow]:
    return [
        StockRow(place, f"K-{place}", name, compound(table, name))
        for place, name in enumerate(names, start=2)
    ]


def codes(findings: Sequence[Finding]) -> list[str]:
    return [finding.code for finding in findings]


# --------------------------------------------------------------------------- bottles that are alike


@pytest.mark.parametrize(
    ("names", "tolerances", "groups"),
    [
        (("acetone", "methanol", "hexane"), Tolerances(), []),
        (("acetone", "acetone"), Tolerances(), []),
        # Isomers: only the boiling point tells them, 79.4 and 77.1 degrees.
        (("ethyl acetate", "methyl propionate"), Tolerances(), [("K-2", "K-3")]),
        (("ethyl acetate", "methyl propionate"), Tolerances(boiling_point=1.0), []),
        (("acetone", "propionaldehyde"), Tolerances(), []),
        (("acetone", "hexane", "propionaldehyde"), Tolerances(boiling_point=6), [("K-2", "K-4")]),
        # Two bottles of one of them belong to the group, and are not a pair of it.
        (
            ("acetone", "acetone", "propionaldehyde"),
            Tolerances(boiling_point=6),
            [("K-2", "K-3", "K-4")],
        ),
        # A chain: the ends are apart, but not from the middle.
        (
            ("2-methylpentane", "3-methylpentane", "hexane"),
            Tolerances(boiling_point=3.5),
            [("K-2", "K-3", "K-4")],
        ),
    ],
)
def test_groups(
    table: CandidateTable,
    names: tuple[str, ...],
    tolerances: Tolerances,
    groups: list[tuple[str, ...]],
) -> None:
    found = groups_of(Shelf.of(shelf(table, *names)), tolerances)
    assert [group.labels for group in found] == groups
    for group in found:
        assert group.nearest < APART
        assert 0.05 < group.confusion < 0.5


def only_group(rows: Sequence[StockRow], tolerances: Tolerances) -> BottleGroup:
    (group,) = groups_of(Shelf.of(rows), tolerances)
    return group


def test_the_tolerance_that_would_separate_does(table: CandidateTable) -> None:
    rows = shelf(table, "ethyl acetate", "methyl propionate")
    group = only_group(rows, Tolerances())
    first, second = (row.compound.boiling_point_C for row in rows if row.compound is not None)
    # Alike but for the boiling point: 2 |difference| / tolerance standard uncertainties apart.
    assert group.nearest == pytest.approx(abs(first - second), rel=1e-3)
    narrowed = group.separated_by
    assert narrowed is not None
    assert (narrowed.observable, narrowed.unit) == ("boiling_point", "°C")
    assert narrowed.tolerance == pytest.approx(2.0 * abs(first - second) / APART, rel=1e-3)
    just, not_quite = (
        groups_of(Shelf.of(rows), Tolerances(boiling_point=factor * narrowed.tolerance))
        for factor in (0.999, 1.001)
    )
    assert just == ()
    assert len(not_quite) == 1


@pytest.mark.parametrize(
    ("names", "tolerances", "words"),
    [
        # Handbooks: 1.3723 and 1.3775 at 20 degrees.
        (
            ("ethyl acetate", "methyl propionate"),
            Tolerances(),
            ("refractive index", "1.372", "1.378", "ethyl acetate (K-2)"),
        ),
        # With a poor refractometer a tube decides between ketone and aldehyde.
        (
            ("acetone", "propionaldehyde"),
            Tolerances(boiling_point=20, refractive_index=0.02, density=0.1),
            ("Tollens", "no mirror for acetone", "a silver mirror for propionaldehyde"),
        ),
        # No test tells all three; the iodoform test would leave two of them as well.
        (
            ("acetone", "propionaldehyde", "allyl alcohol"),
            Tolerances(boiling_point=90, refractive_index=0.9, density=0.9, melting_point=500),
            ("Tollens", "(K-2)", "(K-3)", "(K-4)", "(tells 2 of 3 pairs apart)"),
        ),
    ],
)
def test_another_reading_with_its_numbers(
    table: CandidateTable, names: tuple[str, ...], tolerances: Tolerances, words: tuple[str, ...]
) -> None:
    told = only_group(shelf(table, *names), tolerances).other_reading
    assert [word for word in words if word not in told] == []


def test_no_reading_is_promised_where_none_tells_them_apart(table: CandidateTable) -> None:
    rows = shelf(table, "2-methylpentane", "3-methylpentane")
    blunt = Tolerances(boiling_point=20, refractive_index=1, density=1, melting_point=500)
    assert only_group(rows, blunt).other_reading == ""


def test_a_compound_outside_the_table_goes_by_its_structure_and_its_card(
    table: CandidateTable,
) -> None:
    acetone = shelf(table, "acetone")
    stranger = StockRow(9, "", "its SMILES", outside("stranger", "CCC=O"))
    near, far, unknown = (
        groups_of(Shelf.of([*acetone, stranger], stated), Tolerances())
        for stated in ({9: 57.0}, {9: 90.0}, {})
    )
    assert [group.labels for group in near] == [("K-2", "row 9")]
    assert far == unknown == ()
    assert Shelf.of([stranger]).unknown == (stranger,)


# ---------------------------------------------------------------------------------- exchanged cards


WRONG = Finding("percent-wrong", "error", "53.1 is not 62.04.", "Correct it.")
BOILING = Finding("boiling-point-wrong", "error", "78.3 is not 56.1.", "Correct it.")
AGAIN = Finding("compound-again", "note", "It is in K-9 too.", "")


def card(of: str = "", boiling: bool = True, percent: bool = True, **other: float) -> StatedValues:
    """Return what a card with these parts of a compound's states, and other percentages."""
    boils, shares = CARDS[of] if of else (0.0, {})
    listed = {**(shares if percent else {}), **other}
    return stated(boils if of and boiling else None, percent=listed)


def stated(
    boils: float | None = None,
    pressure: float = STANDARD_PRESSURE,
    percent: Mapping[str, float] | None = None,
    formula: Mapping[str, int] | None = None,
    molar_mass: float | None = None,
) -> StatedValues:
    def quantity(value: float | None, unit: str) -> Quantity | None:
        return None if value is None else Quantity(value, unit, text=f"{value:g}")

    shares = {e: Quantity(p, "%", text=f"{p:.1f}") for e, p in (percent or {}).items()}
    return StatedValues(
        StockBottle("stock.csv", 2, {}, ()),
        formula,
        quantity(molar_mass, "g/mol"),
        shares,
        quantity(boils, "C"),
        pressure,
    )


@pytest.fixture(scope="module")
def boiling(table: CandidateTable) -> BoilingPointChecks:
    return BoilingPointChecks(Resolver(table), USUAL)


@pytest.mark.parametrize(
    ("held", "written", "found"),
    [
        # All as it should be.
        (("acetone", "ethanol"), (card("acetone"), card("ethanol")), ("", "")),
        (
            ("acetone", "ethanol"),
            (card("ethanol"), card("acetone")),
            ("cards-exchanged", "cards-exchanged"),
        ),
        # Only the boiling points stand there, or only they differ.
        (
            ("acetone", "ethanol"),
            (card("ethanol", percent=False), card("acetone", percent=False)),
            ("cards-exchanged", "cards-exchanged"),
        ),
        (
            ("1-propanol", "isopropanol"),
            (card("isopropanol"), card("1-propanol")),
            ("cards-exchanged", "cards-exchanged"),
        ),
        # One card stands on two bottles.
        (
            ("acetone", "ethanol"),
            (card("ethanol"), card("ethanol")),
            ("card-of-another-bottle", ""),
        ),
        # One wrong number is a wrong number, even where it is another bottle's.
        (
            ("acetone", "ethanol"),
            (card("ethanol", percent=False), card("ethanol")),
            ("", ""),
        ),
        (("1-propanol", "isopropanol"), (card("isopropanol"), card("isopropanol")), ("", "")),
        # Not all that the card states is the other's.
        (
            ("acetone", "ethanol"),
            (card("ethanol", N=20.0), card("acetone")),
            ("", "card-of-another-bottle"),
        ),
        (("acetone", "ethanol"), (card("ethanol", C=48.0), card("ethanol")), ("", "")),
        # Of a bottle that is not in the table.
        (("acetone", "ethanol"), (card("methanol"), card("ethanol")), ("", "")),
        # A card that states nothing.
        (("acetone", "ethanol"), (card(), card()), ("", "")),
    ],
)
def test_cards(
    table: CandidateTable,
    boiling: BoilingPointChecks,
    held: tuple[str, ...],
    written: tuple[StatedValues, ...],
    found: tuple[str, ...],
) -> None:
    rows = shelf(table, *held)
    cards = {row.row: card for row, card in zip(rows, written, strict=True)}
    after = with_exchanged_cards(rows, cards, boiling)
    assert [codes(row.findings) for row in after] == [[code] if code else [] for code in found]
    for row, code in zip(after, found, strict=True):
        if code:
            (other,) = (one.label for one in rows if one.label != row.label)
            assert other in row.findings[0].message
            assert row.is_wrong


def test_one_fault_is_one_finding(table: CandidateTable, boiling: BoilingPointChecks) -> None:
    first, second = shelf(table, "acetone", "ethanol")
    changes = (
        Change(2, "percent_C", "52.1", "62.04", ""),
        Change(2, "cas", "67-64-2", "67-64-1", ""),
    )
    first = StockRow(2, "K-2", "acetone", first.compound, (AGAIN, WRONG, BOILING), changes)
    cards = {2: card("ethanol"), 3: card("acetone")}
    after = with_exchanged_cards([first, second], cards, boiling)
    assert codes(after[0].findings) == ["cards-exchanged", "compound-again"]
    # Whether bottle or card stands in the wrong row is not for the corrected copy to say.
    assert after[0].changes == changes[1:]


def test_formula_and_molar_mass_tell_whose_card_it_is(
    table: CandidateTable, boiling: BoilingPointChecks
) -> None:
    rows = shelf(table, "hexane", "methanol")
    methanol = stated(formula={"C": 1, "H": 4, "O": 1}, molar_mass=32.04)
    after = with_exchanged_cards(rows, {2: methanol, 3: methanol}, boiling)
    assert [codes(row.findings) for row in after] == [["card-of-another-bottle"], []]


def test_what_cannot_be_compared_explains_nothing(
    table: CandidateTable, boiling: BoilingPointChecks
) -> None:
    # Nobody knows where the other liquid boils, and the card's boiling point is not its own's.
    stranger = StockRow(9, "K-9", "its SMILES", outside("stranger", "CCC=O"))
    rows, acetones = [*shelf(table, "hexane"), stranger], CARDS["acetone"][1]
    with_boiling, without = (
        with_exchanged_cards(rows, {2: one}, boiling)[0]
        for one in (stated(90.0, percent=acetones), stated(percent=acetones))
    )
    assert codes(with_boiling.findings) == []
    assert codes(without.findings) == ["card-of-another-bottle"]


def test_a_boiling_point_is_compared_at_its_pressure(
    table: CandidateTable, boiling: BoilingPointChecks
) -> None:
    # Ethanol boils at 74.1, 1-propanol at 92.8 degrees at 640 mmHg: Antoine equations, from memory.
    rows, low = shelf(table, "ethanol", "1-propanol"), 640.0 / 760.0 * 101325.0
    ethanol, propanol = (stated(celsius, low) for celsius in (74.1, 92.8))
    right = with_exchanged_cards(rows, {2: ethanol, 3: propanol}, boiling)
    wrong = with_exchanged_cards(rows, {2: propanol, 3: ethanol}, boiling)
    assert [codes(row.findings) for row in right] == [[], []]
    assert [codes(row.findings) for row in wrong] == [["cards-exchanged"]] * 2


# --------------------------------------------------------------------------------------- the method


MOUNTAIN = Laboratory.of(pressure="640 mmHg")


def method_codes(rows: Sequence[StockRow], where: Laboratory, tolerances: Tolerances) -> list[str]:
    found = suitabilities(Shelf.of(rows), where, tolerances)
    return [code for liquid in found for code in codes(liquid.findings())]


@pytest.mark.parametrize(
    ("name", "where", "found"),
    [
        # The bath at 760 mmHg is at 99 degrees.
        ("acetone", USUAL, []),
        ("methanol", USUAL, []),
        ("dichloromethane", USUAL, []),
        ("cyclohexane", USUAL, []),
        ("ethanol", USUAL, []),
        ("toluene", USUAL, ["not-boiled-off"]),
        ("toluene", Laboratory.of(bath="120 C"), []),
        ("1-propanol", USUAL, ["bath-margin"]),
        ("1-propanol", Laboratory.of(bath="103 C"), []),
        # A bath that is read 1 K too low may be hot enough, as a match has it too.
        ("1-propanol", Laboratory.of(bath="96.5 C"), ["bath-margin"]),
        ("1-propanol", Laboratory.of(bath="95.5 C"), ["not-boiled-off"]),
        # At 640 mmHg it boils at 92.8 degrees, and water at 95.3.
        ("1-propanol", MOUNTAIN, ["bath-margin"]),
        ("dimethyl carbonate", USUAL, []),
        ("acetaldehyde", USUAL, ["gas-in-the-room"]),
        ("acetaldehyde", Laboratory.of(room="15 C"), ["vapor-pressure-high"]),
        ("pentane", USUAL, ["vapor-pressure-high"]),
        ("diethyl ether", USUAL, ["vapor-pressure-high"]),
        ("diethyl ether", Laboratory.of(room="28 C"), ["vapor-pressure-high"]),
        ("diethyl ether", Laboratory.of(pressure="600 mmHg"), ["vapor-pressure-high"]),
        ("acetone", MOUNTAIN, []),
        ("methanol", Laboratory.of(room="28 C"), []),
        ("tert-butanol", USUAL, ["solid-in-the-room"]),
        ("tert-butanol", Laboratory.of(room="28 C"), []),
        ("cyclohexane", Laboratory.of(room="5.5 C"), ["solid-in-the-room"]),
        ("trifluoroacetic acid", USUAL, ["vapor-of-dimers"]),
        ("formic acid", Laboratory.of(bath="110 C"), ["vapor-of-dimers"]),
        ("acetic acid", Laboratory.of(bath="130 C"), ["vapor-of-dimers"]),
        ("methyl formate", USUAL, ["vapor-pressure-high"]),
        ("pyruvic acid", Laboratory.of(bath="175 C"), []),  # holds its hydrogen itself
    ],
)
def test_the_method(table: CandidateTable, name: str, where: Laboratory, found: list[str]) -> None:
    assert method_codes(shelf(table, name), where, Tolerances()) == found


@pytest.mark.parametrize(
    ("name", "molar_mass", "found"),
    [
        ("dichloromethane", 5.0, []),
        # A class that reads the molar mass to 2 % cannot bear 0.4 % from the room alone.
        ("dichloromethane", 2.0, ["vapor-pressure-high"]),
        ("acetone", 2.0, []),
        ("pentane", 10.0, []),
    ],
)
def test_how_volatile_is_too_volatile_depends_on_the_class(
    table: CandidateTable, name: str, molar_mass: float, found: list[str]
) -> None:
    assert method_codes(shelf(table, name), USUAL, Tolerances(molar_mass)) == found


def test_what_the_room_does_to_the_molar_mass_is_what_the_weighing_says(
    table: CandidateTable,
) -> None:
    """Beside the molar mass that one weighing gives with the room read half a degree off."""
    from identify.physics.vapor import Liquid, Weighing, implied_molar_mass

    names = ("acetone", "methanol", "cyclohexane", "dichloromethane")
    rows = shelf(table, *names)
    on_shelf = Shelf.of(rows).table
    assert on_shelf is not None
    liquid = Liquid(
        on_shelf.number("boiling_point_C") + 273.15, on_shelf.vapor_curve, on_shelf.virial,
        on_shelf.number("liquid_density_25C"),
    )  # fmt: skip
    low, high = (
        implied_molar_mass(
            Weighing(3e-4, USUAL.bath, room, USUAL.pressure, 287e-6, USUAL.room, 0.5), liquid
        )[0]
        for room in (USUAL.room - 0.5, USUAL.room + 0.5)
    )
    change = 50.0 * (high - low) / (1e-3 * on_shelf.number("molar_mass"))
    found = suitabilities(Shelf.of(rows), USUAL, Tolerances())
    # The weighing's own air density and volume change with the room as well, by 0.05 % at most.
    assert [one.room_effect for one in found] == pytest.approx(list(change), abs=0.05)


def test_the_finding_says_what_bath_it_takes(table: CandidateTable) -> None:
    (liquid,) = suitabilities(Shelf.of(shelf(table, "toluene")), USUAL, Tolerances())
    (finding,) = liquid.findings()
    # 110.6 degrees: handbooks.
    assert finding.numbers["boiling_point_at_pressure_C"] == pytest.approx(110.6, abs=0.2)
    assert finding.numbers["margin_K"] == pytest.approx(-11.6, abs=0.3)
    assert "116 °C at least" in finding.advice
    assert finding.severity == "error"


def test_a_boiling_point_that_is_hardly_known_condemns_nothing(table: CandidateTable) -> None:
    guessed = Compound(**{**vars(outside("guessed", "CCCCOCC")), "boiling_point_C": 104.0})
    unsure = Compound(**{**vars(guessed), "boiling_point_u": 8.0})
    sure = Compound(**{**vars(guessed), "boiling_point_u": 0.3})
    found = [
        method_codes([StockRow(2, "K-2", "guessed", one)], USUAL, Tolerances())
        for one in (unsure, sure)
    ]
    assert found == [["bath-margin"], ["not-boiled-off"]]


# ------------------------------------------------------------------------------------------ hazards


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("cyclohexane", {}),
        ("acetone", {}),
        ("isopropanol", {}),
        ("hexane", {}),
        # Group 1 and "known".
        ("benzene", {"carcinogen": "warning", "exposure-limit-low": "warning"}),
        ("chloroform", {"carcinogen": "warning", "exposure-limit-low": "warning"}),
        ("dichloromethane", {"carcinogen": "warning"}),
        # Group 2B alone.
        ("tetrahydrofuran", {"carcinogen": "note"}),
        # Group 1 for what is drunk.
        ("ethanol", {"carcinogen": "note"}),
        ("acetonitrile", {"exposure-limit-low": "warning"}),
    ],
)
def test_hazards_of_a_liquid(table: CandidateTable, name: str, found: dict[str, str]) -> None:
    held = compound(table, name)
    findings = list(hazard_findings(held, hazards_of(held, table)))
    assert {finding.code: finding.severity for finding in findings} == found
    assert [f for f in findings if "safety data sheet" not in f.advice] == []


def test_a_compound_outside_the_table_is_looked_up_by_its_number(table: CandidateTable) -> None:
    stranger = Compound(**{**vars(outside("stranger", "c1ccccc1", 80.1)), "cas": "71-43-2"})
    found, known = (hazards_of(one, table) for one in (stranger, compound(table, "benzene")))
    assert found.carcinogen == known.carcinogen != ""
    assert found.flash_point_C == pytest.approx(known.flash_point_C, abs=0.01)
    assert found.exposure_limit_ppm == pytest.approx(known.exposure_limit_ppm)
    nothing = hazards_of(outside("stranger", "c1ccccc1"), table)
    assert nothing.carcinogen == ""
    assert isnan(nothing.flash_point_C)


@pytest.mark.parametrize(
    ("names", "where", "words"),
    [
        (("acetone", "ethanol"), USUAL, "2 of 2 bottles"),
        # Chloroform has none at all.
        (("acetone", "chloroform"), USUAL, "known here of K-3"),
        (("acetone", "toluene", "chloroform"), Laboratory.of(bath="30 C"), "2 of 3 bottles"),
    ],
)
def test_flash_points_beside_the_bath(
    table: CandidateTable, names: tuple[str, ...], where: Laboratory, words: str
) -> None:
    rows = [
        StockRow(
            row.row, row.label, row.written, row.compound, hazards=hazards_of(row.compound, table)
        )
        for row in shelf(table, *names)
        if row.compound is not None
    ]
    (note,) = table_hazards(rows, where)
    assert (note.code, note.severity) == ("flash-points", "note")
    assert words in note.message


@pytest.mark.parametrize(
    ("name", "forms"),
    [
        ("diethyl ether", True),
        ("diisopropyl ether", True),
        ("tetrahydrofuran", True),
        ("1,4-dioxane", True),
        ("1,2-dimethoxyethane", True),
        ("ethyl acetate", False),
        ("dimethyl carbonate", False),
        ("propylene oxide", False),
        ("anisole", False),
        ("ethanol", False),
        ("acetone", False),
        ("furan", False),
    ],
)
def test_peroxide_formers(table: CandidateTable, name: str, forms: bool) -> None:
    found = table_hazards(shelf(table, name), USUAL)
    assert codes(found) == (["peroxide-formers"] if forms else [])


def test_hazards_that_nobody_knows_are_not_counted() -> None:
    unread = StockRow(2, "K-2", "bottle seven", None)
    assert table_hazards([unread], USUAL) == ()
    assert isnan(Hazards().flash_point_C)


def test_percentages_by_hand_are_the_tables(table: CandidateTable) -> None:
    """What the cards above say is what their formulas say."""
    for name, (boils, percent) in CARDS.items():
        held = compound(table, name)
        assert held.percent == pytest.approx(percent, abs=0.06)
        assert held.boiling_point_C == pytest.approx(boils, abs=0.3)
