"""Boiling points of the table against handbook values."""

from __future__ import annotations

import pytest

from identify import load_candidates

TABLE = load_candidates()


# CAS number and boiling point at 760 mmHg [degC] of liquids that teaching laboratories have:
# Weast, R. C., ed. CRC Handbook of Chemistry and Physics, physical constants of organic compounds;
# from memory.
HANDBOOK = [
    ("67-56-1", 64.7, "methanol"),
    ("64-17-5", 78.3, "ethanol"),
    ("71-23-8", 97.2, "1-propanol"),
    ("67-63-0", 82.3, "2-propanol"),
    ("71-36-3", 117.7, "1-butanol"),
    ("78-92-2", 99.5, "2-butanol"),
    ("78-83-1", 107.9, "isobutyl alcohol"),
    ("75-65-0", 82.4, "tert-butyl alcohol"),
    ("71-41-0", 137.9, "1-pentanol"),
    ("107-18-6", 97.1, "allyl alcohol"),
    ("67-64-1", 56.1, "acetone"),
    ("78-93-3", 79.6, "butanone"),
    ("107-87-9", 102.2, "2-pentanone"),
    ("96-22-0", 101.9, "3-pentanone"),
    ("563-80-4", 94.3, "3-methyl-2-butanone"),
    ("108-10-1", 116.5, "4-methyl-2-pentanone"),
    ("123-38-6", 48.0, "propanal"),
    ("123-72-8", 74.8, "butanal"),
    ("78-84-2", 64.2, "isobutyraldehyde"),
    ("107-31-3", 31.8, "methyl formate"),
    ("109-94-4", 54.4, "ethyl formate"),
    ("79-20-9", 56.9, "methyl acetate"),
    ("141-78-6", 77.1, "ethyl acetate"),
    ("109-60-4", 101.5, "propyl acetate"),
    ("108-21-4", 88.6, "isopropyl acetate"),
    ("554-12-1", 79.8, "methyl propanoate"),
    ("105-37-3", 99.1, "ethyl propanoate"),
    ("60-29-7", 34.5, "diethyl ether"),
    ("108-20-3", 68.4, "diisopropyl ether"),
    ("1634-04-4", 55.1, "tert-butyl methyl ether"),
    ("109-99-9", 65.9, "tetrahydrofuran"),
    ("123-91-1", 101.3, "1,4-dioxane"),
    ("109-66-0", 36.1, "pentane"),
    ("78-78-4", 27.8, "isopentane"),
    ("110-54-3", 68.7, "hexane"),
    ("107-83-5", 60.2, "2-methylpentane"),
    ("96-14-0", 63.2, "3-methylpentane"),
    ("142-82-5", 98.4, "heptane"),
    ("111-65-9", 125.6, "octane"),
    ("540-84-1", 99.2, "2,2,4-trimethylpentane"),
    ("287-92-3", 49.2, "cyclopentane"),
    ("110-82-7", 80.7, "cyclohexane"),
    ("108-87-2", 100.9, "methylcyclohexane"),
    ("110-83-8", 82.9, "cyclohexene"),
    ("592-41-6", 63.5, "1-hexene"),
    ("71-43-2", 80.1, "benzene"),
    ("108-88-3", 110.6, "toluene"),
    ("100-41-4", 136.2, "ethylbenzene"),
    ("106-42-3", 138.4, "p-xylene"),
    ("108-90-7", 131.7, "chlorobenzene"),
    ("75-09-2", 39.8, "dichloromethane"),
    ("67-66-3", 61.2, "chloroform"),
    ("56-23-5", 76.7, "carbon tetrachloride"),
    ("75-34-3", 57.3, "1,1-dichloroethane"),
    ("107-06-2", 83.5, "1,2-dichloroethane"),
    ("71-55-6", 74.0, "1,1,1-trichloroethane"),
    ("79-01-6", 87.2, "trichloroethylene"),
    ("156-60-5", 47.7, "trans-1,2-dichloroethene"),
    ("109-69-3", 78.4, "1-chlorobutane"),
    ("540-54-5", 46.6, "1-chloropropane"),
    ("74-96-4", 38.4, "bromoethane"),
    ("106-94-5", 71.0, "1-bromopropane"),
    ("75-26-3", 59.5, "2-bromopropane"),
    ("74-88-4", 42.4, "iodomethane"),
    ("75-03-6", 72.3, "iodoethane"),
    ("75-05-8", 81.6, "acetonitrile"),
    ("107-12-0", 97.1, "propanenitrile"),
    ("109-89-7", 55.5, "diethylamine"),
    ("121-44-8", 89.5, "triethylamine"),
    ("109-73-9", 77.0, "butylamine"),
    ("110-86-1", 115.2, "pyridine"),
    ("110-02-1", 84.2, "thiophene"),
    ("75-15-0", 46.2, "carbon disulfide"),
    ("75-18-3", 37.3, "dimethyl sulfide"),
    ("75-52-5", 101.2, "nitromethane"),
]


@pytest.mark.parametrize(("cas", "celsius", "name"), HANDBOOK, ids=[name for *_, name in HANDBOOK])
def test_common_liquids_are_there_with_their_boiling_points(cas, celsius, name):
    (row,) = TABLE.find(cas)
    # Half the default tolerance of a reading: editions of the handbook differ by up to this.
    assert TABLE.number("boiling_point_C")[row] == pytest.approx(celsius, abs=1.0)
    assert TABLE.number("boiling_point_u")[row] < 0.6
    assert TABLE.number("boiling_point_published")[row]
    # Sold everywhere, and the prior says so.
    assert TABLE.number("inventories")[row] >= 3
