"""Files are written to a temporary neighbor first and then renamed: whole, or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


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
