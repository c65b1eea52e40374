"""What is read of a collection: its files, their records, and what could not be read."""

from __future__ import annotations

import gzip
import io
import os
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from identify.notebook.errors import UnusableInput
from identify.notebook.quantity.quantities import excerpt
from identify.tables.faults import UnreadableError
from identify.tables.limits import MAX_BLANK_LINES, MAX_UNPACKED, MAX_UNPACKING, MEGABYTE
from identify.tables.lines import TextLine, opening, require_file, text_lines

_GZIP = b"\x1f\x8b"
_SOON_UNPACKED = 6 * MEGABYTE  # bytes: in a second or two, were it to a hundred times as much
_KINDS = {
    ".smi": "smiles",
    ".smiles": "smiles",
    ".csv": "table",
    ".tsv": "table",
    ".tab": "table",
    ".xlsx": "workbook",
    ".sdf": "molfiles",
    ".sd": "molfiles",
}
_ADVICE = "name it .smi, .csv, .tsv, .xlsx or .sdf, each also with .gz behind it"


class InputFault(UnusableInput):
    """An input that cannot be used as a whole: file, why, and what to do, in one line."""


class ReadingFault(InputFault):
    """An input that could not be read this time; nothing says that it is another one next time."""


@dataclass(frozen=True)
class Headings:
    """Which columns of a table, or tags of an SDF, hold what; guessed where not given.

    Parameters
    ----------
    smiles, name, cas, inchi, boiling_point : str
        Column names as they stand in the file, empty to guess.
    """

    smiles: str = ""
    name: str = ""
    cas: str = ""
    inchi: str = ""
    boiling_point: str = ""


class Record(NamedTuple):
    """One compound as its file has it; ``block`` is an SDF record's text."""

    number: int
    smiles: str = ""
    name: str = ""
    cas: str = ""
    inchi: str = ""
    boiling_point: str = ""
    block: str = ""


class RecordSetAside(NamedTuple):
    """A record that is in no row of the table, or not wholly: what was read, and why."""

    source: int
    number: int
    read: str
    kind: str
    reason: str


UNREADABLE = "cannot be read"
_MAX_CHARACTERS = 20_000_000  # of structures in a chunk
REMARK = "kept"
_SAYS_NOTHING = " \t,;"
_BETWEEN = "\x1f"  # the unit separator, which hardly any text holds


@dataclass(frozen=True)
class Chunk:
    """Records of one file, in its order.

    Parameters
    ----------
    source : int
        Which of the inputs.
    records : list of Record
    set_aside : list of RecordSetAside
        What among them could not be read at all.
    unit : str
        Of boiling points that state none.
    fraction : float
        Of the file that was read up to here.
    """

    source: int
    records: list[Record]
    set_aside: list[RecordSetAside]
    unit: str = "C"
    fraction: float = 0.0

    def __reduce__(self) -> tuple[Any, ...]:
        """Send it to other processes by columns, in a third of the time."""
        columns = [_packed(column) for column in zip(*self.records, strict=True)]
        counted = len(self.records), self.set_aside, self.unit, self.fraction
        return _chunk_of_columns, (self.source, columns, *counted)


def _packed(cells: tuple[Any, ...]) -> Any:
    """Return a column as one text, None where all is empty; as it is where it cannot be cut again.

    Examples
    --------
    >>> _packed(("", "")), _packed(("CCO", "CC")).split(_BETWEEN), _packed((1, 2))
    (None, ['CCO', 'CC'], (1, 2))
    """
    if not any(cells):
        return None
    if not isinstance(cells[0], str):
        return cells
    joined = _BETWEEN.join(cells)
    return joined if joined.count(_BETWEEN) == len(cells) - 1 else cells


def _chunk_of_columns(
    source: int,
    columns: list[Any],
    count: int,
    set_aside: list[RecordSetAside],
    *more: Any,
) -> Chunk:
    texts = [
        column.split(_BETWEEN) if isinstance(column, str) else column or ("",) * count
        for column in columns
    ]
    return Chunk(
        source,
        list(map(partial(tuple.__new__, Record), zip(*texts, strict=True))),
        set_aside,
        *more,
    )


