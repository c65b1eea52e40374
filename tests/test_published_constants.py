"""How published constants become the table: flash points, carcinogens, virial coefficients."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from build_candidates import SOURCES, VIRIALS, resting_on_non_commercial, told_of_terms

from identify.compounds.carcinogens import is_grave, of_the_liquid, short_lists
from identify.compounds.listed import listing_of
from identify.compounds.published import literature
from identify.compounds.published.consensus import boiling_point_consensus
from identify.compounds.published.hazards.flash_points import flash_point
from identify.compounds.published.hazards.lookup import looked_up
from identify.compounds.published.liquids.densities import ListedLiquid, published_densities
from identify.compounds.published.vapor.virials import (
    PublishedVirial,
    published_virial,
    read_virials,
)
from identify.compounds.table import CandidateTable
from identify.physics.constants import ICE_POINT
from identify.physics.vapor import second_virial

# --------------------------------------------------------------------------------- flash points

CURVE = (13.0, -4.0, 1.0)  # of a liquid like acetone, correlated flash point -27 degrees Celsius
ATOMS = {"C": 3, "H": 6, "O": 1}


def flashes(boils: float = 56.1, atoms: dict[str, int] = ATOMS, **published: float):
    kelvin = {name: value + ICE_POINT for name, value in published.items()}
    found = flash_point(kelvin, boils + ICE_POINT, CURVE, atoms)
    return round(found.value - ICE_POINT, 1), round(found.highest - ICE_POINT, 1), found


@pytest.mark.parametrize(
    ("published", "lowest", "highest", "source"),
    [
        ({"one": -20.0}, -20.0, -20.0, "one"),
        ({"one": -17.0, "two": -20.0}, -20.0, -17.0, "two, one"),
        # Of two that differ, one is far below what its boiling says, one as it says.
        ({"one": -60.0, "two": -20.0}, -20.0, -20.0, "two"),
        # A low value alone is on the safe side.
        ({"one": -60.0}, -60.0, -60.0, "one"),
        ({"one": -60.0, "two": 40.0}, -60.0, -60.0, "one"),
        # In two collections, 22 K above the correlation.
        ({"one": -5.0, "two": -4.0}, -5.0, -4.0, "one, two"),
    ],
)
def test_the_lowest_that_can_be_right(published, lowest, highest, source):
    assert flashes(**published)[:2] == (lowest, highest)
    assert flashes(**published)[2].source == source


@pytest.mark.parametrize(
    ("published", "words"),
    [
        ({"one": 97.0}, "97 C (one): less than 30 K below the boiling point"),
        ({"one": 20.0}, "20 C (one): 47 K above what follows from its boiling"),
        ({"one": -5.0}, "-5 C (one): in one collection alone, 22 K above"),
    ],
)
def test_what_is_unsafe_and_unconfirmed_is_set_aside(published, words):
    lowest, _, found = flashes(**published)
    assert np.isnan(lowest)
    assert words in found.set_aside
    assert found.source == ""


def test_halogens_may_lift_a_flash_point():
    assert flashes(atoms={"C": 2, "H": 4, "Cl": 2}, one=5.0)[0] == 5.0


def test_without_carbon_only_the_boiling_point_speaks():
    assert flashes(atoms={"H": 4, "N": 2}, boils=113.5, one=38.0)[0] == 38.0
    assert np.isnan(flashes(atoms={"H": 4, "N": 2}, boils=60.0, one=38.0)[0])


def test_a_compound_that_the_table_lacks_is_looked_up():
    found = looked_up("67-56-1", "CO", 64.6 + ICE_POINT)
    assert found.flash_point.value - ICE_POINT == pytest.approx(9.0, abs=0.5)
    assert found.flash_point.source == "IEC 60079-20-1 (2010), WIKIDATA, NFPA 497 (2008)"
    assert np.isnan(looked_up("67-56-1", "CO", np.nan).flash_point.value)


def test_the_lists_are_what_the_script_makes():
    made = literature.listings()
    for number in [*sorted(made)[::40], *(one for one in made if made[one].carcinogen)]:
        wanted = made[number]
        found = listing_of(str(number))
        assert found.flash_points == wanted.flash_points
        assert (found.inventories, found.carcinogen) == (wanted.inventories, wanted.carcinogen)
        assert found.exposure_limit_ppm == pytest.approx(wanted.exposure_limit_ppm, nan_ok=True)
    for number in (min(made) - 1, max(made) + 1):
        assert listing_of(str(number)).inventories == 0


# ------------------------------------------------------------------------------ carcinogen lists


@pytest.mark.parametrize(
    ("cas", "said", "grave"),
    [
        ("64-17-5", "IARC: Carcinogenic to humans (1), as drunk in alcoholic beverages", False),
        ("71-43-2", "IARC: Carcinogenic to humans (1); NTP: Known", True),
        ("109-99-9", "IARC: Possibly carcinogenic to humans (2B)", False),
        ("67-64-1", "", False),
    ],
)
def test_lists_are_named_with_their_scope(cas, said, grave):
    lists = literature.carcinogen_lists(cas)
    assert short_lists(lists) == said
    assert is_grave(lists) is grave
    assert bool(of_the_liquid(lists)) is (bool(said) and "drunk" not in said)


def test_acetaldehyde_stays_on_the_list_that_is_about_the_liquid():
    lists = literature.carcinogen_lists("75-07-0")
    assert short_lists(of_the_liquid(lists)) == "NTP: Reasonably Anticipated"
    assert is_grave(lists)


# --------------------------------------------------------------------------- virial coefficients

CORRELATION = np.array([1.2e-4, -3.0e-4, -5.5e-4, -4.0e-5])


def test_published_values_are_met_where_they_are_known():
    temperatures = np.arange(300.0, 401.0, 20.0)
    values = 1.1 * second_virial(temperatures, CORRELATION)
    over = PublishedVirial("there", temperatures, values).over(CORRELATION)
    assert over is not None
    everywhere = np.linspace(280.0, 405.0, 9)
    ratio = second_virial(everywhere, over) / second_virial(everywhere, CORRELATION)
    assert ratio == pytest.approx(1.1, abs=1e-6)


def test_a_polynomial_beyond_its_range_is_not_used():
    temperatures = np.array([320.0, 400.0])
    values = second_virial(temperatures, CORRELATION) * np.array([1.0, -1.0])
    assert PublishedVirial("there", temperatures, values).over(CORRELATION) is None


def test_what_was_chosen_by_hand_stands_before_the_handbook():
    chosen = read_virials(VIRIALS)
    found = published_virial("67-56-1", chosen)
    assert found is not None
    assert found.source == "CHEMSEP"
    assert published_virial("67-63-0", chosen).source == "CRC"
    assert published_virial("110-71-4", chosen) is None
    assert published_virial("616-38-6", chosen).source == "HEOS"
    assert published_virial("616-38-6", chosen, left_out=("HEOS",)) is None


# -------------------------------------------------------------------------------- boiling points


@pytest.mark.parametrize(
    ("published", "estimate", "spread", "expected"),
    [
        # 2-Fluoroethanol: a figure in two collections, near the estimate, against a handbook.
        ({"CRC_ORG": 85.0, "COMMON_CHEMISTRY": 103.5, "YAWS": 103.5}, 103.0, 8.0, 103.5),
        # 1,2-Dichloro-1,2-difluoroethane: the handbook near the estimate.
        ({"CRC_ORG": 59.6, "COMMON_CHEMISTRY": 46.8, "YAWS": 46.8}, 65.0, 4.5, 59.6),
        # Acetone cyanohydrin: under vacuum in two collections.
        ({"CRC_ORG": 180.0, "COMMON_CHEMISTRY": 95.0, "WIKIDATA": 95.0}, 165.0, 12.0, 180.0),
        # Diethyl peroxide.
        ({"CRC_ORG": 46.0, "COMMON_CHEMISTRY": 65.0, "YAWS": 65.0}, 65.0, 8.0, 65.0),
        # 3-Methyltetrahydrofuran: each alone, one of them near the estimate.
        ({"COMMON_CHEMISTRY": 86.5, "YAWS": 138.0}, 84.0, 5.0, 86.5),
    ],
)
def test_collections_that_agree_stand_against_one(published, estimate, spread, expected):
    values = {name: value + ICE_POINT for name, value in published.items()}
    point = boiling_point_consensus(values, estimate + ICE_POINT, spread)
    assert point.published
    assert point.value - ICE_POINT == pytest.approx(expected, abs=0.3)


@pytest.mark.parametrize("names", [("YAWS",), ("COMMON_CHEMISTRY", "YAWS")])
def test_a_vacuum_value_is_set_aside_where_two_collections_repeat_it(names):
    values = dict.fromkeys(names, 110.0 + ICE_POINT)
    assert not boiling_point_consensus(values, 200.0 + ICE_POINT, 8.0).published


# ----------------------------------------------------------------------------------------- terms


def test_the_page_of_sources_counts_what_rests_on_non_commercial_terms(table: CandidateTable):
    page = Path(SOURCES).read_text("utf-8")
    assert told_of_terms(page, table) == page
    counted = resting_on_non_commercial(table)
    assert counted["densities"] > 0
    assert 0 < counted["melting points"] < counted["boiling points"] < len(table)


def test_a_table_of_open_terms_looks_up_nothing_with_others(table: CandidateTable) -> None:
    rows = [
        row
        for column in ("boiling_point_source", "melting_point_source", "liquid_density_source")
        for row in [
            place for place, source in enumerate(table.text(column)) if "COMMON_CHEM" in source
        ][::60]
    ]
    with_all, with_open = (
        {source for row in rows for source in looked_up_sources(table, row, left_out)}
        for left_out in ((), literature.NON_COMMERCIAL)
    )
    assert with_all - with_open == {*literature.NON_COMMERCIAL}


def looked_up_sources(table: CandidateTable, row: int, left_out: tuple[str, ...]) -> set[str]:
    """Return the collections of every value that is published of a row's compound."""
    cas, boiling = table.text("cas")[row], table.number("boiling_point_C")[row] + ICE_POINT
    constants = literature.published_constants(cas, boiling, left_out).values()
    liquid = ListedLiquid(cas, table.number("molar_mass")[row], np.nan, boiling, 0.001)
    return {
        *literature.published_boiling_points(cas, left_out),
        *(constant.source for constant in constants),
        *(density.source for density in published_densities(liquid, left_out)),
    }


