"""The text of a run record to a document; behind a line that is not TOML it is read on."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from identify.notebook.quantity.quantities import excerpt
from identify.tables.faults import Fault, UnreadableError
from identify.tables.limits import MAX_KEYS, MAX_LINES_PUT_RIGHT, MAX_NESTING
from identify.tables.records.keys import SECTIONS, TRIAL, VAPOR, known_key, plain_key

# Stands in the document for what a line that is not TOML would have said.
UNREAD = "\0"
AGAIN = " again"  # behind the name of a section that is there twice
_MAX_LINES_OF_VALUE = 60
_MAX_TRIES = 500  # to find the end of a value; then each line stands for itself
_MAX_FAULTS = 20
_LONGEST_ADVICE = 120  # characters
_QUOTES = str.maketrans({"“": '"', "”": '"', "„": '"', "‟": '"', "«": '"', "»": '"'})
_QUOTES |= str.maketrans({"‘": "'", "’": "'", "‚": "'", "‛": "'"})
_HEADER = re.compile(r"\s*(\[\[?)\s*[\"']?([^\[\]\"']+?)[\"']?\s*\]\]?\s*(?:#.*)?")
_NAMED_LINE = re.compile(r"[\[({<\s]*([A-Za-z][A-Za-z_. -]*?)[\])}>\s]*:?\s*")
_PAIR = re.compile(r"""\s*["']?([A-Za-z%][\w .%-]*?)["']?\s*(?::=|=>|->|=|:)\s*(.*)""", re.DOTALL)
_WORDS = re.compile(r"\s*([A-Za-z_]+)\s+(.+)")
# A key of so many parts: a library that reads them takes hours over a hundred thousand.
_DEEP_KEY = re.compile(
    rf"""(?<![\w-])(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){{{MAX_NESTING}}}"""
)
_COMMENT = re.compile(r"""\s#[^"']*\Z""")


@dataclass
class TomlText:
    """A document as far as it could be read, and the faults of its lines.

    Where a line is not TOML, its key holds `UNREAD`, so that nothing is taken in its place.
    """

    document: dict[str, Any] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)


def read_toml(text: str, file: str) -> TomlText:
    r"""Read a document, with one fault for each line that is not TOML.

    Raises
    ------
    UnreadableError
        If it holds no section and no key of a run record.

    Examples
    --------
    >>> found = read_toml('label: U-7\n[conditions]\nroom = "22 C"', "U-7.toml")
    >>> print(found.faults[0])
    U-7.toml, line 1: "label: U-7" is not TOML; write label = "U-7"
    >>> found.document["conditions"]
    {'room': '22 C'}
    """
    whole, reason = _loaded(text)
    if whole is not None:
        if _count(whole) > MAX_KEYS:
            raise UnreadableError(f"has more than {MAX_KEYS:,} keys, and a run record is a page")
        return TomlText(whole)
    if text.count("\n") > MAX_LINES_PUT_RIGHT:
        raise UnreadableError(*reason)
    reading = _Lines(file)
    for number, lines in _statements(text.splitlines()):
        reading.take(number, lines)
    found = reading.document()
    if not any(known_key(key.removesuffix(AGAIN), "") for key in found.document):
        raise UnreadableError(*reason)
    if len(found.faults) > _MAX_FAULTS:
        more = len(found.faults) - _MAX_FAULTS
        found.faults[_MAX_FAULTS:] = [
            Fault(file, None, "", "", f"{more} more lines are not TOML; put these right first")
        ]
    return found


def _loaded(text: str) -> tuple[dict[str, Any] | None, tuple[str, int | None]]:
    """Return the document, or None and why not, with the line where that is known."""
    try:
        document = {} if (is_deep := bool(_DEEP_KEY.search(text))) else tomllib.loads(text)
        if not (is_deep or _is_too_deep(document)):
            return document, ("", None)
        reason = "sections within sections, too many"
    except tomllib.TOMLDecodeError as error:
        reason = str(error)
    except RecursionError:
        reason = "brackets within brackets, too many"
    except ValueError:  # a number of thousands of digits, a date that does not exist
        reason = "a number or date that cannot be"
    line = None
    if found := re.search(r" \(at line ([0-9]+), column [0-9]+\)", reason):
        line, reason = int(found[1]), reason.replace(found[0], "")
    reason = " ".join(reason.replace(" (at end of document)", " at its end").split())[:80]
    advice = f'is not TOML ({reason}); put text such as "742.0 mmHg" in quotation marks'
    return None, (advice, line)


def _is_too_deep(document: dict[str, Any]) -> bool:
    level: list[Any] = [document]
    for _ in range(MAX_NESTING):
        parts = (one.values() if isinstance(one, dict) else one for one in level)
        level = [part for some in parts for part in some if isinstance(part, dict | list)]
        if not level:
            return False
    return True


def _count(part: Any) -> int:
    """Return how many keys there are, on all levels."""
    within = part.values() if isinstance(part, dict) else part if isinstance(part, list) else ()
    return (len(part) if isinstance(part, dict) else 0) + sum(map(_count, within))


def _is_toml(text: str) -> bool:
    return _loaded(text)[0] is not None


def _can_be_told(line: str) -> bool:
    """Say whether a line is TOML that a message can show."""
    return len(line) <= _LONGEST_ADVICE and line.isprintable() and _is_toml(line)


