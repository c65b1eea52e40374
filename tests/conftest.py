"""What many tests share: the built-in table, and its matcher with the usual tolerances."""

from __future__ import annotations

import pytest

from identify import load_candidates
from identify.candidates.table import CandidateTable
from identify.matching.posterior import Matcher


@pytest.fixture(scope="session")
def table() -> CandidateTable:
    return load_candidates()


@pytest.fixture(scope="session")
def judge(table: CandidateTable) -> Matcher:
    return Matcher(table)
