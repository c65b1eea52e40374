"""Tables that stay on disk: handed to the room that compares them, which is loaded only then."""

from __future__ import annotations

import os
from importlib import import_module
from typing import TYPE_CHECKING, cast

if TYPE_CHECKING:
    from identify.matching.answer import Ranking
    from identify.matching.settings import MatchSettings
    from identify.notebook.measurement import Measurement

# By name: a match against a table in memory neither knows nor loads it.
_ROOM = "identify.large.large_table"


class LargeTable:
    """A candidate table that is compared where it lies: an index, or a table in parts."""


def open_large(path: str | os.PathLike[str]) -> LargeTable:
    """Open an index, or a table in parts.

    Raises
    ------
    TableError
        Where it cannot be used, in one line.
    """
    return cast(LargeTable, import_module(_ROOM).open_large(path))


def match_large(run: Measurement, table: LargeTable, settings: MatchSettings) -> Ranking:
    """Say what an unknown could be, as `identify.match` does."""
    return cast("Ranking", import_module(_ROOM).match_large(run, table, settings))
