#!/usr/bin/env python3
"""Fits increments of molar volumes and refractions, and prints how well they foretell a density.

The published densities of the table. Each error printed is of a density that was left out of the
fit (one tenth at a time).

Usage: python scripts/liquid_volumes.py [--critical-from-structure]
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from identify.compounds.loading import load_candidates
from identify.compounds.table import ESTIMATED, CandidateTable
from identify.physics.constants import ATOMIC_WEIGHTS, ELEMENTS, ICE_POINT

Array = NDArray[np.float64]
Rows = NDArray[np.int64]

FITTED = ("C", "H", "N", "O", "S", "F", "Cl", "Br", "I", "Si")
FOLDS = 10
ROOM = 298.15  # K
# A liquid at 25 degrees Celsius, or not far from it.
_LOWEST_BOILING, _HIGHEST_MELTING = 22.0, 40.0  # degrees Celsius
# An error of this part is still an ordinary one; beyond, it counts less than by its square.
_ORDINARY = 0.02


@dataclass(frozen=True)
class Known:
    """What the fit is made of, all rows of the table; NaN where not known.

    Parameters
    ----------
    counts : array, shape (n, 10)
        Atoms in the molecule, by element of `FITTED`.
    volume : array, shape (n,)
        Molar volume at 25 degrees Celsius [cm3/mol].
    reduced : array, shape (n,)
        That temperature over the critical one.
    lorentz : array, shape (n,)
        (n2 - 1) / (n2 + 2), from the refractive index.
    rows : array of int
        Liquids whose volume is known, of these elements alone.
    """

    counts: Array
    volume: Array
    reduced: Array
    lorentz: Array
    rows: Rows

    @classmethod
    def of(cls, table: CandidateTable, critical_temperature: Array) -> Known:
        """Take it from a table."""
        molar_mass = table.number("molar_mass")
        published = [s not in ("", ESTIMATED) for s in table.text("liquid_density_source")]
        density = np.where(published, table.number("liquid_density_25C") / 1e3, np.nan)
        liquid = (table.number("boiling_point_C") > _LOWEST_BOILING) & ~(
            table.number("melting_point_C") > _HIGHEST_MELTING
        )
        columns = [ELEMENTS.index(element) for element in FITTED]
        weights = np.array([ATOMIC_WEIGHTS[element] for element in FITTED])
        counts = np.rint(table.percent[:, columns] / 100.0 * molar_mass[:, None] / weights)
        others = 100.0 - table.percent[:, columns].sum(axis=1) > 0.5
        square = table.number("refractive_index") ** 2
        return cls(
            counts,
            molar_mass / density,
            ROOM / critical_temperature,
            (square - 1.0) / (square + 2.0),
            np.flatnonzero(np.isfinite(density) & liquid & ~others),
        )


def by_formula(known: Known, parameters: Array) -> Array:
    """Return molar volumes from an increment an element and the growth with T/Tc."""
    volume = known.counts @ parameters[:-1] * (1.0 + parameters[-1] * (known.reduced - 0.5))
    return np.asarray(volume)


def by_refraction(known: Known, parameters: Array) -> Array:
    """Return molar volumes from an increment an element and one of the molecule."""
    return np.asarray((known.counts @ parameters[:-1] + parameters[-1]) / known.lorentz)


Form = Callable[[Known, Array], Array]
_STARTS = {by_formula: 10.0, by_refraction: 3.0}


def fit(form: Form, known: Known, rows: Rows) -> Array:
    """Return the parameters that fit these rows best."""

    def off(parameters: Array) -> Array:
        return np.asarray(
            np.log(np.maximum(form(known, parameters)[rows], 1.0) / known.volume[rows])
        )

    start = np.append(np.full(len(FITTED), _STARTS[form]), 1.0)
    return np.asarray(least_squares(off, start, loss="soft_l1", f_scale=_ORDINARY).x)


def left_out(form: Form, known: Known, rows: Rows) -> Array:
    """Return the volumes of these rows, each from a fit to the others, shape (n,)."""
    fold = np.random.default_rng(0).permutation(len(rows)) % FOLDS
    volume = np.full(len(known.volume), np.nan)
    for held in range(FOLDS):
        test = rows[fold == held]
        volume[test] = form(known, fit(form, known, rows[fold != held]))[test]
    return volume


def critical_from_structure(table: CandidateTable, rows: Rows) -> Array:
    """Return critical temperatures, those of these rows from the structures of the others [K]."""
    from identify.chemistry.structures import Structure, describe
    from identify.compounds.published.estimate import boosted_trees_fill

    boiling_point = table.number("boiling_point_C") + ICE_POINT
    ratio = table.number("critical_temperature_K") / boiling_point
    estimated = np.array([s == ESTIMATED for s in table.text("critical_source")])
    used = np.union1d(rows, np.flatnonzero(~estimated))
    descriptors = describe([Structure(table.text("smiles")[row]) for row in used])
    fold = np.random.default_rng(1).permutation(len(used)) % FOLDS
    filled = ratio.copy()
    for held in range(FOLDS):
        training = ratio[used].copy()
        training[fold == held] = np.nan
        filled[used[fold == held]] = boosted_trees_fill(descriptors, training)[fold == held]
    return np.asarray(filled * boiling_point)


def error_line(name: str, volume: Array, known: Known, rows: Rows) -> str:
    """Return the errors of a set of densities as one line."""
    off = np.abs(np.log(volume[rows] / known.volume[rows]))
    parts = [f"{share:.0%} within {np.quantile(off, share):.1%}" for share in (0.5, 0.683, 0.95)]
    return f"  {name:<34} {len(rows):4} liquids: {', '.join(parts)}"


def rackett(table: CandidateTable, known: Known) -> Array:
    """Return molar volumes from critical constants alone, by Rackett, Yamada and Gunn [cm3/mol]."""
    factor = np.maximum(0.29056 - 0.08775 * table.number("acentric_factor"), 0.2)
    size = 8.314462618e6 * table.number("critical_temperature_K")
    size /= table.number("critical_pressure_Pa")
    depth = 1.0 + np.maximum(1.0 - known.reduced, 0.0) ** (2.0 / 7.0)
    return np.asarray(size * factor**depth)


def main() -> None:
    """Fit, and print increments and errors."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument(
        "--critical-from-structure",
        action="store_true",
        help="as if no critical temperature were published (takes a minute)",
    )
    table = load_candidates()
    known = Known.of(table, table.number("critical_temperature_K"))
    if parser.parse_args().critical_from_structure:
        known = Known.of(table, critical_from_structure(table, known.rows))
    indexed = known.rows[np.isfinite(known.lorentz[known.rows])]
    for form, rows in ((by_formula, known.rows), (by_refraction, indexed)):
        parameters = fit(form, known, rows).round(2)
        print(form.__name__, dict(zip((*FITTED, "last"), parameters.tolist(), strict=True)))
    formula = left_out(by_formula, known, known.rows)
    refraction = left_out(by_refraction, known, indexed)
    nitrogen = known.counts[:, FITTED.index("N")] > 0
    print("density off")
    with_nitrogen = known.rows[nitrogen[known.rows]]
    without = known.rows[~nitrogen[known.rows]]
    print(error_line("by formula", formula, known, known.rows))
    print(error_line("by formula, with nitrogen", formula, known, with_nitrogen))
    print(error_line("by formula, without", formula, known, without))
    print(error_line("by refraction", refraction, known, indexed))
    for share in (0.6, 0.7, 0.8):
        both = share * refraction + (1.0 - share) * formula
        print(error_line(f"{share:.0%} by refraction, rest by formula", both, known, indexed))
    print(error_line("by published critical constants", rackett(table, known), known, known.rows))


if __name__ == "__main__":
    main()
