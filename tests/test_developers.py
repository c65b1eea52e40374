"""DEVELOPERS, README and guide: every file, folder and name that they mention is there."""

from __future__ import annotations

import ast
import re
from functools import cache
from importlib import import_module
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parents[1]
PACKAGE = CHECKOUT / "identify"
DEVELOPERS = CHECKOUT / "DEVELOPERS.md"
PAGES = (DEVELOPERS, CHECKOUT / "README.md", *sorted((PACKAGE / "guide").glob("*.md")))

FENCED = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
QUOTED = re.compile(r"`([^`\n]+)`")
PATH = re.compile(r"(?<![\w./-])\.?\w+/[\w./*-]*|\b\w+\.py\b")
DOTTED = re.compile(r"[a-z_]+(\.[A-Za-z_]+)+")
FOLDER = re.compile(r"(?<![\w/])(\w+)/(?!\w)")
# The folder of the table in an installed package, and a file that the reader is to write.
NOT_YET = {"identify/data/", "observables/viscosity.py"}
# What the environment says, and no file here.
ENVIRONMENT = {"CI", "IDENTIFY_BROWSER", "IDENTIFY_PYTHON", "IDENTIFY_VENV"}


@cache
def _ours() -> frozenset[str]:
    """Return the folders and files at the top of checkout and package, but for an environment."""
    return frozenset(path.name for path in [*CHECKOUT.iterdir(), *PACKAGE.iterdir()]) - {".venv"}


def paths(text: str) -> set[str]:
    """Return what looks like a path of this repository: it begins with a folder, or ends in .py."""
    found = set(PATH.findall(text)) - NOT_YET
    return {path for path in found if path.split("/")[0] in _ours() or path.endswith(".py")}


def quoted(page: Path) -> list[str]:
    return QUOTED.findall(FENCED.sub("", page.read_text(encoding="utf-8")))


def is_there(path: str) -> bool:
    """Say whether a path is one of checkout or package; a bare name may lie anywhere in that."""
    roots = (CHECKOUT, PACKAGE)
    if "/" not in path:
        return any(next(root.rglob(path), None) for root in (PACKAGE, CHECKOUT / "tests"))
    return any(next(root.glob(path.rstrip("/")), None) for root in roots)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_paths_that_are_mentioned_exist(page: Path) -> None:
    mentioned = {path for text in quoted(page) for path in paths(text)}
    assert {path for path in mentioned if not is_there(path)} == set()


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_scripts_in_blocks_exist(page: Path) -> None:
    blocks = [block for _, block in FENCED.findall(page.read_text(encoding="utf-8"))]
    scripts = set(re.findall(r"(?<![\w/])(?:scripts|tests)/[\w.]*\w", "\n".join(blocks)))
    assert {path for path in scripts if not (CHECKOUT / path).exists()} == set()


def test_most_paths_are_in_the_developers_page() -> None:
    assert len({path for text in quoted(DEVELOPERS) for path in paths(text)}) > 40


def test_rooms_are_the_folders_of_the_package() -> None:
    """Each folder of the list lies where its indent puts it, and each room is in the list."""
    text = DEVELOPERS.read_text(encoding="utf-8")
    listed = text.partition("## Rooms")[2].partition("```\n")[2].partition("```")[0]
    above, rooms = [CHECKOUT], set()
    for indent, name, words in re.findall(r"^( *)(\w+)/(.*)$", listed, re.MULTILINE):
        depth = len(indent) // 2
        folder = above[depth] / name
        above[depth + 1 :] = [folder]
        assert folder.is_dir(), folder
        assert {path for path in FOLDER.findall(words) if not (folder / path).is_dir()} == set()
        if depth == 1:
            rooms.add(name)
    assert rooms == {file.parent.name for file in PACKAGE.glob("*/__init__.py")}


def test_nothing_is_passed_over_in_ci() -> None:
    """Where a browser or a spreadsheet program is missing, tests fail that see this."""
    assert "\nexport CI=true\n" in (CHECKOUT / ".ci" / "run").read_text(encoding="utf-8")


@cache
def _defined() -> frozenset[str]:
    """Return the names of classes, functions and constants of package, scripts and tests."""
    names: set[str] = set()
    for folder in (PACKAGE, CHECKOUT / "scripts", CHECKOUT / "tests"):
        for file in folder.rglob("*.py"):
            for node in ast.parse(file.read_text(encoding="utf-8")).body:
                if isinstance(node, ast.ClassDef | ast.FunctionDef):
                    names.add(node.name)
                targets = node.targets if isinstance(node, ast.Assign) else []
                targets = [node.target] if isinstance(node, ast.AnnAssign) else targets
                names |= {target.id for target in targets if isinstance(target, ast.Name)}
    return frozenset(names)


def test_names_that_developers_are_told_are_defined() -> None:
    names = {name for name in quoted(DEVELOPERS) if re.fullmatch(r"[A-Z]\w+", name)}
    assert len(names) > 15
    assert names - ENVIRONMENT - _defined() == set()


def test_dotted_names_that_developers_are_told_can_be_imported() -> None:
    dotted = [name for name in quoted(DEVELOPERS) if DOTTED.fullmatch(name)]
    dotted = [name for name in dotted if (PACKAGE / name.split(".")[0]).is_dir()]
    assert len(dotted) >= 4
    for name in dotted:
        module, _, what = name.rpartition(".")
        assert hasattr(import_module(f"identify.{module}"), what), name
