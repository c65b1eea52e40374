"""The normal boiling point estimated from structure, with an interval that holds 19 times in 20.

A Gaussian process on RDKit descriptors and counts, trained by ``scripts/train_boiling_points.py``
on the compounds of the built-in table whose boiling point independent collections agree on.
Rasmussen, C. E.; Williams, C. K. I. Gaussian Processes for Machine Learning; MIT Press, 2006,
chapters 2 and 5.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from identify.chemistry.structures import Structure, is_no_bottled_liquid, read_structure
from identify.compounds.boiling.features import (
    COUNTED,
    Counts,
    Describer,
    counted,
    drawn_surroundings,
)
from identify.compounds.boiling.interval import Neighborhood, error_scale
from identify.compounds.boiling.kernel import (
    KnownStructures,
    Shape,
    Traits,
)
from identify.compounds.parquet import shipped
from identify.physics.arrays import Array
from identify.physics.constants import ICE_POINT

FEWEST_ATOMS, MOST_ATOMS = 3, 40
"""Heavy atoms. Below, each compound is a case of its own; above, too few are published."""
MOST_UNKNOWN = 1
"""Surroundings of an atom that no known compound has: of two, the estimate misses by 20 K."""
_MAX_SMILES_LENGTH = 2000  # characters; a SMILES of 40 heavy atoms takes fewer than 500


@dataclass(frozen=True)
class _Domain:
    """Bounds of what the estimate was trained on.

    Parameters
    ----------
    surroundings : frozenset of int
        Those that occur in the training.
    farthest : float
        Largest distance to the four nearest known compounds that is still near.
    """

    surroundings: frozenset[int]
    farthest: float

    def unknown(self, found: dict[int, int]) -> list[int]:
        """Return the surroundings that no known compound has."""
        return sorted(found.keys() - self.surroundings)

    def objection(self, mol: Any, unknown: list[int]) -> str:
        """Return why a molecule lies outside by what it is made of, or empty text.

        Parameters
        ----------
        mol : rdkit.Chem.Mol
        unknown : list of int
            Its surroundings that no known compound has.
        """
        atoms = mol.GetNumHeavyAtoms()
        if atoms < FEWEST_ATOMS:
            return f"too small to estimate: {atoms} heavy atoms, at least {FEWEST_ATOMS} are needed"
        if atoms > MOST_ATOMS:
            return f"larger than what the estimate knows: {atoms} heavy atoms, {MOST_ATOMS} at most"
        if len(unknown) > MOST_UNKNOWN:
            return (
                f"{len(unknown)} of its atoms' surroundings are in no compound that the estimate "
                f"knows, such as {drawn_surroundings(mol, unknown)}"
            )
        return ""

    def is_remote(self, four_nearest: float) -> bool:
        """Return whether even the nearest known compounds are too unlike."""
        return four_nearest > self.farthest


REMOTE = "no compound that the estimate knows is enough like it"


def _read_for_estimate(smiles: str) -> tuple[Structure | None, str]:
    """Return the structure of a SMILES, or None and why it cannot be used.

    Examples
    --------
    >>> _read_for_estimate("[Na+].[Cl-]")
    (None, 'is a salt or a mixture')
    >>> _read_for_estimate("C1CC")
    (None, 'cannot be read as a SMILES')
    """
    if len(smiles) > _MAX_SMILES_LENGTH:
        return None, f"a SMILES of {len(smiles)} characters, {_MAX_SMILES_LENGTH} at most are read"
    structure = read_structure(smiles)
    if structure is not None:
        return structure, ""
    return None, is_no_bottled_liquid(smiles) or "cannot be read as a SMILES"


MODEL = "boiling_model.npz"
_MAX_DEVIATION = 6.0  # standard deviations that a feature counts as at most: no long leaps
_MAX_COUNT = 8  # what a count of a frequent surrounding counts as at most
_CHUNK = 256  # structures at a time: their likenesses to all known compounds take 11 MB
_COVERAGE_FACTOR = 1.96  # standard uncertainties of a normal that hold 95 %


@dataclass(frozen=True)
class EstimatedBoilingPoints:
    """Estimated normal boiling points; each an array, shape (n,), NaN where outside the domain.

    Parameters
    ----------
    value_C : array
        [degrees Celsius]
    standard_uncertainty_K : array
        Half the 95 % interval over 1.96: the normal distribution that has the interval's width.
    low_C, high_C : array
        Ends of the 95 % interval [degrees Celsius].
    in_domain : array of bool
    reason : list of str, length n
        Why there is no estimate; empty where there is one.
    """

    value_C: Array
    standard_uncertainty_K: Array
    low_C: Array
    high_C: Array
    in_domain: NDArray[np.bool_]
    reason: list[str]


@dataclass(frozen=True)
class Scaling:
    """From a structure to its coordinates: which features, in what unit, with what weight.

    Parameters
    ----------
    descriptors : list of str
        Names of RDKit descriptors.
    frequent : array of int, shape (s,)
        Surroundings whose counts are features too; they follow the descriptors.
    center, spread, weight : arrays, shape (f,)
        Of each feature: what is subtracted, what it is divided by, and its weight after that.
    """

    descriptors: list[str]
    frequent: NDArray[np.uint32]
    center: Array
    spread: Array
    weight: Array

    def scaled(self, raw: Array) -> Array:
        """Return features in standard deviations, shape (n, f), without their weights."""
        away = (raw - self.center) / self.spread
        # Single precision: as the model keeps those of the known compounds.
        return np.clip(away, -_MAX_DEVIATION, _MAX_DEVIATION).astype(np.float32)

    def raw(self, descriptors: Array, found: Sequence[dict[int, int]]) -> Array:
        """Return the features as they are, shape (n, f)."""
        counts = [
            [min(one.get(key, 0), _MAX_COUNT) for key in self.frequent.tolist()] for one in found
        ]
        return np.hstack([descriptors, np.array(counts, dtype=np.float64)])


class BoilingModel:
    """A trained estimate.

    Parameters
    ----------
    content : mapping of str to array
        What ``scripts/train_boiling_points.py`` wrote; its keys are explained there.
    """

    def __init__(self, content: dict[str, Any]) -> None:
        self.content = content
        self.scaling = Scaling(
            [str(name) for name in content["descriptors"]],
            content["frequent"],
            content["center"],
            content["spread"],
            content["weight"],
        )
        self.shape = Shape(content["amplitudes"].tolist(), content["rates"].tolist())
        self.counted = {name: _counts(content, name) for name in COUNTED}
        self.coordinates = content["scaled"].astype(np.float64) * self.scaling.weight
        self.known = KnownStructures(self.coordinates, self.counted, self.shape)
        self.domain = _Domain(
            frozenset(self.counted["surroundings"].keys.tolist()), float(content["farthest"])
        )
        self._describe = Describer(self.scaling.descriptors)

    def traits(self, mols: Sequence[Any], found: Sequence[dict[int, int]]) -> Traits:
        """Return molecules, whose surroundings were found, as the kernel compares them."""
        descriptors = np.array([self._describe(mol) for mol in mols])
        scaled = self.scaling.scaled(self.scaling.raw(descriptors, found))
        return Traits(
            scaled.astype(np.float64) * self.scaling.weight,
            {
                name: found if name == "surroundings" else [counted(name, mol) for mol in mols]
                for name in COUNTED
            },
        )

    def estimate(self, smiles: Sequence[str]) -> EstimatedBoilingPoints:
        """Estimate normal boiling points, some hundred structures at a time."""
        parts = [
            self._estimate_chunk(smiles[start : start + _CHUNK])
            for start in range(0, len(smiles), _CHUNK)
        ]
        kelvin = np.concatenate([np.zeros(0), *(part[0] for part in parts)])
        half = np.concatenate([np.zeros(0), *(part[1] for part in parts)])
        reasons = [reason for part in parts for reason in part[2]]
        value = kelvin - ICE_POINT
        return EstimatedBoilingPoints(
            value_C=value,
            standard_uncertainty_K=half / _COVERAGE_FACTOR,
            low_C=value - half,
            high_C=value + half,
            in_domain=np.array([not reason for reason in reasons], dtype=bool),
            reason=reasons,
        )

    def _half_interval(self, terms: Array) -> Array:
        """Return halves of the 95 % intervals [K], shape (n,), from what they depend on."""
        return error_scale(terms, self.content["scale"]) * float(self.content["factor"])

    def _estimate_chunk(self, smiles: Sequence[str]) -> tuple[Array, Array, list[str]]:
        """Return estimates [K], halves of the intervals [K], and reasons against."""
        kelvin, half = np.full(len(smiles), np.nan), np.full(len(smiles), np.nan)
        reasons, inside, mols, found, unknown = [], [], [], [], []
        for place, written in enumerate(smiles):
            structure, reason = _read_for_estimate(written)
            if structure is not None:
                around = counted("surroundings", structure.mol)
                strange = self.domain.unknown(around)
                reason = self.domain.objection(structure.mol, strange)
                if not reason:
                    inside.append(place)
                    mols.append(structure.mol)
                    found.append(around)
                    unknown.append(len(strange))
            reasons.append(reason)
        if not inside:
            return kelvin, half, reasons
        likeness = self.known.likeness(self.traits(mols, found))
        value = likeness @ self.content["coefficients"] + float(self.content["middle_K"])
        near = Neighborhood.among(likeness, self.shape.largest, self.content["residuals"])
        width = self._half_interval(near.terms(np.array(unknown), value))
        for row, place in enumerate(inside):
            if self.domain.is_remote(near.four_nearest[row]):
                reasons[place] = REMOTE
            else:
                kelvin[place], half[place] = value[row], width[row]
        return kelvin, half, reasons


def _counts(content: dict[str, Any], name: str) -> Counts:
    return Counts(*(content[f"{name}_{part}"] for part in ("keys", "ends", "places", "numbers")))


@lru_cache(maxsize=1)
def load_boiling_model(path: str | os.PathLike[str] | None = None) -> BoilingModel:
    """Load a trained estimate; the one that ships where no path is given.

    Raises
    ------
    OSError
        Where the file is not there.
    """
    with np.load(shipped(MODEL) if path is None else path, allow_pickle=False) as content:
        return BoilingModel({name: content[name] for name in content.files})


def estimate_boiling_points(smiles: Sequence[str]) -> EstimatedBoilingPoints:
    """Estimate normal boiling points from structure.

    Parameters
    ----------
    smiles : sequence of str, length n
        As many as wanted: they are worked through in chunks.

    Returns
    -------
    EstimatedBoilingPoints
        With ``in_domain`` False and a reason where there is nothing to go by: no readable compound,
        too small or too large, or unlike all that the estimate knows.

    Examples
    --------
    >>> found = estimate_boiling_points(["CCCCCCO", "[Na+].[Cl-]"])
    >>> bool(found.low_C[0] < 157.6 < found.high_C[0])
    True
    >>> found.in_domain.tolist(), found.reason[1]
    ([True, False], 'is a salt or a mixture')
    """
    return load_boiling_model().estimate(smiles)
