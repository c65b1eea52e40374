"""The records of all inputs, in chunks: never more of a file in memory than one of them."""

from __future__ import annotations

import gzip
import zlib
from collections.abc import Callable, Iterator, Sequence

from identify.tables.faults import UnreadableError
from identify.tables.lines import TextLine, text_lines
from identify.tables.structures.molfiles import read_molfiles
from identify.tables.structures.source import (
    Chunk,
    Headings,
    InputFault,
    Opened,
    Reading,
    ReadingFault,
    Record,
    Source,
)
from identify.tables.structures.tables import read_table

Say = Callable[[str], None]
_HEADERS = ("smiles", "canonical_smiles", "isomeric_smiles")
_EXTENSION = "has an extension between bars behind its SMILES, which is not read; leave it out"


def read_chunks(
    sources: Sequence[Source], wanted: Headings, size: int, say: Say
) -> Iterator[Chunk]:
    """Yield the records of all inputs, in their order.

    Parameters
    ----------
    sources : sequence of Source
    wanted : Headings
        Columns that the user named.
    size : int
        Records a chunk; a file's last may have fewer.
    say : callable
        Takes what was guessed, one line each.

    Raises
    ------
    InputFault
        If a file cannot be read to its end.
    """
    for place, source in enumerate(sources):
        reading = Reading(place, size)
        try:
            with source.opened() as opened:
                for _ in _records(opened, source, wanted, reading, say):
                    if reading.is_full and (chunk := reading.take(opened.fraction)):
                        yield chunk
            if last := reading.take(1.0):
                yield last
        except UnreadableError as error:
            raise InputFault(str(error.fault(str(source.path)))) from None
        except (EOFError, zlib.error, gzip.BadGzipFile) as error:
            what = "ends too early" if isinstance(error, EOFError) else "is damaged"
            raise InputFault(
                f"{source.path}: its compression {what}; read up to {source.counts} "
                f"{reading.number}; copy the file again"
            ) from None
        except BrokenPipeError:  # nobody listens to what is said
            raise
        except OSError as error:
            raise ReadingFault(
                f"{source.path}: cannot be read ({error.strerror or error}) after {source.counts} "
                f"{reading.number}"
            ) from None


def _records(
    opened: Opened, source: Source, wanted: Headings, reading: Reading, say: Say
) -> Iterator[None]:
    if source.kind in ("table", "workbook"):
        return read_table(opened, source, wanted, reading, say)
    lines = text_lines(opened.stream)
    if source.kind == "molfiles":
        return read_molfiles(lines, source, wanted, reading, say)
    return _read_smiles(lines, source, reading, say)


def _read_smiles(
    lines: Iterator[TextLine], source: Source, reading: Reading, say: Say
) -> Iterator[None]:
    """Turn lines of a SMILES and, behind a space or tab, a name into records."""
    for number, line in enumerate(lines, start=1):
        parts = line.text.split(None, 1)
        if line.fault:
            reading.refuse(number, line.text, line.fault)
        elif number == 1 and parts and parts[0].lower() in _HEADERS:
            say(f"{source.path}: the first line is taken for a heading")
        elif len(parts) > 1 and parts[1].startswith("|"):
            reading.refuse(number, line.text, _EXTENSION)
        elif parts:
            reading.add(Record(number, parts[0], parts[1].rstrip() if len(parts) > 1 else ""))
        yield
