"""The leading candidates as pictures: what was read beside what each would have given."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import log, sqrt
from typing import TYPE_CHECKING

import numpy as np

from identify.answers.pictures import MOST_COMPOUNDS
from identify.answers.pictures.figures import BAND, FAINT, MARK, OUTSIDE, STYLE, Picture, as_element
from identify.answers.pictures.labels import Spot, placed
from identify.answers.text import signed
from identify.bench.bench import Bench
from identify.matching.answer import Ranking
from identify.matching.evidence import Matcher
from identify.matching.explain.terms import Term, reading_text, terms
from identify.matching.posterior import Posterior
from identify.notebook.findings import listed
from identify.notebook.measurement import Measurement

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Of both readings together: chi-squared with two degrees of freedom, whose quantile is -2 ln(1-p).
_COVERAGE = 0.95
_RADIUS = sqrt(-2.0 * log(1.0 - _COVERAGE))  # standard uncertainties
_SIZE = (4.7, 3.6)  # inches: as wide as a phone shows without making it smaller by much
_ROOM = 0.12  # of the frame, around what it has to hold


@dataclass(frozen=True)
class Evidence:
    """One unknown's readings taken apart, which all of its pictures need."""

    run: Measurement
    ranking: Ranking
    matcher: Matcher
    posterior: Posterior
    terms: tuple[Term, ...]
    meant: Mapping[str, Term]

    @classmethod
    def of(cls, run: Measurement, ranking: Ranking, matcher: Matcher) -> Evidence:
        """Take the readings apart.

        Raises
        ------
        ValueError
            If a trial lacks a reading that its molar mass needs.
        """
        from identify.answers.pictures.plots import terms_as_meant

        posterior = Posterior.of(matcher.evidence(Bench.of(run)))
        meant = terms_as_meant(run, matcher, ranking.slips)
        return cls(run, ranking, matcher, posterior, terms(posterior), meant)


def deviations_picture(evidence: Evidence, rows: Sequence[int], name: str) -> Picture | None:
    """Return the deviations of the leading compounds; None where nothing has a tolerance.

    Parameters
    ----------
    evidence : Evidence
    rows : sequence of int
        Of the table, the most probable first; eight can be read at a glance.
    name : str
        Unique on the page.
    """
    from identify.answers.pictures.plots import NothingToDraw, deviation_figure

    try:
        figure = deviation_figure(evidence.run, evidence.matcher, rows)
    except NothingToDraw:
        return None
    figure.suptitle("")  # the page has a heading
    names = evidence.matcher.table.text("name")
    told = "; ".join(f"{names[row]}: {_deviations(evidence.terms, row)}" for row in rows)
    summary = f"Readings minus what each compound would have given, in tolerances. {told}."
    return Picture(as_element(figure, name, summary), summary)


def _deviations(found: Sequence[Term], row: int) -> str:
    return ", ".join(
        f"{term.name} " + (signed(off, 1) if np.isfinite(off) else "not known")
        for term in found
        if term.deviation is not None and (off := float(term.deviation[row])) is not None
    )


@dataclass(frozen=True)
class _Axis:
    """One of the two readings that are drawn: the candidates' places and the measurement's."""

    name: str
    unit: str
    observable: str
    places: np.ndarray
    known: np.ndarray | None
    read: float
    sigma: float
    meant: float  # the reading with its slip set right; NaN where that is another, or none is named

    @property
    def title(self) -> str:
        return f"{self.name}, {self.unit}"

    @property
    def told(self) -> str:
        read = reading_text(self.read, self.observable, self.unit)
        half = reading_text(_RADIUS * self.sigma, self.observable, self.unit)
        told = f"{self.name} {read} ± {half} {self.unit}"
        if not np.isfinite(self.meant):
            return told
        right = reading_text(self.meant, self.observable, self.unit)
        return f"{told} (with the slip set right {right} {self.unit})"

    @property
    def set_right(self) -> float:
        """The reading as it was meant: as it is where no slip changes it."""
        return self.meant if np.isfinite(self.meant) else self.read

    def off(self, row: int) -> float:
        """Return how far a candidate is from the reading, in standard uncertainties."""
        return float((self.places[row] - self.read) / self.sigma)


