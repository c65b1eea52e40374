"""How probable each liquid is in a classroom, before anything is measured.

Three priors, mixed: what published handouts, reports and exercises hand out; common laboratory
solvents; and what is in commerce. `scripts/classroom_prior.py` tries the shares with courses left
out.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from identify.compounds.columns import TableColumns, bottled_weight, commerce_weight
from identify.physics.arrays import Array

SHARES = (0.75, 0.15, 0.10)
"""Of liquids by how many courses hand them out, of laboratory solvents, of what is in commerce.

The logarithmic score of courses left out changes by less than 0.06 from here to the best shares
(0.85, 0.10, 0.05): rather the ones that leave more to liquids that no course was found with.
"""
COMMERCE_SHARE = SHARES[2]

# What boils well above a water bath is mostly handed out for another way of naming an unknown: of
# the documents that name such a liquid a third are about weighing its vapor, of others two thirds.
_ABOVE_THE_BATH_C, _OTHERWISE = 105.0, 0.5

_OF_SOURCES = re.compile(r"of (\d+) sources")
_ONE_PROPERTY_EACH = ("refractive_index", "melting_point_C", "flash_point_C")
_DENSITIES = ("VDI PPDS", "Perry 8E")  # collections of what is made and sold in quantity
# What a collection more multiplies a solvent's weight by, as a logarithm: with courses left out,
# everything from 0.4 to 1 does as well.
_PER_COLLECTION = 0.5
_BOILS_C, _MELTS_C = (25.0, 125.0), 22.0  # a liquid in the room that boils off in a bath or nearly
_NOT_A_LIQUID = 0.01
_BREATHED_PPM = 10.0  # a limit over 8 hours below which nobody fills bottles for a class
_NOT_KNOWN_AS_HARMLESS = _NOT_IN_ALL_INVENTORIES = 0.3
_ALL_INVENTORIES = 6


def read_courses(path: Path) -> dict[str, float]:
    """Read how many courses hand out each liquid, by CAS number, from ``data/classroom.csv``."""
    with path.open(encoding="utf-8", newline="") as lines:
        return {row["cas"]: float(row["courses"]) for row in csv.DictReader(lines)}


def classroom_prior(
    columns: TableColumns,
    courses: Mapping[str, float],
    shares: tuple[float, float, float] = SHARES,
) -> Array:
    """Return how probable each row is in a classroom, shape (n,); sums to one, and is never zero.

    Parameters
    ----------
    columns : TableColumns
        Sources of the boiling point, constants, inventories, why it is not bottled.
    courses : mapping of str to float
        How many courses hand out a liquid, by CAS number.
    shares : (float, float, float)
        As `SHARES`.

    Raises
    ------
    ValueError
        If a liquid that is handed out is not in the table.
    """
    if missing := courses.keys() - set(columns.text["cas"]):
        raise ValueError(f"handed out, and not in the table: {', '.join(sorted(missing))}")
    handed_out = np.array([courses.get(cas, 0.0) for cas in columns.text["cas"]])
    handed_out *= np.where(columns.numbers["boiling_point_C"] > _ABOVE_THE_BATH_C, _OTHERWISE, 1.0)
    bottled = bottled_weight(columns)
    weights = (
        handed_out,
        bottled * solvent_weight(columns),
        bottled * commerce_weight(columns.numbers["inventories"]),
    )
    return np.asarray(
        sum(share * weight / weight.sum() for share, weight in zip(shares, weights, strict=True))
    )


def solvent_weight(columns: TableColumns) -> Array:
    """Return a weight for how common a laboratory solvent each row is, shape (n,).

    What is common is measured often: the more collections of properties list a liquid, the more it
    weighs. It is a liquid that boils in or just above a water bath, sold everywhere (all six
    inventories), and its vapor may be breathed (an exposure limit of at least 10 ppm).
    """
    numbers = columns.numbers
    listing = np.array(
        [
            int(found[1]) if (found := _OF_SOURCES.search(source)) else 0
            for source in columns.text["boiling_point_source"]
        ]
    )
    listing = listing + sum(np.isfinite(numbers[name]) for name in _ONE_PROPERTY_EACH)
    listing += [
        any(one in source for one in _DENSITIES) for source in columns.text["liquid_density_source"]
    ]
    boiling = numbers["boiling_point_C"]
    is_liquid = (boiling > _BOILS_C[0]) & (boiling < _BOILS_C[1])
    is_liquid &= ~(numbers["melting_point_C"] > _MELTS_C)
    weight = np.exp(_PER_COLLECTION * listing)
    weight *= np.where(is_liquid, 1.0, _NOT_A_LIQUID)
    breathed = numbers["exposure_limit_ppm"] >= _BREATHED_PPM
    weight *= np.where(breathed, 1.0, _NOT_KNOWN_AS_HARMLESS)
    sold = numbers["inventories"] >= _ALL_INVENTORIES
    return np.asarray(weight * np.where(sold, 1.0, _NOT_IN_ALL_INVENTORIES))
