"""The small changes that `scripts/mutations` makes, and how it draws them."""

from __future__ import annotations

import ast
import shutil
from collections import Counter
from pathlib import Path

import pytest
from mutation_changes import all_changes, changes, draw, room_of, shares
from mutation_tests import lines_before
from mutation_verdicts import (
    Verdict,
    drawn_changes,
    found_again,
    not_judged,
    read_equivalent,
    read_verdicts,
    tell,
    told,
    write_verdict,
)

CHECKOUT = Path(__file__).parents[1]


def made(text: str) -> set[str]:
    return {change.apply(text) for change in changes("a.py", text)}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a < b", {"(a <= b)", "(a >= b)"}),
        ("a == b", {"(a != b)"}),
        ("a in b", {"(a not in b)"}),
        ("a < b <= c", {"(a <= b <= c)", "(a >= b <= c)", "(a < b < c)", "(a < b > c)"}),
        ("a + b", {"(a - b)"}),
        ("a ** -b", {"(a * -b)", "a ** (b)"}),
        ("a and b", {"(a or b)"}),
        ("not a", {"(a)"}),
        ("a if b else c", {"(a if not b else c)"}),
        ("x = 2", {"x = (3)"}),
        ("x = 2.0", {"x = (2.2)"}),
        ("x = True", {"x = (False)"}),
        ("min(a)", {"(max(a))"}),
        ("sorted(a, key=b)", {"(list(a))", "(sorted(a))"}),
        ("np.nanmin(a)", {"(np.nanmax(a))"}),
        ("f(a, b=c)", {"(f(a))"}),
        ("zip(a, b, strict=c)", set()),
        ("x = 'of the bath'", {"x = ('of th bath')", "x = ('of the bat')"}),
        ("x = 'µ' + 'ßb c'", {"x = ('µ' - 'ßb c')", "x = ('µ.') + 'ßb c'", "x = 'µ' + ('ßb c.')"}),
        ("x = f'and {n - 1} more'", {"x = (f'an {n - 1} more')", "x = (f'and {n + 1} more')",
                                     "x = (f'and {n - 2} more')", "x = (f'and {n - 1} mor')"}),
        ("def f() -> str:\n    return a", {"def f() -> str:\n    return ''"}),
        ("def f() -> bool:\n    return a", {"def f() -> bool:\n    return not (a)"}),
        ("def f() -> float:\n    return a", {"def f() -> float:\n    return (a) + 1"}),
        ("def f() -> list[str]:\n    return a", {"def f() -> list[str]:\n    return (a)[:0]"}),
        ("def f():\n    g(a)", {"def f():\n    pass"}),
        ("def f():\n    a += b\n    return None", {"def f():\n    pass\n    return None"}),
        # What says nothing of what the program does.
        ('"""Two words."""', set()),
        ("def f(a: 'of two'=b) -> 'of two':\n    '''Two words.'''\n    ...", set()),
        ("a: list[int | None]", set()),
        ("__all__ = ['a', 'b']", set()),
        ("from a import b", set()),
        ("if TYPE_CHECKING:\n    a = 2", set()),
        ("@dataclass(frozen=True)\nclass A:\n    b: int", set()),
        ("a = cast('int', b)", set()),
        ("A = B | C", set()),
    ],
)  # fmt: skip
def test_the_changes_of_a_text(text: str, expected: set[str]) -> None:
    assert made(text) == expected


