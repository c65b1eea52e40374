"""Training of the boiling-point estimate: features, solution, and what it makes of the unseen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.optimize
from boiling_weights import FREEDOM, Examples, Learned, inverted, learn_weights, trust
from numpy.typing import NDArray
from rdkit import Chem
from scipy.spatial.distance import cdist
from sklearn.kernel_ridge import KernelRidge

from identify.chemistry.structures import descriptor_names
from identify.compounds.boiling.features import COUNTED, Counts, Describer, counted
from identify.compounds.boiling.interval import Neighborhood, error_scale
from identify.compounds.boiling.kernel import Shape, matern
from identify.compounds.boiling.model import FEWEST_ATOMS, MOST_ATOMS, MOST_UNKNOWN, Scaling

Array = NDArray[np.float64]
Places = NDArray[np.int64]

_FREQUENT = 20  # compounds that have a surrounding whose count becomes a feature
_SAME = 1e-9
_TRUST_K = 8.0  # scale of the Student density of what is missed in the final solution
_ROUNDS = 4  # of solution and trust; the fourth changes coefficients by under a percent
_FARTHEST_SHARE = 0.995  # of compounds unseen in training that are near enough to estimate


class Drawn:
    """Structures with everything that the estimate can read off them.

    Parameters
    ----------
    smiles : sequence of str, length n
    """

    def __init__(self, smiles: Sequence[str]) -> None:
        mols = [Chem.MolFromSmiles(written) for written in smiles]
        self.names = descriptor_names()
        describe = Describer(self.names)
        self.descriptors = np.array([describe(mol) for mol in mols])
        self.counted = {name: [counted(name, mol) for mol in mols] for name in COUNTED}
        self.atoms = np.array([mol.GetNumHeavyAtoms() for mol in mols])
        self.apart = [_apart(one) for one in self.counted.values()]

    @property
    def surroundings(self) -> list[dict[int, int]]:
        """The surroundings of the atoms of each structure, counted."""
        return self.counted["surroundings"]


def _apart(counted: Sequence[dict[int, int]]) -> NDArray[np.uint16]:
    """City-block distances between counts, shape (n, n)."""
    rows = Counts.of(counted).dense()
    common = np.zeros((rows.shape[1], rows.shape[1]), dtype=np.uint16)
    for row in rows:
        held = np.flatnonzero(row)
        common[np.ix_(held, held)] += np.minimum(row[held][:, None], row[held][None])
    total = rows.sum(axis=0, dtype=np.int64)
    return (total[:, None] + total[None] - 2 * common.astype(np.int64)).astype(np.uint16)


@dataclass(frozen=True)
class Solution:
    """A trained estimate, of compounds at ``places`` among those drawn.

    Parameters
    ----------
    coefficients, noise, residuals : arrays, shape (places,)
        Dual coefficients [K]; noise on the diagonal; what each is missed by when left out [K].
    middle : float
        What the estimate falls back on [K].
    """

    places: Places
    scaling: Scaling
    learned: Learned
    coefficients: Array
    noise: Array
    residuals: Array
    middle: float


def train(drawn: Drawn, places: Places, kelvin: Array) -> Solution:
    """Learn scaling, weights and coefficients from the compounds at some places alone."""
    full = _scaling(drawn, places)
    features = full.scaled(full.raw(drawn.descriptors[places], _at(drawn.surroundings, places)))
    block = np.ix_(places, places)
    learned = learn_weights(
        Examples(
            features,
            len(full.descriptors),
            [apart[block] for apart in drawn.apart],
            kelvin[places],
        )
    )
    scaling = _weighted(full, learned)
    learned = Learned(scaling.weight, learned.shape, learned.noise)
    draft = Solution(places, scaling, learned, np.zeros(0), np.zeros(0), np.zeros(0), 0.0)
    own = likeness(drawn, draft, places)
    middle = float(np.median(kelvin[places]))
    noise = np.full(len(places), learned.noise)
    for _ in range(_ROUNDS):
        inverse = inverted(own, noise)
        coefficients = inverse @ (kelvin[places] - middle)
        residuals = coefficients / np.diag(inverse)
        last, noise = noise, learned.noise / trust(residuals, _TRUST_K)
    coefficients = solved(own, last, kelvin[places] - middle)
    return Solution(places, scaling, learned, coefficients, last, residuals, middle)


def solved(own: Array, noise: Array, target: Array) -> Array:
    """Return the dual coefficients: likeness and noise to compounds' distance from the middle."""
    # A weight in the sum of squares is the inverse of the noise.
    regression = KernelRidge(kernel="precomputed", alpha=1.0)
    return np.asarray(regression.fit(own, target, sample_weight=1.0 / noise).dual_coef_)


