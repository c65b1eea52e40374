"""A bar on standard error while a command works, where somebody waits there for it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress


class _ProgressBar:
    """One bar, for one piece of work after the other."""

    def __init__(self, drawn: Progress) -> None:
        self._drawn = drawn

    def begin(self, what: str, steps: int) -> None:
        """Name the work that begins, and say how many steps it has; the work before is done."""
        for task in self._drawn.task_ids:
            self._drawn.remove_task(task)
        self._drawn.add_task(what, total=steps)

    def part_of(self, what: str) -> Callable[[float], None]:
        """Begin work without steps, and return what takes how much of it is done, 0 to 1."""
        self._drawn.add_task(what, total=1.0)
        return lambda fraction: self._drawn.update(self._drawn.task_ids[-1], completed=fraction)

    def step(self) -> None:
        """Take one step."""
        self._drawn.advance(self._drawn.task_ids[-1])

    def reach(self, done: int) -> None:
        """Say how many steps are done."""
        self._drawn.update(self._drawn.task_ids[-1], completed=done)


@contextmanager
def progress_bar() -> Iterator[_ProgressBar | None]:
    """Draw a bar until the work is done; None where standard error is not a terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as drawn:
        yield _ProgressBar(drawn)
