"""README and guide: what they show is true, what they name is there, what they print runs."""

from __future__ import annotations

import ast
import csv
import gzip
import io
import json
import os
import re
import shlex
import shutil
import sys
from collections.abc import Iterator
from contextlib import chdir, redirect_stdout
from functools import cache
from pathlib import Path
from typing import NamedTuple

import page_output
import pytest

from identify.answers.text.page import Page
from identify.cli.app import main
from identify.guide import NAMES, pages, topic
from identify.matching.advise.tube_tests import TUBE_TESTS
from tests.command import Run

CHECKOUT = Path(__file__).parents[1]
PAGES = page_output.PAGES
README = PAGES[0]
FENCED = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"\[[^]\n]+\]\(([^)\s]+)\)")

# ------------------------------------------------------------------------------- codes

# Those that are called with a code, as their first argument or as ``code=``.
RAISE = {"Finding", "_finding", "Problem", "Slip", "Hypothesis", "Rewritten", "Slipped"}
RAISE |= {"offset", "Kind", "_broad_part"}
HYPHENATED = re.compile(r"[a-z]+(-[a-z0-9]+)+")
# What else is written like a code where codes are raised, by reason.
NO_CODES = {"molar-mass"}  # a kind of reading, before -implausible
WHERE_CODES_ARE = ("calculations", "checks", "match", "planning", "section", "stock")


class _Source(NamedTuple):
    """A file's room, calls by name, and strings."""

    room: str
    calls: list[tuple[str, ast.Call]]
    strings: list[ast.Constant]


@cache
def _sources() -> list[_Source]:
    found = []
    for file in sorted((CHECKOUT / "identify").rglob("*.py")):
        nodes = list(ast.walk(ast.parse(file.read_text(encoding="utf-8"))))
        calls = [(_name(node), node) for node in nodes if isinstance(node, ast.Call)]
        strings = [node for node in nodes if _text(node)]
        room = file.relative_to(CHECKOUT / "identify").parts[0]
        found.append(_Source(room, calls, strings))
    return found


def _name(call: ast.Call) -> str:
    return str(getattr(call.func, "id", getattr(call.func, "attr", "")))


def _text(node: ast.AST | None) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def _code(call: ast.Call) -> ast.expr | None:
    named = [keyword.value for keyword in call.keywords if keyword.arg == "code"]
    return next(iter([*named, *call.args[:1]]), None)


def _of_units() -> Iterator[str]:
    """Yield the codes of readings that no bench shows: pressure-unit, pressure-implausible."""
    for source in _sources():
        for name, call in source.calls:
            if name == "Plausible":
                kind, units = _text(call.args[1]), call.args[5]
                yield f"{kind}-implausible"
                if not (isinstance(units, ast.Tuple) and len(units.elts) == 1):
                    yield f"{kind}-unit"


def composed(pattern: str) -> set[str]:
    """Return the codes that one put together from parts can be."""
    if pattern == "{plausible.kind}-{kind}":
        return set(_of_units())
    if pattern.endswith("-wrong"):
        return {"formula-wrong", "molar-mass-wrong"}
    if pattern.endswith("-of-another"):
        return {"boiling-point-of-another", "composition-of-another"}
    raise AssertionError(f"say here what {pattern} can be")


def further_measurements() -> set[str]:
    """Return the codes of what can be measured next: a match that leaves a doubt lists them all."""
    answer = page_output.command_output(
        "identify-unknown match data/demo/C-31.toml --prior commerce --format json"
    )
    return {one["code"] for one in json.loads(answer)[0]["next"]}


def raised() -> set[str]:
    """Return every code that the package can raise, from its sources."""
    codes: set[str] = set()
    for source in _sources():
        for code in (_code(call) for name, call in source.calls if name in RAISE):
            if isinstance(code, ast.JoinedStr):
                codes |= composed(ast.unparse(code).strip("f'\""))
            elif text := _text(code):
                codes.add(text)
        # Those that stand in tables, or go through a variable.
        if source.room.startswith(WHERE_CODES_ARE):
            codes |= {node.value for node in source.strings if HYPHENATED.fullmatch(node.value)}
    return {code for code in codes - NO_CODES - further_measurements() if code[:4] != "utf-"}


def explained() -> dict[str, str]:
    return {code: text for page in pages() for code, text in page.codes.items()}


def test_every_code_has_a_paragraph_and_every_paragraph_a_code() -> None:
    codes, guide = raised(), explained()
    assert len(codes) > 120
    assert codes - guide.keys() == set()
    assert guide.keys() - codes == set()


