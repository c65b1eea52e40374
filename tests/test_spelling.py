"""Words of messages that stand nowhere else: misspelled, or on the list of those that are rare."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

CHECKOUT = Path(__file__).parents[1]
PACKAGE = CHECKOUT / "identify"
RARE = CHECKOUT / "tests" / "references" / "rare_words.txt"
WORD = re.compile(r"[a-zäöüß]{3,}")
# What people write, in any spelling and language, and what is searched for in it.
OF_OTHERS = ("compounds/naming", "compounds/published", "tables/headings", "notebook/quantity")


def words(text: str) -> list[str]:
    return WORD.findall(text.lower())


def told() -> Iterator[tuple[str, str]]:
    """Yield the words of texts of several words, and where they stand."""
    for file in sorted(PACKAGE.rglob("*.py")):
        place = file.relative_to(PACKAGE).as_posix()
        if place.startswith(OF_OTHERS):
            continue
        tree = ast.parse(file.read_text("utf-8"))
        nodes = list(ast.walk(tree))
        described = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
        for node in nodes:
            if not isinstance(node, ast.Constant) or id(node) in described:
                continue
            if isinstance(node.value, str) and " " in node.value.strip():
                yield from ((word, f"{place}:{node.lineno}") for word in words(node.value))


def everywhere() -> Counter[str]:
    """Count the words of all that is written here: code, pages of the manual, templates, tests."""
    files = [CHECKOUT / "README.md", CHECKOUT / "DEVELOPERS.md"]
    for folder, kinds in (
        ("identify", ("py", "j2", "md")),
        ("tests", ("py",)),
        ("scripts", ("*",)),
    ):
        files += [file for kind in kinds for file in (CHECKOUT / folder).rglob(f"*.{kind}")]
    return Counter(word for file in files for word in words(file.read_text("utf-8", "ignore")))


def test_words_that_stand_nowhere_else_are_spelled_right() -> None:
    rare, counts = set(RARE.read_text("utf-8").split()), everywhere()
    once = {word: place for word, place in told() if counts[word] == 1}
    unknown = [f"{word} ({once[word]})" for word in sorted(once.keys() - rare)]
    assert not unknown, f"spelled right? then into {RARE.name}: {unknown}"


def test_the_list_of_rare_words_is_in_order() -> None:
    lines = RARE.read_text("utf-8").splitlines()
    assert lines == sorted(set(lines))
    assert set(lines) <= {word for word, _ in told()}