# ------------------------------------------------------------------------------------- densities

ALL_DENSITIES = ("VDI PPDS", "Perry 8E", "CHEMSEP", "CRC_ORG", "COMMON_CHEMISTRY")


@pytest.mark.parametrize(
    ("cas", "molar_mass", "expansion", "at_25", "at_20", "sources"),
    [
        # At 25 and 20 °C, the usual tables of solvents (from memory); 1/V dV/dT likewise.
        ("67-64-1", 58.080, 1.43e-3, 784.5, 790.2, ALL_DENSITIES),
        ("64-17-5", 46.069, 1.10e-3, 785.1, 789.3, ALL_DENSITIES),
        ("67-56-1", 32.042, 1.19e-3, 786.6, 791.3, ALL_DENSITIES),
        ("108-88-3", 92.141, 1.08e-3, 862.2, 866.9, ALL_DENSITIES),
        ("110-54-3", 86.178, 1.38e-3, 654.8, 659.4, ALL_DENSITIES),
        ("60-29-7", 74.123, 1.66e-3, 707.8, 713.4, ALL_DENSITIES[:4]),
        ("110-82-7", 84.162, 1.22e-3, 773.9, 778.6, ALL_DENSITIES),
    ],
)
def test_what_each_collection_says_of_a_density(
    cas: str,
    molar_mass: float,
    expansion: float,
    at_25: float,
    at_20: float,
    sources: tuple[str, ...],
) -> None:
    liquid = ListedLiquid(cas, molar_mass, 200.0, 340.0, expansion)
    found = published_densities(liquid)
    assert tuple(one.source for one in found) == sources
    for one in found:
        allowed = 0.037 if one.source == "COMMON_CHEMISTRY" else 0.018
        assert one.at_25 == pytest.approx(at_25, rel=allowed if np.isnan(one.at_20) else 0.005)
        if not np.isnan(one.at_20):
            assert one.at_25 / one.at_20 == pytest.approx(at_25 / at_20, rel=1e-3)
    assert [one.u for one in found if not np.isnan(one.at_20)] == [0.0015] * 3
    left_out = ("VDI PPDS", "CRC_ORG")
    left = [one.source for one in published_densities(liquid, left_out)]
    assert left == [one for one in sources if one not in left_out]
