"""A bar on standard error while a command works, where somebody waits there for it."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from rich.progress import Progress

_T = TypeVar("_T")
_FEW = 10  # pieces of work that take a second or so
_PATIENCE = 1.0  # s, within which nothing is drawn


class _ProgressBar:
    """One bar, for one piece of work after the other."""

    def __init__(self, drawn: Progress) -> None:
        self._drawn = drawn

    def begin(self, what: str, steps: int | None = None) -> None:
        """Name the work that begins, and say how many steps it has; the work before is done.

        Parameters
        ----------
        what : str
        steps : int, optional
            Not known where not given: the bar then shows that something is going on.
        """
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
    """Draw a bar until the work is done, once that has taken a second.

    None where standard error is not a terminal.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    drawn = Progress(console=Console(stderr=True), transient=True)
    waited_for = threading.Timer(_PATIENCE, drawn.start)
    waited_for.daemon = True
    waited_for.start()
    try:
        yield _ProgressBar(drawn)
    finally:
        waited_for.cancel()
        waited_for.join()
        drawn.stop()


@contextmanager
def working(what: str) -> Iterator[None]:
    """Say what is going on for as long as it lasts, where that is longer than a second."""
    with progress_bar() as bar:
        if bar is not None:
            bar.begin(what)
        yield


def with_progress(items: Sequence[_T], what: str) -> Iterator[_T]:
    """Yield pieces of work, and say how many are done where there are more than a few."""
    if len(items) <= _FEW:
        yield from items
        return
    with progress_bar() as bar:
        if bar is not None:
            bar.begin(what, len(items))
        for item in items:
            yield item
            if bar is not None:
                bar.step()
