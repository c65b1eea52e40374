"""Deviations of the leading candidates, drawn: one row a compound, one column an observable.

Where a marker lies, its shape and its number say everything; color only repeats it.
"""

from __future__ import annotations

import logging
import re
import textwrap
import warnings
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from identify.answers.pictures import PLOT_KINDS
from identify.answers.pictures.figures import BAND, FAINT, MARK, OUTSIDE
from identify.answers.text import elided, percent_text
from identify.bench.bench import Bench
from identify.matching.evidence import Matcher
from identify.matching.explain.terms import Term, reading_text, terms
from identify.matching.posterior import Posterior
from identify.matching.slips import Slip, search
from identify.matching.slips.meant import as_meant
from identify.notebook.errors import UnusableInput
from identify.notebook.measurement import Measurement
from identify.notebook.printable import on_one_line
from identify.notebook.saving import written_beside

# Before matplotlib is loaded: where its cache lies or is made is nothing to tell a student.
if not logging.getLogger("matplotlib").level:
    logging.getLogger("matplotlib").setLevel(logging.ERROR)

from matplotlib import style
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

if TYPE_CHECKING:
    from matplotlib.axes import Axes

EDGE = 6.0  # tolerances; what is beyond is an arrow with its number
_NEAR_EDGE = 3.2  # from here on, a number has no room between its marker and the edge

_NAME_WIDTH = 26  # characters of a line
_LONGEST_LABEL = 120  # characters
# Where a name may go on in the next line: behind a group, not within the numbers before one.
_NAME_PART = re.compile(r".+?(?:[a-z]-|\)-?|\s|$)")
_ROW_LINES = 2  # of the usual name with its probability
_DOTS_PER_INCH = 160
# Names are not formulas, labels may hold a dollar sign; nothing of a user's own style.
_STYLE = {
    "text.parse_math": False,
    "text.usetex": False,
    "font.family": "DejaVu Sans",  # comes with matplotlib, has Greek and the minus sign
    "font.size": 9.0,
    "svg.hashsalt": "identify-unknown",
    "pdf.fonttype": 42,
}
_MEANT = "s"  # of a reading with its slip set right
_BELOW = 0.26  # of a row: beside it the number of the reading as written has room
_HOLLOW: dict[str, Any] = {"markerfacecolor": "white", "markeredgewidth": 1.4, "linestyle": "none"}
# The same answer gives the same file.
_UNDATED = {"svg": {"Date": None}, "pdf": {"CreationDate": None}}


class NothingToDraw(UnusableInput):
    """A run without a reading that has a tolerance."""


def deviation_figure(run: Measurement, matcher: Matcher, rows: Sequence[int]) -> Figure:
    """Draw how far each reading is from what each compound would have given.

    Parameters
    ----------
    run : Measurement
        What was read.
    matcher : Matcher
        The candidate table with its tolerances.
    rows : sequence of int
        Rows of the table, the most probable first; eight can be read at a glance.

    Returns
    -------
    matplotlib.figure.Figure
        One set of axes an observable, all with the same scale: tolerances.

    Raises
    ------
    NothingToDraw
        If no reading has a tolerance.
    ValueError
        If a trial lacks a reading that its molar mass needs.
    """
    posterior = Posterior.of(matcher.evidence(Bench.of(run)))
    panels = [term for term in terms(posterior) if term.deviation is not None]
    if not panels:
        raise NothingToDraw("nothing was measured that could be drawn")
    # The chances are those of the answer, which allows for slips; the deviations are as written,
    # and as they were meant beside them where a slip is named.
    found = search(run, posterior)
    probability = found.posterior.probability
    meant = terms_as_meant(run, matcher, found.slips)
    names = [_compound(matcher, float(probability[row]), row) for row in rows]
    lines = max(_ROW_LINES, *(name.count("\n") + 1 for name in names))
    size = (2.6 + 1.25 * max(len(panels), 3), 1.75 + (0.1 + 0.155 * lines) * max(len(rows), 2))
    with style.context(["default", _STYLE]):
        figure = Figure(figsize=size, layout="constrained")
        every = figure.subplots(1, len(panels), sharey=True, squeeze=False)[0]
        for axes, term in zip(every, panels, strict=True):
            _draw(axes, term, rows, meant.get(term.observable))
        every[0].set_yticks(range(len(rows)), names)
        every[0].set_ylim(len(rows) - 0.5, -0.5)
        every[0].set_ylabel("compound and its probability")
        who = f"{run.label} ({run.student})" if run.student else run.label
        title = f"{elided(on_one_line(who), _LONGEST_LABEL)}: readings minus what each compound "
        title += "would have given"
        figure.suptitle(textwrap.fill(title, int(10 * size[0])), fontweight="bold")
        legend = _legend(bool(meant))
        figure.legend(handles=legend, loc="outside lower center", ncols=5, frameon=False)
    return figure