def test_every_paragraph_says_what_kind_it_is_and_what_to_do() -> None:
    for code, text in explained().items():
        assert re.match(r"\*\*(Error|Warning|Note|Slip)[^*]*\.\*\* \S", text), code
        assert "\n\n" not in text, code
        assert text.count(".") >= 3, code


def test_no_code_is_explained_twice() -> None:
    names = [code for page in pages() for code in page.codes]
    headings = re.findall(r"^### ([a-z0-9-]+)$", "\n".join(page.text for page in pages()), re.M)
    assert sorted(names) == sorted(set(headings))
    assert len(headings) == len(set(headings))


def test_measurements_to_do_next_are_listed() -> None:
    listed = topic("answers").text.partition("can be measured next")[2].partition("\n#")[0]
    rows = dict(re.findall(r"^\| `([a-z-]+)` \| (.*) \|$", listed, re.MULTILINE))
    assert rows.keys() == further_measurements()
    for test in TUBE_TESTS:  # called there as in an answer
        told = rows[test.code].lower()
        words = set(re.findall(r"\w{3,}", test.what.lower()))
        further = words - set(re.findall(r"\w+", told))
        assert further <= {"the", "test", "with", "for", "color"}
        assert test.outcomes[0] in told


# ------------------------------------------------------------------------------- pages


def test_pages_are_those_of_the_folder() -> None:
    assert {f"{name}.md" for name in NAMES} == {page.name for page in PAGES[1:]}
    for page in pages():
        assert page.text.startswith("# ")
        assert len(page.about) <= 62, page.name  # one line of the list


def test_readme_is_short_and_begins_with_the_job_and_two_commands() -> None:
    text = README.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 200
    block = FENCED.findall(text.partition("## Two commands")[2])[0][1]
    commands = [line.split()[0] for line in block.splitlines()]
    assert commands == ["scripts/demo", "scripts/test"]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_code_fits_into_eighty_columns(page: Path) -> None:
    for language, block in FENCED.findall(page.read_text(encoding="utf-8")):
        # Code is printed two columns in; what a command printed in 80 columns is not.
        widest = 80 if language == "text" else 78
        assert not [line for line in block.splitlines() if len(line) > widest], language


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in LINK.findall(FENCED.sub("", page.read_text(encoding="utf-8"))):
        if target.startswith("https://"):
            continue
        name, _, heading = target.partition("#")
        file = page.parent / name if name else page
        assert file.is_file(), target
        if heading:
            headings = re.findall(r"^#+ (.+)$", file.read_text(encoding="utf-8"), re.MULTILINE)
            assert heading in {text.casefold().replace(" ", "-") for text in headings}, target


