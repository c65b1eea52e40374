"""Files are written whole or not at all, and with no text that a spreadsheet would run."""

from __future__ import annotations

import errno
import os
import re
import stat
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

    Until then only its owner can read it. A new file gets the permissions that the umask leaves;
    one that is replaced keeps its own, so that what was private stays so. A link is followed.

    Parameters
    ----------
    target : Path
        The file wanted; one that is there already is replaced.

    Raises
    ------
    OSError
        If its folder is missing, nothing can be written there, or a device or folder is.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with written_beside(Path(folder, "note.txt")) as beside:
    ...         _ = beside.write_text("dry")
    ...     Path(folder, "note.txt").read_text()
    'dry'
    """
    meant = Path(os.path.realpath(target)) if target.is_symlink() else target
    permissions = _permissions(meant)
    if not meant.parent.is_dir():  # of which the neighbor's own name would tell nobody anything
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(target))
    handle, name = tempfile.mkstemp(dir=meant.parent, suffix=target.suffix)
    os.close(handle)
    try:
        yield Path(name)
        os.chmod(name, permissions)
        os.replace(name, meant)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _permissions(target: Path) -> int:
    """Return those of the file that is there, or of a new one."""
    try:
        there = target.stat().st_mode
    except FileNotFoundError:
        # It can only be asked for by setting it; another file that begins meanwhile is private.
        umask = os.umask(0o077)
        os.umask(umask)
        return 0o666 & ~umask
    if not stat.S_ISREG(there):
        raise OSError(errno.EINVAL, "is not a file that can be replaced", str(target))
    return stat.S_IMODE(there)


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
