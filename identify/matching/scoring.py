"""A score for each of any candidates: one row out for each row in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from identify.bench.bench import Bench
from identify.compounds.given import given_candidates
from identify.matching.evidence import Matcher
from identify.matching.posterior import Posterior
from identify.matching.ranked import deviations_of_all
from identify.matching.ranking import (
    matcher_of,
    require_measurement,
    warned,
)
from identify.matching.settings import DEFAULT_PRIOR, MatchSettings, Prior
from identify.matching.slips import search
from identify.matching.totals import OUTSIDE
from identify.notebook.measurement import Measurement
from identify.observables.error.technique import Technique
from identify.observables.tolerances import Tolerances
from identify.tables.frames import is_given

if TYPE_CHECKING:
    import pandas as pd

    from identify.matching.ranking import Candidates


def score(
    run: Measurement,
    candidates: Candidates | None = None,
    tolerances: Tolerances | None = None,
    prior: Prior = DEFAULT_PRIOR,
    outside: str | float = OUTSIDE,
    technique: Technique | str | None = None,
) -> pd.DataFrame:
    """Score every candidate: one row for each that was given, in the same order.

    Parameters
    ----------
    run : Measurement
        What was read; anything in it may be missing.
    candidates : frame, list of str, CandidateTable or path, optional
        The built-in table where not given. A frame is one of pandas, polars, Arrow or another
        library, with at least one of ``smiles``, ``inchikey``, ``cas``, ``name``, ``formula``,
        ``molar_mass``, and any other column of `CandidateTable.frame`; a list has names, CAS
        numbers or SMILES. What a row does not say is published or estimated for its structure.
        What is not known (the boiling point of a formula, or an empty cell in a column of boiling
        points) neither gains nor loses.
    tolerances, prior, outside, technique
        As for `identify.match`. Candidates without a column ``prior`` are all alike beforehand.

    Returns
    -------
    pandas.DataFrame
        With the index of a pandas frame, or the texts of a list: ``log_likelihood``, natural, of
        the readings as they stand (densities per g/mol, K, percentage point); ``probability``,
        slips weighed; ``plausible``; and the deviations ``molar_mass_percent_off``,
        ``boiling_point_C_off``, ``percent_C_off`` and so on, as in `Ranking.table`. A row that
        cannot be used is NaN, and not plausible. ``.attrs`` has ``none_of_these``, and where there
        are any ``faults``, one line each, of which the first is warned of, and ``told``, what
        headings were taken for.

    Raises
    ------
    ValueError
        If no candidate can be used, or as for `identify.match`.
    TypeError
        If an argument is of another type.

    Examples
    --------
    >>> run = Measurement("K-7", molar_mass=46.3, boiling_point=78.2)
    >>> score(run, ["ethanol", "dimethyl ether", "CC(C)=O"])["probability"].round(3).to_dict()
    {'ethanol': 0.999, 'dimethyl ether': 0.0, 'CC(C)=O': 0.0}
    """
    import pandas as pd

    require_measurement(run)
    settings = MatchSettings.of(tolerances, prior, outside, technique)
    index: Any = None
    if is_given(candidates):
        given = given_candidates(candidates)
        matcher, places, index = Matcher.of(given.table, settings), given.places, given.index
    else:
        matcher = matcher_of(candidates, settings)
        places = np.arange(len(matcher.table))
    as_read = Posterior.of(matcher.evidence(Bench.of(run)))
    found = search(run, as_read).posterior
    likelihoods = list(as_read.likelihoods.values())
    with np.errstate(divide="ignore"):
        logarithm = np.sum([np.log(one) for one in likelihoods], axis=0)
    columns = {
        "log_likelihood": logarithm if likelihoods else np.zeros(matcher.size),
        "probability": found.probability,
        "plausible": as_read.evidence.plausible,
        **{f"{name}_off": values for name, values in deviations_of_all(as_read.evidence).items()},
    }
    is_used = places >= 0
    scores = pd.DataFrame({name: values[places] for name, values in columns.items()}, index=index)
    if not is_used.all():
        numbers = [name for name in columns if name != "plausible"]
        scores.loc[~is_used, numbers] = np.nan
        scores.loc[~is_used, "plausible"] = False
    table = matcher.table
    said = {"faults": warned(table.faults) if index is not None else [], "told": table.told}
    scores.attrs = {"none_of_these": found.none_of_these}
    scores.attrs |= {name: what for name, what in said.items() if what}
    return scores
