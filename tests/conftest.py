"""What many tests share: the built-in table, its matcher, the command, a browser."""

from __future__ import annotations

import pytest
from hypothesis import settings

from identify import load_candidates
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher
from tests.browser import browser
from tests.command import invoke

__all__ = ["browser", "invoke", "matcher", "table"]

# Drawn inputs are the same every time, unless many others are asked for by
# ``--hypothesis-profile long``.
settings.register_profile("same", derandomize=True, database=None, deadline=None)
settings.register_profile("long", max_examples=10_000, database=None, deadline=None)
settings.load_profile("same")

# Those that take a minute or more alone, the longest first.
_LONGEST = (
    "test_candidates.py",
    "test_coverage.py",
    "test_section.py",
    "test_without_reference_equations.py",
    "test_golden_answers.py",
    "test_false_alarms.py",
    "test_collection_build.py",
)


def _turn(item: pytest.Item) -> int:
    name = item.path.name
    return _LONGEST.index(name) if name in _LONGEST else len(_LONGEST)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the files that take longest, so that no process is left with one in the end."""
    items.sort(key=_turn)


def pytest_make_parametrize_id(val: object, argname: str) -> str | None:
    """Name a file's content by its argument: compressed, it holds the time at which it was made.

    Processes that share the tests compare their names, and stop where these differ.
    """
    is_content = isinstance(val, bytes) or (isinstance(val, str) and not val.isprintable())
    return argname if is_content else None


@pytest.fixture(scope="session")
def table() -> CandidateTable:
    return load_candidates()


@pytest.fixture(scope="session")
def matcher(table: CandidateTable) -> Matcher:
    return Matcher(table)
