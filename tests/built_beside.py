"""Tables built anew, a minute or two each, by a process beside the tests that do not need them."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from multiprocessing.pool import AsyncResult

import pytest
from build_candidates import all_rows, rows_without_reference_equations
from CoolProp.CoolProp import FluidsList, get_fluid_param_string

from identify.candidates.table import CandidateTable

_LONGEST = 1200.0  # s, should the process have been ended from outside


def _without_reference_equations() -> CandidateTable:
    return rows_without_reference_equations(
        [get_fluid_param_string(name, "CAS") for name in FluidsList()]
    )


_BUILDS: dict[str, Callable[[], CandidateTable]] = {
    "rebuilt_table": all_rows,
    "independent_table": _without_reference_equations,
}
_BUILT = pytest.StashKey[dict[str, AsyncResult[CandidateTable]]]()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the tests that need such tables last."""
    items.sort(key=lambda item: any(name in _BUILDS for name in _fixtures(item)))


@pytest.hookimpl(wrapper=True)
def pytest_runtestloop(session: pytest.Session) -> Iterator[None]:
    """Begin with the tables that a test needs; not forked, which would leave threads out."""
    needed = {name for item in session.items for name in _fixtures(item)} & _BUILDS.keys()
    if not needed or session.config.option.collectonly:
        return (yield)
    with multiprocessing.get_context("spawn").Pool(1) as process:
        session.config.stash[_BUILT] = {
            name: process.apply_async(_BUILDS[name]) for name in sorted(needed)
        }
        return (yield)


def _fixtures(item: pytest.Item) -> Sequence[str]:
    return getattr(item, "fixturenames", ())


@pytest.fixture(scope="session")
def rebuilt_table(pytestconfig: pytest.Config) -> CandidateTable:
    """Return the built-in table, built anew."""
    return pytestconfig.stash[_BUILT]["rebuilt_table"].get(_LONGEST)


@pytest.fixture(scope="session")
def independent_table(pytestconfig: pytest.Config) -> CandidateTable:
    """Return rows of fluids with an equation of state, which owe nothing to any such equation."""
    return pytestconfig.stash[_BUILT]["independent_table"].get(_LONGEST)
