"""Names of files that are made from what people wrote: labels of bottles, names of students."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from identify.notebook.errors import UnusableInput

if TYPE_CHECKING:
    from identify.notebook.measurement import Measurement

# What a file name cannot hold on one system or another.
_NOT_IN_NAMES = re.compile(r"[^\w .()+-]+")
# Names that Windows keeps for devices, whatever the ending. Common practice.
_DEVICES = re.compile(r"(?:con|prn|aux|nul|com\d|lpt\d)(?:\..*)?", re.IGNORECASE)
_MAX_BYTES = 120  # of a part of a name; the usual limit of a whole name is 255
_LABEL, _STUDENT = "{label}", "{student}"


class SharedNameError(UnusableInput):
    """Several answers would be written into one file."""


def _safe_name(text: str) -> str:
    r"""Return a text as the name of a file, without its ending, that every system takes.

    Examples
    --------
    >>> [_safe_name(text) for text in ("../C-14", "Zoe\u0308 M.", "con", " ", "A/B")]
    ['_C-14', 'Zoë M', 'con_', 'unknown', 'A_B']
    """
    name = _NOT_IN_NAMES.sub("_", unicodedata.normalize("NFC", text)).strip(" .")
    while len(name.encode("utf-8")) > _MAX_BYTES:
        name = name[:-1].rstrip(" .")
    return f"{name}_" if _DEVICES.fullmatch(name) else name or "unknown"


def distinct_names(texts: Sequence[str]) -> list[str]:
    r"""Return a safe name for each text, no two of them alike on any system.

    Examples
    --------
    >>> distinct_names(["A/B", "a_b", "A B", "A\\B"])
    ['A_B', 'a_b-2', 'A B', 'A_B-3']
    """
    taken: set[str] = set()
    names = []
    for name in map(_safe_name, texts):
        free, number = name, 1
        while _folded(free) in taken:
            number += 1
            free = f"{name}-{number}"
        taken.add(_folded(free))
        names.append(free)
    return names


def _folded(name: str) -> str:
    """Return what two names share that are one file on some system."""
    return unicodedata.normalize("NFKC", name).casefold()


def is_pattern(path: Path) -> bool:
    """Say whether a name stands for one file an unknown or student."""
    return _LABEL in str(path) or _STUDENT in str(path)


def named_files(
    pattern: Path, runs: Sequence[Measurement], done: str, is_shared: bool = False
) -> dict[Path, list[int]]:
    """Return the files that a pattern names, each with the places of its runs.

    Parameters
    ----------
    pattern : Path
        With ``{label}`` and ``{student}`` where those of each run are to stand.
    runs : sequence of Measurement
    done : str
        What is done to a file, as in "drawn into".
    is_shared : bool, default=False
        Whether a file takes all runs for which the pattern says the same.

    Raises
    ------
    SharedNameError
        If runs that are not meant to would share a file.
    """
    files: dict[Path, list[int]] = {}
    kept_apart: dict[Path, set[tuple[str, ...]]] = {}
    for place, run in enumerate(runs):
        said = {_LABEL: run.label, _STUDENT: run.student}
        used = tuple(text for field, text in said.items() if field in str(pattern))
        name = str(pattern)
        for field, text in said.items():
            name = name.replace(field, _safe_name(text))
        files.setdefault(Path(name), []).append(place)
        kept_apart.setdefault(Path(_folded(name)), set()).add(
            used if is_shared else (str(place),),
        )
    times = Counter({path: len(apart) for path, apart in kept_apart.items()})
    for path, count in times.most_common(1):
        if count > 1:
            missing = _STUDENT if _LABEL in str(pattern) else _LABEL
            raise SharedNameError(
                f"{count} unknowns would all be {done} {path}; put {missing} into the name, as in "
                f"{pattern.stem}-{missing}{pattern.suffix}"
            )
    return files
