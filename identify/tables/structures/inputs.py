"""The records of all inputs, in chunks: never more of a file in memory than one of them."""

from __future__ import annotations

import gzip
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from identify.tables.faults import UnreadableError
from identify.tables.lines import TextLine
from identify.tables.structures.molfiles import read_molfiles
from identify.tables.structures.source import (
    Chunk,
    Gathering,
    Headings,
    InputFault,
    OpenedFile,
    ReadingFault,
    Record,
    StructureFile,
)
from identify.tables.structures.tables import read_table

_HEADERS = ("smiles", "canonical_smiles", "isomeric_smiles")
_EXTENSION = "has an extension between bars behind its SMILES, which is not read; leave it out"


def read_chunks(
    sources: Sequence[StructureFile], wanted: Headings, size: int, say: Callable[[str], None]
) -> Iterator[Chunk]:
    """Yield the records of all inputs, in their order.

    Parameters
    ----------
    sources : sequence of StructureFile
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
        gathering = Gathering(source, place, size, say)
        with _naming(gathering):
            with source.opened() as opened:
                for _ in _records(opened, wanted, gathering):
                    if gathering.is_full and (chunk := gathering.take(opened.fraction)):
                        yield chunk
            if last := gathering.take(1.0):
                yield last


@contextmanager
def _naming(gathering: Gathering) -> Iterator[None]:
    """Say of what goes wrong within in which file that was, and how far it was read."""
    path = gathering.source.path
    try:
        yield
    except UnreadableError as error:
        raise InputFault(str(error.fault(str(path)))) from None
    except (EOFError, zlib.error, gzip.BadGzipFile) as error:
        what = "ends too early" if isinstance(error, EOFError) else "is damaged"
        raise InputFault(
            f"{path}: its compression {what}; read up to {gathering.reached}; copy the file again"
        ) from None
    except BrokenPipeError:  # nobody listens to what is said
        raise
    except OSError as error:
        raise ReadingFault(
            f"{path}: cannot be read ({error.strerror or error}) after {gathering.reached}"
        ) from None


def _records(opened: OpenedFile, wanted: Headings, gathering: Gathering) -> Iterator[None]:
    kind = gathering.source.kind
    if kind in ("table", "workbook"):
        return read_table(opened, wanted, gathering)
    lines = opened.lines()
    if kind == "molfiles":
        return read_molfiles(lines, wanted, gathering)
    return _read_smiles(lines, gathering)


def _read_smiles(lines: Iterator[TextLine], gathering: Gathering) -> Iterator[None]:
    """Turn lines of a SMILES and, behind a space or tab, a name into records."""
    for number, line in enumerate(lines, start=1):
        parts = line.text.split(None, 1)
        if line.fault:
            gathering.refuse(number, line.text, line.fault)
        elif number == 1 and parts and parts[0].lower() in _HEADERS:
            gathering.begin("C", "the first line is taken for a heading")
        elif len(parts) > 1 and parts[1].startswith("|"):
            gathering.refuse(number, line.text, _EXTENSION)
        elif parts:
            gathering.add(Record(number, parts[0], parts[1].rstrip() if len(parts) > 1 else ""))
        yield
