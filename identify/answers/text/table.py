"""Tables as plain text: columns side by side, made to fit the page."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain, zip_longest
from operator import itemgetter
from typing import Any

from identify.answers.text.page import Page

_ENDLESS = Page(width=1_000_000)


@dataclass(frozen=True)
class TextColumn:
    """A column of a table.

    Parameters
    ----------
    heading : str
        A line break divides it over two lines.
    of : callable
        From what a row is about to its cell.
    left : bool
        Whether it is set flush left, as text is; numbers are flush right.
    longest : int
        Width to which long cells are cut in any case; 0 for none.
    shortest : int
        Width down to which long cells may be cut to make room; 0 where they must stay whole.
    is_roomy : bool
        Whether columns that can be spared make room for so much even where its cells are shorter.
    wraps : bool
        Whether long cells go on in the next line, down to their longest word, rather than be cut.
    spare : int
        A page that is too narrow does without it, and without those of larger numbers first; 0
        where it must not.
    if_any : callable, optional
        The column is left out where this is true of no row.
    page_width : int
        Width of a page below which it is left out.
    """

    heading: str
    of: Callable[[Any], str]
    left: bool = False
    longest: int = 0
    shortest: int = 0
    is_roomy: bool = False
    wraps: bool = False
    spare: int = 0
    if_any: Callable[[Any], object] | None = None
    page_width: int = 0

    def filled(self, rows: Sequence[Any], page: Page) -> _FilledColumn:
        """Return the column with the cells of some rows, as a page can show them."""
        cells = [page.text(self.of(row)) for row in rows]
        if self.longest:
            cells = [page.elided(cell, self.longest) for cell in cells]
        heading = [page.text(line) for line in f"\n{self.heading}".split("\n")[-2:]]
        return _FilledColumn(self, heading, cells)


@dataclass(frozen=True)
class TextTable:
    r"""Columns, and what their rows are about.

    Parameters
    ----------
    columns : sequence of TextColumn
    rows : sequence
        What the columns take their cells from.
    is_even : bool
        Whether the widest columns give way together, so that one name is cut alike in all of them.
    is_numbered : bool
        Whether the rows are numbered, before the first column.

    Examples
    --------
    >>> table = TextTable.of(["compound", "boils\n°C"], [["ethanol", "78.4"]], left=[0])
    >>> print("|\n".join(table.lines()))
             boils|
    compound    °C|
    ethanol   78.4
    """

    columns: Sequence[TextColumn]
    rows: Sequence[Any]
    is_even: bool = False
    is_numbered: bool = False

    @classmethod
    def of(
        cls, headings: Sequence[str], rows: Sequence[Sequence[str]], left: Collection[int] = ()
    ) -> TextTable:
        """Return the table of rows of cells; ``left`` are the places of columns set flush left."""
        columns = [
            TextColumn(heading, itemgetter(place), left=place in left)
            for place, heading in enumerate(headings)
        ]
        return cls(columns, rows)

    def lines(self, page: Page = _ENDLESS, indent: str = "", emphasis: str = "") -> list[str]:
        """Return the table line by line.

        Parameters
        ----------
        page : Page
            That it must fit.
        indent : str
            Before each line.
        emphasis : str
            Of the heading, where the page has it.
        """
        return list(chain.from_iterable(self.blocks(page, indent, emphasis)))

    def blocks(self, page: Page, indent: str = "", emphasis: str = "") -> Iterator[list[str]]:
        """Yield the lines of the heading, then those of each row; see `lines`."""
        room = page.width - len(indent)
        columns = _kept(list(self._filled(page)), room)
        grids = [
            column.broken(width, page)
            for column, width in zip(columns, _widths(columns, room, self.is_even), strict=True)
        ]
        heading, *rows = zip(*grids, strict=True)
        widths = [max(map(len, chain.from_iterable(grid))) for grid in grids]
        sides = [column.column.left for column in columns]

        def line(parts: Sequence[str]) -> str:
            padded = map(_padded, parts, widths, sides)
            return indent + " ".join(padded).rstrip()

        above = [line(parts) for parts in zip(*heading, strict=True) if any(parts)]
        yield [page.emphasized(text, emphasis) for text in above] if emphasis else above
        for row in rows:
            yield [line(parts) for parts in zip_longest(*row, fillvalue="")]

    def _filled(self, page: Page) -> Iterator[_FilledColumn]:
        if self.is_numbered:
            numbers = [str(number) for number, _ in enumerate(self.rows, 1)]
            yield _FilledColumn(TextColumn("", str), ["", ""], numbers)
        for column in self.columns:
            is_needed = column.if_any is None or any(map(column.if_any, self.rows))
            if is_needed and page.width >= column.page_width:
                yield column.filled(self.rows, page)


@dataclass(frozen=True)
class _FilledColumn:
    """A column with its cells, and the two lines of its heading."""

    column: TextColumn
    heading: Sequence[str]
    cells: Sequence[str]

    @cached_property
    def width(self) -> int:
        """Of the heading and the cells."""
        return max(map(len, (*self.heading, *self.cells)))

    @cached_property
    def least(self) -> int:
        """Width below which it cannot be cut."""
        shortest = self.column.shortest
        if self.column.wraps:
            shortest = max(map(len, " ".join(self.cells).split(" ")), default=0)
        if not shortest and not self.column.wraps:
            return self.width
        narrowest = max(shortest, *map(len, self.heading))
        return narrowest if self.column.is_roomy else min(self.width, narrowest)

    def broken(self, width: int, page: Page) -> list[Sequence[str]]:
        """Return the lines of the heading and those of each cell."""
        if not self.column.wraps:
            return [self.heading, *([page.elided(cell, width)] for cell in self.cells)]
        wrapped = (textwrap.wrap(cell, width, break_on_hyphens=False) for cell in self.cells)
        return [self.heading, *(lines or [""] for lines in wrapped)]


def _padded(text: str, width: int, left: bool) -> str:
    return text.ljust(width) if left else text.rjust(width)


def _kept(columns: list[_FilledColumn], room: int) -> list[_FilledColumn]:
    """Return the columns that there is room for."""
    while _side_by_side([column.least for column in columns]) > room:
        first = max(columns, key=lambda filled: filled.column.spare)
        if not first.column.spare:
            break
        columns.remove(first)
    return columns


def _widths(columns: Sequence[_FilledColumn], room: int, is_even: bool) -> list[int]:
    """Return the widths of columns in a room: the widest gives way first."""
    widths = [column.width for column in columns]
    while _side_by_side(widths) > room:
        wide = {
            place: width
            for place, (width, column) in enumerate(zip(widths, columns, strict=True))
            if width > column.least
        }
        if not wide:
            break
        widest = [place for place, width in wide.items() if width == max(wide.values())]
        for place in widest if is_even else widest[:1]:
            widths[place] -= 1
    return widths


def _side_by_side(widths: Sequence[int]) -> int:
    return sum(widths) + len(widths) - 1
