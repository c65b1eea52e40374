"""Estimated boiling points against published ones of compounds that never trained.

Which compounds was decided by a checksum of their skeletons (``boiling_compounds.is_kept_out``),
not by what is published of them; all of them are scored. Their published values are the consensus
of two independent collections or more (data/SOURCES.md). ``pytest -s`` prints each.
"""

from __future__ import annotations

import numpy as np
import pytest
from boiling_compounds import is_kept_out

from identify.compounds.boiling.model import load_boiling_model
from identify.compounds.loading import load_candidates
from identify.physics.constants import ICE_POINT


@pytest.fixture(scope="module")
def kept_out() -> tuple[list[int], np.ndarray]:
    """Return the rows of the table that were kept out, and their published boiling points [C]."""
    content, table = load_boiling_model().content, load_candidates()
    place = {smiles: row for row, smiles in enumerate(table.text("smiles"))}
    rows = [place[str(smiles)] for smiles in content["kept_out_smiles"]]
    return rows, content["kept_out_kelvin"] - ICE_POINT


def test_intervals_hold_for_compounds_that_one_collection_alone_lists():
    """Those that neither trained nor calibrated; misprints and values under vacuum left out."""
    content = load_boiling_model().content
    testing = ~content["single_calibrates"]
    error = np.abs(content["single_estimate"] - content["single_kelvin"])[testing]
    half = content["single_half"][testing]
    held = np.mean(error <= half)
    print(f"{testing.sum()} compounds: {held:.1%} within the interval")
    assert testing.sum() > 1000
    assert 0.92 < held < 0.97
    assert np.median(error) < 5.0


def test_none_of_them_trained(kept_out):
    rows, published = kept_out
    table = load_candidates()
    trained = {str(key)[:14] for key in load_boiling_model().content["inchikeys"]}
    skeletons = [table.text("inchikey")[row][:14] for row in rows]
    assert len(rows) >= 30
    assert all(is_kept_out(skeleton) for skeleton in skeletons)
    assert not trained.intersection(skeletons)
    assert table.number("boiling_point_C")[rows] == pytest.approx(published, abs=0.01)


def test_estimates_are_near_what_is_published(kept_out):
    rows, published = kept_out
    table = load_candidates()
    found = load_boiling_model().estimate([table.text("smiles")[row] for row in rows])
    print()
    for place, row in enumerate(rows):
        print(
            f"{table.text('name')[row]:45.45} published {published[place]:6.1f}, estimated "
            f"{found.value_C[place]:6.1f} ({found.low_C[place]:.0f} to {found.high_C[place]:.0f}) "
            f"{found.reason[place]}"
        )
    inside = found.in_domain
    error = np.abs(found.value_C - published)[inside]
    holds = ((found.low_C <= published) & (published <= found.high_C))[inside]
    print(
        f"mean {error.mean():.2f} K, median {np.median(error):.2f} K, {holds.sum()} of {len(holds)}"
    )
    assert inside.mean() > 0.9
    assert len(error) >= 30
    assert np.median(error) < 4.0
    assert error.mean() < 9.0
    # Of fifty intervals at 95 %, 44 or more hold in 99 of 100 cases; 28 of 30 is the same share.
    assert holds.mean() > 0.87
