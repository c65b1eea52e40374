"""Weighings as they may have been meant: compared as if they had been read so."""

from __future__ import annotations

import gc
from dataclasses import fields
from weakref import ref

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from identify import Conditions, Flask, Measurement, Trial, load_candidates
from identify.bench.bench import Bench
from identify.matching.evidence import kept_matcher
from identify.matching.posterior import Posterior
from identify.matching.settings import MatchSettings
from identify.matching.slips import search
from identify.matching.slips.mechanism.case import Case
from identify.physics.vapor import Weighing, implied_and_gained

# What a slip makes of a reading, as a factor; none of them is one that a liquid's curve ends at.
FACTORS = {"gain": (1e-3, 0.5, 0.97, 1.02, 10.0), "volume": (0.5, 0.98, 1.1, 1000.0)}
FACTORS |= {"bath": (0.99, 1.01), "pressure": (0.9, 0.98, 1.03), "room": (0.99, 1.005)}
RUN = Measurement(
    "K-3",
    boiling_point="68.9 C",
    conditions=Conditions(pressure="748.2 mmHg", room="22.4 C"),
    flask=Flask(volume="281.3 mL"),
    trials=[
        Trial("97.2210 g", "98.0155 g", "98.6 C"),
        Trial("97.2213 g", "98.0190 g", "98.9 C"),
        Trial("97.2209 g", "98.0097 g", "98.6 C"),
    ],
)


def case() -> Case:
    matcher = kept_matcher(load_candidates(), MatchSettings.of())
    posterior = Posterior.of(matcher.evidence(Bench.of(RUN)))
    return Case(RUN, posterior, posterior.first(40))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from(sorted(FACTORS)), st.integers(0, 4), st.sets(st.integers(0, 2))),
        min_size=1,
        max_size=12,
    )
)
def test_rewritten_weighings_are_compared_as_if_they_had_been_read(
    slips: list[tuple[str, int, set[int]]],
) -> None:
    one = case()
    weighings = one.weighings
    meant = {
        field.name: np.tile(getattr(weighings.read, field.name), (len(slips), 1))
        for field in fields(Weighing)
    }
    for place, (name, which, trials) in enumerate(slips):
        factor = FACTORS[name][which % len(FACTORS[name])]
        meant[name][place, sorted(trials)] *= factor
    means, not_shown = weighings.rewritten(meant)
    for place in range(len(slips)):
        read = Weighing(**{name: values[place] for name, values in meant.items()})
        implied, gained = (1e3 * values for values in implied_and_gained(read, one.liquid))
        assert means[place] == pytest.approx(implied.mean(axis=0), rel=1e-12)
        assert not_shown[place] == pytest.approx((implied - gained).mean(axis=0), rel=1e-11)


def test_a_search_leaves_nothing_in_memory_that_only_a_look_for_garbage_would_find() -> None:
    matcher = kept_matcher(load_candidates(), MatchSettings.of())
    posterior = Posterior.of(matcher.evidence(Bench.of(RUN)))
    kept = ref(posterior.evidence)
    gc.disable()
    try:
        found = search(RUN, posterior)
        assert found.posterior.probability is not posterior.probability  # slips were weighed
        del found, posterior
        assert kept() is None
    finally:
        gc.enable()
