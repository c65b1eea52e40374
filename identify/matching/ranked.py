"""From a posterior to the answer: slips weighed, compounds ranked, a verdict given."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from identify.budget.liquids import PossibleLiquids
from identify.budget.total import TotalUncertainty
from identify.budget.weighed import WeighedMolarMass
from identify.compounds.carcinogens import of_the_liquid
from identify.compounds.table import CandidateTable
from identify.matching.advise.next_measurement import Remaining
from identify.matching.answer import Deviations, MolarMass, RankedCandidate, Ranking, Verdict
from identify.matching.evidence import CandidateEvidence
from identify.matching.expected.expectation import worked_out
from identify.matching.findings.answered import Answer
from identify.matching.findings.every import match_findings, settled
from identify.matching.posterior import Posterior
from identify.matching.slips import search
from identify.notebook.findings import worst_first
from identify.notebook.measurement import Measurement
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.error.comparison import Comparison
from identify.observables.weighing import MOLAR_MASS
from identify.physics.arrays import Array
from identify.physics.constants import ELEMENTS

_MIN_SINGLE_PROBABILITY = 0.9  # from which the leader is the one match
_MIN_SHOWN_PROBABILITY = 1e-6
_MAX_SHOWN_ROWS = 50
_WARMEST_ROOM = 35.0  # degrees Celsius; a compound that melts above this is not a liquid there


def ranking_of(run: Measurement, as_read: Posterior) -> Ranking:
    """Say what an unknown could be.

    Parameters
    ----------
    run : Measurement
    as_read : Posterior
        Of its readings as they stand.
    """
    from identify.checks import check
    from identify.checks.assumed import condition_assumed

    found = search(run, as_read)
    posterior, rows = found.posterior, rows_shown(found.posterior)
    weighed = _weighed(posterior, int(rows[0]))
    molar_mass = _molar_mass(posterior, int(rows[0]), weighed)
    known = None if molar_mass is None else (molar_mass.value, molar_mass.standard_uncertainty)
    remaining = Remaining.of(posterior, rows)
    answer = Answer(posterior, rows, remaining, found.slips, found.possible)
    bench = as_read.evidence.bench
    trials = bench.trials if len(bench.trials) == len(run.trials) else ()
    of_the_bench = worst_first(settled(check(run, known, trials=trials), answer))
    assumed = () if weighed is None else weighed.assumed_conditions(bench.assumed)
    return Ranking(
        label=run.label,
        verdict=verdict(answer),
        candidates=tuple(_ranked(posterior, int(row), rank) for rank, row in enumerate(rows, 1)),
        none_of_these=posterior.none_of_these,
        molar_mass=molar_mass,
        findings=[*of_the_bench, *match_findings(answer), *condition_assumed(assumed)],
        student=run.student,
        remaining=remaining,
        slips=found.slips,
        assumed=assumed,
        without_classroom=posterior.without_classroom(int(rows[0])),
    )


def rows_shown(posterior: Posterior) -> NDArray[np.int64]:
    """Return the rows of the compounds that an answer shows, the most probable first."""
    return posterior.leading(_MAX_SHOWN_ROWS, _MIN_SHOWN_PROBABILITY)


def verdict(answer: Answer) -> Verdict:
    """Return the verdict, see `Ranking`."""
    posterior, first = answer.posterior, int(answer.rows[0])
    if not posterior.evidence.comparisons or posterior.none_of_these > 0.5:
        return "no match"
    if not answer.first_fits:
        return "no match"
    sure = posterior.probability[first] >= _MIN_SINGLE_PROBABILITY
    return "single match" if sure else "several matches"


def _weighed(posterior: Posterior, first: int) -> WeighedMolarMass | None:
    """Return the weighings with the corrections of one candidate, None where there are none."""
    bench, expectation = posterior.evidence.bench, posterior.evidence.matcher.expectation
    if bench.weighing is None or bench.molar_mass is not None:
        return None
    row = np.array([first])
    liquid, uncertainty = expectation.liquid.take(row), expectation.boiling_point_u[row]
    known = PossibleLiquids.of_rows(posterior.table, row, liquid, uncertainty)
    technique = posterior.evidence.matcher.technique
    return WeighedMolarMass.of(bench.trials, bench.assumed, known, technique)


def _molar_mass(
    posterior: Posterior, first: int, weighed: WeighedMolarMass | None
) -> MolarMass | None:
    """Return the molar mass with the corrections of one candidate, as the calculation gives it."""
    bench, matcher = posterior.evidence.bench, posterior.evidence.matcher
    if weighed is not None:
        value, total, ideal = weighed.value, weighed.total, bench.ideal_molar_mass()
    elif bench.molar_mass is not None:
        liquid = matcher.expectation.liquid.take(np.array([first]))
        given = worked_out(bench.molar_mass, bench.as_weighed, liquid, 1)
        ideal = None if bench.as_weighed is None else bench.molar_mass.value
        value = float(given.value[0])
        instruments = max(float(np.max(given.instruments)), MOLAR_MASS.least * value)
        gained = value - float(np.max(given.shut_out))
        total = TotalUncertainty.of(matcher.technique, value, gained, instruments)
    else:
        return None
    return MolarMass(value, total.standard_uncertainty, ideal, total.around(value))


def deviations_of_all(evidence: CandidateEvidence) -> dict[str, Array]:
    """Return reading minus prediction of every candidate, arrays of shape (n,), NaN where unknown.

    By the names of `Deviations`: ``molar_mass_percent``, ``boiling_point_C``, ``percent_C`` and so
    on, and the keys of further constants.
    """
    found: dict[str, Array] = {}
    if evidence.molar_mass is not None:
        molar_mass = evidence.matcher.expectation.molar_mass
        found["molar_mass_percent"] = 100.0 * evidence.molar_mass.deviation / molar_mass
    if evidence.boiling_point is not None:
        found["boiling_point_C"] = evidence.boiling_point.deviation
    for place, comparison in evidence.elements.items():
        found[f"percent_{ELEMENTS[place]}"] = comparison.deviation
    for name, further in evidence.further.items():
        constant = LIQUID_CONSTANTS[name]
        found[constant.deviation_key] = further.deviation / constant.scale
    return found


def _ranked(posterior: Posterior, row: int, rank: int) -> RankedCandidate:
    table, evidence = posterior.table, posterior.evidence
    mass = _deviation(evidence.molar_mass, row)
    molar_mass = float(table.number("molar_mass")[row])
    percent = {
        ELEMENTS[place]: deviation
        for place, one in evidence.elements.items()
        if (deviation := _deviation(one, row)) is not None
    }
    if evidence.unmentioned is not None:
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
        plausible=bool(evidence.plausible[row]),
        deviations=Deviations(
            None if mass is None else 100.0 * mass / molar_mass,
            _deviation(evidence.boiling_point, row),
            percent,
            _further_deviations(evidence.further, row),
        ),
        index=row,
        note=_note(table, row),
        bottle=table.text("label")[row],
    )


def _deviation(comparison: Comparison | None, row: int) -> float | None:
    if comparison is None or not np.isfinite(comparison.deviation[row]):
        return None
    return float(comparison.deviation[row])


def _further_deviations(further: Mapping[str, Comparison], row: int) -> dict[str, float | None]:
    shown: dict[str, float | None] = {}
    for name, comparison in further.items():
        constant = LIQUID_CONSTANTS[name]
        off = float(comparison.deviation[row]) / constant.scale
        shown[constant.deviation_key] = off if np.isfinite(off) else None
    return shown


def _note(table: CandidateTable, row: int) -> str:
    melting = table.number("melting_point_C")[row]
    remarks = {
        "boiling point estimated from structure": not table.number("boiling_point_published")[row],
        f"a solid in the room, melts at {melting:.0f} °C": melting > _WARMEST_ROOM,
        "on a list of carcinogens": bool(of_the_liquid(table.text("carcinogen")[row])),
        table.text("stereo")[row]: True,
    }
    return "; ".join(remark for remark, applies in remarks.items() if applies and remark)