def _at(sequence: list[dict[int, int]], places: Places) -> list[dict[int, int]]:
    return [sequence[place] for place in places]


def _scaling(drawn: Drawn, places: Places) -> Scaling:
    """Scale all descriptors and all frequent surroundings by the compounds at some places."""
    counted = Counts.of(_at(drawn.surroundings, places))
    held = np.bincount(counted.places, minlength=len(counted.keys))
    frequent = counted.keys[held >= _FREQUENT]
    descriptors = drawn.names
    unscaled = Scaling(descriptors, frequent, np.zeros(0), np.ones(0), np.zeros(0))
    raw = unscaled.raw(drawn.descriptors[places], _at(drawn.surroundings, places))
    spread = raw.std(axis=0)
    # One that is the same in all of them: learning gives it no weight.
    spread[spread < _SAME] = 1.0
    return Scaling(descriptors, frequent, raw.mean(axis=0), spread, np.ones(raw.shape[1]))


def _weighted(full: Scaling, learned: Learned) -> Scaling:
    """Keep the features that have a weight."""
    kept = learned.weight > 0.0
    descriptors = len(full.descriptors)
    return Scaling(
        [name for name, has in zip(full.descriptors, kept, strict=False) if has],
        full.frequent[kept[descriptors:]],
        full.center[kept],
        full.spread[kept],
        learned.weight[kept],
    )


def coordinates(drawn: Drawn, scaling: Scaling, places: Places) -> NDArray[np.float32]:
    """Return the features that have a weight, in standard deviations, shape (places, f)."""
    columns = [drawn.names.index(name) for name in scaling.descriptors]
    return scaling.scaled(
        scaling.raw(drawn.descriptors[places][:, columns], _at(drawn.surroundings, places))
    )


def likeness(drawn: Drawn, solution: Solution, places: Places) -> Array:
    """Return the kernel between compounds at places and those of a solution."""
    scaling, shape = solution.scaling, solution.learned.shape
    here, there = (
        coordinates(drawn, scaling, chosen).astype(np.float64) * scaling.weight
        for chosen in (places, solution.places)
    )
    block = np.ix_(places, solution.places)
    return summed_kernel(
        cdist(here, there, "cityblock"),
        [apart[block] for apart in drawn.apart],
        shape,
    )


def summed_kernel(apart: Array, counted: Sequence[NDArray[np.uint16]], shape: Shape) -> Array:
    """Return the kernel from its distances, as `boiling_kernel` defines it."""
    total = 1.0 + shape.amplitudes[0] * matern(apart)
    for part, amplitude, rate in zip(counted, shape.amplitudes[1:], shape.rates, strict=True):
        total += amplitude * matern(rate * part)
    return np.asarray(total)


@dataclass(frozen=True)
class Unseen:
    """What estimates made of compounds that they had not seen; each an array, shape (n,).

    Parameters
    ----------
    estimate : array
        [K]
    near : Neighborhood
    unknown : array of int
        Surroundings that no compound of the training had.
    atoms : array of int
        Heavy atoms.
    fold : array of int
    """

    estimate: Array
    near: Neighborhood
    unknown: NDArray[np.int64]
    atoms: NDArray[np.int64]
    fold: NDArray[np.int64]

    @property
    def terms(self) -> Array:
        """What the scale of the error depends on, shape (n, terms)."""
        return self.near.terms(self.unknown, self.estimate)

    def inside(self, farthest: float = np.inf) -> NDArray[np.bool_]:
        """Return which are inside the domain."""
        return (
            (self.atoms >= FEWEST_ATOMS)
            & (self.atoms <= MOST_ATOMS)
            & (self.unknown <= MOST_UNKNOWN)
            & (self.near.four_nearest <= farthest)
        )

    @property
    def farthest(self) -> float:
        """How far from the four nearest known compounds the domain reaches."""
        return float(np.quantile(self.near.four_nearest[self.inside()], _FARTHEST_SHARE))


