"""The page of a match: what each unknown could be, why, and from which readings."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import chain
from math import isfinite
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from identify.answers.html.page import deviation_text, number_text, render
from identify.answers.pictures import MOST_COMPOUNDS
from identify.answers.pictures.drawings import structure_drawing
from identify.answers.text import verdict_sentence, with_uncertainty, without_classroom_sentence
from identify.answers.text.ranking import (
    agreement_text,
    next_sentences,
    probability_of_others,
    untold_findings,
)
from identify.bench.record import RecordTable, record_tables
from identify.matching.answer import Deviations, RankedCandidate, Ranking
from identify.matching.evidence import Matcher
from identify.notebook.findings import Finding, worst_first
from identify.notebook.measurement import Measurement
from identify.observables.catalog import LIQUID_CONSTANTS

if TYPE_CHECKING:
    from markupsafe import Markup

    from identify.answers.pictures.figures import Picture
    from identify.calculations.working import Step
    from identify.matching.explain.explanation import Explanation

MOST_PICTURED = 40  # unknowns on one page: each takes a quarter of a second and 40 kB
_DRAWN = 6  # structures of one unknown
_WORTH_DRAWING = 1e-3  # probability; below it, only what agrees


@dataclass(frozen=True)
class _ShownAnswer:
    """One unknown as the page shows it; ``name`` is unique there."""

    name: str
    run: Measurement
    ranking: Ranking
    verdict: str
    without_classroom: str
    molar_mass: str
    candidates: Sequence[RankedCandidate]
    deviations: Sequence[tuple[str, Sequence[str]]]
    all_others: float
    findings: Sequence[Finding]
    next: str
    structures: Sequence[tuple[RankedCandidate, Markup]]
    deviations_picture: Picture | None
    place_picture: Picture | None
    explanation: Explanation | None
    explained: Sequence[Sequence[str]]
    work: Sequence[Step]
    no_work: str
    record: Sequence[RecordTable]


def match_page(
    answered: Sequence[tuple[Measurement, Ranking]],
    matcher: Matcher,
    top: int = 10,
    explained: int | None = None,
) -> str:
    """Return the page of a match.

    Parameters
    ----------
    answered : sequence of (Measurement, Ranking)
        The unknowns and what `match` says of each.
    matcher : Matcher
        With which they were matched.
    top : int, default=10
        Compounds shown of each.
    explained : int, optional
        Row of the table whose probability is explained; the first compound's where not given.

    Returns
    -------
    str
        HTML. The same answers give the same text.

    Raises
    ------
    ValueError
        If a trial lacks a reading that its molar mass needs.
    """
    pictured = len(answered) <= MOST_PICTURED
    unknowns = [
        _answered(f"u{place}", run, ranking, _PageOptions(matcher, top, explained, pictured))
        for place, (run, ranking) in enumerate(answered, 1)
    ]
    return render(
        "match.html.j2",
        unknowns=unknowns,
        pictured=pictured,
        most_pictured=MOST_PICTURED,
        tolerances=agreement_text([ranking for _, ranking in answered], matcher.tolerances),
    )


@dataclass(frozen=True)
class _PageOptions:
    """What is the same for all unknowns of a page."""

    matcher: Matcher
    top: int
    explained: int | None
    pictured: bool


def _answered(name: str, run: Measurement, ranking: Ranking, page: _PageOptions) -> _ShownAnswer:
    shown = ranking.candidates[: page.top]
    deviations, place = _pictures(name, run, ranking, page)
    explanation = _explanation(run, ranking, page)
    work, no_work = _work(run, ranking, page.matcher)
    return _ShownAnswer(
        name=name,
        run=run,
        ranking=ranking,
        verdict=verdict_sentence(ranking),
        without_classroom=without_classroom_sentence(ranking),
        molar_mass=_molar_mass(ranking),
        candidates=shown,
        deviations=list(_columns(shown)),
        all_others=probability_of_others(ranking, shown),
        findings=worst_first(untold_findings(ranking)),
        next=next_sentences(ranking),
        structures=_structures(shown) if page.pictured else (),
        deviations_picture=deviations,
        place_picture=place,
        explanation=explanation,
        explained=() if explanation is None else _explained(explanation),
        work=work,
        no_work=no_work,
        record=record_tables(run, ranking.assumed),
    )


def _molar_mass(ranking: Ranking) -> str:
    measured = ranking.molar_mass
    if measured is None:
        return ""
    if not measured.is_possible:
        return "these readings give none"
    return with_uncertainty(measured.value, measured.standard_uncertainty, "g/mol")


def _columns(shown: Sequence[RankedCandidate]) -> Iterator[tuple[str, list[str]]]:
    """Yield the heading and the cells of the deviations of what was read."""
    for heading, digits, deviation in _deviations(shown):
        values = [deviation(candidate.deviations) for candidate in shown]
        if any(value is not None for value in values):
            yield heading, [deviation_text(one, digits) for one in values]


def _deviations(
    shown: Sequence[RankedCandidate],
) -> Iterator[tuple[str, int, Callable[[Deviations], float | None]]]:
    """Yield the heading of each deviation, its decimals, and what reads it."""
    yield "Molar mass off, %", 1, attrgetter("molar_mass_percent")
    yield "Boiling point off, °C", 1, attrgetter("boiling_point_C")
    elements = chain.from_iterable(candidate.deviations.percent for candidate in shown)
    for element in dict.fromkeys(elements):
        yield f"{element} off, points", 2, partial(_entry, "percent", element)
    for constant in LIQUID_CONSTANTS.values():
        unit = f",{constant.unit_text}" if constant.unit_text else ""
        heading = f"{constant.words[0].upper()}{constant.words[1:]} off{unit}"
        yield heading, constant.decimals, partial(_entry, "further", constant.deviation_key)


def _entry(mapping: str, key: str, off: Deviations) -> float | None:
    entries: Mapping[str, float | None] = getattr(off, mapping)
    return entries.get(key)


def _structures(shown: Sequence[RankedCandidate]) -> list[tuple[RankedCandidate, Markup]]:
    drawn = []
    for candidate in shown[:_DRAWN]:
        is_likely = candidate.rank == 1 or candidate.probability >= _WORTH_DRAWING
        if is_likely or candidate.plausible:
            drawn.append((candidate, structure_drawing(candidate.smiles, candidate.name)))
    return [(candidate, drawing) for candidate, drawing in drawn if drawing is not None]


def _pictures(
    name: str, run: Measurement, ranking: Ranking, page: _PageOptions
) -> tuple[Picture | None, Picture | None]:
    if not page.pictured or not ranking.candidates:
        return None, None
    from identify.answers.pictures.candidates import Evidence, deviations_picture, place_picture

    evidence = Evidence.of(run, ranking, page.matcher)
    most = max(min(page.top, MOST_COMPOUNDS), 1)
    rows = [candidate.index for candidate in ranking.candidates[:most]]
    if page.explained is not None and page.explained not in rows:
        rows.append(page.explained)
    return (
        deviations_picture(evidence, rows, f"{name}-deviations"),
        place_picture(evidence, f"{name}-place", most),
    )


def _explanation(run: Measurement, ranking: Ranking, page: _PageOptions) -> Explanation | None:
    from identify.matching.explain.explanation import explain_row

    if len(page.matcher.table) < 2 or not ranking.candidates:
        return None
    row = ranking.candidates[0].index if page.explained is None else page.explained
    return explain_row(run, row, page.matcher)


def _explained(explanation: Explanation) -> list[tuple[str, ...]]:
    from identify.matching.explain.explanation import times_text
    from identify.matching.explain.terms import reading_text

    rows = []
    for line in explanation.lines:
        # Most liquids stay in the bottle and boil off in the bath: told only where not.
        is_told = line.deviation is not None or line.observable == "commonness"
        if not is_told and abs(line.log_odds) < _NEGLIGIBLE_LOG_ODDS:
            continue
        given, read = (
            f"{reading_text(value, line.observable, line.unit)} {line.unit}".strip()
            if value is not None and isfinite(value)
            else number_text(None, 0)
            for value in (line.predicted, line.measured)
        )
        offs = (deviation_text(off, 1) for off in (line.deviation, line.deviation_of_other))
        rows.append((line.name, read, given, *offs, times_text(line.times_as_likely)))
    return rows


_NEGLIGIBLE_LOG_ODDS = 0.05  # of a natural logarithm: a factor of 1.05


def _work(run: Measurement, ranking: Ranking, matcher: Matcher) -> tuple[tuple[Step, ...], str]:
    """Return the working of the molar mass, or why there is none."""
    if run.molar_mass is not None or not run.trials or not ranking.candidates:
        return (), ""
    from identify.calculations.molar_mass import molar_mass

    first = ranking.candidates[0]
    known: dict[str, Any] = {"candidates": matcher.table, "draws": 0}
    try:
        return molar_mass(run, identity=first.inchikey or first.name, **known).work, ""
    except ValueError as error:
        return (), str(error)