def terms_as_meant(run: Measurement, matcher: Matcher, slips: Sequence[Slip]) -> dict[str, Term]:
    """Return what readings say once the likeliest slip is set right, by observable.

    Only of the observables that it changes; none where no slip is named, or no reading was meant
    otherwise.
    """
    meant = as_meant(run, slips[0].repaired) if slips else None
    if meant is None:
        return {}
    try:
        before, after = (
            {term.observable: term for term in terms(Posterior.of(matcher.evidence(Bench.of(one))))}
            for one in (run, meant)
        )
    except ValueError:  # a trial lacks a reading that its molar mass needs
        return {}
    return {name: term for name, term in after.items() if _differs(term, before.get(name))}


def _differs(term: Term, before: Term | None) -> bool:
    if before is None or term.measured is None or before.measured is None:
        return False
    return not np.allclose(term.measured, before.measured, rtol=1e-3, equal_nan=True)


def save(figure: Figure, path: Path) -> None:
    """Write a figure as PNG, SVG or PDF, by the file's extension.

    Raises
    ------
    OSError
        If its folder is missing, or nothing can be written there.
    ValueError
        If the extension is another.
    """
    kind = path.suffix.lower().removeprefix(".")
    if kind not in PLOT_KINDS:
        raise UnusableInput(f"{path}: a plot is written as {', '.join(PLOT_KINDS)}")
    with (
        written_beside(path) as beside,
        warnings.catch_warnings(),
        style.context(["default", _STYLE]),
    ):
        warnings.simplefilter("ignore")  # a letter that the font lacks is drawn as a box
        figure.savefig(beside, format=kind, dpi=_DOTS_PER_INCH, metadata=_UNDATED.get(kind))


def _draw(axes: Axes, term: Term, rows: Sequence[int], meant: Term | None) -> None:
    axes.axvspan(-1.0, 1.0, color=BAND, linewidth=0.0, zorder=0)
    axes.axvline(0.0, color=FAINT, linewidth=0.8, zorder=1)
    axes.hlines(np.arange(len(rows) - 1) + 0.5, -EDGE, EDGE, colors=BAND, linewidth=0.6, zorder=1)
    assert term.deviation is not None
    for place, row in enumerate(rows):
        if meant is not None and meant.deviation is not None:
            _mark_meant(axes, place, float(term.deviation[row]), float(meant.deviation[row]))
        _mark(axes, place, float(term.deviation[row]))
    axes.set_xlim(-EDGE, EDGE)
    axes.set_xticks([-4, 0, 4])
    axes.tick_params(axis="y", length=0)
    axes.spines[["left", "right", "top"]].set_visible(False)
    axes.set_xlabel("tolerances")
    axes.set_title(_heading(term, rows[0], meant), fontsize="medium")


