"""Second virial coefficients that are published, in the common form of the table.

A correlation gives the coefficient of every compound; what is published of some is laid over it as
a ratio, between the temperatures where it is known, and its ends hold beyond.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from identify.compounds.published import literature
from identify.physics.arrays import Array
from identify.physics.vapor import second_virial

_COMMON_FORM_TEMPERATURES = np.linspace(270.0, 410.0, 29)  # K
_POWERS = (0, 1, 3, 8)
# A polynomial that leaves the correlation by more than this is outside its range.
_LEAST_RATIO, _GREATEST_RATIO = 0.5, 2.5
_CUBIC_CENTIMETER = 1e-6


@dataclass(frozen=True)
class PublishedVirial:
    """Second virial coefficients [m3/mol] at some temperatures [K], and the collection."""

    source: str
    temperatures: Array
    values: Array

    def over(self, correlation: Array) -> Array | None:
        """Return the coefficients v0 to v3, None where the two cannot be the same compound's.

        Parameters
        ----------
        correlation : array, shape (4,)
            Coefficients of the correlation, see `identify.physics.vapor.second_virial`.
        """
        ratio = self.values / second_virial(self.temperatures, correlation)
        if ratio.min() < _LEAST_RATIO or ratio.max() > _GREATEST_RATIO:
            return None
        points = _COMMON_FORM_TEMPERATURES
        laid_over = np.interp(points, self.temperatures, ratio)
        basis = (300.0 / points)[:, None] ** np.array(_POWERS)
        target = laid_over * second_virial(points, correlation)
        # Each temperature counts alike in percent.
        weight = 1.0 / np.abs(target)
        found, *_ = np.linalg.lstsq(basis * weight[:, None], target * weight, rcond=None)
        return np.asarray(found)


def read_virials(path: Path) -> dict[str, PublishedVirial]:
    """Read published coefficients by CAS number.

    Columns cas, name, collection, ``B_300K`` and so on [cm3/mol], reason.
    """
    found = {}
    with path.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            columns = [column for column in row if column.startswith("B_")]
            temperatures = np.array([float(column[2:-1]) for column in columns])
            values = _CUBIC_CENTIMETER * np.array([float(row[column]) for column in columns])
            found[row["cas"]] = PublishedVirial(row["collection"], temperatures, values)
    return found


def published_virial(
    cas: str, by_hand: Mapping[str, PublishedVirial], left_out: tuple[str, ...] = ()
) -> PublishedVirial | None:
    """Return what is published of a compound: what was chosen by hand, else the CRC Handbook's."""
    chosen = by_hand.get(cas)
    if chosen is not None and chosen.source not in left_out:
        return chosen
    temperatures = np.arange(320.0, 401.0, 10.0)
    values = literature.virial_coefficients(cas, temperatures)
    return None if values is None else PublishedVirial("CRC", temperatures, values)
