"""The answer for one unknown, and for many: from readings to ranked compounds."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, TypeAlias, cast

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.compounds.loading import is_large, load_candidates
from identify.compounds.table import CandidateTable
from identify.matching.advise.next_measurement import Remaining
from identify.matching.answer import Deviations, MolarMass, RankedCandidate, Ranking, Verdict
from identify.matching.compared import Totals
from identify.matching.findings import Answer, alike, match_findings
from identify.matching.large_tables import LargeTable, match_large, open_large
from identify.matching.posterior import Matcher, Posterior, Prior, kept_matcher
from identify.matching.slips import Slip, search
from identify.notebook.measurement import Measurement
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.comparison import Comparison
from identify.observables.tolerances import Tolerances
from identify.physics.constants import ELEMENTS

if TYPE_CHECKING:
    import pandas as pd

    Candidates: TypeAlias = CandidateTable | LargeTable | str | os.PathLike[str]

_SINGLE = 0.9  # probability from which the leader is the one match
# A compound in commerce is up to 4 times as probable beforehand as a rare one; a reading 2.5
# standard errors off favors one of two that lie one standard error apart by up to exp(2.5) = 12.
_NOISE_AND_RARITY = 50.0
_SHOWN_PROBABILITY = 1e-6
_SHOWN_ROWS = 50


def match(
    run: Measurement,
    candidates: Candidates | None = None,
    tolerances: Tolerances | None = None,
    prior: Prior = "commerce",
) -> Ranking:
    """Say what an unknown could be.

    Parameters
    ----------
    run : Measurement
        What was read; anything in it may be missing.
    candidates : CandidateTable, LargeTable, or path, optional
        The built-in table where not given. An index (``.arrow``), or a folder with a table in
        parts, is not read into memory.
    tolerances : Tolerances, optional
        The defaults where not given.
    prior : {"commerce", "uniform"}
        Mildly favor compounds in commerce, or treat all alike.

    Returns
    -------
    Ranking

    Raises
    ------
    ValueError
        If there is no such prior, the table cannot be used, or a trial lacks a reading that its
        molar mass needs.
    TypeError
        If an argument is of another type.

    Examples
    --------
    >>> run = Measurement("K-7", boiling_point="78.4 C", percent={"C": 52.1, "H": 13.1})
    >>> ranking = match(run)
    >>> print(ranking.verdict, ranking.candidates[0].name, ranking.molar_mass)
    single match ethanol None
    """
    _require_measurement(run)
    large = large_table(candidates)
    if large is not None:
        _require_tolerances(tolerances)
        return match_large(run, large, tolerances or Tolerances(), prior)
    return matched(run, Bench.of(run), matcher_of(candidates, tolerances, prior))


def matched(
    run: Measurement, bench: Bench, matcher: Matcher, totals: Totals | None = None
) -> Ranking:
    """Say what an unknown could be, by a matcher that serves many.

    Parameters
    ----------
    run : Measurement
    bench : Bench
        The same readings in SI units.
    matcher : Matcher
    totals : Totals, optional
        Sums over all candidates, where the matcher's are some of them only.
    """
    from identify.checks import check

    found = search(run, bench, matcher.posterior(bench, totals=totals), matcher)
    posterior = found.posterior
    rows = posterior.leading(matcher.order, _SHOWN_ROWS, _SHOWN_PROBABILITY)
    molar_mass = _measured_molar_mass(bench, posterior, matcher, int(rows[0]))
    known = None if molar_mass is None else (molar_mass.value, molar_mass.standard_uncertainty)
    remaining = Remaining.of(posterior, matcher, bench, rows)
    answer = Answer(posterior, matcher.table, rows, remaining, found.possible)
    return Ranking(
        label=run.label,
        verdict=_verdict(answer, found.slips),
        candidates=tuple(
            _ranked(matcher.table, posterior, int(row), rank) for rank, row in enumerate(rows, 1)
        ),
        none_of_these=posterior.none_of_these,
        molar_mass=molar_mass,
        findings=[*check(run, known), *match_findings(answer)],
        student=run.student,
        remaining=remaining,
        slips=found.slips,
    )


def match_many(
    runs_or_frame: Iterable[Measurement] | pd.DataFrame,
    candidates: Candidates | None = None,
    tolerances: Tolerances | None = None,
    prior: Prior = "commerce",
    progress: bool = False,
) -> pd.DataFrame:
    """Say what each of many unknowns could be.

    Parameters
    ----------
    runs_or_frame : iterable of Measurement, or pandas.DataFrame
        A frame has a trial table's columns, one row a trial; also ``molar_mass_u``,
        ``boiling_point_C_u``, ``percent_u`` and so on, standard uncertainties.
    candidates, tolerances, prior
        As for `match`.
    progress : bool
        Show a bar on standard error.

    Returns
    -------
    pandas.DataFrame
        One block an unknown in the order given, one row a candidate: ``label rank name cas
        inchikey formula molar_mass boiling_point_C probability plausible none_of_these verdict
        student``. Findings are left to `match`. Rows that could not be used, of a frame or of what
        `read_runs` gave, are in ``.attrs["faults"]``, one line each, and are warned of.

    Examples
    --------
    >>> runs = [Measurement("A", boiling_point=56.1, molar_mass=58.1), Measurement("B")]
    >>> match_many(runs).groupby("label")["rank"].max().to_dict()
    {'A': 50, 'B': 50}
    """
    import pandas as pd

    runs, faults = _runs(runs_or_frame)
    large = large_table(candidates)
    if large is not None:
        frame = _from_rankings(
            [match(run, large, tolerances, prior) for run in (_watched(runs) if progress else runs)]
        )
        if faults:
            frame.attrs["faults"] = faults
        return frame
    matcher = matcher_of(candidates, tolerances, prior)
    blocks = []
    for run in _watched(runs) if progress else runs:
        bench = Bench.of(run)
        found = search(run, bench, matcher.posterior(bench), matcher)
        posterior = found.posterior
        rows = posterior.leading(matcher.order, _SHOWN_ROWS, _SHOWN_PROBABILITY)
        blocks.append(
            (
                rows,
                posterior.probability[rows],
                posterior.plausible[rows],
                posterior.none_of_these,
                _verdict(Answer(posterior, matcher.table, rows), found.slips),
            )
        )
    frame = _long_frame(pd, matcher.table, runs, blocks)
    if faults:
        frame.attrs["faults"] = faults
    return frame


def matcher_of(
    candidates: Candidates | None,
    tolerances: Tolerances | None,
    prior: Prior,
) -> Matcher:
    """Return the matcher for arguments as `match` takes them, kept for the next call."""
    given = _in_memory(candidates)
    table = given if isinstance(given, CandidateTable) else load_candidates(given)
    _require_tolerances(tolerances)
    return kept_matcher(table, tolerances or Tolerances(), prior)


def _verdict(answer: Answer, slips: Sequence[Slip] = ()) -> Verdict:
    posterior, first = answer.posterior, int(answer.rows[0])
    if not posterior.comparisons:
        return "no match"
    fits = bool(posterior.plausible[first]) or posterior.by_chance(first)
    # Or it fits once a slip is set right.
    fits |= any(slip.points_to(answer.table.text("name")[first]) for slip in slips)
    if not (fits or posterior.plausible.any()) or posterior.none_of_these > 0.5:
        return "no match"
    if fits and posterior.probability[first] >= _SINGLE and not _one_of_a_set(answer):
        return "single match"
    return "several matches"


def _one_of_a_set(answer: Answer) -> bool:
    """Say whether only noise and rarity put the first before others that would read the same."""
    posterior = answer.posterior
    least = posterior.probability[answer.rows[0]] / _NOISE_AND_RARITY
    return bool((posterior.probability[alike(answer)] >= least).any())


def _measured_molar_mass(
    bench: Bench, posterior: Posterior, matcher: Matcher, first: int
) -> MolarMass | None:
    observed, comparison = posterior.observed_molar_mass, posterior.molar_mass
    if observed is None or comparison is None:
        return None
    sigma = np.broadcast_to(comparison.sigma, observed.shape)
    value, uncertainty = float(observed[first]), float(sigma[first])
    # Relative to the reading, where that is far from what the candidate would have given.
    relative = uncertainty / float(matcher.expectation.molar_mass[first])
    if bench.molar_mass is not None:
        is_stated = bench.molar_mass.uncertainty is not None
        return MolarMass(value, uncertainty if is_stated else relative * value, None)
    return MolarMass(value, max(uncertainty, relative * value), bench.ideal_molar_mass())


def _ranked(table: CandidateTable, posterior: Posterior, row: int, rank: int) -> RankedCandidate:
    mass = _deviation(posterior.molar_mass, row)
    molar_mass = float(table.number("molar_mass")[row])
    percent = {ELEMENTS[place]: float(c.deviation[row]) for place, c in posterior.elements.items()}
    if posterior.unmentioned is not None:
        for element, holds in zip(ELEMENTS, table.percent[row], strict=True):
            if element not in percent and holds > 0.0:
                percent[element] = -float(holds)
    return RankedCandidate(
        rank=rank,
        **{name: table.text(name)[row] for name in ("name", "cas", "smiles", "inchikey")},
        formula=table.text("formula")[row],
        molar_mass=molar_mass,
        boiling_point_C=float(table.number("boiling_point_C")[row]),
        boiling_point_u=float(table.number("boiling_point_u")[row]),
        probability=float(posterior.probability[row]),
        plausible=bool(posterior.plausible[row]),
        deviations=Deviations(
            None if mass is None else 100.0 * mass / molar_mass,
            _deviation(posterior.boiling_point, row),
            percent,
            _further_deviations(posterior, row),
        ),
        index=row,
        note=_note(table, row),
        bottle=table.text("label")[row],
    )


def _deviation(comparison: Comparison | None, row: int) -> float | None:
    return None if comparison is None else float(comparison.deviation[row])


def _further_deviations(posterior: Posterior, row: int) -> dict[str, float | None]:
    shown: dict[str, float | None] = {}
    for name, comparison in posterior.further.items():
        constant = LIQUID_CONSTANTS[name]
        off = float(comparison.deviation[row]) / constant.scale
        shown[constant.deviation_key] = off if np.isfinite(off) else None
    return shown


# No room is warmer; a compound that melts above this is no liquid there.
_WARMEST_ROOM = 35.0  # degrees Celsius


def _note(table: CandidateTable, row: int) -> str:
    melting = table.number("melting_point_C")[row]
    remarks = {
        "boiling point estimated from structure": not table.number("boiling_point_published")[row],
        f"a solid in the room, melts at {melting:.0f} °C": melting > _WARMEST_ROOM,
        "on a list of carcinogens": bool(table.text("carcinogen")[row]),
        table.text("stereo")[row]: True,
    }
    return "; ".join(remark for remark, applies in remarks.items() if applies and remark)


def _runs(
    runs_or_frame: Iterable[Measurement] | pd.DataFrame,
) -> tuple[Sequence[Measurement], list[str]]:
    if not hasattr(runs_or_frame, "columns"):
        if isinstance(runs_or_frame, Measurement) or not isinstance(runs_or_frame, Iterable):
            kind = type(runs_or_frame).__name__
            raise TypeError(f"a {kind} is no list of Measurement; match takes a single one")
        runs = list(runs_or_frame)
        for run in runs:
            _require_measurement(run)
        # What was read from a file has its own.
        return runs, _warned(getattr(runs_or_frame, "faults", ()))
    from identify.tables import runs_from_frame

    read = runs_from_frame(cast("pd.DataFrame", runs_or_frame))
    return read.measurements, _warned(read.faults)


def _warned(faults: Sequence[object]) -> list[str]:
    """Return faults as lines, and warn of the first."""
    import warnings

    lines = [str(fault) for fault in faults]
    if lines:
        more = f" (and {len(lines) - 1} more, see .attrs['faults'])" if len(lines) > 1 else ""
        warnings.warn(f"{lines[0]}{more}", stacklevel=4)
    return lines


def _require_measurement(run: object) -> None:
    if not isinstance(run, Measurement):
        raise TypeError(f"a {type(run).__name__} is no Measurement; read it with read_runs")


def _in_memory(candidates: object) -> CandidateTable | str | os.PathLike[str] | None:
    if not isinstance(candidates, CandidateTable | str | os.PathLike | None):
        kind = type(candidates).__name__
        raise TypeError(f"a {kind} is no table in memory; give a path, or one that was loaded")
    return candidates


def _require_tolerances(tolerances: object) -> None:
    if not isinstance(tolerances, Tolerances | None):
        raise TypeError(f"tolerances: {tolerances!r} is no Tolerances; make one of it")


def large_table(candidates: Candidates | None) -> LargeTable | None:
    """Return an indexed or partitioned table, None where another or none was given.

    Raises
    ------
    TableError
        Where it cannot be used, in one line.
    """
    if candidates is None or isinstance(candidates, CandidateTable):
        return None
    if isinstance(candidates, LargeTable):
        return candidates
    path = cast("str | os.PathLike[str]", _in_memory(candidates))
    return open_large(path) if is_large(path) else None


def _watched(runs: Sequence[Measurement]) -> Iterable[Measurement]:
    from rich.console import Console
    from rich.progress import track

    return track(runs, "Matching", console=Console(stderr=True))


def _from_rankings(rankings: Sequence[Ranking]) -> pd.DataFrame:
    import pandas as pd

    columns = ("name", "cas", "inchikey", "formula", "molar_mass", "boiling_point_C")
    rows = [
        {"label": ranking.label, "rank": one.rank}
        | {name: getattr(one, name) for name in columns}
        | {
            "probability": one.probability,
            "plausible": one.plausible,
            "none_of_these": ranking.none_of_these,
            "verdict": ranking.verdict,
            "student": ranking.student,
        }
        for ranking in rankings
        for one in ranking.candidates
    ]
    return pd.DataFrame(rows)


_Block = tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.bool_], float, str]


def _long_frame(
    pd: Any, table: CandidateTable, runs: Sequence[Measurement], blocks: Sequence[_Block]
) -> pd.DataFrame:
    sizes = np.array([len(block[0]) for block in blocks], dtype=np.int64)
    rows = np.concatenate([np.zeros(0, dtype=np.int64), *(block[0] for block in blocks)])
    texts = {
        name: np.array(table.text(name), dtype=object)[rows]
        for name in ("name", "cas", "inchikey", "formula")
    }
    first = np.repeat(np.cumsum(sizes) - sizes, sizes)
    return pd.DataFrame(
        {
            "label": np.repeat(np.array([run.label for run in runs], dtype=object), sizes),
            "rank": np.arange(len(rows)) - first + 1,
            "name": texts["name"],
            "cas": texts["cas"],
            "inchikey": texts["inchikey"],
            "formula": texts["formula"],
            "molar_mass": table.number("molar_mass")[rows],
            "boiling_point_C": table.number("boiling_point_C")[rows],
            "probability": np.concatenate([np.zeros(0), *(block[1] for block in blocks)]),
            "plausible": np.concatenate([np.zeros(0, bool), *(block[2] for block in blocks)]),
            "none_of_these": np.repeat(np.array([block[3] for block in blocks], float), sizes),
            "verdict": np.repeat(np.array([block[4] for block in blocks], dtype=object), sizes),
            "student": np.repeat(np.array([run.student for run in runs], dtype=object), sizes),
        }
    )