class Gathering:
    """Gathers the records of one file, and hands them over in chunks of a size.

    Parameters
    ----------
    source : StructureFile
    place : int
        Of that file among the inputs.
    size : int
        Records a chunk, those that cannot be read among them; fewer where they are very long.
    say : callable
        Takes what was guessed, one line each.
    """

    def __init__(
        self, source: StructureFile, place: int, size: int, say: Callable[[str], None]
    ) -> None:
        self.source = source
        self.place = place
        self.size = size
        self.unit = "C"
        self.number = 0
        self._say = say
        self._records: list[Record] = []
        self._set_aside: list[RecordSetAside] = []
        self._characters = 0

    def begin(self, unit: str, said: str) -> None:
        """Take the unit of boiling points that state none, and say what was guessed."""
        self.unit = unit
        if said:
            self._say(f"{self.source.path}: {said}")

    @property
    def reached(self) -> str:
        """The last record that was read, as it is counted."""
        return f"{'record' if self.source.kind == 'molfiles' else 'row'} {self.number}"

    @property
    def is_full(self) -> bool:
        """Whether a chunk is complete."""
        count = len(self._records) + len(self._set_aside)
        return count >= self.size or self._characters >= _MAX_CHARACTERS

    def add(self, record: Record) -> None:
        """Take a record."""
        self.number = record.number
        self._characters += len(record.block) + len(record.smiles)
        self._records.append(record)

    def refuse(self, number: int, read: str, reason: str) -> None:
        """Set a record aside that cannot be read."""
        self.number = number
        self._set_aside.append(
            RecordSetAside(self.place, number, excerpt(read), UNREADABLE, reason)
        )

    def take(self, fraction: float) -> Chunk | None:
        """Hand over what was gathered, None where there is nothing."""
        records, set_aside = self._records, self._set_aside
        self._records, self._set_aside, self._characters = [], [], 0
        if not records and not set_aside:
            return None
        return Chunk(self.place, records, set_aside, self.unit, fraction)


@dataclass(frozen=True)
class StructureFile:
    """One input file.

    Parameters
    ----------
    path : Path
        As the user named it.
    kind : str
        ``smiles``, ``table``, ``workbook`` or ``molfiles``.
    is_compressed : bool
        Whether it is compressed by gzip, whatever it is called.
    """

    path: Path
    kind: str
    is_compressed: bool

    @classmethod
    def of(cls, path: Path) -> StructureFile:
        """Look at a file.

        Raises
        ------
        InputFault
            If it is not there, may not be read, is empty, or of no kind that is read.
        """
        try:
            require_file(path)
            with opening(path), path.open("rb") as stream:
                start = stream.read(2)
        except UnreadableError as error:
            raise InputFault(str(error.fault(str(path)))) from None
        if not start:
            raise InputFault(f"{path}: is empty; check that it was saved")
        suffixes = [suffix.lower() for suffix in path.suffixes if suffix.lower() != ".gz"]
        kind = _KINDS.get(suffixes[-1] if suffixes else "")
        if kind is None:
            raise InputFault(f"{path}: is of no kind that is read here; {_ADVICE}")
        return cls(path, kind, start == _GZIP)

    @property
    def is_tabbed(self) -> bool:
        """Whether its name says that tabs separate its columns."""
        return any(suffix.lower() in (".tsv", ".tab") for suffix in self.path.suffixes)

    @contextmanager
    def opened(self) -> Iterator[OpenedFile]:
        """Open it for reading, decompressed."""
        with self.path.open("rb") as raw:
            if not self.is_compressed:
                yield OpenedFile(raw, raw, self.path.stat().st_size)
                return
            size = self.path.stat().st_size
            if size <= _SOON_UNPACKED:
                _unpack_once(raw)
            with _Unpacked(fileobj=raw) as unpacked:
                yield OpenedFile(unpacked, raw, size)


class _Unpacked(gzip.GzipFile):
    """A file that is unpacked as it is read, up to what structures can have been packed from."""

    def read1(self, size: int = -1) -> bytes:
        block = super().read1(size)
        packed = os.fstat(self.fileno()).st_size
        if self.tell() > max(MAX_UNPACKED, MAX_UNPACKING * packed):
            raise UnreadableError(
                f"holds more than {MAX_UNPACKING} times its size once unpacked, which no "
                "structures do; make it anew"
            )
        return block


def _unpack_once(raw: io.BufferedReader) -> None:
    """Refuse a file that grows too much before hours are spent on its millions of rows."""
    # One that is damaged is read as far as it goes.
    with suppress(EOFError, OSError, zlib.error), _Unpacked(fileobj=raw) as unpacked:
        while unpacked.read1(MEGABYTE):
            pass
    raw.seek(0)


@dataclass(frozen=True)
class OpenedFile:
    """A file being read, and how far that is."""

    stream: io.BufferedReader | gzip.GzipFile
    raw: io.BufferedReader
    size: int

    def lines(self) -> Iterator[TextLine]:
        """Yield its lines.

        Raises
        ------
        UnreadableError
            If it is not text, or hardly any line of very many holds anything.
        """
        blank, filled = 0, 0
        for line in text_lines(self.stream):
            if line.text.strip(_SAYS_NOTHING):
                filled += 1
            else:
                blank += 1
                if blank > MAX_BLANK_LINES and blank > 10 * filled:
                    raise UnreadableError(
                        f"has more than {MAX_BLANK_LINES:,} blank lines, and hardly any others; "
                        "make it anew"
                    )
            yield line

    @property
    def fraction(self) -> float:
        """How much of it has been read, 0 to 1."""
        return min(self.raw.tell() / max(self.size, 1), 1.0)
