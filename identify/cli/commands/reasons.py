"""``match --explain`` and ``match --plot``: why a compound is as probable as it is."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from identify.answers.pictures import MOST_COMPOUNDS, PLOT_KINDS
from identify.cli.options.options import Reasons
from identify.cli.terminal.output import OutputFormat
from identify.cli.terminal.streams import Faults

if TYPE_CHECKING:
    from identify.answers.text import Page
    from identify.matching.answer import Ranking
    from identify.matching.evidence import Matcher
    from identify.matching.explain.explanation import Explanation, Line
    from identify.notebook.measurement import Measurement

# What a file name cannot hold on one system or another.
_NOT_IN_NAMES = re.compile(r"[^\w .()+-]+")
_LABEL, _STUDENT = "{label}", "{student}"
# Columns from which on the table has room for all that there is.
_WIDE = 74
_NOTHING = 0.005  # log-odds that are printed as 0.00


def row_to_explain(
    reasons: Reasons, form: OutputFormat, matcher: Matcher, faults: Faults
) -> int | None:
    """Return the row of the compound to explain; None where none is asked for, or none is meant."""
    if reasons.explain is None:
        return None
    from identify.compounds.search import NameFault, row_meant

    if form is OutputFormat.csv:
        faults("--explain: CSV has one row a compound and no room for it; use --format json")
        return None
    try:
        return row_meant(matcher.table, reasons.explain)
    except NameFault as fault:
        faults(f"--explain: {fault}")
        return None


def explanations(
    runs: Sequence[Measurement], row: int | None, matcher: Matcher, faults: Faults
) -> list[Explanation | None]:
    """Explain the compound of a row for each run; None for each where there is no row."""
    if row is None:
        return [None] * len(runs)
    from identify.matching.explain.explanation import explain_row

    try:
        return [explain_row(run, row, matcher) for run in runs]
    except ValueError as fault:
        faults(f"--explain: {fault}")
        return [None] * len(runs)


def explanation_lines(explanation: Explanation, page: Page) -> list[str]:
    """Return what is printed on why a compound is as probable as it is."""
    from identify.answers.text import TextTable, signed, with_chance
    from identify.matching.explain.explanation import factor, times_text

    compound, other = (
        with_chance(side.name, side.probability)
        for side in (explanation.compound, explanation.other)
    )
    joint = "and not" if explanation.leads else "is not ahead of"
    lines = page.wrapped(f"Why {compound} {joint} {other}, as it is written:", "  ")
    lines += page.wrapped(explanation.sentence, "  ")
    wide = page.width >= _WIDE
    headings = ["", "would\nread", "\nread", "\n", "\noff", "other\noff", "times as\nlikely"]
    headings.append("log-\nodds")
    rows = [_cells(line) for line in explanation.lines if _is_shown(line)]
    total = ["all together", *[""] * 5, times_text(factor(explanation.total))]
    rows.append([*total, signed(explanation.total, 2)])
    kept = range(len(headings)) if wide else (0, 1, 2, 3, 4, 6)
    cells = [[page.text(row[column]) for column in kept] for row in rows]
    table = TextTable.of([headings[column] for column in kept], cells, left=(0, 3))
    return [*lines, "", *table.lines(indent="  ")]


def explanation_notes(given: Sequence[Explanation | None], page: Page) -> list[str]:
    """Return what the columns of the explanations mean; nothing where there are none."""
    lines = [line for one in given if one is not None for line in one.lines if _is_shown(line)]
    if not lines:
        return []
    adding = " Log-odds, their natural logarithms, add." if page.width >= _WIDE else ""
    baths = "" if all(line.observable != "not_boiled_off" for line in lines) else _ON_BATHS
    return page.wrapped(
        "An explanation takes the readings as they are written, whatever slip may be in them: off "
        "is the reading minus what the compound would have given, in "
        "tolerances: up to 1 it agrees. Other off is the same for the compound that it is compared "
        "with, times as likely how many times as likely the reading makes it beside that one. "
        f"These factors multiply.{adding} Any reading may be a gross error: none weighs more than "
        f"the chance of one allows.{baths}"
    )


_ON_BATHS = (
    " What may not have boiled off: its boiling point, beside the bath; its weighings then say the "
    "less, for it and against it."
)


def _is_shown(line: Line) -> bool:
    # Most liquids stay in the bottle and boil off in the bath: worth a line only where not.
    return (
        line.deviation is not None
        or line.observable == "commonness"
        or abs(line.log_odds) >= _NOTHING
    )


def _cells(line: Line) -> list[str]:
    from identify.answers.text import signed
    from identify.matching.explain.explanation import times_text
    from identify.matching.explain.terms import reading_text

    readings = [
        ""
        if value is None and line.deviation is None
        else reading_text(value, line.observable, line.unit)
        for value in (line.predicted, line.measured)
    ]
    return [
        line.name,
        *readings,
        line.unit,
        *(
            "" if off is None else signed(off, 1)
            for off in (line.deviation, line.deviation_of_other)
        ),
        times_text(line.times_as_likely),
        signed(line.log_odds, 2),
    ]


def draw(
    answered: Sequence[tuple[Measurement, Ranking]],
    shown: tuple[int, int | None],
    reasons: Reasons,
    matcher: Matcher,
    faults: Faults,
) -> None:
    """Draw the first compounds of each answer, where a plot is asked for.

    Parameters
    ----------
    answered : sequence of (Measurement, Ranking)
    shown : (int, int or None)
        Compounds printed at most, and the row of the one explained, which is drawn too.
    reasons : Reasons
    matcher : Matcher
    faults : Faults
        Told of what cannot be drawn or written.
    """
    if reasons.plot is None or not answered:
        return
    targets = _targets(reasons.plot, [run for run, _ in answered], faults)
    if not targets:
        return
    from identify.answers.pictures.plots import deviation_figure, save

    top, explained = shown
    for (run, ranking), target in zip(answered, targets, strict=True):
        rows = [one.index for one in ranking.candidates[: min(top, MOST_COMPOUNDS)]]
        if explained is not None and explained not in rows:
            rows.append(explained)
        try:
            save(deviation_figure(run, matcher, rows), target)
        except OSError as error:
            faults(f"--plot: {target}: {error.strerror or error}")
        except ValueError as error:
            faults(f"--plot: {run.label}: {error}")


def _targets(plot: Path, runs: Sequence[Measurement], faults: Faults) -> list[Path]:
    """Return a file for each run, none where the name will not do."""
    if plot.suffix.lower().removeprefix(".") not in PLOT_KINDS:
        kinds = ", ".join(f".{kind}" for kind in PLOT_KINDS)
        faults(f'--plot: "{plot}" ends in none of {kinds}; the ending decides what is written')
        return []
    targets = [_target(plot, run) for run in runs]
    most, times = Counter(str(target).casefold() for target in targets).most_common(1)[0]
    if times > 1:
        missing = _STUDENT if _LABEL in str(plot) else _LABEL
        faults(
            f"--plot: {times} unknowns would all be drawn into {most}; put {missing} into the "
            f"name, as in {plot.stem}-{missing}{plot.suffix}"
        )
        return []
    for folder in {target.parent: None for target in targets}:
        if not folder.is_dir():
            faults(f"--plot: {folder}: there is no such folder; make it first")
            return []
    return targets


def _target(plot: Path, run: Measurement) -> Path:
    name = str(plot)
    for field, text in ((_LABEL, run.label), (_STUDENT, run.student)):
        # A label like "../C-14" stays a name in the folder that was meant.
        name = name.replace(field, _NOT_IN_NAMES.sub("_", text).strip(" .") or "unknown")
    return Path(name)
