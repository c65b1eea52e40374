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
WORD = re.compile(r"[a-zäöüß]{2,}")
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


def counted(*kinds: str) -> Counter[str]:
    """Count the words of all files of some kinds that are written here."""
    files = [CHECKOUT / "README.md", CHECKOUT / "DEVELOPERS.md"]
    for folder in ("identify", "tests", "scripts"):
        files += [file for kind in kinds for file in (CHECKOUT / folder).rglob(kind)]
    return Counter(word for file in files for word in words(file.read_text("utf-8", "ignore")))


def seldom() -> dict[str, str]:
    """Return words that stand once, and those of two letters that hardly any text has."""
    texts = list(told())
    everywhere, prose = counted("*.py", "*.j2", "*.md"), counted("*.md")
    prose.update(word for word, _ in texts)
    return {
        word: place
        for word, place in texts
        if (prose[word] < _LEAST if len(word) == 2 else everywhere[word] == 1)
    }


_LEAST = 3


def test_words_that_stand_nowhere_else_are_spelled_right() -> None:
    rare = set(RARE.read_text("utf-8").split())
    unknown = [f"{word} ({place})" for word, place in seldom().items() if word not in rare]
    assert not unknown, f"spelled right? then into {RARE.name}: {unknown}"


def test_the_list_of_rare_words_is_in_order() -> None:
    lines = RARE.read_text("utf-8").splitlines()
    assert lines == sorted(set(lines))
    assert set(lines) <= {word for word, _ in told()}
