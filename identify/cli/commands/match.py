"""``identify-unknown match``: what the liquid could be."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from identify.cli.commands.large import (
    Machines,
    answers,
    large_answers,
    needs_large,
    refuse_reasons,
)
from identify.cli.commands.reasons import (
    draw,
    explanations,
    row_to_explain,
)
from identify.cli.options.options import (
    Files,
    Judgment,
    Output,
    Readings,
    Reasons,
    takes,
)
from identify.cli.options.records import runs_given
from identify.cli.options.targets import PageOut, check_page, write_pages
from identify.cli.options.tolerances import settings_given
from identify.cli.terminal.output import OutputFormat, write_answer
from identify.cli.terminal.progress import working
from identify.cli.terminal.streams import FAULTS_FOUND, UNUSABLE, Faults
from identify.notebook.findings import any_error

if TYPE_CHECKING:
    from identify.answers.text import Page
    from identify.matching.answer import Ranking
    from identify.matching.evidence import Matcher
    from identify.matching.explain.explanation import Explanation
    from identify.matching.settings import MatchSettings
    from identify.notebook.measurement import Measurement


@dataclass(frozen=True)
class _MatchOutput(PageOut, Output):
    """How the answer is written, and a page with it."""


@takes(Files, Readings, Judgment, Machines, Reasons, _MatchOutput)
def match_command(
    files: Files,
    readings: Readings,
    judgment: Judgment,
    machines: Machines,
    reasons: Reasons,
    output: _MatchOutput,
) -> int:
    r"""Say what an unknown could be: ranked compounds with probabilities.

    Takes files, or one unknown's readings as options. A quantity carries its unit
    ("742 mmHg", "98.9 kPa") and may carry its standard uncertainty ("742.0(5) mmHg" is 742.0 give
    or take 0.5); a plain number is taken in the unit named with the option.

    \b
    Example: a notebook page as a file.
      identify-unknown match C-14.toml

    \b
    Example: what the bottle's card says.
      identify-unknown match --boiling-point "64.6 C" \
        --percent "C=37.5 H=12.6 O=49.9"

    \b
    Example: two weighings of a flask.
      identify-unknown match --empty 98.1132 \
        --condensed 98.3721 --condensed 98.3740 \
        --bath "98.9 C" --room "22.5 C" \
        --pressure "742.0 mmHg" --volume "287.4 mL"

    \b
    Example: why a compound is not ahead, and a picture of the first ones.
      identify-unknown match C-31.toml --explain cyclohexane --plot C-31.png

    \b
    Example: a page to hand on, with structures and pictures.
      identify-unknown match C-31.toml --report C-31.html

    \b
    Example: a page a student, of a whole section's table.
      identify-unknown match section.csv --report "{student}.html"

    \b
    Example: millions of compounds, sorted for the match beforehand.
      identify-unknown candidates index big.parquet --out big.arrow
      identify-unknown match C-31.toml --candidates big.arrow

    Exit status: 0 done; 1 --strict found faults; 2 some input could not be used (one line a
    fault on standard error; the rest is still answered); 3 the program itself failed at some.
    """
    faults = Faults()
    inputs = (*files.paths, judgment.candidates)
    check_page(output, inputs, faults)
    settings = settings_given(judgment, faults)
    if settings is None or faults.count:
        return UNUSABLE
    is_large = needs_large(judgment.candidates, machines.cluster)
    # The table before the records, so that each record goes its way without a stop.
    matcher = None if is_large else _matcher(judgment, settings, faults)
    runs = runs_given(files.paths, readings, faults)
    if is_large and runs:
        return _against_large(runs, (judgment, machines, reasons, output), settings, faults)
    if matcher is None or not runs:
        _write([], [], output, settings, faults)
        return _status([], judgment, faults)
    answered = _answers(runs, matcher, faults)
    row = row_to_explain(reasons, output.format, matcher, faults)
    why = explanations([run for run, _ in answered], row, matcher, faults)
    _write(answered, why, output, settings, faults)

    def page(places: Sequence[int]) -> str:
        from identify.answers.html.match_page import match_page

        return match_page([answered[at] for at in places], matcher, output.top, row)

    if answered and (output.report or reasons.plot):
        with working("Drawing"):
            draw(answered, (output.top, row), reasons, matcher, inputs, faults)
            write_pages(page, [run for run, _ in answered], output, inputs, faults)
    return _status(answered, judgment, faults)


def match_file(path: Path, form: OutputFormat) -> int:
    """Match the runs of a file as ``match FILE`` does, and return the exit status."""
    faults, judgment = Faults(), Judgment()
    settings = settings_given(judgment, faults)
    assert settings is not None
    matcher = _matcher(judgment, settings, faults)
    runs = runs_given([path], Readings(), faults)
    answered = _answers(runs, matcher, faults) if matcher else []
    _write(answered, [None] * len(answered), Output(format=form), settings, faults)
    return _status(answered, judgment, faults)


def _against_large(
    runs: Sequence[Measurement],
    asked: tuple[Judgment, Machines, Reasons, _MatchOutput],
    settings: MatchSettings,
    faults: Faults,
) -> int:
    from identify.large.cluster import ClusterError

    judgment, machines, reasons, output = asked
    try:
        rankings = large_answers(runs, judgment.candidates, settings, machines.cluster, faults)
    except ClusterError as error:  # lost in the middle
        faults(error)
        return UNUSABLE
    refuse_reasons(reasons, output, faults)
    _write(rankings, [None] * len(rankings), output, settings, faults)
    return _status(rankings, judgment, faults)


def _status(
    answered: Sequence[tuple[Measurement, Ranking]], judgment: Judgment, faults: Faults
) -> int:
    if faults.count:
        return faults.status
    return FAULTS_FOUND if judgment.strict and any(_doubtful(r) for _, r in answered) else 0


def _matcher(judgment: Judgment, settings: MatchSettings, faults: Faults) -> Matcher | None:
    from identify.cli.terminal.tables import candidate_table
    from identify.matching.evidence import kept_matcher

    table = candidate_table(judgment.candidates, faults)
    if table is None:
        return None
    return kept_matcher(table, settings)


def _answers(
    runs: Sequence[Measurement], matcher: Matcher, faults: Faults
) -> list[tuple[Measurement, Ranking]]:
    from identify.matching.ranking import ranked

    return answers(runs, lambda run: ranked(run, matcher), faults)


def _doubtful(ranking: Ranking) -> bool:
    return ranking.verdict == "no match" or ranking.slip is not None or any_error(ranking.findings)


def _write(
    answered: Sequence[tuple[Measurement, Ranking]],
    why: Sequence[Explanation | None],
    output: Output,
    settings: MatchSettings,
    faults: Faults,
) -> None:
    """Write the answers; where there are none, only a program needs to read that."""
    from identify.answers.files.data import answer_rows

    if not answered and output.format is OutputFormat.table:
        return

    def singly(tell: Callable[..., Any]) -> Iterable[Any]:
        return faults.singly(
            (run.place, partial(tell, run, ranking, explanation))
            for (run, ranking), explanation in zip(answered, why, strict=True)
        )

    def data(run: Measurement, ranking: Ranking, explanation: Explanation | None) -> dict[str, Any]:
        return _as_data(run, ranking, explanation, output.top)

    write_answer(
        output.format,
        lambda page: _lines(answered, why, singly, output.top, settings, page),
        lambda: list(singly(data)),
        lambda: [
            row for rows in singly(lambda *one: list(answer_rows(data(*one)))) for row in rows
        ],
    )


def _lines(
    answered: Sequence[tuple[Measurement, Ranking]],
    why: Sequence[Explanation | None],
    singly: Callable[[Callable[..., Any]], Iterable[list[str]]],
    top: int,
    settings: MatchSettings,
    page: Page,
) -> Iterator[str]:
    from identify.answers.text import ending_lines, footnote, ranking_lines
    from identify.answers.text.explanation import explanation_lines, explanation_notes
    from identify.answers.text.last_line import match_answer

    several = len(answered) > 1

    def one(run: Measurement, ranking: Ranking, explanation: Explanation | None) -> list[str]:
        place = ", ".join(filter(None, (run.student, str(run.source) if several else "")))
        lines = [*ranking_lines(ranking, page, top, place), ""]
        return lines if explanation is None else [*lines, *explanation_lines(explanation, page), ""]

    for lines in singly(one):
        yield from lines
    rankings = [ranking for _, ranking in answered]
    if any(why):
        yield from (*explanation_notes(why, page), "")
    legend = footnote(rankings, settings.tolerances, top)
    yield from ending_lines(page, match_answer(rankings, page), legend)


def _as_data(
    run: Measurement, ranking: Ranking, explanation: Explanation | None, top: int
) -> dict[str, Any]:
    answer = ranking.to_dict()
    answer["candidates"] = answer["candidates"][:top]
    answer.setdefault("student", run.student)
    answer.setdefault("source", {"file": run.source.file, "row": run.source.row})
    if explanation is not None:
        answer["explanation"] = explanation.to_dict()
    return answer
