"""The answer for one unknown, and for many: from readings to ranked compounds."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING, Any, TypeAlias, cast

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.compounds.loading import is_large, load_candidates
from identify.compounds.table import CandidateTable
from identify.matching.answer import Ranking
from identify.matching.evidence import Matcher, kept_matcher
from identify.matching.findings.answered import Answer
from identify.matching.large_tables import LargeTable, match_large, open_large
from identify.matching.posterior import Posterior
from identify.matching.ranked import ranking_of, rows_shown, verdict
from identify.matching.settings import DEFAULT_PRIOR, MatchSettings, Prior
from identify.matching.slips import search
from identify.matching.totals import OUTSIDE
from identify.notebook.errors import RunFault
from identify.notebook.garbage import seldom_collected
from identify.notebook.measurement import Measurement
from identify.observables.error.technique import Technique
from identify.observables.tolerances import Tolerances
from identify.tables.faults import warn_of
from identify.tables.frames import as_pandas, is_frame, is_given

if TYPE_CHECKING:
    import pandas as pd

    # The last: a frame of another library than pandas, or a mapping of columns.
    Candidates: TypeAlias = (
        CandidateTable | LargeTable | str | os.PathLike[str] | pd.DataFrame | Sequence[str] | Any
    )

_TEXTS = ("name", "cas", "inchikey", "formula")
_NUMBERS = ("molar_mass", "boiling_point_C")


def match(
    run: Measurement,
    candidates: Candidates | None = None,
    tolerances: Tolerances | None = None,
    prior: Prior = DEFAULT_PRIOR,
    outside: str | float = OUTSIDE,
    technique: Technique | str | None = None,
) -> Ranking:
    """Say what an unknown could be.

    Parameters
    ----------
    run : Measurement
        What was read; anything in it may be missing.
    candidates : CandidateTable, LargeTable, path, frame, or list of str, optional
        The built-in table where not given. An index (``.arrow``), or a folder with a table in
        parts, is not read into memory. Frames, and lists of names or SMILES, are as for
        `identify.score`; load them once with `load_candidates` for many calls.
    tolerances : Tolerances, optional
        The defaults where not given.
    prior : {"classroom", "commerce", "uniform"}
        Favor the liquids that classes are handed, mildly favor compounds in commerce, or treat all
        alike. A table without the first, such as a stock table, keeps its own.
    outside : str or float, default=0.01
        Assumed share of liquids that are not in the table: ``"5 %"``, or ``0.05``.
    technique : str or Technique, optional
        How well the class works: ``"careful"``, ``"usual"``, ``"rough"``, ``"5 %"``, or ``"none"``
        where a stated uncertainty is the whole error. Where not given, an explicit tolerance of the
        molar mass says it; else a mixture of good, usual and rough work is assumed.

    Returns
    -------
    Ranking

    Raises
    ------
    ValueError
        If there is no such prior, share or technique, the table cannot be used, or a trial lacks a
        reading that its molar mass needs.
    TypeError
        If an argument is of another type.

    Examples
    --------
    >>> run = Measurement("K-7", boiling_point="78.4 C", percent={"C": 52.1, "H": 13.1})
    >>> ranking = match(run)
    >>> print(ranking.verdict, ranking.candidates[0].name, ranking.molar_mass)
    single match ethanol None
    """
    require_measurement(run)
    settings = MatchSettings.of(tolerances, prior, outside, technique)
    large = _large_table(candidates)
    if large is not None:
        return match_large(run, large, settings)
    return ranked(run, matcher_of(candidates, settings))


def ranked(run: Measurement, matcher: Matcher) -> Ranking:
    """Say what an unknown could be, as `match` does."""
    return ranking_of(run, Posterior.of(matcher.evidence(Bench.of(run))))


def match_many(
    runs_or_frame: Iterable[Measurement] | pd.DataFrame,
    candidates: Candidates | None = None,
    tolerances: Tolerances | None = None,
    prior: Prior = DEFAULT_PRIOR,
    progress: bool = False,
    outside: str | float = OUTSIDE,
    technique: Technique | str | None = None,
) -> pd.DataFrame:
    """Say what each of many unknowns could be.

    Parameters
    ----------
    runs_or_frame : iterable of Measurement, or frame
        A frame (pandas, polars, Arrow) has a trial table's columns, one row a trial; also
        ``molar_mass_u``, ``boiling_point_C_u``, ``percent_u`` and so on, standard uncertainties.
    candidates, tolerances, prior, outside, technique
        As for `match`.
    progress : bool
        Show a bar on standard error.

    Returns
    -------
    pandas.DataFrame
        One block an unknown in the order given, one row a candidate: ``label rank name cas
        inchikey formula molar_mass boiling_point_C probability plausible none_of_these verdict
        student``. Findings are left to `match`. Rows that could not be used, of a frame or of what
        `read_runs` gave, and unknowns at which the program failed are in ``.attrs["faults"]``, one
        line each, and are warned of; all others are answered. What the
        columns of a frame were read as is in ``.attrs["told"]``, where they are not worded as in
        the guide.

    Examples
    --------
    >>> runs = [Measurement("A", boiling_point=56.1, molar_mass=58.1), Measurement("B")]
    >>> match_many(runs).groupby("label")["rank"].max().to_dict()
    {'A': 50, 'B': 50}
    """
    settings = MatchSettings.of(tolerances, prior, outside, technique)
    runs, attrs = _runs(runs_or_frame)
    large = _large_table(candidates)
    matcher = matcher_of(candidates, settings) if large is None else None

    def matched(run: Measurement) -> _Block:
        if matcher is not None:
            return _block(run, matcher)
        return _Block.of(match_large(run, cast(LargeTable, large), settings))

    with seldom_collected():
        answered, failed = _answered(_watched(runs) if progress else runs, matched)
    attrs["faults"] += warned(failed)
    frame = _long_frame([run for run, _ in answered], [block for _, block in answered])
    frame.attrs |= {name: lines for name, lines in attrs.items() if lines}
    return frame


def _answered(
    runs: Iterable[Measurement], matched: Callable[[Measurement], _Block]
) -> tuple[list[tuple[Measurement, _Block]], list[RunFault]]:
    """Match each run, and say of which there is no answer: the others have theirs."""
    answered: list[tuple[Measurement, _Block]] = []
    failed: list[RunFault] = []
    for run in runs:
        try:
            answered.append((run, matched(run)))
        except Exception as error:
            failed.append(RunFault.of(run.place, error))
    return answered, failed


def matcher_of(candidates: Candidates | None, settings: MatchSettings) -> Matcher:
    """Return the matcher for candidates as `match` takes them, kept for the next call."""
    if is_given(candidates):
        return Matcher.of(load_candidates(candidates), settings)
    given = _in_memory(candidates)
    table = given if isinstance(given, CandidateTable) else load_candidates(given)
    return kept_matcher(table, settings)


def _runs(
    runs_or_frame: Iterable[Measurement] | pd.DataFrame,
) -> tuple[Sequence[Measurement], dict[str, list[str]]]:
    """Return the runs, and what there is to say of how they were read."""
    if not is_frame(runs_or_frame):
        if isinstance(runs_or_frame, Measurement) or not isinstance(runs_or_frame, Iterable):
            kind = type(runs_or_frame).__name__
            raise TypeError(f"a {kind} is not a list of Measurement; match takes a single one")
        runs = list(cast("Iterable[Measurement]", runs_or_frame))
        for run in runs:
            require_measurement(run)
        # What was read from a file has its own.
        faults = warned(getattr(runs_or_frame, "faults", ()))
        return runs, {"faults": faults, "told": list(getattr(runs_or_frame, "told", ()))}
    from identify.tables import runs_from_frame

    read = runs_from_frame(as_pandas(runs_or_frame))
    return read.measurements, {"faults": warned(read.faults), "told": list(read.told)}


def warned(faults: Sequence[object]) -> list[str]:
    """Return faults as lines, and warn of the first; meant for functions that a user calls."""
    return warn_of(faults, ".attrs['faults']", stacklevel=5)


def require_measurement(run: object) -> None:
    """Refuse what is not a measurement.

    Raises
    ------
    TypeError
    """
    if not isinstance(run, Measurement):
        raise TypeError(f"a {type(run).__name__} is not a Measurement; read it with read_runs")


def _in_memory(candidates: object) -> CandidateTable | str | os.PathLike[str] | None:
    if not isinstance(candidates, CandidateTable | str | os.PathLike | None):
        kind = type(candidates).__name__
        raise TypeError(
            f"a {kind} is not a table of candidates; give a frame, a list of names or SMILES, a "
            "path, or a table that was loaded"
        )
    return candidates


def _large_table(candidates: Candidates | None) -> LargeTable | None:
    """Return an indexed or partitioned table, None where another or none was given.

    Raises
    ------
    TableError
        Where it cannot be used, in one line.
    """
    if candidates is None or isinstance(candidates, CandidateTable) or is_given(candidates):
        return None
    if isinstance(candidates, LargeTable):
        return candidates
    path = cast("str | os.PathLike[str]", _in_memory(candidates))
    return open_large(path) if is_large(path) else None


def _watched(runs: Sequence[Measurement]) -> Iterable[Measurement]:
    from rich.console import Console
    from rich.progress import track

    return track(runs, "Matching", console=Console(stderr=True))


@dataclass(frozen=True)
class _Block:
    """One unknown's part of a long frame, a value a candidate in each column."""

    columns: Mapping[str, Sequence[Any]]
    none_of_these: float
    verdict: str

    @classmethod
    def of(cls, ranking: Ranking) -> _Block:
        names = (*_TEXTS, *_NUMBERS, "probability", "plausible")
        columns = {name: [getattr(one, name) for one in ranking.candidates] for name in names}
        return cls(columns, ranking.none_of_these, ranking.verdict)