def apply(drawn: Drawn, solution: Solution, places: Places, fold: int = 0) -> Unseen:
    """Estimate compounds that a solution was not trained on."""
    alike = likeness(drawn, solution, places)
    known = {key for place in solution.places for key in drawn.surroundings[place]}
    return Unseen(
        alike @ solution.coefficients + solution.middle,
        Neighborhood.among(alike, solution.learned.shape.largest, solution.residuals),
        np.array([len(drawn.surroundings[place].keys() - known) for place in places]),
        drawn.atoms[places],
        np.full(len(places), fold),
    )


def cross_validated(drawn: Drawn, fold: NDArray[np.int64], kelvin: Array, among: Places) -> Unseen:
    """Estimate each compound by a training on the other folds: scaling and weights included.

    Parameters
    ----------
    drawn : Drawn
    fold : array of int, shape (among,)
    kelvin : array, shape (n,)
    among : array of int
        Places of the compounds that take part.
    """
    parts, order = [], []
    for held in np.unique(fold):
        solution = train(drawn, among[fold != held], kelvin)
        parts.append(apply(drawn, solution, among[fold == held], int(held)))
        order.append(np.flatnonzero(fold == held))
        print(f"  fold {held} done", flush=True)
    back = np.argsort(np.concatenate(order))

    def joined(values: list[NDArray[np.generic]]) -> NDArray[np.generic]:
        return np.concatenate(values)[back]

    near = Neighborhood(
        *(joined(list(column)) for column in zip(*(p.near for p in parts), strict=True))
    )
    return Unseen(
        joined([part.estimate for part in parts]),
        near,
        joined([part.unknown for part in parts]),
        joined([part.atoms for part in parts]),
        joined([part.fold for part in parts]),
    )


def fitted_scale(terms: Array, error: Array) -> Array:
    """Fit the scale of the error [K] to errors of the unseen, as that of a Student density."""

    def cost(coefficients: Array) -> tuple[float, Array]:
        logarithm = np.log(error_scale(terms, coefficients))
        square = (error / np.exp(logarithm)) ** 2 / FREEDOM
        value = logarithm + 0.5 * (FREEDOM + 1.0) * np.log1p(square)
        slope = 1.0 - (FREEDOM + 1.0) * square / (1.0 + square)
        return float(value.mean()), (terms * slope[:, None]).mean(axis=0)

    start = np.zeros(terms.shape[1])
    return np.asarray(scipy.optimize.minimize(cost, start, jac=True, method="BFGS").x)


MISPRINT_K = 40.0
"""A value this far off is one under vacuum or a misprint: one in five of those that stand alone."""


def interval_widening(folds: Array, single: Array, share: float = 0.95) -> float:
    """Return what an interval is multiplied with so that it holds for unknown compounds too.

    Parameters
    ----------
    folds, single : arrays
        Errors in halves of the interval: of compounds unseen in folds, and of compounds that one
        collection alone lists.
    share : float
        Of the errors of both kinds, each kind counted alike.

    Returns
    -------
    float
        At least 1.
    """
    tried = np.unique(np.concatenate([[1.0], folds[folds > 1.0], single[single > 1.0]]))
    held = [0.5 * (np.mean(folds <= one) + np.mean(single <= one)) for one in tried]
    return float(tried[min(np.searchsorted(held, share), len(tried) - 1)])


def interval_factor(error: Array, scale: Array, share: float = 0.95) -> float:
    """Return what the scale is multiplied with for an interval that holds a share of the errors.

    With the one compound more that is estimated next, as conformal prediction counts.
    """
    ratio = np.sort(error / scale)
    rank = int(np.ceil(share * (len(ratio) + 1))) - 1
    return float(ratio[min(rank, len(ratio) - 1)])
