"""Published molar masses of known liquids: how technique errs, and how each is matched.

The results are those of ``data/published_results.csv`` and ``published_boiling_points.csv``. Of
the error of a molar mass, as the logarithm of found over true, a mixture is fitted: good and usual
technique, normal, and rough technique, a Laplace distribution with one scale on either side. A weak
pull holds it near trial values, for published reports are worse than a supervised class. How the
trials of one report scatter is fitted besides, and how far boiling points are off that students
read.

Then each result is matched as it stands, alone, with a handbook's boiling point, and with one as
students read it (each published error in turn). Its course is left out of the fit and of the
classroom's counts.

Usage: python scripts/published_results
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.stats import chi2

from identify.bench.bench import Bench
from identify.compounds.columns import TableColumns
from identify.compounds.loading import load_candidates
from identify.compounds.published.classroom import classroom_prior
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher
from identify.matching.posterior import Posterior
from identify.matching.slips import search
from identify.notebook.measurement import Measurement
from identify.observables.error.technique import Technique

Array = NDArray[np.float64]

DATA = Path(__file__).resolve().parent.parent / "data"
TRIAL_WEIGHTS = (0.40, 0.35, 0.25)  # good, usual, rough
TRIAL_SCALES = (0.025, 0.08, 0.40, 0.18)  # good, usual; rough upward and downward
PULL, WIDTH = 20.0, 0.35  # results that the trial weights count for; of the scales' logarithms
_WITHIN = (0.05, 0.10, 0.20)
SHOWN, LEAST_SHOWN = 50, 1e-6  # rows of an answer at most, and the least probability in it


@dataclass(frozen=True)
class Result:
    """One published molar mass of a known liquid [g/mol]."""

    liquid: str
    cas: str
    found: float
    true: float
    trials: tuple[float, ...]
    course: str
    source: str

    @property
    def error(self) -> float:
        """Logarithm of found over true."""
        return float(np.log(self.found / self.true))


@dataclass(frozen=True)
class BoilingPoint:
    """A boiling point that students read [degrees Celsius]."""

    read: float
    true: float
    course: str


def published_results() -> list[Result]:
    """Read the published molar masses."""
    return [
        Result(
            row["liquid"],
            row["cas"],
            float(row["found_g_mol"]),
            float(row["true_g_mol"]),
            tuple(map(float, row["trials_g_mol"].split())),
            row["course"],
            row["source"],
        )
        for row in _rows("published_results.csv")
    ]


def published_boiling_points() -> list[BoilingPoint]:
    """Read the boiling points that students read."""
    return [
        BoilingPoint(float(row["read_C"]), float(row["true_C"]), row["course"])
        for row in _rows("published_boiling_points.csv")
    ]


def _rows(name: str) -> Iterator[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as lines:
        yield from csv.DictReader(lines)


# ------------------------------------------------------------------------------------------ fits


@dataclass(frozen=True)
class Mixture:
    """Errors of a molar mass, as logarithms of found over true.

    Parameters
    ----------
    weights : tuple of float
        Of good, usual and rough technique.
    scales : tuple of float
        Standard deviations of good and usual technique; scales of rough technique, upward and
        downward.
    """

    weights: tuple[float, ...] = TRIAL_WEIGHTS
    scales: tuple[float, ...] = TRIAL_SCALES

    def density(self, error: Array) -> Array:
        """Return the density of errors, elementwise."""
        good, usual, up, down = self.scales
        rough = np.exp(-np.abs(error) / np.where(error > 0.0, up, down)) / (up + down)
        parts = (_normal(error, good), _normal(error, usual), rough)
        return np.asarray(sum(w * part for w, part in zip(self.weights, parts, strict=True)))

    def __str__(self) -> str:
        good, usual, rough = self.weights
        return (
            f"{good:.2f} normal {self.scales[0]:.3f}, {usual:.2f} normal {self.scales[1]:.3f}, "
            f"{rough:.2f} Laplace {self.scales[2]:.2f} up, {self.scales[3]:.2f} down"
        )


def _normal(error: Array, sd: float) -> Array:
    return np.exp(-0.5 * (error / sd) ** 2) / (sd * np.sqrt(2.0 * np.pi))


def fitted(errors: Array, pull: float = PULL) -> Mixture:
    """Return the likeliest mixture, pulled weakly to the trial values.

    Parameters
    ----------
    errors : array, shape (n,)
    pull : float
        How many results the trial weights count for.
    """

    def unpacked(point: Array) -> Mixture:
        weights = np.exp([0.0, *point[:2]])
        return Mixture(tuple(weights / weights.sum()), tuple(np.exp(point[2:])))

    def loss(point: Array) -> float:
        mixture = unpacked(point)
        prior = pull * np.dot(TRIAL_WEIGHTS, np.log(mixture.weights))
        prior -= 0.5 * np.sum((np.log(np.divide(mixture.scales, TRIAL_SCALES)) / WIDTH) ** 2)
        return float(-np.log(mixture.density(errors)).sum() - prior)

    weights = np.array(TRIAL_WEIGHTS)
    start = np.concatenate([np.log(weights[1:] / weights[0]), np.log(TRIAL_SCALES)])
    options = {"maxiter": 20000, "maxfev": 20000, "fatol": 1e-7, "xatol": 1e-5}
    return unpacked(minimize(loss, start, method="Nelder-Mead", options=options).x)


def scatter_of_trials(results: Sequence[Result]) -> tuple[Array, Array]:
    """Return standard deviations of ln M within reports, and their degrees of freedom."""
    logs = [np.log(result.trials) for result in results if len(result.trials) > 1]
    return np.array([one.std(ddof=1) for one in logs]), np.array([len(one) - 1 for one in logs])


def fitted_scatter(sd: Array, freedom: Array) -> tuple[float, float]:
    """Return median and standard deviation of the logarithm of what scatters, log-normal."""
    grid = np.linspace(np.log(5e-4), np.log(3.0), 400)
    squares = freedom[:, np.newaxis] * (sd[:, np.newaxis] / np.exp(grid)) ** 2
    # Density of a standard deviation read, by the chi-squared distribution of its square.
    likelihood = chi2.pdf(squares, freedom[:, np.newaxis]) * 2.0 * squares / sd[:, np.newaxis]

    def loss(point: Array) -> float:
        share = np.exp(-0.5 * ((grid - point[0]) / np.exp(point[1])) ** 2)
        return float(-np.log(likelihood @ (share / share.sum())).sum())

    middle, spread = minimize(loss, [np.log(0.1), 0.0], method="Nelder-Mead").x
    return float(np.exp(middle)), float(np.exp(spread))


def fitted_reading(errors: Array) -> tuple[float, float]:
    """Return the scales upward and downward of a Laplace distribution of errors [K]."""

    def loss(point: Array) -> float:
        up, down = np.exp(point)
        return float(np.sum(np.abs(errors) / np.where(errors > 0.0, up, down) + np.log(up + down)))

    up, down = np.exp(minimize(loss, [1.0, 1.0], method="Nelder-Mead").x)
    return float(up), float(down)


def print_fits(results: Sequence[Result], readings: Sequence[BoilingPoint]) -> None:
    """Print how far published results are off, and what was fitted to them."""
    errors = np.array([result.error for result in results])
    within = "  ".join(
        f"{np.mean(np.abs(np.expm1(errors)) <= limit):.0%} within {limit:.0%}" for limit in _WITHIN
    )
    high, courses = np.mean(errors > 0.0), len({result.course for result in results})
    print(f"{len(results)} results of {courses} courses: {within}  {high:.0%} high")
    print("\nmixture (mean ln density of the results; the same, each left out with its course)")
    for name, pull in (("trial", None), ("fit, pull 10", 10.0), ("fit, pull 20", 20.0)):
        mixture = Mixture() if pull is None else fitted(errors, pull)
        inside = np.log(mixture.density(errors)).mean()
        left_out = np.mean([np.log(one) for one in _left_out(results, pull)])
        print(f"  {name:<13} {mixture}  ({inside:+.2f}; {left_out:+.2f})")
    sd, freedom = scatter_of_trials(results)
    middle, spread = fitted_scatter(sd, freedom)
    print(
        f"\ntrials of one report, {len(sd)} reports: median scatter {np.median(sd):.1%}, from "
        f"{sd.min():.1%} to {sd.max():.0%}; log-normal around {middle:.1%}, "
        f"a factor {np.exp(spread):.1f}"
    )
    off = np.array([reading.read - reading.true for reading in readings])
    up, down = fitted_reading(off)
    print(
        f"own boiling points, {len(off)}: median {np.median(np.abs(off)):.1f} K off, "
        f"{np.mean(np.abs(off) > 5.0):.0%} more than 5 K, {np.mean(off > 0.0):.0%} high; "
        f"Laplace {up:.1f} K up, {down:.1f} K down"
    )


def _left_out(results: Sequence[Result], pull: float | None) -> Iterator[float]:
    for course in sorted({result.course for result in results}):
        inside = np.array([one.error for one in results if one.course == course])
        others = np.array([one.error for one in results if one.course != course])
        mixture = Mixture() if pull is None else fitted(others, pull)
        yield from mixture.density(inside)


# ----------------------------------------------------------------------------------------- ranks


@dataclass(frozen=True)
class Rank:
    """Where the match put the liquid of a result, and what it gave to none of these."""

    place: int
    log_probability: float
    none_of_these: float
    weight: float


def rank(matcher: Matcher, run: Measurement, truth: int, weight: float = 1.0) -> Rank:
    """Match one page, slips weighed, and say where its liquid is."""
    found = search(run, Posterior.of(matcher.evidence(Bench.of(run)))).posterior
    own = found.probability[truth]
    place = 1 + int((found.probability > own).sum())
    return Rank(place, float(np.log(max(own, 1e-300))), found.none_of_these, weight)


MatcherWithout = Callable[[str], Matcher]


def ranks(
    results: Sequence[Result],
    readings: Sequence[BoilingPoint],
    table: CandidateTable,
    matcher_without: MatcherWithout,
) -> dict[str, list[Rank]]:
    """Return the ranks of all results, by what is read beside the molar mass."""
    found: dict[str, list[Rank]] = {"molar mass": [], "handbook's": [], "student's own": []}
    for result in results:
        matcher = matcher_without(result.course)
        truth = table.find(result.cas)[0]
        boils = float(table.number("boiling_point_C")[truth])
        alone = Measurement("P", molar_mass=result.found)
        found["molar mass"].append(rank(matcher, alone, truth))
        card = Measurement("P", molar_mass=result.found, boiling_point=round(boils, 1))
        found["handbook's"].append(rank(matcher, card, truth))
        others = [one for one in readings if one.course != result.course]
        for other in others:
            read = round(boils + other.read - other.true, 1)
            own = Measurement(
                "P", molar_mass=result.found, boiling_point=read, boiling_point_by="own"
            )
            found["student's own"].append(rank(matcher, own, truth, 1.0 / len(others)))
    return found


def print_ranks(found: dict[str, list[Rank]]) -> None:
    """Print the figures, a line for what is read beside the molar mass."""
    print("boiling point   first  in three  mean ln p   absent  stated none of these")
    for name, every in found.items():
        weights = np.array([one.weight for one in every])
        weights /= weights.sum()
        place = np.array([one.place for one in every])
        log = np.array([one.log_probability for one in every])
        none = np.array([one.none_of_these for one in every])
        absent = (place > SHOWN) | (log < np.log(LEAST_SHOWN))
        shown = {"molar mass": "none"}.get(name, name)
        print(
            f"{shown:<15} {weights @ (place == 1):>5.0%}  {weights @ (place <= 3):>8.0%}  "
            f"{weights @ log:>9.2f}  {weights @ absent:>7.0%}  {weights @ none:>20.2%}"
        )


def handed_out_without(course: str, results: Sequence[Result]) -> dict[str, float]:
    """Return how many courses hand out each liquid, by CAS number, one course left out."""
    documents = {result.source for result in results if result.course == course}
    counts = {}
    for row in _rows("classroom.csv"):
        others = [one.split(" + ") for one in row["which"].split("; ")]
        left_out = sum(any(name in documents for name in names) for names in others)
        counts[row["cas"]] = max(float(row["courses"]) - left_out, 0.0)
    return counts


class LeftOut:
    """Matchers that know nothing of a course.

    Parameters
    ----------
    table : CandidateTable
    results : sequence of Result
    is_fitted : bool
        Whether technique is fitted to the other courses' results, or is the match's own.
    """

    def __init__(self, table: CandidateTable, results: Sequence[Result], is_fitted: bool) -> None:
        self.table, self.results, self.is_fitted = table, results, is_fitted
        self.columns = TableColumns.of(table, range(len(table)))

    def __call__(self, course: str) -> Matcher:
        """Return the matcher that a course is left out of."""
        matcher = Matcher(self.table, technique=self._technique(course))
        prior = classroom_prior(self.columns, handed_out_without(course, self.results))
        matcher.prior = (1.0 - matcher.outside) * prior / prior.sum()
        return matcher

    def _technique(self, course: str) -> Technique | None:
        if not self.is_fitted:
            return None
        errors = [result.error for result in self.results if result.course != course]
        mixture = fitted(np.array(errors))
        (good, usual, rough), scales = mixture.weights, mixture.scales
        parts = ((good, scales[0]), (usual, scales[1]))
        return Technique("", parts, rough, too_much=scales[2], too_little=scales[3])


def main(arguments: Sequence[str] | None = None) -> int:
    """Print fits and ranks."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.parse_args(arguments)
    results, readings = published_results(), published_boiling_points()
    print_fits(results, readings)
    table = load_candidates()
    for title, is_fitted in (("the match's own technique", False), ("technique fitted", True)):
        print(f"\n{title}, each course left out of the classroom's counts and of a fit")
        print_ranks(ranks(results, readings, table, LeftOut(table, results, is_fitted)))
    return 0
