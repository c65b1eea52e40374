"""``match --explain`` and ``match --plot``: why a compound is as probable as it is."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from identify.answers.files.names import SharedNameError, named_files
from identify.answers.pictures import MOST_COMPOUNDS, PLOT_KINDS
from identify.cli.options.options import Reasons
from identify.cli.options.targets import check_target, has_other_ending
from identify.cli.terminal.output import OutputFormat
from identify.cli.terminal.streams import Faults
from identify.notebook.errors import RunFault

if TYPE_CHECKING:
    from identify.matching.answer import Ranking
    from identify.matching.evidence import Matcher
    from identify.matching.explain.explanation import Explanation
    from identify.notebook.measurement import Measurement


def row_to_explain(
    reasons: Reasons, form: OutputFormat, matcher: Matcher, faults: Faults
) -> int | None:
    """Return the row of the compound to explain; None where none is asked for, or none is meant."""
    if reasons.explain is None:
        return None
    from identify.compounds.naming.lookup import NameFault, row_meant

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

    def explained(run: Measurement) -> Explanation | None:
        try:
            return explain_row(run, row, matcher)
        except Exception as error:
            faults(RunFault.of(f"--explain: {run.place}", error))
            return None

    return [explained(run) for run in runs]


def draw(
    answered: Sequence[tuple[Measurement, Ranking]],
    shown: tuple[int, int | None],
    reasons: Reasons,
    matcher: Matcher,
    inputs: Sequence[Path | None],
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
    inputs : sequence of Path or None
        What was read, and must not be drawn over.
    faults : Faults
        Told of what cannot be drawn or written.
    """
    runs = [run for run, _ in answered]
    targets = _targets(reasons.plot, runs, inputs, faults) if reasons.plot and runs else []
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
        except Exception as error:
            faults(RunFault.of(f"--plot: {run.label}", error))


def _targets(
    plot: Path, runs: Sequence[Measurement], inputs: Sequence[Path | None], faults: Faults
) -> list[Path]:
    """Return a file for each run, none where the name will not do."""
    endings, before = [f".{kind}" for kind in PLOT_KINDS], faults.count
    if has_other_ending("--plot", plot, endings, faults):
        return []
    try:
        targets = list(named_files(plot, runs, "drawn into"))
    except SharedNameError as error:
        faults(f"--plot: {error}")
        return []
    for target in targets:
        check_target("--plot", target, endings, inputs, faults)
        if faults.count > before:  # the others would mostly say the same
            return []
    return targets
