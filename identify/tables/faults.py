"""What could not be read, and what could."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import overload

from identify.notebook.errors import RunFault, UnusableInput
from identify.notebook.measurement import Measurement
from identify.notebook.printable import on_one_line
from identify.notebook.quantity.quantities import excerpt
from identify.notebook.serializing import OMITTED, Serializable

_MAX_HEADINGS_NAMED = 40  # a person heads no table with more


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
    each : tuple of Fault
        Of each row, where it is about a whole column.

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
    each: tuple[Fault, ...] = ()

    @property
    def reason(self) -> str:
        """What `str` gives, without file and row."""
        return self._after([excerpt(self.column)])

    def __str__(self) -> str:
        count = "line" if self.file.lower().endswith(".toml") else "row"
        row = "" if self.row is None else f"{count} {self.row}"
        file = on_one_line(self.file, "?")
        return self._after([file, row, excerpt(self.column)])

    def _after(self, places: Iterable[str]) -> str:
        place = ", ".join(part for part in places if part)
        read = f'"{excerpt(self.read)}" ' if self.read else ""
        return f"{place}: {read}{self.advice}" if place else f"{read}{self.advice}"


@dataclass(frozen=True)
class HeadingRead(Serializable):
    """A heading as it stands in the file, and the column that it was read as."""

    heading: str
    column: str


@dataclass(frozen=True)
class HeadingsRead(Serializable):
    """What the headings of a table were taken for.

    Parameters
    ----------
    read : tuple of HeadingRead
        Every heading that is not worded as the guide words it.
    not_read : tuple of str
        Every heading whose column is not read; those that are a fault are among them.
    unsaid : tuple of str
        Those that are not a fault: nothing else says that they are not read.
    hidden : tuple of str
        Hidden sheets of the workbook that stand before the one that is read.

    Examples
    --------
    >>> print(HeadingsRead((HeadingRead("B.P. (°C)", "boiling_point_C"),), ("price",), ("price",)))
    read: "B.P. (°C)" as boiling_point_C; not read: "price"
    """

    read: tuple[HeadingRead, ...] = ()
    not_read: tuple[str, ...] = ()
    unsaid: tuple[str, ...] = field(default=(), metadata=OMITTED)
    hidden: tuple[str, ...] = field(default=(), metadata=OMITTED)

    def __bool__(self) -> bool:
        return bool(self.read or self.unsaid or self.hidden)

    def __str__(self) -> str:
        read = [f'"{excerpt(one.heading)}" as {one.column}' for one in self.read]
        not_read = [f'"{excerpt(heading)}"' for heading in self.unsaid]
        hidden = [f'"{excerpt(name)}"' for name in self.hidden]
        parts = {"read": read, "not read": not_read, "hidden sheets, passed over": hidden}
        return "; ".join(f"{what}: {_listed(names)}" for what, names in parts.items() if names)

    def line(self, file: str) -> str:
        """Return it as a line about a file, empty where there is nothing to say."""
        return f"{file}: {self}" if self else ""


def _listed(names: Sequence[str]) -> str:
    more = len(names) - _MAX_HEADINGS_NAMED
    return ", ".join(names[:_MAX_HEADINGS_NAMED]) + (f" and {more} more" if more > 0 else "")


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
    headings : HeadingsRead
        What the headings of a table were taken for.
    notes : iterable of str
        What else should be known of how the table was read, one sentence each.
    """

    def __init__(
        self,
        measurements: Iterable[Measurement],
        faults: Iterable[Fault] = (),
        path: Path | None = None,
        rows: Iterable[int] = (),
        rows_of: Iterable[Sequence[int]] = (),
        headings: HeadingsRead | None = None,
        notes: Iterable[str] = (),
    ) -> None:
        self.measurements = tuple(measurements)
        self.faults = tuple(faults)
        self.path = path
        self.rows = tuple(rows)
        # Measurements that came from no table have no rows.
        self.rows_of = tuple(map(tuple, rows_of)) or ((),) * len(self.measurements)
        self.headings = HeadingsRead() if headings is None else headings
        self.notes = tuple(notes)

    @property
    def told(self) -> tuple[str, ...]:
        """What a person is told of how the file was read, besides its faults: one line each."""
        file = "data frame" if self.path is None else str(self.path)
        lines = (self.headings.line(file), *(f"{file}: {note}" for note in self.notes))
        return tuple(line for line in lines if line)

    @property
    def row_faults(self) -> tuple[Fault, ...]:
        """The faults row by row: what is wrong with a whole column, at each of its rows."""
        return tuple(one for fault in self.faults for one in fault.each or (fault,))

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
        for fault in self.row_faults:
            reasons.setdefault(fault.row, []).append(fault.reason)
        return tuple((row, "; ".join(reasons[row])) for row in self.rows if row not in used)

    def only(self, kept: Sequence[int], failed: Mapping[int, RunFault] | None = None) -> Runs:
        """Return some of the measurements, and the rows of those that failed set aside.

        Parameters
        ----------
        kept : sequence of int
            Indices.
        failed : mapping of int to RunFault, optional
            By index.
        """
        faults = [
            Fault(str(self.path or ""), row, "", "", why.reason, run.label, run.student)
            for index, why in (failed or {}).items()
            for run in [self[index]]
            for row in self.rows_of[index] or [None]
        ]
        return Runs(
            [self[index] for index in kept],
            [*self.faults, *faults],
            self.path,
            self.rows,
            [self.rows_of[index] for index in kept],
            self.headings,
            self.notes,
        )

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


def warn_of(faults: Sequence[object], kept_in: str, stacklevel: int) -> list[str]:
    """Warn of the first of some faults, and say where the others are; return all as lines.

    Parameters
    ----------
    faults : sequence
    kept_in : str
        Where a program finds them.
    stacklevel : int
        Of the line that the warning names, counted from here.
    """
    import warnings

    lines = [str(fault) for fault in faults]
    if lines:
        more = f" (and {len(lines) - 1} more, see {kept_in})" if lines[1:] else ""
        warnings.warn(f"{lines[0]}{more}", stacklevel=stacklevel)
    return lines


class TableError(UnusableInput):
    """A candidate table that cannot be used; each of its arguments says why, in one line."""

    def __str__(self) -> str:
        more = f" (and {len(self.args) - 1} more)" if len(self.args) > 1 else ""
        return f"{self.args[0]}{more}" if self.args else ""
