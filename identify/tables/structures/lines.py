"""The lines of a text file of any size, whatever ends them and however they are encoded."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from typing import NamedTuple, Protocol

from identify.tables.structures.source import InputFault

_BLOCK = 1 << 20  # bytes
LONGEST_LINE = 200_000  # bytes; longer than any row of a table of compounds
# UTF-32 first: its little-endian mark begins with that of UTF-16.
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_CONTROL = re.compile("[\x00-\x08\x0e-\x1f\x7f]")
NO_TEXT = "is no text in a known encoding; save the file as UTF-8"
TOO_LONG = f"is longer than {LONGEST_LINE} bytes; check that lines end where they should"


class _Readable(Protocol):
    def read1(self, size: int, /) -> bytes: ...


class Line(NamedTuple):
    """One line without its end, or why it cannot be read."""

    text: str
    fault: str = ""


def text_lines(stream: _Readable) -> Iterator[Line]:
    r"""Yield the lines of a text file.

    UTF-8, or what the byte order mark says; a line that is no UTF-8 is Windows-1252. Lines end by
    ``\n``, ``\r\n`` or ``\r``, also mixed.

    Raises
    ------
    InputFault
        If it is no text at all, without the file's name.

    Examples
    --------
    >>> import io
    >>> [line.text for line in text_lines(io.BytesIO(b"CCO\r\nCCC\rCC\nC"))]
    ['CCO', 'CCC', 'CC', 'C']
    """
    rest, skipping = b"", False
    for block in _blocks(stream):
        whole, rest = _whole_lines(rest + block)
        lines = _lines(whole)
        if skipping and whole:
            next(lines)  # the end of one that was too long
            skipping = False
        yield from lines
        if len(rest) > LONGEST_LINE:
            if not skipping:
                yield _line(rest)
            rest, skipping = b"", True
    if rest and not skipping:
        yield _line(rest.rstrip(b"\r\n"))


def _whole_lines(data: bytes) -> tuple[bytes, bytes]:
    """Divide bytes behind the last end of line that is sure to be one."""
    # A carriage return at the end may be half of an end of line.
    end = max(data.rfind(b"\n"), data.rfind(b"\r", 0, -1)) + 1
    return data[:end], data[end:]


def _lines(whole: bytes) -> Iterator[Line]:
    """Yield lines that all have their ends: at once where nothing is the matter with them."""
    try:
        text = whole.decode()
    except UnicodeDecodeError:
        text = "\x00"
    if _CONTROL.search(text):
        yield from map(_line, whole.splitlines())
        return
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    lines.pop()  # behind the last end
    for line in lines:
        yield Line(line, "" if len(line) <= LONGEST_LINE else TOO_LONG)


def _blocks(stream: _Readable) -> Iterator[bytes]:
    """Yield the file in blocks of bytes, as UTF-8 whatever its byte order mark says."""
    # What is there at once: of a file that ends too early, all up to there.
    block = stream.read1(_BLOCK)
    mark, encoding = next(((m, e) for m, e in _MARKS if block.startswith(m)), (b"", ""))
    if encoding in ("", "utf-8"):
        block = block[len(mark) :]
        if b"\x00" in block:
            raise InputFault(NO_TEXT)
        while block:
            yield block
            block = stream.read1(_BLOCK)
        return
    decoder = codecs.getincrementaldecoder(encoding)(errors="replace")
    while block:
        if decoded := decoder.decode(block).encode(errors="replace"):
            yield decoded
        block = stream.read1(_BLOCK)


def _line(line: bytes) -> Line:
    if len(line) > LONGEST_LINE:
        return Line(line[:100].decode("ascii", "replace"), TOO_LONG)
    try:
        text = line.decode()
    except UnicodeDecodeError:
        try:
            text = line.decode("cp1252")
        except UnicodeDecodeError:
            return Line(line[:100].decode("ascii", "replace"), NO_TEXT)
    if _CONTROL.search(text):
        return Line(text[:100], NO_TEXT)
    return Line(text)
