"""What may have gone wrong with one unknown's readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from identify.matching.posterior import Posterior
from identify.matching.slips.catalog import PARTS, SLIPS
from identify.matching.slips.catalog.boiling_point import at_laboratory_chance
from identify.matching.slips.catalog.composition import element_left_out
from identify.matching.slips.catalog.technique import suspicion
from identify.matching.slips.mechanism.case import Case
from identify.matching.slips.mechanism.groups import LEADING_COUNT, rows_to_search
from identify.matching.slips.mechanism.hypothesis import Slip
from identify.matching.slips.mechanism.mixture import MIN_NAMED_PROBABILITY, is_plain, weigh
from identify.notebook.measurement import Measurement
from identify.observables.weighing import relative_scatter


@dataclass(frozen=True)
class Search:
    """What slips make of a posterior.

    Parameters
    ----------
    posterior : Posterior
        Over the candidates, all slips taken into account.
    slips : tuple of Slip
        Those that the readings speak for, the likeliest first.
    possible : tuple of Slip
        Where there are none: those that are possible, though likelier not to have happened.
    """

    posterior: Posterior
    slips: tuple[Slip, ...] = ()
    possible: tuple[Slip, ...] = ()


def search(run: Measurement, posterior: Posterior) -> Search:
    """Weigh what may have gone wrong beside what the readings say as they stand.

    Parameters
    ----------
    run : Measurement
    posterior : Posterior
        Of its readings as they stand.

    Returns
    -------
    Search
        With the same posterior, and no slip, where none could explain the readings better.
    """
    if not posterior.likelihoods:
        return Search(posterior)
    bench = posterior.evidence.bench
    suspected = {"boiling_point": at_laboratory_chance(run, bench)}
    if bench.weighing is not None:
        suspected["molar_mass"] = suspicion(bench.trials, bench.weighing)
    rows = rows_to_search(posterior, _agreement(posterior), suspected)
    likely: tuple[Slip, ...] = ()
    if rows is None:
        # Nothing went wrong; still the card may leave an element out.
        case = Case(run, posterior, posterior.first(LEADING_COUNT))
        if not is_plain(case):
            _, likely = weigh(case, PARTS, searched=False)
    else:
        case = Case(run, posterior, rows)
        posterior, likely = weigh(case, SLIPS)
    slips = tuple(slip for slip in likely if slip.probability > MIN_NAMED_PROBABILITY)
    slips += element_left_out(case, posterior.probability[case.rows])
    return Search(posterior, slips, () if slips else likely)


def _agreement(posterior: Posterior) -> float:
    """Return how well the trials agree, one for perfectly."""
    weighing = posterior.evidence.bench.weighing
    if weighing is None or weighing.trials < 2:
        return 1.0
    technique = posterior.evidence.matcher.technique
    scatter = relative_scatter(weighing.ideal_molar_mass())
    apart, together = technique.log_agreement(np.array([scatter, 0.0]), weighing.trials)
    return float(np.exp(apart - together))
