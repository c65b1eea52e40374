"""The command's answers beside the golden ones: what moves, moves on purpose.

`python scripts/golden_answers.py` prints all that moved; with ``--write`` it writes them anew.
"""

from __future__ import annotations

import pytest
from golden_answers import answers, differences, golden, kinds, moved, other_versions, uncovered

_SHOWN = 25


@pytest.mark.parametrize("kind", kinds())
def test_nothing_moved(kind: str) -> None:
    if others := other_versions():
        pytest.skip(f"not the versions of scripts/constraints.txt: {', '.join(others)}")
    lines = differences(golden(kind), answers(kind))
    more = [f"... and {len(lines) - _SHOWN} more"] if len(lines) > _SHOWN else []
    if lines:
        how = "moved; on purpose? python scripts/golden_answers.py --write"
        pytest.fail("\n".join([how, *lines[:_SHOWN], *more]), pytrace=False)


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