def _block(run: Measurement, matcher: Matcher) -> _Block:
    """Match one of many: without the findings, and what one could measure next."""
    found = search(run, Posterior.of(matcher.evidence(Bench.of(run))))
    posterior, table, rows = found.posterior, matcher.table, rows_shown(found.posterior)
    columns: dict[str, Sequence[Any]] = {
        name: [table.text(name)[row] for row in rows] for name in _TEXTS
    }
    columns |= {name: table.number(name)[rows].tolist() for name in _NUMBERS}
    columns["probability"] = posterior.probability[rows].tolist()
    columns["plausible"] = posterior.evidence.plausible[rows].tolist()
    said = verdict(Answer(posterior, rows, slips=found.slips))
    return _Block(columns, posterior.none_of_these, said)


def _long_frame(runs: Sequence[Measurement], blocks: Sequence[_Block]) -> pd.DataFrame:
    import pandas as pd

    sizes = [len(block.columns["name"]) for block in blocks]

    def each(name: str, kind: type) -> NDArray[Any]:
        return np.array(list(chain.from_iterable(one.columns[name] for one in blocks)), kind)

    def repeated(values: Iterable[Any], kind: type) -> NDArray[Any]:
        return np.repeat(np.array(list(values), kind), sizes)

    return pd.DataFrame(
        {
            "label": repeated((run.label for run in runs), object),
            "rank": np.array([rank for size in sizes for rank in range(1, size + 1)], np.int64),
            **{name: each(name, object) for name in _TEXTS},
            **{name: each(name, float) for name in (*_NUMBERS, "probability")},
            "plausible": each("plausible", bool),
            "none_of_these": repeated((one.none_of_these for one in blocks), float),
            "verdict": repeated((one.verdict for one in blocks), object),
            "student": repeated((run.student for run in runs), object),
        }
    )