def _mark(axes: Axes, place: int, off: float) -> None:
    if not np.isfinite(off):
        axes.text(0.0, place, "not known", ha="center", va="center", fontsize="x-small")
        return
    within, beyond = abs(off) <= 1.0 + 1e-9, abs(off) > EDGE
    side = float(np.sign(off))
    axes.plot(
        side * (EDGE - 0.5) if beyond else off,
        place,
        marker=_shape(off, within, beyond),
        markersize=6.5,
        color=MARK if within else OUTSIDE,
        markerfacecolor=MARK if within else "white",
        markeredgewidth=1.4,
        linestyle="none",
        clip_on=False,
        zorder=3,
    )
    if not within:
        _write_number(axes, place, off)


def _mark_meant(axes: Axes, place: int, off: float, meant: float) -> None:
    """Mark where a reading would be with its slip set right, joined to where it is."""
    if not (np.isfinite(off) and np.isfinite(meant)):
        return
    ends = [float(np.clip(end, 0.5 - EDGE, EDGE - 0.5)) for end in (off, meant)]
    below = place + _BELOW
    axes.plot(ends, [place, below], color=FAINT, linewidth=0.9, linestyle=":", zorder=2)
    if abs(meant) <= EDGE:
        axes.plot(meant, below, marker=_MEANT, markersize=6.5, color=MARK, zorder=3, **_HOLLOW)


def _shape(off: float, within: bool, beyond: bool) -> str:
    if beyond:
        return ">" if off > 0.0 else "<"
    return "o" if within else "D"


def _write_number(axes: Axes, place: int, off: float) -> None:
    """Write a deviation outward of the band, unless the edge is near."""
    side = float(np.sign(off))
    outward = abs(off) < _NEAR_EDGE
    at = off + side * (0.9 if outward else -0.9)
    axes.text(
        side * (EDGE - 1.4) if abs(off) > EDGE else at,
        place,
        _number(off),
        ha="left" if (side > 0.0) == outward else "right",
        va="center_baseline",
        fontsize="small",
        color=OUTSIDE,
        zorder=4,
    )


def _number(off: float) -> str:
    """Return a deviation that is outside, never rounded to one that is not."""
    size = abs(off)
    digits = 2 if size < 1.05 else 1 if size < 99.95 else 0
    text = f"{off:+.{digits}f}" if size < 9999.5 else f"{off:+.0e}"
    return text.replace("-", "\N{MINUS SIGN}")


def _heading(term: Term, first: int, meant: Term | None) -> str:
    if term.measured is None:
        return term.name
    read = reading_text(float(term.measured[first]), term.observable, term.unit)
    verb = "room for" if term.observable == "other_elements" else "read"
    heading = f"{term.name}\n{verb} {read} {term.unit}".rstrip()
    if meant is None or meant.measured is None:
        return heading
    right = reading_text(float(meant.measured[first]), term.observable, term.unit)
    return f"{heading}\nset right {right} {term.unit}".rstrip()


def _compound(matcher: Matcher, probability: float, row: int) -> str:
    name, bottle = (on_one_line(matcher.table.text(column)[row]) for column in ("name", "label"))
    chance = percent_text(probability)
    return "\n".join([*_broken(name), f"{bottle}, {chance}" if bottle else chance])


def _broken(name: str) -> list[str]:
    """Return a name on as many lines as it needs."""
    lines = [""]
    for part in _NAME_PART.findall(name):
        if lines[-1] and len(lines[-1]) + len(part) > _NAME_WIDTH:
            lines.append("")
        lines[-1] += part
    return [short for line in lines for short in textwrap.wrap(line, _NAME_WIDTH)] or [""]


def _legend(has_meant: bool) -> list[Line2D | Patch]:
    def marker(shape: str, color: str, fill: str, label: str) -> Line2D:
        return Line2D(
            [], [], marker=shape, color=color, markerfacecolor=fill, linestyle="none", label=label
        )

    return [
        Patch(color=BAND, label="within tolerance"),
        marker("o", MARK, MARK, "agrees"),
        marker("D", OUTSIDE, "white", "outside"),
        marker(">", OUTSIDE, "white", f"off by more than {EDGE:g}, as numbered"),
        *([marker(_MEANT, MARK, "white", "with the slip set right")] if has_meant else []),
    ]