def place_picture(evidence: Evidence, name: str, top: int = MOST_COMPOUNDS) -> Picture | None:
    """Return the candidates as points around the measurement, with its error ellipse.

    Boiling point across and percent carbon upward; where one of them was not read, or all of the
    candidates have the same percentage, the molar mass or another element takes its place.

    Parameters
    ----------
    evidence : Evidence
    name : str
        Unique on the page.
    top : int
        Candidates with their rank beside the point.

    Returns
    -------
    Picture or None
        None where fewer than two such readings were made.
    """
    candidates = evidence.ranking.candidates
    if not candidates:
        return None
    numbered = candidates[:top]
    axes = _pair(list(_axes(evidence)), [one.index for one in numbered])
    if len(axes) < 2:
        return None
    across, upward = axes
    figure = _place_figure(across, upward, [one.index for one in candidates], len(numbered))
    parts = [
        f"{across.name.capitalize()} across, {upward.name} upward",
        f"measured: {across.told}, {upward.told}, the half-widths of the 95 % ellipse",
    ]
    for where, is_inside in (("inside of it", True), ("outside of it", False)):
        names = [one.name for one in numbered if _within(axes, one.index) == is_inside]
        parts += [f"{where}: {listed(names)}"] if names else []
    summary = "; ".join(parts) + "."
    return Picture(as_element(figure, name, summary), summary)


def _pair(axes: Sequence[_Axis], rows: Sequence[int]) -> list[_Axis]:
    """Return the two that are drawn: the first, and the next in which the candidates differ."""
    others = axes[1:]
    telling = [axis for axis in others if np.ptp(axis.places[list(rows)]) > axis.sigma]
    return [*axes[:1], *(telling or others)[:1]]


def _within(axes: Sequence[_Axis], row: int) -> bool:
    return sum(axis.off(row) ** 2 for axis in axes) <= _RADIUS**2


def _axes(evidence: Evidence) -> Iterator[_Axis]:
    """Yield what was read of boiling point and composition, that which is drawn first, first."""
    order = {"boiling_point": 0, "percent_C": 1, "molar_mass": 2}
    drawn = [
        term
        for term in evidence.terms
        if term.observable in order or term.observable.startswith("percent_")
    ]
    for term in sorted(drawn, key=lambda term: order.get(term.observable, len(order))):
        axis = _axis(evidence, term)
        if np.isfinite(axis.read) and axis.sigma > 0.0:
            yield axis


def _axis(evidence: Evidence, term: Term) -> _Axis:
    assert term.predicted is not None
    assert term.measured is not None
    first = evidence.ranking.candidates[0].index
    compared, known = evidence.posterior.evidence, None
    read = float(term.measured[first])
    if term.observable == "molar_mass" and compared.molar_mass is not None:
        sigma = np.broadcast_to(compared.molar_mass.sigma, term.predicted.shape)[first]
    elif term.observable == "boiling_point" and compared.boiling_point is not None:
        # The comparison's holds the candidate's own uncertainty too, which is drawn at its point.
        known = evidence.matcher.expectation.boiling_point_u
        best = int(np.argmin(known))
        whole = np.broadcast_to(compared.boiling_point.sigma, known.shape)[best]
        sigma = np.sqrt(max(float(whole) ** 2 - float(known[best]) ** 2, 0.0))
    else:
        sigma = next(
            comparison.sigma
            for element, comparison in compared.elements.items()
            if term is _of_element(evidence, element)
        )
    right = evidence.meant.get(term.observable)
    meant = np.nan if right is None or right.measured is None else float(right.measured[first])
    width = float(np.asarray(sigma))
    return _Axis(term.name, term.unit, term.observable, term.predicted, known, read, width, meant)