def _statements(lines: Sequence[str]) -> Iterator[tuple[int, Sequence[str]]]:
    """Yield the number of each line and the line, with those that its value goes on in."""
    place, tries = 0, 0
    while place < len(lines):
        taken = 1
        opens = re.search(r"=\s*(?:\[|\{|\"\"\"|''')", lines[place])
        if opens and tries < _MAX_TRIES and not _is_toml(lines[place]):
            for more in range(2, min(_MAX_LINES_OF_VALUE, len(lines) - place) + 1):
                tries += 1
                if _is_toml("\n".join(lines[place : place + more])):
                    taken = more
                    break
        yield place + 1, lines[place : place + taken]
        place += taken


class _Lines:
    """The lines of a document that is not TOML, one statement after the other."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.kept: list[str] = []
        self.numbers: list[int] = []  # of each kept line in the file
        self.faults: list[Fault] = []
        self.sections: Counter[str] = Counter()  # how often each stands in single brackets
        self.lists: set[str] = set()  # those that stand in double ones
        self.places: dict[str, int] = {}  # of the keys of this section among the kept lines

    def take(self, number: int, lines: Sequence[str]) -> None:
        """Keep a statement, or report it and keep what stands for it."""
        line = "\n".join(lines)
        is_refused = not _is_toml(line)
        if is_refused:
            right = next((one for one in _repaired(line) if _can_be_told(one)), "")
            like = right or 'it like room = "22.5 C"'
            self._refuse(number, line, f"is not TOML; write {like}")
            line = right
            if right and not _HEADER.fullmatch(right):
                line = f'{right.partition("=")[0].strip()} = "\\u0000"'
        if header := _HEADER.fullmatch(line):
            line = self._header(number, line, header[1], header[2].strip())
        elif keys := _loaded(line)[0]:
            line = self._pair(number, line, next(iter(keys)), is_refused)
        self.kept += line.split("\n")
        self.numbers += [number] * len(line.split("\n"))

    def _header(self, number: int, line: str, brackets: str, name: str) -> str:
        self.places = {}
        again = f"{name}{AGAIN * self.sections[name]}"
        if brackets == "[[" and again == name:
            self.lists.add(name)
            return line
        if name in self.lists and brackets == "[":
            again += AGAIN
        self.sections[name] += brackets == "["
        if again == name:
            return line
        is_list = brackets == "[[" or name in (TRIAL, VAPOR)
        right = f"[[{name}]] for each" if is_list else f"its keys under the first [{name}]"
        self._refuse(number, line, f"is there twice; write {right}")
        return f'["{again}"]' if brackets == "[" else f'[["{again}"]]'

    def _pair(self, number: int, line: str, key: str, is_refused: bool) -> str:
        if "." in line.partition("=")[0]:
            return line
        if key not in self.places:
            self.places[key] = len(self.kept)
            return line
        if not is_refused:
            self._refuse(number, line, "is there twice in its section; keep the one that is right")
        # Which of the two is right cannot be told.
        self.kept[self.places[key]] = f'{line.partition("=")[0].strip()} = "\\u0000"'
        return ""

    def _refuse(self, number: int, line: str, advice: str) -> None:
        shown = excerpt(_COMMENT.sub("", line.strip()))
        self.faults.append(Fault(self.file, number, "", shown, advice))

    def document(self) -> TomlText:
        """Return all that is TOML of the kept lines."""
        lines = [*self.kept]
        for _ in lines[:_MAX_FAULTS]:
            document, (reason, line) = _loaded("\n".join(lines))
            if document is not None:
                return TomlText(document, self.faults)
            if line is None or not lines[line - 1].strip():
                break
            self._refuse(self.numbers[line - 1], lines[line - 1], reason)
            lines[line - 1] = ""
        return TomlText({}, self.faults)


def _repaired(line: str) -> Iterator[str]:
    """Yield what a line that is not TOML may have been meant to be, the likeliest first."""
    plain = line.translate(_QUOTES).strip().rstrip(",;")
    yield plain
    bare = _COMMENT.sub("", plain)
    if (named := _NAMED_LINE.fullmatch(bare)) and plain_key(named[1]) in SECTIONS:
        name = plain_key(named[1])
        yield f"[[{name}]]" if name == TRIAL else f"[{name}]"
    pair = _PAIR.fullmatch(bare)
    words = _WORDS.fullmatch(bare)
    if pair is None and words and known_key(words[1], ""):
        pair = words
    if pair:
        key, value = pair[1].strip(), pair[2].strip().rstrip(",;").strip()
        key = key if re.fullmatch(r"[\w.-]+", key) else plain_key(key)
        yield f"{key} = {value}"
        if value.startswith("{"):
            yield f"{key} = " + re.sub(r"([A-Za-z]+)\s*:\s*", r"\1 = ", value)
        yield f"{key} = {_quoted(value)}"


def _quoted(value: str) -> str:
    """Put a value in quotation marks."""
    if re.fullmatch(r"[0-9., ]+\"", value):  # inches
        return f"'{value}'"
    bare = value.strip("{}\"' ").replace('"', "")
    return f"'{bare}'" if "\\" in bare else f'"{bare}"'
