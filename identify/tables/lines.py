"""Bytes of a file of any size to the lines of its text, however encoded and whatever ends them."""

from __future__ import annotations

import codecs
import io
import os
import re
import select
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import partial
from itertools import chain
from pathlib import Path
from typing import NamedTuple, Protocol

from identify.tables.faults import UnreadableError
from identify.tables.limits import MAX_FILE, MAX_PIPE_TIME, PIPE_PATIENCE, size_text

_BLOCK = 1 << 20  # bytes
LONGEST_LINE = 200_000  # bytes, of a file of any size; longer than any row of a table
# UTF-32 first: its little-endian mark begins with that of UTF-16.
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_ZIP = b"PK\x03\x04"  # an XLSX file is a zip archive
_OLD_EXCEL = bytes.fromhex("D0CF11E0A1B11AE1")  # compound file of the XLS format
_CONTROL = re.compile("[\x00-\x08\x0e-\x1f\x7f]")
_NO_TEXT = "is not text in a known encoding; save it as text in UTF-8"


class _Readable(Protocol):
    def read1(self, size: int, /) -> bytes: ...


class TextLine(NamedTuple):
    """One line without its end, and why it cannot be read; cut off where it is too long."""

    text: str
    fault: str = ""
    is_cut: bool = False


@contextmanager
def opening(path: str | Path) -> Iterator[None]:
    """Say what is the matter with a file that is opened within.

    Raises
    ------
    UnreadableError
        If there is none, it is a folder, or it may not be read.
    """
    try:
        yield
    except FileNotFoundError:
        raise UnreadableError("there is no such file; check the name and the folder") from None
    except (OSError, ValueError) as error:
        if os.path.isdir(path):  # Windows reports a folder as one that may not be opened
            raise UnreadableError("is a folder; name a file in it") from None
        reason = getattr(error, "strerror", None) or "not a file name"
        raise UnreadableError(f"cannot be opened ({reason})") from None


def require_file(path: str | Path) -> None:
    """Refuse what is not an ordinary file: reading a device or a pipe may never end.

    Raises
    ------
    UnreadableError
        Also where there is none, see `opening`.
    """
    with opening(path):
        kind = os.stat(path).st_mode
        if stat.S_ISFIFO(kind):
            raise UnreadableError("is a pipe, not a file; save to a file what it gives")
        if not (stat.S_ISREG(kind) or stat.S_ISDIR(kind)):
            raise UnreadableError("is a device, not a file; give the name of a file")


def file_bytes(path: str | Path, most: int = MAX_FILE) -> bytes:
    """Read a file whole, or a pipe to its end.

    Raises
    ------
    UnreadableError
        If it cannot be opened, see `opening`, is a device, is empty, or holds more than ``most``
        bytes.
    """
    with opening(path):
        if stat.S_ISFIFO(os.stat(path).st_mode):
            data = _piped(path, most)
        else:
            require_file(path)
            with open(path, "rb") as stream:
                data = stream.read(most + 1)
    if len(data) > most:
        raise UnreadableError(f"is larger than {size_text(most)}; split it, or leave out the rest")
    if not data.strip():
        raise UnreadableError("is empty; check that it was saved")
    return data


def _piped(path: str | Path, most: int) -> bytes:
    """Return what a pipe gives, one byte more than ``most`` where that is more."""
    data, deadline = bytearray(), time.monotonic() + MAX_PIPE_TIME
    # A pipe that nobody writes to would never open otherwise.
    pipe = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    try:
        while len(data) <= most:
            ready, _, _ = select.select([pipe], [], [], PIPE_PATIENCE)
            if not ready or time.monotonic() > deadline:
                raise UnreadableError("is a pipe that does not end; give the name of a file")
            block = os.read(pipe, min(_BLOCK, most + 1 - len(data)))
            if not block:
                break
            data += block
    finally:
        os.close(pipe)
    return bytes(data)


def is_excel(data: bytes) -> bool:
    """Tell whether the bytes are an XLSX workbook, whatever the file is called."""
    return data.startswith(_ZIP)


