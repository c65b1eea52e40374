"""Tables as plain text: what gives way where a page is narrow, and what stays whole."""

from __future__ import annotations

import pytest

from identify.answers.text.page import Page
from identify.answers.text.table import TextColumn, TextTable

LIQUIDS = [("A", "trans-2-hexene", "67.9"), ("B", "hexane", "68.7")]


def lines(width: int, *columns: TextColumn, is_even: bool = False) -> list[str]:
    return TextTable(columns, LIQUIDS, is_even=is_even).lines(Page(width=width, unicode=True))


def column(heading: str, place: int, **how: object) -> TextColumn:
    return TextColumn(heading, lambda row: row[place], **how)  # type: ignore[arg-type]


BOTTLE, BOILS = column("bottle", 0), column("boils\n°C", 2)
NAME = column("compound", 1, left=True, shortest=6)


@pytest.mark.parametrize(
    ("columns", "width", "expected"),
    [
        (
            (BOTTLE, NAME, BOILS),
            40,
            [
                "                      boils",
                "bottle compound          °C",
                "     A trans-2-hexene  67.9",
                "     B hexane          68.7",
            ],
        ),
        (  # a name is cut, a number is not; the heading is not, either
            (BOTTLE, NAME, BOILS),
            23,
            [
                "                  boils",
                "bottle compound      °C",
                "     A trans…xene  67.9",
                "     B hexane      68.7",
            ],
        ),
        (  # what can be spared goes, what must not stays and is too wide
            (column("bottle", 0, spare=1), NAME, BOILS),
            18,
            [
                "             boils",
                "compound        °C",
                "trans-…exene  67.9",
                "hexane        68.7",
            ],
        ),
        (
            (column("bottle", 0, page_width=41), column("compound", 1, left=True, longest=9)),
            40,
            ["compound", "tran…xene", "hexane"],
        ),
        (
            (column("bottle", 0, if_any=lambda row: row[0] == "C"), BOILS),
            40,
            ["boils", "   °C", " 67.9", " 68.7"],
        ),
    ],
)
def test_what_gives_way(columns: tuple[TextColumn, ...], width: int, expected: list[str]) -> None:
    assert lines(width, *columns) == expected


def test_a_long_cell_goes_on_between_words() -> None:
    """A code keeps its hyphens: mass-missing is one word."""
    codes = TextColumn("findings", str, left=True, wraps=True)
    table = TextTable([TextColumn("no.", lambda _: "1"), codes], ["mass-missing, file-fault", ""])
    assert table.lines(Page(width=40)) == ["no. findings", "  1 mass-missing, file-fault", "  1"]
    narrow = ["no. findings", "  1 mass-missing,", "    file-fault", "  1"]
    assert table.lines(Page(width=24)) == narrow  # though "file-" would have room
    assert table.lines(Page(width=5)) == narrow


@pytest.mark.parametrize(("is_even", "expected"), [(False, (9, 10)), (True, (9, 9))])
def test_names_are_cut_alike_where_they_give_way_together(
    is_even: bool, expected: tuple[int, int]
) -> None:
    names = (column("a", 1, left=True, shortest=3), column("b", 1, left=True, shortest=3))
    first = lines(20, *names, is_even=is_even)[1]
    assert tuple(map(len, first.split(" "))) == expected
