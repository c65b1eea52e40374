"""What could not be read, and what could."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import overload

from identify.notebook.measurement import Measurement
from identify.notebook.quantities import excerpt


@dataclass(frozen=True)
class Fault:
    """One thing in a file that cannot be used.

    Parameters
    ----------
    file : str
        As the user named it.
    row : int or None
        Row of the table (its header is row 1), or line of a run record.
    column : str
        Column of the table, or key of the run record.
    read : str
        What stands there, cut to about 40 characters.
    advice : str
        Why it cannot be used, and what to do.
    label : str
        Of the unknown that it is about, empty where none can be told.
    student : str
        Likewise.

    Examples
    --------
    >>> print(Fault("section.csv", 14, "bath_C", "-5000", "is not above absolute zero"))
    section.csv, row 14, bath_C: "-5000" is not above absolute zero
    """

    file: str
    row: int | None
    column: str
    read: str
    advice: str
    label: str = ""
    student: str = ""

    @property
    def reason(self) -> str:
        """What `str` gives, without file and row."""
        return self._after([excerpt(self.column)])

    def __str__(self) -> str:
        count = "line" if self.file.lower().endswith(".toml") else "row"
        row = "" if self.row is None else f"{count} {self.row}"
        file = "".join(letter if letter.isprintable() else "?" for letter in self.file)
        return self._after([file, row, excerpt(self.column)])

    def _after(self, places: Iterable[str]) -> str:
        place = ", ".join(part for part in places if part)
        read = f'"{excerpt(self.read)}" ' if self.read else ""
        return f"{place}: {read}{self.advice}" if place else f"{read}{self.advice}"


class Runs(Sequence[Measurement]):
    """The measurements of one file, and its faults.

    Parameters
    ----------
    measurements : iterable of Measurement
    faults : iterable of Fault
    path : Path, optional
        None for what came from no file.
    rows : iterable of int
        Every row of a table, below its column names, that holds anything. Each of them either went
        into one of the measurements or is set aside. Empty for a run record.
    rows_of : iterable of sequence of int
        For each measurement the rows that went into it: its trials, and what its card was read
        from. A trial that lacks a reading is among them only where the card needs its row.
    """

    def __init__(
        self,
        measurements: Iterable[Measurement],
        faults: Iterable[Fault] = (),
        path: Path | None = None,
        rows: Iterable[int] = (),
        rows_of: Iterable[Sequence[int]] = (),
    ) -> None:
        self.measurements = tuple(measurements)
        self.faults = tuple(faults)
        self.path = path
        self.rows = tuple(rows)
        # Measurements that came from no table have no rows.
        self.rows_of = tuple(map(tuple, rows_of)) or ((),) * len(self.measurements)

    @cached_property
    def set_aside(self) -> tuple[tuple[int, str], ...]:
        """The rows that went into no measurement, each with all that is wrong with it.

        Examples
        --------
        >>> fault = Fault("section.csv", 3, "bath_C", "hot", "does not start with a number")
        >>> Runs([], [fault], rows=[3]).set_aside
        ((3, 'bath_C: "hot" does not start with a number'),)
        """
        used = {row for rows in self.rows_of for row in rows}
        reasons: dict[int | None, list[str]] = {}
        for fault in self.faults:
            reasons.setdefault(fault.row, []).append(fault.reason)
        return tuple((row, "; ".join(reasons[row])) for row in self.rows if row not in used)

    @overload
    def __getitem__(self, index: int) -> Measurement: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[Measurement, ...]: ...
    def __getitem__(self, index: int | slice) -> Measurement | tuple[Measurement, ...]:
        return self.measurements[index]

    def __len__(self) -> int:
        return len(self.measurements)

    def __iter__(self) -> Iterator[Measurement]:
        return iter(self.measurements)

    def __repr__(self) -> str:
        source = f" of {self.path}" if self.path else ""
        return f"<{len(self)} measurements{source}, {len(self.faults)} faults>"


class UnreadableError(Exception):
    """A whole file that cannot be used: why and what to do, and the row or line where known."""

    def __init__(self, advice: str, row: int | None = None) -> None:
        super().__init__(advice)
        self.advice = advice
        self.row = row

    def fault(self, file: str) -> Fault:
        """Return it as a fault of a file."""
        return Fault(file, self.row, "", "", self.advice)


class TableError(ValueError):
    """A candidate table that cannot be used; each of its arguments says why, in one line."""

    def __str__(self) -> str:
        more = f" (and {len(self.args) - 1} more)" if len(self.args) > 1 else ""
        return f"{self.args[0]}{more}" if self.args else ""
