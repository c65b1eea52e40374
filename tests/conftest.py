"""What many tests share: the built-in table, its matcher, the command, a browser."""

from __future__ import annotations

import pytest

from identify import load_candidates
from identify.candidates.table import CandidateTable
from identify.matching.posterior import Matcher
from tests.browser import browser
from tests.command import invoke

__all__ = ["browser", "invoke", "judge", "table"]


@pytest.fixture(scope="session")
def table() -> CandidateTable:
    return load_candidates()


@pytest.fixture(scope="session")
def judge(table: CandidateTable) -> Matcher:
    return Matcher(table)
