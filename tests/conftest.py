"""What many tests share: tables, the built-in one's matcher, the command, a browser."""

from __future__ import annotations

import pytest

from identify import load_candidates
from identify.candidates.table import CandidateTable
from identify.matching.posterior import Matcher
from tests.browser import browser
from tests.built_beside import (
    independent_table,
    pytest_collection_modifyitems,
    pytest_runtestloop,
    rebuilt_table,
)
from tests.command import invoke

__all__ = [
    "browser",
    "independent_table",
    "invoke",
    "judge",
    "pytest_collection_modifyitems",
    "pytest_runtestloop",
    "rebuilt_table",
    "table",
]


@pytest.fixture(scope="session")
def table() -> CandidateTable:
    return load_candidates()


@pytest.fixture(scope="session")
def judge(table: CandidateTable) -> Matcher:
    return Matcher(table)
