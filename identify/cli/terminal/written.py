"""The files that a command makes anew, and what it says of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from identify.cli.terminal.output import OutputFormat, write_answer
from identify.cli.terminal.streams import Faults

if TYPE_CHECKING:
    from identify.answers.text import Page


class WrittenFiles:
    """The files that were written, each new, and what they are for."""

    def __init__(self, faults: Faults) -> None:
        self._faults = faults
        self._files: list[tuple[Path, str]] = []

    def add(self, target: Path, what: str, make: Callable[[], bytes]) -> None:
        """Make and write a file; that it cannot be written is a fault."""
        from identify.notebook.saving import written_anew

        try:
            with written_anew(target) as beside:
                beside.write_bytes(make())
            self._files.append((target, what))
        except OSError as error:
            self._faults(f"{target}: {error.strerror or error}")

    def answer(self, form: OutputFormat) -> int:
        """Say what was written, and return the exit status."""
        rows = [{"file": str(path), "what": what} for path, what in self._files]
        write_answer(form, self._lines, lambda: rows, lambda: rows)
        return self._faults.status

    def _lines(self, page: Page) -> Iterator[str]:
        for path, what in self._files:
            yield from page.wrapped(what, f"{page.text(str(path))}: ", "  ")
