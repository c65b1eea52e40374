"""``identify-unknown match``: what the liquid could be."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from identify.cli.options import Files, Judgment, Output, OutputFormat, Readings, takes
from identify.cli.records import origin, runs_given
from identify.cli.streams import FAULTS_FOUND, UNUSABLE, Faults

if TYPE_CHECKING:
    from identify.matching.answer import Ranking
    from identify.matching.likelihood import Tolerances
    from identify.measurement import Measurement

_TOLERANCES = {"molar-mass": "molar_mass", "percent": "percent", "boiling-point": "boiling_point"}
# Blank or comma before the next name: "molar-mass=3 %, percent=0,3".
_NEXT_TOLERANCE = re.compile(r"[\s,;]+(?=[A-Za-z])(?![CK](?:\W|$))")
_TOLERANCE_UNITS = ("%", "points", "°C", "C", "K")


@takes(Files, Readings, Judgment, Output)
def match_command(files: Files, readings: Readings, judgment: Judgment, output: Output) -> int:
    r"""Say what an unknown could be: ranked compounds with probabilities.

    Takes files, or one unknown's readings as options. A quantity carries its unit
    ("742 mmHg", "98.9 kPa") and may carry its standard uncertainty ("742.0(5) mmHg" is 742.0 give
    or take 0.5); a plain number is taken in the unit named with the option.

    \b
    Example: a notebook page as a file.
      identify-unknown match C-14.toml

    \b
    Example: what the bottle's card says.
      identify-unknown match --boiling-point "64.6 C" --percent "C=37.5 H=12.6 O=49.9"

    \b
    Example: two weighings of a flask.
      identify-unknown match --empty 98.1132 --condensed 98.3721 --condensed 98.3740 \
        --bath "98.9 C" --room "22.5 C" --pressure "742.0 mmHg" --volume "287.4 mL"

    Exit status: 0 done; 1 --strict found faults; 2 some input could not be used (one line a
    fault on standard error; the rest is still answered).
    """
    faults = Faults()
    runs = runs_given(files.files or (), readings, faults)
    tolerances = _tolerances(judgment.tolerance or (), faults)
    answered = _answers(runs, judgment, tolerances, faults) if tolerances is not None else []
    if answered or output.format is not OutputFormat.table:
        _write(answered, output, tolerances)
    if faults.count:
        return UNUSABLE
    return FAULTS_FOUND if judgment.strict and any(_doubtful(r) for _, r in answered) else 0


def _tolerances(texts: Sequence[str], faults: Faults) -> Tolerances | None:
    from identify.matching.likelihood import Tolerances

    given: dict[str, float] = {}
    usable = True
    for text in (part for whole in texts for part in _NEXT_TOLERANCE.split(whole.strip())):
        name, _, number = text.partition("=")
        field = _TOLERANCES.get(name.strip().lower().replace("_", "-"))
        value = _positive(number)
        if field is None or value is None:
            faults(
                f'--tolerance: "{text}" is not one of '
                f"{', '.join(f'{known}=NUMBER' for known in _TOLERANCES)} with a number above 0"
            )
            usable = False
        elif field in given:
            faults(f'--tolerance: "{text}" gives {name} a second time; give it once')
            usable = False
        else:
            given[field] = value
    try:
        return Tolerances(**given) if usable else None
    except ValueError as error:
        faults(f"--{error}")
        return None


def _positive(text: str) -> float | None:
    number = text.strip().replace(",", ".")
    for unit in _TOLERANCE_UNITS:
        number = number.removesuffix(unit).strip()
    try:
        value = float(number)
    except ValueError:
        return None
    return value if 0.0 < value < float("inf") else None


def _answers(
    runs: Sequence[Measurement], judgment: Judgment, tolerances: Tolerances, faults: Faults
) -> list[tuple[Measurement, Ranking]]:
    if not runs:
        return []
    from identify.cli.tables import candidate_table
    from identify.matching.ranking import match

    table = candidate_table(judgment.candidates, faults)
    if table is None:
        return []
    answered = []
    for run in runs:
        try:
            answered.append((run, match(run, table, tolerances, prior=judgment.prior.value)))
        except ValueError as error:
            faults(f"{origin(run)}, {run.label}: {error}")
    return answered


def _doubtful(ranking: Ranking) -> bool:
    return ranking.verdict == "no match" or any(
        finding.severity == "error" for finding in ranking.findings
    )


def _write(
    answered: Sequence[tuple[Measurement, Ranking]], output: Output, tolerances: Tolerances | None
) -> None:
    from identify.printing import Page, caution_lines, footnote_lines, ranking_lines

    page = Page.of()
    if output.format is not OutputFormat.table:
        from identify.cli.formats import answer_rows, csv_text, json_text

        answers = [_as_data(run, ranking, output.top) for run, ranking in answered]
        if output.format is OutputFormat.json:
            print(json_text(answers, page.unicode))
        else:
            print(csv_text([row for answer in answers for row in answer_rows(answer)]), end="")
        return
    several = len(answered) > 1
    lines: list[str] = []
    for run, ranking in answered:
        place = ", ".join(filter(None, (run.student, origin(run) if several else "")))
        lines += [*ranking_lines(ranking, page, output.top, place), ""]
    if tolerances is not None:
        lines += [*footnote_lines(tolerances, page), ""]
    lines += caution_lines(page)
    print("\n".join(lines))


def _as_data(run: Measurement, ranking: Ranking, top: int) -> dict[str, Any]:
    answer = ranking.to_dict()
    answer["candidates"] = answer["candidates"][:top]
    answer.setdefault("student", run.student)
    answer.setdefault("source", {"file": run.source.file, "row": run.source.row})
    return answer
