"""Files are written whole or not at all, and with no text that a spreadsheet would run."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

# How a spreadsheet tells a formula from a text, also in full width, and behind blanks; a tab or a
# line break at the start may be dropped in reading. Common practice.
_FORMULA = re.compile(r"[\t\r\n]|\s*[=+\-@\uff1d\uff0b\uff0d\uff20]")


def harmless(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet could run as a formula.

    Examples
    --------
    >>> [harmless(text) for text in ("=1+1", " @x", "-7", "K-7", "")]
    ["'=1+1", "' @x", "'-7", 'K-7', '']
    """
    return f"'{text}" if _FORMULA.match(text) else text


@contextmanager
def written_beside(target: Path) -> Iterator[Path]:
    """Give a temporary neighbor to write to, which takes the target's name when that went well.

    Parameters
    ----------
    target : Path
        The file wanted; one that is there already is replaced.

    Raises
    ------
    OSError
        If its folder is missing, or nothing can be written there.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with written_beside(Path(folder, "note.txt")) as beside:
    ...         _ = beside.write_text("dry")
    ...     Path(folder, "note.txt").read_text()
    'dry'
    """
    handle, name = tempfile.mkstemp(dir=target.parent, suffix=target.suffix)
    os.close(handle)
    try:
        yield Path(name)
        os.chmod(name, 0o644)
        os.replace(name, target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


@contextmanager
def written_anew(target: Path) -> Iterator[Path]:
    """Give a temporary neighbor as `written_beside` does, but never write over a file.

    Raises
    ------
    FileExistsError
        If a file of that name is there, or has come while this one was written.
    OSError
        As `written_beside`.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     target = Path(folder, "note.txt")
    ...     _ = target.write_text("dry")
    ...     try:
    ...         with written_anew(target) as beside:
    ...             _ = beside.write_text("wet")
    ...     except FileExistsError:
    ...         print(target.read_text())
    dry
    """
    with written_beside(target) as beside:
        yield beside
        target.touch(exist_ok=False)  # the name is taken, or was taken by another
