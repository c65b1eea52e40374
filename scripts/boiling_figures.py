"""Tables of how far estimated boiling points are off, by class of compound."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from boiling_training import Unseen, fitted_scale, interval_factor
from numpy.typing import NDArray
from rdkit import Chem

from identify.compounds.boiling.interval import error_scale
from identify.physics.constants import ICE_POINT

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Classes by SMARTS that a compound has, and elements that it has no others than.
CLASSES: dict[str, tuple[str, str]] = {
    "hydrocarbons": ("[#6]", "C"),
    "alcohols": ("[OX2H][CX4]", "C O"),
    "phenols": ("[OX2H]c", "C O"),
    "ethers": ("[#6][OX2;!$(OC=O)][#6]", "C O"),
    "aldehydes and ketones": ("[#6,#1][CX3](=O)[#6,#1]", "C O"),
    "acids": ("[CX3](=O)[OX2H]", "C O"),
    "esters": ("[CX3](=O)[OX2][#6]", "C O"),
    "amines": ("[NX3;!$(N~[!#6])]", "C N"),
    "fluorine": ("F", ""),
    "chlorine": ("Cl", ""),
    "bromine or iodine": ("[Br,I]", ""),
    "nitrogen": ("[#7]", ""),
    "sulfur": ("[#16]", ""),
    "silicon": ("[Si]", ""),
    "phosphorus": ("[P]", ""),
    "boron": ("[B]", ""),
}
_LEAST = 10  # compounds of a class for a line of its own


def classes(smiles: Sequence[str], kelvin: Array) -> dict[str, Flags]:
    """Return which compounds belong to each class, shape (n,) each."""
    mols = [Chem.MolFromSmiles(written) for written in smiles]
    elements = [{atom.GetSymbol() for atom in mol.GetAtoms()} for mol in mols]
    found = {"all": np.ones(len(mols), dtype=bool)}
    only_cho = np.array([held <= {"C", "O", "H"} for held in elements])
    bath = (kelvin > ICE_POINT) & (kelvin < ICE_POINT + 150.0)
    found["C, H, O, boiling at 0 to 150 C"] = only_cho & bath
    for name, (pattern, alone) in CLASSES.items():
        query = Chem.MolFromSmarts(pattern)
        found[name] = np.array(
            [
                mol.HasSubstructMatch(query) and (not alone or held <= {*alone.split(), "H"})
                for mol, held in zip(mols, elements, strict=True)
            ]
        )
    return found


def print_accuracy(
    title: str,
    smiles: Sequence[str],
    among: NDArray[np.int64],
    kelvin: Array,
    unseen: Unseen,
    widening: float,
) -> None:
    """Print errors and intervals by class; see `print_table`."""
    inside = unseen.inside(unseen.farthest)
    print_table(
        title,
        [smiles[place] for place in among],
        kelvin[among],
        (unseen.estimate, unseen.terms, inside, unseen.fold),
        widening,
    )


def print_singly_published(content: Mapping[str, Any]) -> None:
    """Print what becomes of compounds that one collection alone lists: none of them trained."""
    error = np.abs(content["single_estimate"] - content["single_kelvin"])
    half, calibrates = content["single_half"], content["single_calibrates"]
    print(
        f"listed by one collection alone: {len(error)}, and {int(content['single_misprints'])} "
        f"misprints or values under vacuum; intervals widened by {float(content['widening']):.2f}"
    )
    for name, chosen in (("calibrating", calibrates), ("not", ~calibrates)):
        held = np.mean(error[chosen] <= half[chosen])
        print(
            f"  {name}: {chosen.sum()}, median error {np.median(error[chosen]):.2f} K, "
            f"in interval {held:.1%}, median half width {np.median(half[chosen]):.1f} K"
        )


def print_table(
    title: str,
    smiles: Sequence[str],
    kelvin: Array,
    unseen: tuple[Array, Array, Flags, NDArray[np.int64]],
    widening: float,
    beside: Array | None = None,
) -> None:
    """Print errors and intervals of estimates by class, and intervals by width.

    Each fold's intervals are made from the other folds', so that none has seen its own errors.

    Parameters
    ----------
    title : str
    smiles : sequence of str, length n
    kelvin : array, shape (n,)
        Published boiling points.
    unseen : tuple of arrays
        Estimates [K], terms of the error's scale, whether inside the domain, fold.
    widening : float
        Of the intervals, for compounds less known than these.
    beside : array, shape (n,), optional
        Another estimate [K], NaN where it has none.
    """
    estimate, terms, inside, fold = unseen
    error = np.abs(estimate - kelvin)
    half, u = (widening * one for one in crossed_intervals(error, terms, inside, fold))
    held = error <= half
    print(f"{title}: {len(kelvin)} compounds unseen in training, errors [K]")
    print(
        f"  {'':34}{'number':>7}{'mean':>7}{'median':>8}{'in interval':>13}{'half width':>12}",
        end="",
    )
    print(f"{'groups':>16}" if beside is not None else "")
    for name, chosen in classes(smiles, kelvin).items():
        if chosen.sum() < _LEAST:
            continue
        near = chosen & inside
        line = (
            f"  {name:34}{chosen.sum():7}{error[chosen].mean():7.2f}{np.median(error[chosen]):8.2f}"
            f"{held[near].mean():12.1%} {np.median(half[near]):12.1f}"
        )
        if beside is not None:
            both = chosen & np.isfinite(beside)
            missed = f"{np.abs(beside - kelvin)[both].mean():.1f}" if both.any() else "-"
            line += f"{missed:>8} of {both.sum()}"
        print(line)
    print(f"  outside the domain {(~inside).sum()}: mean error {error[~inside].mean():.1f}")
    print(f"  inside it {inside.sum()}: mean {error[inside].mean():.2f}, ", end="")
    print(f"median {np.median(error[inside]):.2f}")
    print_widths(held[inside], half[inside])
    shares = ", ".join(f"{k} u {np.mean(error[inside] <= k * u[inside]):.1%}" for k in (1, 2, 3))
    print(f"  within standard uncertainties u: {shares} (normal 68.3, 95.4, 99.7)")


def print_widths(held: Flags, half: Array) -> None:
    """Print how many of the intervals hold the published value, by sixths of their width."""
    print("  intervals by width: half width [K], share that holds the published value")
    for part in np.array_split(np.argsort(half, kind="stable"), 6):
        print(f"    {half[part].min():6.1f} to {half[part].max():6.1f}: {held[part].mean():.1%}")


def crossed_intervals(
    error: Array, terms: Array, inside: Flags, fold: NDArray[np.int64]
) -> tuple[Array, Array]:
    """Return halves of the 95 % intervals and standard uncertainties, each from the other folds."""
    half = np.full(len(error), np.nan)
    for held in np.unique(fold):
        others, here = inside & (fold != held), fold == held
        scale = fitted_scale(terms[others], error[others])
        factor = interval_factor(error[others], error_scale(terms[others], scale))
        half[here] = factor * error_scale(terms[here], scale)
    return half, half / 1.96