def text_of(data: bytes) -> str:
    """Decode a text file whole, as `text_lines` does, with the ends of its lines.

    Raises
    ------
    UnreadableError
        If it is empty, or any line of it is not text.
    """
    whole = b"".join(_blocks(io.BytesIO(data)))
    lines = [_line(line) for line in whole.splitlines(keepends=True)]
    if any(line.fault for line in lines):
        raise _no_text(data)
    text = "".join(line.text for line in lines)
    if not text.strip():
        raise UnreadableError("is empty; check that it was saved")
    return text


def text_lines(stream: _Readable, longest: int = LONGEST_LINE) -> Iterator[TextLine]:
    r"""Yield the lines of a text file.

    UTF-8, or what the byte order mark says; a line that is not UTF-8 is Windows-1252. Lines end by
    ``\n``, ``\r\n`` or ``\r``, also mixed. One of more than ``longest`` bytes cannot be read.

    Raises
    ------
    UnreadableError
        If it is not text at all.

    Examples
    --------
    >>> import io
    >>> [line.text for line in text_lines(io.BytesIO(b"CCO\r\nCCC\rCC\nC"))]
    ['CCO', 'CCC', 'CC', 'C']
    """
    rest, is_skipping = b"", False
    for block in _blocks(stream):
        whole, rest = _whole_lines(rest + block)
        lines = _lines(whole, longest)
        if is_skipping and whole:
            next(lines)  # the end of one that was too long
            is_skipping = False
        yield from lines
        if len(rest) > longest:
            if not is_skipping:
                yield _cut_off(rest, longest)
            rest, is_skipping = b"", True
    if rest and not is_skipping:
        yield _line(rest.rstrip(b"\r\n"))


def _whole_lines(data: bytes) -> tuple[bytes, bytes]:
    """Divide bytes behind the last end of line that is sure to be one."""
    # A carriage return at the end may be half of an end of line.
    end = max(data.rfind(b"\n"), data.rfind(b"\r", 0, -1)) + 1
    return data[:end], data[end:]


def _lines(whole: bytes, longest: int) -> Iterator[TextLine]:
    """Yield lines that all have their ends: at once where nothing is the matter with them."""
    try:
        text = whole.decode()
    except UnicodeDecodeError:
        text = "\x00"
    if _CONTROL.search(text):
        for line in whole.splitlines():
            yield _line(line) if len(line) <= longest else _cut_off(line, longest)
        return
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    lines.pop()  # behind the last end
    for one in lines:
        yield TextLine(one) if len(one) <= longest else _cut_off(one.encode(), longest)


def _blocks(stream: _Readable) -> Iterator[bytes]:
    """Yield the file in blocks of bytes, as UTF-8 whatever its byte order mark says."""
    # What is there at once: of a file that ends too early, all up to there.
    first = stream.read1(_BLOCK)
    mark, encoding = next(((m, name) for m, name in _MARKS if first.startswith(m)), (b"", "utf-8"))
    further = iter(partial(stream.read1, _BLOCK), b"")
    if encoding == "utf-8":
        if b"\x00" in first:
            raise _no_text(first)
        yield from chain([first[len(mark) :]], further)
        return
    try:
        yield from codecs.iterencode(codecs.iterdecode(chain([first], further), encoding), "utf-8")
    except UnicodeError:
        raise UnreadableError(_NO_TEXT) from None


def _no_text(data: bytes) -> UnreadableError:
    if data.startswith(_OLD_EXCEL):
        return UnreadableError("is a workbook of the old XLS kind; save it as XLSX or CSV")
    return UnreadableError(_NO_TEXT)


def _line(line: bytes) -> TextLine:
    for encoding in ("utf-8", "cp1252"):
        with suppress(UnicodeDecodeError):
            text = line.decode(encoding)
            return TextLine(text, _NO_TEXT if _CONTROL.search(text) else "")
    return TextLine(line.decode("ascii", "replace"), _NO_TEXT)


def _cut_off(line: bytes, longest: int) -> TextLine:
    fault = f"is longer than {longest} bytes; check that lines end where they should"
    return TextLine(line[:100].decode("ascii", "replace"), fault, is_cut=True)