def test_readme_leads_to_every_page() -> None:
    targets = LINK.findall(README.read_text(encoding="utf-8"))
    assert {f"identify/guide/{name}.md" for name in NAMES} <= set(targets)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_page_shows_what_the_commands_print(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert page_output.filled(text) == text


def test_some_blocks_are_filled() -> None:
    blocks = [page_output.BLOCK.findall(page.read_text(encoding="utf-8")) for page in PAGES]
    assert sum(map(len, blocks)) >= 10


# ------------------------------------------------------------------------- what they print runs


@pytest.fixture
def workplace(tmp_path: Path) -> Iterator[Path]:
    """A folder with the demo records, and with the files that the pages' examples name."""
    shutil.copytree(CHECKOUT / "data" / "demo", tmp_path / "data" / "demo")
    with chdir(tmp_path):
        yield tmp_path


@pytest.fixture
def structures(workplace: Path) -> None:
    from rdkit import Chem

    named = {"CCO": "ethanol", "CC(C)=O": "acetone", "C1CCCCC1": "cyclohexane", "CO": "methanol"}
    with Chem.SDWriter(str(workplace / "stockroom.sdf")) as writer:
        for smiles in named:
            writer.write(Chem.MolFromSmiles(smiles))
    rows = [f"{smiles},{name},{64 + place}" for place, (smiles, name) in enumerate(named.items())]
    (workplace / "course.csv").write_text("smiles,name,bp_C\n" + "\n".join(rows) + "\n")
    lines = "".join(f"{smiles} {name}\n" for smiles, name in named.items())
    (workplace / "big.smi.gz").write_bytes(gzip.compress(lines.encode()))


def _shell_lines(text: str) -> Iterator[list[str]]:
    for language, block in FENCED.findall(text):
        if language == "sh":
            for line in block.replace("\\\n", "").splitlines():
                yield shlex.split(line, comments=True)


@pytest.mark.usefixtures("structures")
def test_shell_blocks_run() -> None:
    seen = []
    for page in PAGES:
        for program, *arguments in filter(None, _shell_lines(page.read_text(encoding="utf-8"))):
            if program.startswith("scripts/"):  # scripts/test runs this
                assert os.access(CHECKOUT / program, os.X_OK)
                continue
            assert program == "identify-unknown"
            if arguments not in seen:
                seen.append(arguments)
                _runs(arguments)
    assert len(seen) >= 25


def _runs(arguments: list[str]) -> None:
    words, redirected = " ".join(arguments), ">" in arguments
    printed = io.StringIO()
    with redirect_stdout(printed):
        status = main(arguments[:-2] if redirected else arguments)
    # What the demo tables hold wrong on purpose: 1 a fault, 2 a row that cannot be used.
    assert status in (0, 1, 2), words
    assert printed.getvalue() or status == 0, words
    if redirected:
        assert printed.getvalue(), words
    for name in ("--fix", "--pdf", "--key", "--html", "--out", "--report", "--plot"):
        if name in arguments:
            assert Path(arguments[arguments.index(name) + 1]).exists(), words


@pytest.mark.usefixtures("workplace")
@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_python_blocks_run(page: Path) -> None:
    for language, block in FENCED.findall(page.read_text(encoding="utf-8")):
        if language == "python":
            exec(compile(block, page.name, "exec"), {})


# ------------------------------------------------------------------------------- the command


def test_guide_lists_its_pages(invoke: Run) -> None:
    done = invoke("guide")
    assert done.status == 0
    for name in NAMES:
        assert (
            len([line for line in done.output.splitlines() if line.startswith(f"  {name} ")]) == 1
        )
    assert max(map(len, done.output.splitlines())) <= 80


def test_guide_prints_pages_and_codes_as_markdown(invoke: Run) -> None:
    assert invoke("guide", "accuracy").output.startswith("# How far to trust it\n")
    assert invoke("guide", "volume-nominal").output.startswith("### volume-nominal\n\n**Warning")
    assert invoke("guide", "[VOLUME_NOMINAL]") == invoke("guide", "volume-nominal")
    assert "<!--" not in invoke("guide", "student").output


def test_guide_as_data(invoke: Run) -> None:
    listed = invoke("guide", "--format", "json").data
    assert [row["topic"] for row in listed] == list(NAMES)
    (found,) = invoke("guide", "volume-nominal", "--format", "json").data
    assert (found["topic"], found["page"]) == ("volume-nominal", "answers")
    (row,) = csv.DictReader(io.StringIO(invoke("guide", "python", "--format", "csv").output))
    assert row["text"].startswith("# In Python")


@pytest.mark.parametrize(
    ("asked", "near"),
    [("volum-nominal", "volume-nominal"), ("acuracy", "accuracy"), ("", ""), ("\n\x1b[31m", "")],
)
def test_unknown_topic_is_one_line_with_the_nearest(invoke: Run, asked: str, near: str) -> None:
    done = invoke("guide", asked)
    assert (done.status, done.output) == (2, "")
    assert len(done.said) == 1
    assert done.said[0].endswith("?" if not near else f"did you mean {near}?")


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("name", [*NAMES, "volume-nominal"])
def test_markdown_is_laid_out_for_a_terminal(
    capsys: pytest.CaptureFixture[str], name: str, width: int
) -> None:
    from identify.cli.terminal.markdown import print_markdown

    print_markdown(topic(name).text, Page(width))
    shown = capsys.readouterr().out
    prose = [line for line in shown.splitlines() if not line.startswith("  ")]
    assert max(map(len, shown.splitlines())) <= width
    assert not [
        line for line in prose if "**" in line or line.startswith(("## ", "### ", "```", "|"))
    ]
    assert "\x1b" not in shown
    words = set(re.findall(r"[a-z]{5,}", FENCED.sub("", topic(name).text)))
    gone = words - set(re.findall(r"[a-z]+", shown))
    assert len(gone) < 0.05 * len(words), gone  # targets of links, words broken over lines


def test_terminal_gets_it_laid_out(monkeypatch: pytest.MonkeyPatch, invoke: Run) -> None:
    monkeypatch.setattr(type(sys.stdout), "isatty", lambda stream: True, raising=False)
    monkeypatch.setenv("NO_COLOR", "1")
    assert invoke("guide", "volume-nominal").output.startswith("volume-nominal\n\nWarning")


def test_terminal_without_unicode_gets_only_ascii(capsys: pytest.CaptureFixture[str]) -> None:
    from identify.cli.terminal.markdown import print_markdown

    page = Page(80, unicode=False)
    print_markdown("\n".join(map(page.text, topic("student").text.splitlines())), page)
    assert capsys.readouterr().out.isascii()