def _of_element(evidence: Evidence, element: int) -> Term | None:
    from identify.physics.constants import ELEMENTS

    code = f"percent_{ELEMENTS[element]}"
    return next((term for term in evidence.terms if term.observable == code), None)


def _place_figure(across: _Axis, upward: _Axis, rows: Sequence[int], numbered: int) -> Figure:
    from matplotlib import style
    from matplotlib.figure import Figure
    from matplotlib.patches import Ellipse

    with style.context(["default", STYLE]):
        figure = Figure(figsize=_SIZE, layout="constrained")
        axes = figure.subplots()
        axes.spines[["right", "top"]].set_visible(False)
        axes.set_xlabel(across.title)
        axes.set_ylabel(upward.title)
        limits = [_limits(axis, rows[:numbered]) for axis in (across, upward)]
        axes.set_xlim(*limits[0])
        axes.set_ylim(*limits[1])
        widths = [2.0 * _RADIUS * axis.sigma for axis in (across, upward)]
        middle = (across.read, upward.read)
        axes.add_patch(Ellipse(middle, *widths, facecolor=BAND, edgecolor=FAINT, zorder=0))
        axes.plot(*middle, marker="+", markersize=11, color=OUTSIDE, linestyle="none", zorder=2)
        if any(np.isfinite(axis.meant) for axis in (across, upward)):
            right = tuple(axis.set_right for axis in (across, upward))
            ends = list(zip(middle, right, strict=True))
            axes.plot(*ends, color=FAINT, linewidth=0.9, linestyle=":", zorder=1)
            axes.plot(*right, marker="x", markersize=9, color=MARK, linestyle="none", zorder=2)
        _points(axes, (across, upward), rows, numbered)
        figure.draw_without_rendering()  # numbers are placed on the finished frame
        _numbers(axes, (across, upward), rows[:numbered])
    return figure


def _limits(axis: _Axis, rows: Sequence[int]) -> tuple[float, float]:
    held = [axis.read - _RADIUS * axis.sigma, axis.read + _RADIUS * axis.sigma]
    held += [axis.set_right, *(float(axis.places[row]) for row in rows)]
    room = _ROOM * (max(held) - min(held))
    return min(held) - room, max(held) + room


def _points(axes: Axes, pair: tuple[_Axis, _Axis], rows: Sequence[int], numbered: int) -> None:
    x, y = (axis.places[list(rows)] for axis in pair)
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    known = pair[0].known
    if known is not None:
        reach = 1.96 * known[list(rows[:numbered])]  # 95 %
        low, high = (np.clip(x[:numbered] + off, left, right) for off in (-reach, reach))
        axes.hlines(y[:numbered], low, high, colors=FAINT, linewidth=1.0)
    others = (x > left) & (x < right) & (y > bottom) & (y < top)
    others[:numbered] = False
    axes.plot(x[others], y[others], "o", markersize=2.5, color=FAINT, zorder=1)
    axes.plot(x[:numbered], y[:numbered], "o", markersize=5.0, color=MARK, zorder=3)


def _numbers(axes: Axes, pair: tuple[_Axis, _Axis], rows: Sequence[int]) -> None:
    points = np.column_stack([axis.places[list(rows)] for axis in pair])
    scale = 72.0 / axes.figure.dpi  # to points
    spots = [Spot(*(scale * at)) for at in axes.transData.transform(points)]
    crossed = Spot(*(scale * axes.transData.transform([axis.read for axis in pair])))
    for rank, (place, offset) in enumerate(zip(points, placed(spots, [crossed]), strict=True), 1):
        axes.annotate(
            str(rank),
            place,
            xytext=offset,
            textcoords="offset points",
            ha="center",
            va="center_baseline",
            fontsize=9.5,
            fontweight="bold",
            color=MARK,
            annotation_clip=False,
        )
