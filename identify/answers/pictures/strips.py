"""Students' molar masses of one unknown as a picture: one line, a circle a student."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from identify.answers.pictures.figures import BAND, MARK, OUTSIDE, PAPER, STYLE, Picture, as_element

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Strip:
    """Molar masses of one unknown, student by student [g/mol].

    Parameters
    ----------
    values : sequence of float
    center, uncertainty : float or None
        Pooled over the students, and its standard uncertainty.
    expected : float or None
        That of the key's compound, or of the pooled one without a key.
    expected_name : str
    """

    values: Sequence[float]
    center: float | None = None
    uncertainty: float | None = None
    expected: float | None = None
    expected_name: str = ""


_WIDTH, _HEIGHT, _AXIS_HEIGHT = 4.7, 0.69, 0.56  # inches; the axis is below
_LEVEL_HEIGHT, _MAX_LEVELS = 0.075, 20  # inches a student in a stack; higher ones are pressed
# Factors of the middle: what is farther off, as after a slip of a unit, is an arrow at the edge.
_LOWEST, _HIGHEST = 0.5, 2.0
_FAR = 4.0  # robust standard deviations from the median, where a student is marked
_LEAST_SPREAD = 0.01  # of the median, however well all agree
_BINS = 60  # places across, in each of which the students are stacked
_MAX_VALUES_AT_EDGE = 3


def strip_picture(strip: Strip, name: str) -> Picture | None:
    """Return the students' molar masses on one line; None where there are none.

    Parameters
    ----------
    strip : Strip
    name : str
        Unique on the page.
    """
    values = np.array([value for value in strip.values if np.isfinite(value)])
    if not len(values):
        return None
    low, high = _frame(values, strip.expected)
    inside = values[(values >= low) & (values <= high)]
    beyond = values[values < low], values[values > high]
    figure = _strip_figure(strip, inside, (low, high), beyond)
    summary = "; ".join(_told(strip, values, inside, beyond)) + "."
    return Picture(as_element(figure, name, summary), summary)


def _told(
    strip: Strip, values: np.ndarray, inside: np.ndarray, beyond: tuple[np.ndarray, np.ndarray]
) -> list[str]:
    """Return what the picture shows, in words."""
    parts = [f"Molar masses of {len(values)} students, {values.min():.1f} to {values.max():.1f}"]
    parts[0] += f" g/mol, half of them below {np.median(values):.1f}"
    if strip.center is not None:
        parts.append(f"pooled {strip.center:.1f}")
    if strip.expected is not None:
        parts.append(f"{strip.expected_name} has {strip.expected:.1f}")
    if outside := [one for one in beyond if len(one)]:
        below, above = map(len, beyond)
        told = ", ".join(f"{value:.1f}" for one in outside for value in np.sort(one)[:10])
        parts.append(f"{below} below and {above} above the frame ({told})")
    if marked := int(_is_far(inside, float(np.median(values)), _spread(values)).sum()):
        parts.append(f"{marked} more marked as far from the others")
    return parts


def _frame(values: np.ndarray, expected: float | None) -> tuple[float, float]:
    """Return a range that holds all students but those whom no scale could show beside others."""
    middle = float(np.median(values))
    near = values[(values >= _LOWEST * middle) & (values <= _HIGHEST * middle)]
    held = near if expected is None else np.append(near, expected)
    room = max(0.06 * float(held.max() - held.min()), 0.01 * abs(middle))
    return float(held.min()) - room, float(held.max()) + room


def _spread(values: np.ndarray) -> float:
    """Return the students' robust standard deviation [g/mol]."""
    middle = float(np.median(values))
    # 1.4826: of a normal distribution over its median absolute deviation.
    spread = 1.4826 * float(np.median(np.abs(values - middle)))
    return max(spread, _LEAST_SPREAD * abs(middle))


def _is_far(values: np.ndarray, middle: float, spread: float) -> np.ndarray:
    return np.asarray(np.abs(values - middle) > _FAR * spread)


def _strip_figure(
    strip: Strip,
    inside: np.ndarray,
    frame: tuple[float, float],
    beyond: tuple[np.ndarray, np.ndarray],
) -> Figure:
    from matplotlib import style
    from matplotlib.figure import Figure

    with style.context(["default", STYLE]):
        levels = _levels(inside, frame)
        height = max(_HEIGHT, _LEVEL_HEIGHT * min(float(levels.max(initial=1.0)), _MAX_LEVELS))
        whole = height + _AXIS_HEIGHT
        figure = Figure(figsize=(_WIDTH, whole))
        axes = figure.add_axes((0.05, 0.9 * _AXIS_HEIGHT / whole, 0.90, height / whole))
        axes.spines[["left", "right", "top"]].set_visible(False)
        axes.set_yticks([])
        axes.set_xlabel("molar mass, g/mol")
        axes.set_xlim(*frame)
        axes.set_ylim(0.0, 1.0)
        if strip.center is not None and strip.uncertainty is not None:
            half = 1.96 * strip.uncertainty  # 95 %
            axes.axvspan(strip.center - half, strip.center + half, color=BAND, linewidth=0.0)
        if strip.expected is not None:
            axes.axvline(strip.expected, color=OUTSIDE, linewidth=1.2)
        heights = (levels - 0.5) / max(float(levels.max(initial=1.0)), height / _LEVEL_HEIGHT)
        everybody = np.concatenate([inside, *beyond])
        far = _is_far(inside, float(np.median(everybody)), _spread(everybody))
        for which, marker, color in ((~far, "o", MARK), (far, "D", OUTSIDE)):
            axes.plot(
                inside[which],
                heights[which],
                marker,
                markersize=4.0,
                markeredgecolor=color,
                color=PAPER,
            )
        for values, at, marker, side in (
            (beyond[0], 0.01, "<", "left"),
            (beyond[1], 0.99, ">", "right"),
        ):
            if len(values):
                axes.plot(at, 0.85, marker, color=OUTSIDE, transform=axes.transAxes)
                shift = 0.025 if side == "left" else -0.025
                axes.text(
                    at + shift,
                    0.85,
                    _edge_text(values),
                    ha=side,
                    va="center_baseline",
                    transform=axes.transAxes,
                    color=OUTSIDE,
                )
    return figure


def _edge_text(values: np.ndarray) -> str:
    """Return the molar masses beyond an edge, or how many there are."""
    if len(values) > _MAX_VALUES_AT_EDGE:
        return f"{len(values)} more"
    return ", ".join(f"{value:.1f}" for value in np.sort(values))


def _levels(values: np.ndarray, frame: tuple[float, float]) -> np.ndarray:
    """Return places in the stacks, from 1, at which no two of the values cover each other."""
    low, high = frame
    bins = np.floor((values - low) / (high - low) * _BINS).astype(int)
    level = np.zeros(len(values))
    counts: dict[int, int] = {}
    for place in np.argsort(values, kind="stable"):
        counts[bins[place]] = counts.get(bins[place], 0) + 1
        level[place] = counts[bins[place]]
    return level
