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


_STRIP_SIZE = (4.7, 1.25)  # inches
_REACH = 0.25  # of the middle: what is farther off is an arrow at the edge
_BINS = 60  # places across, in each of which the students are stacked


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
    middle = float(np.median(values)) if strip.expected is None else strip.expected
    low, high = _frame(values, middle)
    inside = values[(values >= low) & (values <= high)]
    left, right = int((values < low).sum()), int((values > high).sum())
    figure = _strip_figure(strip, inside, (low, high), (left, right))
    parts = [f"Molar masses of {len(values)} students, {values.min():.1f} to {values.max():.1f}"]
    parts[0] += f" g/mol, half of them below {np.median(values):.1f}"
    if strip.center is not None:
        parts.append(f"pooled {strip.center:.1f}")
    if strip.expected is not None:
        parts.append(f"{strip.expected_name} has {strip.expected:.1f}")
    if left or right:
        parts.append(f"{left} below and {right} above the frame")
    summary = "; ".join(parts) + "."
    return Picture(as_element(figure, name, summary), summary)


def _frame(values: np.ndarray, middle: float) -> tuple[float, float]:
    reach = _REACH * abs(middle)
    near = values[np.abs(values - middle) <= reach]
    held = np.append(near, middle)
    room = max(0.06 * float(held.max() - held.min()), 0.01 * abs(middle))
    return float(held.min()) - room, float(held.max()) + room


def _strip_figure(
    strip: Strip, inside: np.ndarray, frame: tuple[float, float], beyond: tuple[int, int]
) -> Figure:
    from matplotlib import style
    from matplotlib.figure import Figure

    with style.context(["default", STYLE]):
        figure = Figure(figsize=_STRIP_SIZE)
        axes = figure.add_axes((0.05, 0.40, 0.90, 0.55))
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
        heights = _stacked(inside, frame)
        axes.plot(inside, heights, "o", markersize=4.0, markeredgecolor=MARK, color=PAPER)
        for count, at, marker, side in (
            (beyond[0], 0.01, "<", "left"),
            (beyond[1], 0.99, ">", "right"),
        ):
            if count:
                axes.plot(at, 0.85, marker, color=OUTSIDE, transform=axes.transAxes)
                shift = 0.025 if side == "left" else -0.025
                axes.text(
                    at + shift,
                    0.85,
                    f"{count} more",
                    ha=side,
                    va="center_baseline",
                    transform=axes.transAxes,
                    color=OUTSIDE,
                )
    return figure


def _stacked(values: np.ndarray, frame: tuple[float, float]) -> np.ndarray:
    """Return heights at which no two of the values cover each other, as far as there is room."""
    low, high = frame
    bins = np.floor((values - low) / (high - low) * _BINS).astype(int)
    order = np.argsort(values, kind="stable")
    level = np.zeros(len(values))
    counts: dict[int, int] = {}
    for place in order:
        counts[bins[place]] = counts.get(bins[place], 0) + 1
        level[place] = counts[bins[place]]
    tallest = max(counts.values(), default=1)
    return np.asarray(0.14 + (level - 1.0) * min(0.17, 0.8 / tallest))