def test_a_change_is_told_where_it_lies() -> None:
    text = "def f():\n    return g(\n        a,\n        1,\n    )\n"
    (one,) = (change for change in changes("identify/b/a.py", text) if change.kind == "constant")
    assert (one.place, one.before, one.after) == ("identify/b/a.py:4", "1", "(2)")
    assert (one.function, list(one.lines)) == ("f", [2, 3, 4])


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with three rooms of the package."""
    folder = tmp_path_factory.mktemp("checkout")
    for room in ("physics", "checks", "budget"):
        shutil.copytree(CHECKOUT / "identify" / room, folder / "identify" / room)
    return folder


def test_each_change_is_another_program(package: Path) -> None:
    for change in draw(all_changes(package), 100, seed=5):
        text = (package / change.path).read_text("utf-8")
        assert text[change.start : change.end] == change.before
        assert ast.dump(ast.parse(change.apply(text))) != ast.dump(ast.parse(text))


def test_the_draw_is_over_all_rooms_and_the_seed_decides(package: Path) -> None:
    rooms = all_changes(package)
    drawn = list(draw(rooms, 30, seed=1))
    assert len({change.place for change in drawn}) == len(drawn) == 30
    assert min(Counter(room_of(change.path) for change in drawn).values()) > 5
    assert drawn == list(draw(rooms, 30, seed=1))
    assert drawn != list(draw(rooms, 30, seed=2))


@pytest.mark.parametrize(
    ("weights", "number", "expected"),
    [
        ({"a": 1, "b": 1}, 4, [("a", 2), ("b", 2)]),
        ({"a": 5, "b": 3, "c": 2}, 3, [("a", 1), ("b", 1), ("c", 1)]),
        ({"a": 98, "b": 2}, 10, [("a", 10), ("b", 0)]),
    ],
)
def test_a_number_is_shared_out(
    weights: dict[str, int], number: int, expected: list[tuple[str, int]]
) -> None:
    assert shares(weights, number) == expected


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("a b c", "a b c", {1: [1], 2: [2], 3: [3]}),
        ("a b c", "x a c", {1: [1], 2: [1], 3: [3]}),
        ("a b c d", "a x y d", {1: [1], 2: [2, 3], 3: [2, 3], 4: [4]}),
        ("a b", "a x b", {1: [1], 2: [1, 2], 3: [2]}),  # new: executed with what is around it
    ],
)
def test_lines_are_found_where_they_stood(
    old: str, new: str, expected: dict[int, list[int]]
) -> None:
    then = lines_before(old.replace(" ", "\n"), new.replace(" ", "\n"))
    assert {line: list(then[line]) for line in expected} == expected


def test_a_run_that_was_stopped_goes_on_with_its_changes(
    package: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rooms = all_changes(package)
    kept = tmp_path / "drawn.jsonl"
    drawn = drawn_changes(kept, rooms, 4, seed=1)
    # The package has changed since: what was drawn stays, and is found where it lies now.
    moved = {room: [one._replace(line=one.line + 7) for one in of] for room, of in rooms.items()}
    del moved["physics"]
    assert drawn_changes(kept, moved, 4, seed=1) == drawn
    there = [one for one in drawn if room_of(one.path) != "physics"]
    assert [one.line - 7 for one in found_again(moved, drawn)] == [one.line for one in there]
    gone = next(one for one in drawn if room_of(one.path) == "physics")
    assert f"{gone.place} is not there any more" in capsys.readouterr().err
    verdicts = [Verdict(drawn[0], "a test", 3, 1.5), Verdict(drawn[2], "", 3, 1.5)]
    with (tmp_path / "verdicts.jsonl").open("w") as file:
        for verdict in verdicts:
            write_verdict(file, verdict)
    verdicts = read_verdicts(tmp_path / "verdicts.jsonl")
    assert list(not_judged(drawn, verdicts)) == [drawn[1], drawn[3]]


def test_what_is_told_in_the_end(package: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drawn = [one for one in draw(all_changes(package), 9, seed=1) if "checks" in one.path]
    first, second, third = drawn[:3]
    verdicts = [
        Verdict(first, "t", 3, 1.5),
        Verdict(second, "", 3, 1.5),
        Verdict(third, "", 4, 1.5),
    ]
    tell(verdicts, {told(second): "sorted later"})
    printed = capsys.readouterr().out
    assert first.place not in printed
    assert f"{second.place} " in printed
    assert "\n  equivalent: sorted later\n" in printed
    assert "\n  none of 4 tests noticed\n" in printed
    said = "1 of 3 noticed 33%, 1 equivalent: 50% of the others"
    shares_told = [" ".join(line.split()) for line in printed.splitlines()[-2:]]
    assert shares_told == [f"checks {said}", f"all {said}"]


def test_equivalent_changes_are_of_the_package() -> None:
    """A reason for each, and a line that is still there."""
    equivalent = read_equivalent(CHECKOUT / "scripts" / "equivalent_changes.csv")
    texts = {path: (CHECKOUT / path).read_text("utf-8") for path, *_ in equivalent}
    assert all(len(reason) > 20 for reason in equivalent.values())
    for path, _, _, before, _ in equivalent:
        assert before in texts[path]
