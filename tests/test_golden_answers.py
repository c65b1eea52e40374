"""The command's answers beside the golden ones: what moves, moves on purpose.

`python scripts/golden_answers.py` prints all that moved; with ``--write`` it writes them anew.
"""

from __future__ import annotations

from functools import cache

import pytest
from golden_answers import (
    Answer,
    Case,
    answer,
    cases,
    differences,
    golden,
    kinds,
    moved,
    other_versions,
    uncovered,
)

_SHOWN = 25


_CASES = [(kind, case) for kind in kinds() for case in cases(kind)]


@cache
def _golden(kind: str) -> dict[str, Answer]:
    return golden(kind)


@pytest.mark.parametrize(
    ("kind", "case"), [pytest.param(*one, id=f"{one[0]}-{one[1].name}") for one in _CASES]
)
def test_nothing_moved(kind: str, case: Case) -> None:
    if others := other_versions():
        pytest.skip(f"not the versions of scripts/constraints.txt: {', '.join(others)}")
    before = {name: one for name, one in _golden(kind).items() if name == case.name}
    lines = differences(before, {case.name: answer(case)})
    more = [f"... and {len(lines) - _SHOWN} more"] if len(lines) > _SHOWN else []
    if lines:
        how = "moved; on purpose? python scripts/golden_answers.py --write"
        pytest.fail("\n".join([how, *lines[:_SHOWN], *more]), pytrace=False)


@pytest.mark.parametrize("kind", kinds())
def test_every_answer_has_a_case(kind: str) -> None:
    assert list(_golden(kind)) == [case.name for case in cases(kind)]


def test_every_code_is_covered() -> None:
    """Each finding and slip of the package stands in a golden answer."""
    assert uncovered() == set(), "add a case, or say in golden_answers.py that this is not a code"


@pytest.mark.parametrize(
    ("before", "after", "lines"),
    [
        (1.0, 1.0 + 1e-10, []),
        (1.0, 1.0 + 1e-8, [": 1.0 -> 1.00000001"]),
        (0.0, 1e-13, []),
        (1.0, True, [": 1.0 -> True"]),
        (None, 0.0, [": None -> 0.0"]),
        ("a", "a ", [": 'a' -> 'a '"]),
        ({"a": 1}, {"b": 1}, ["a: 1 -> (nothing)", "b: (nothing) -> 1"]),
        (["x", "y"], ["x", "z", "y"], [": '+z'"]),
        ([{"code": "a"}], [{"code": "b"}, {"code": "a"}], ["[b]: (nothing) -> {'code': 'b'}"]),
        (
            [{"code": "a"}, {"code": "b"}],
            [{"code": "b"}, {"code": "a"}],
            [": order ['a', 'b'] -> ['b', 'a']"],
        ),
    ],
)
def test_what_moved_is_told(before: object, after: object, lines: list[str]) -> None:
    assert list(moved(before, after)) == lines
