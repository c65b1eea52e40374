"""Densities and refractive indices against papers and solvent tables the table is not built from.

``liquid_densities.csv``: densities of pure liquids at 25 degrees Celsius as papers report them
(each with its DOI; where several do, the middle one), as the ThermoML archive of NIST collects
them, and those of a data set of solvents at 20 degrees. ``refractive_indices.csv``: the Minnesota
Solvent Descriptor Database (P. Winget et al., University of Minnesota, 2010), at 20 and 25 degrees,
and the same data set. ``pytest -s`` prints the worst of each.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from identify.compounds.table import ESTIMATED, CandidateTable
from identify.observables.density import DENSITY
from identify.observables.liquid_constant import LiquidConstants
from identify.observables.refractive_index import REFRACTIVE_INDEX
from identify.physics.constants import ICE_POINT

HERE = Path(__file__).parent
FAR = 0.02  # relative, of a density
# Where a paper or a data set is further off than that, and a second source stands by the table.
WRONG_DENSITIES = {
    "106-44-5": "1.154 is 11 % above what p-cresol has at 40 °C (CRC Handbook: 1.0185)",
    "630-20-6": "1.5868 is what 1,1,2,2-tetrachloroethane has; CRC Handbook: 1.5406 at 20 °C",
    "66-25-1": "0.833 is the handbook's; Perry, ChemSep and Common Chemistry agree on 0.811",
    "111-96-6": "1.00 in the data set stands for a missing value",
    "112-49-2": "1.00 in the data set stands for a missing value",
}
INDEX_FAR = 0.0045
WRONG_INDICES = {
    ("98-95-3", "25"): "1.5030, with 1.5562 at 20 °C in the same list: a misprint of 1.5530",
    ("103-73-1", "25"): "1.5254, above the 1.5076 at 20 °C in the same list: of 1.5052",
    ("79-01-6", "25"): "1.4556, with 1.4773 at 20 °C in the same list: of 1.4750",
    ("1120-21-4", "20"): "1.4398, with 1.4151 at 25 °C in the same list: of 1.4171",
    ("109-06-8", "25"): "1.4984, above the 1.4957 at 20 °C in the same list",
    ("123-72-8", "25"): "1.3766, 0.008 below 20 °C in the same list",
    ("624-92-0", "25"): "1.522, 0.007 below 20 °C in the same list",
    ("88-72-2", "25"): "1.5474, above the 1.5450 at 20 °C in the same list",
    ("95-48-7", "20"): "1.5361 is of the melt at 40 °C (CRC Handbook)",
}


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


@pytest.fixture(scope="module")
def densities(table: CandidateTable) -> list[dict[str, str]]:
    return [row for row in rows("liquid_densities.csv") if len(table.find(row["cas"])) == 1]


def predicted(table, listed, constant):
    constants, found = LiquidConstants(table), []
    for row in listed:
        value, u = constants.predicted(constant, float(row["temperature_C"]) + ICE_POINT)
        place = table.find(row["cas"])[0]
        found.append((value[place], u[place]))
    return np.array(found).T


def test_densities_are_those_of_the_papers(table, densities):
    value, u = predicted(table, densities, DENSITY)
    listed = np.array([1e3 * float(row["density_g_mL"]) for row in densities])
    off = value / listed - 1.0
    source = table.text("liquid_density_source")
    published = np.array([source[table.find(row["cas"])[0]] != ESTIMATED for row in densities])
    sound = np.array([row["cas"] not in WRONG_DENSITIES for row in densities])
    assert len(densities) > 400
    assert len({row["cas"] for row in densities}) > 350
    for kind, part in (("published", published & sound), ("estimated", ~published & sound)):
        order = np.argsort(-np.abs(off[part]))[:8]
        worst = [(np.array(densities)[part][i]["name"], f"{off[part][i]:+.1%}") for i in order]
        within = [(np.abs(value - listed) <= k * u)[part].mean() for k in (1.0, 1.96)]
        print(
            f"\n{part.sum()} {kind}: median off {np.median(np.abs(off[part])):.2%}, 95 % within "
            f"{np.quantile(np.abs(off[part]), 0.95):.1%}; within one u {within[0]:.0%}, within "
            f"1.96 u {within[1]:.0%}; worst {worst}"
        )
    far = {
        row["cas"]: f"{row['name']} {row['density_g_mL']} {row['source']} {one:+.1%}"
        for row, one in zip(densities, np.where(published, off, 0.0), strict=True)
        if abs(one) > FAR and row["cas"] not in WRONG_DENSITIES
    }
    assert not far
    part = published & sound
    assert np.median(np.abs(off[part])) < 0.0015
    assert np.quantile(np.abs(off[part]), 0.95) < 0.012
    assert (np.abs(value - listed) <= 1.96 * u)[part].mean() > 0.9
    assert (np.abs(value - listed) <= 1.96 * u)[~published].mean() > 0.9


def test_refractive_indices_are_those_of_the_solvent_tables(table):
    indices = [row for row in rows("refractive_indices.csv") if len(table.find(row["cas"])) == 1]
    value, _ = predicted(table, indices, REFRACTIVE_INDEX)
    off = value - np.array([float(row["refractive_index"]) for row in indices])
    assert len({row["cas"] for row in indices}) > 150
    known = np.isfinite(off)
    order = np.argsort(-np.abs(np.nan_to_num(off)))[:12]
    print(f"\n{known.sum()} of {len(indices)}: median off {np.median(np.abs(off[known])):.4f}; ")
    print([(indices[i]["name"], indices[i]["temperature_C"], f"{off[i]:+.4f}") for i in order])
    assert known.mean() > 0.97
    assert np.median(np.abs(off[known])) < 0.0006
    assert np.quantile(np.abs(off[known]), 0.9) < 0.0025
    far = {
        (row["cas"], row["temperature_C"]): f"{row['name']} {row['refractive_index']} {one:+.4f}"
        for row, one in zip(indices, off, strict=True)
        if abs(one) > INDEX_FAR
    }
    assert {key: told for key, told in far.items() if key not in WRONG_INDICES} == {}


def test_nearly_every_liquid_has_a_density(table):
    boiling = table.number("boiling_point_C")
    liquids = (boiling >= 20.0) & (boiling <= 150.0)
    both = [np.isfinite(table.number(f"liquid_density_{at}C")) for at in (20, 25)]
    known = both[0] & both[1] & np.isfinite(table.number("liquid_density_u"))
    published = np.array([source != ESTIMATED for source in table.text("liquid_density_source")])
    print(f"\n{known[liquids].mean():.1%}, {(known & published)[liquids].sum()} published")
    assert known[liquids].mean() > 0.95
    assert (known & published)[liquids].mean() > 0.45
    # A liquid expands by 0.4 to 2.5 parts in a thousand a kelvin.
    ratio = table.number("liquid_density_20C") / table.number("liquid_density_25C")
    assert ((ratio > 1.001) & (ratio < 1.014))[liquids & known].mean() > 0.99


def test_what_is_set_aside_says_why(table):
    for constant in ("refractive_index", "liquid_density"):
        reasons = [why for why in table.text(f"{constant}_set_aside") if why]
        assert len(reasons) > 40
        assert all(" " in why for why in reasons)


def test_no_index_stands_that_no_liquid_has(table):
    index = table.number("refractive_index")
    known = np.isfinite(index)
    assert known.sum() > 3300
    assert ((index > 1.2) & (index < 1.8))[known].all()
    # Acetonitrile was carried from 30 degrees Celsius; what is unlike all others stays.
    for cas, value in (
        ("75-05-8", 1.3442),
        ("75-15-0", 1.6277),
        ("75-11-6", 1.7411),
        ("307-34-6", 1.282),
        ("67-56-1", 1.3288),
    ):
        assert index[table.find(cas)[0]] == pytest.approx(value, abs=1e-4), cas
