"""What goes wrong with a valid input: a number, a unit, a word, a line, a cell, a byte."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from hypothesis import strategies as st

from identify.notebook.quantity.units import UNITS

NUMBERS = (
    *(
        "0",
        "-0",
        "-1",
        "1",
        "7",
        "0.001",
        "12345.678",
        "1e5",
        "1E-300",
        "1e400",
        "-1e400",
        "9" * 400,
    ),
    *(
        "nan",
        "NaN",
        "inf",
        "-Infinity",
        "∞",
        "1,5",
        "1.234,5",
        "1,234.5",
        "1 013",
        "1.2.3",
        "1,2,3",
    ),
    *(
        "--5",
        "+5",
        "5e",
        "e5",
        "0x10",
        "1_000",
        "½",
        "٣٫٥",
        "１２",
        "12(5)",
        "12(",
        "12 ± 3",
        "12 ± -3",
    ),
    *(
        "12 ± nan",
        "1/0",
        "98 + 0.6",
        "3-",
        "77-79",
        "79-77",
        "about 78",
        "~",
        ">100",
        "<1",
        "-273.15",
    ),
    *("-300", "1e308", "5e-324", "100", "1000", "true", "None", "#N/A", "#DIV/0!", "2026-12-01"),
)
WORDS = (
    *(
        "",
        " ",
        "\t",
        "\n",
        "\r\n",
        "\x00",
        "\x1b[31mred\x1b[0m",
        "\x9b2J",
        "\x7f",
        "\u2028",
        "\ufeff",
    ),
    *(
        "\u202eabc",
        "\u2066x\u2069",
        "a\u0301" * 5,
        "\N{ZERO WIDTH JOINER}",
        "\U0001f9ea",
        "Zoë",
        "水",
    ),
    *(
        "=1+1",
        "@SUM(A1)",
        "+cmd|' /C calc'!A0",
        "-x",
        "<script>alert(1)</script>",
        "&amp;",
        "</td>",
    ),
    *(
        '"',
        "'",
        '""',
        "'''",
        "\\",
        "%s",
        "{0}",
        "{label}",
        "$HOME",
        "../up",
        "/",
        ".",
        "..",
        "-",
        "--",
    ),
    *(
        "ethanol",
        "64-17-5",
        "64-17-6",
        "CCO",
        "C2H6O",
        "C",
        "Xx",
        "label",
        "student",
        "none",
        "n/a",
    ),
    *("x" * 300, "x" * 9_000, "9" * 9_000, "(" * 900, "C" * 900, "a b " * 500, "é" * 400),
)
OTHER_UNITS = (
    *UNITS,
    "furlong",
    "mL/g",
    "°",
    "º C",
    "deg C",
    "Celsius",
    "m m Hg",
    "kg m",
    "1/K",
    "%",
)
LETTERS = (
    *"=[]{}\"',;:.#\\\t\n\r -+±()/%°",
    "\x00",
    "\x1b",
    "\x85",
    "\u202e",
    "é",
    "\u00a0",
    "0",
    "C",
)

_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_UNIT = re.compile(r"(?<=[\d\s_])(?:mmHg|hPa|kPa|mL|mg|g/mol|g|C|K|F|atm|%)(?![\w/])")
_WORD = re.compile(r"[^\W\d_]{2,}")

Draw = st.DrawFn
Spoil = Callable[[Draw, str], str]


def _replaced(pattern: re.Pattern[str], others: Sequence[str]) -> Spoil:
    """Return what puts something else in one of the places that look like this."""

    def spoil(draw: Draw, text: str) -> str:
        places = [match.span() for match in pattern.finditer(text)]
        if not places:
            return text
        begin, end = draw(st.sampled_from(places))
        return text[:begin] + draw(st.sampled_from(others)) + text[end:]

    return spoil


def _digits(draw: Draw, text: str) -> str:
    """Leave a digit out, double it, or exchange it with the next."""
    places = [match.start() for match in re.finditer(r"\d", text)]
    if not places:
        return text
    at = draw(st.sampled_from(places))
    pair = text[at : at + 2]
    return text[:at] + draw(st.sampled_from(["", pair[0] * 2, pair[::-1]])) + text[at + len(pair) :]


def _lines(draw: Draw, text: str) -> str:
    """Leave a line out, double it, move it, join it to the next, or write it many times."""
    lines = text.split("\n")
    at = draw(st.integers(0, len(lines) - 1))
    one = lines.pop(at)
    way = draw(st.sampled_from(["out", "double", "move", "join", "many", "word"]))
    if way == "double":
        lines[at:at] = [one, one]
    elif way == "move":
        lines.insert(draw(st.integers(0, len(lines))), one)
    elif way == "join" and lines:
        lines[min(at, len(lines) - 1)] += one
    elif way == "many":
        lines[at:at] = [one] * 60
    elif way == "word":
        lines[at:at] = [one, draw(st.sampled_from(WORDS))]
    return "\n".join(lines)


def _letter(draw: Draw, text: str) -> str:
    """Put a letter in the place of some, or none."""
    at = draw(st.integers(0, len(text)))
    to = at + draw(st.sampled_from([0, 1, 1, 2, 7]))
    return text[:at] + draw(st.sampled_from(["", *LETTERS])) + text[to:]


def _cut(draw: Draw, text: str) -> str:
    return text[: draw(st.integers(0, len(text)))]


SPOILS: tuple[Spoil, ...] = (
    _replaced(_NUMBER, NUMBERS),
    _replaced(_NUMBER, NUMBERS),
    _replaced(_UNIT, OTHER_UNITS),
    _replaced(_UNIT, OTHER_UNITS),
    _replaced(_WORD, WORDS),
    _digits,
    _lines,
    _lines,
    _letter,
    _letter,
    _cut,
)


@st.composite
def spoiled(draw: Draw, valid: st.SearchStrategy[str], most: int = 3) -> str:
    """Draw a text that was valid, with at most so many things wrong."""
    text = draw(valid)
    for _ in range(draw(st.sampled_from([0, 0, 1, 1, 1, most]))):
        text = draw(st.sampled_from(SPOILS))(draw, text)
    return text


@st.composite
def encoded(draw: Draw, text: st.SearchStrategy[str]) -> bytes:
    """Draw the bytes of a text, mostly as UTF-8, and sometimes with some of them changed."""
    encoding = draw(
        st.sampled_from(["utf-8"] * 12 + ["utf-8-sig", "cp1252", "utf-16", "utf-32-be"])
    )
    data = draw(text).encode(encoding, "replace")
    if draw(st.sampled_from([False] * 9 + [True])):
        data = damaged(draw, data)
    return data


def damaged(draw: Draw, data: bytes) -> bytes:
    """Change, leave out, double or cut off some bytes."""
    # A share of the length: that of a workbook changes with the time at which it is made.
    at = len(data) * draw(st.integers(0, 10_000)) // 10_000
    to = min(len(data), at + draw(st.sampled_from([1, 1, 2, 4, 50, 2_000])))
    way = draw(st.sampled_from(["change", "change", "out", "double", "cut", "blank"]))
    if way == "cut":
        return data[:at]
    middle = {
        "change": draw(st.binary(min_size=1, max_size=4)),
        "out": b"",
        "double": data[at:to] * 2,
        "blank": bytes(to - at),
    }[way]
    return data[:at] + middle + data[to:]


Cells = list[list[object]]


@st.composite
def spoiled_cells(
    draw: Draw, valid: st.SearchStrategy[Cells], headings: Sequence[str], odd: Sequence[object] = ()
) -> Cells:
    """Draw a table that was valid, header first, with up to four things wrong.

    Parameters
    ----------
    valid : strategy
    headings : sequence of str
        Further ones that may stand over a column.
    odd : sequence
        What a cell may hold beside text.
    """
    rows = [list(row) for row in draw(valid)]
    for _ in range(draw(st.sampled_from([0, 0, 1, 1, 1, 4]))):
        if not rows or not rows[0]:
            break
        _spoil_table(draw, rows, headings, odd)
    return rows


def _spoil_table(draw: Draw, rows: Cells, headings: Sequence[str], odd: Sequence[object]) -> None:
    row = draw(st.integers(0, len(rows) - 1))
    width = len(rows[0])
    column = draw(st.integers(0, width - 1))
    way = draw(
        st.sampled_from(["cell"] * 5 + ["heading", "heading", "row", "column", "short", "long"])
    )
    if way == "cell":
        _spoil_cell(draw, rows[max(row, min(1, len(rows) - 1))], column, odd)
    elif way == "heading":
        rows[0][column] = draw(st.sampled_from([*headings, *WORDS]))
    elif way == "row":
        one = rows.pop(row)
        again = draw(st.sampled_from([0, 2, 30]))
        rows[row:row] = [list(one) for _ in range(again)]
        rows.insert(draw(st.integers(0, len(rows))), draw(st.sampled_from([one, [], [""] * width])))
    elif way == "column":
        other = draw(st.integers(0, width - 1))
        for one in rows:
            if max(column, other) < len(one):
                one.insert(column, one[other])
    elif way == "short":
        del rows[row][column:]
    else:
        rows[row] += [draw(st.sampled_from(NUMBERS))] * draw(st.sampled_from([1, 3, 1_200]))


def _spoil_cell(draw: Draw, row: list[object], column: int, odd: Sequence[object]) -> None:
    if column >= len(row):
        return
    cell = row[column]
    ways: list[object] = [*NUMBERS, *WORDS, *odd, *odd]
    if isinstance(cell, str) and draw(st.booleans()):
        row[column] = draw(spoiled(st.just(cell), 1))
    else:
        row[column] = draw(st.sampled_from(ways))
