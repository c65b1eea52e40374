"""The command in a pseudo-terminal: what a person types, and what stands on the screen."""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import time
from codecs import getincrementaldecoder
from collections.abc import Mapping
from fcntl import ioctl
from pathlib import Path
from types import TracebackType

_PATIENCE = 30.0  # s, for a slow machine
_ESCAPES = re.compile(r"\x1b\[[0-9;?]*[a-zA-Z]")
_CHECKOUT = Path(__file__).parents[1]


class PseudoTerminal:
    """A command at work in a terminal of its own.

    Parameters
    ----------
    arguments : str
        Of the command.
    folder : Path
        In which it works.
    columns, rows : int
    output : Path, optional
        Where standard output goes, if not onto the screen.
    """

    def __init__(
        self,
        *arguments: str,
        folder: Path,
        columns: int = 80,
        rows: int = 24,
        output: Path | None = None,
        environment: Mapping[str, str] | None = None,
    ) -> None:
        self.screen = ""
        self.process, self._terminal = pty.fork()
        if not self.process:  # the child
            os.chdir(folder)
            # A shell that runs the tests in the background has its children ignore Ctrl-C.
            signal.signal(signal.SIGINT, signal.SIG_DFL)
            if output is not None:
                os.dup2(os.open(output, os.O_WRONLY | os.O_CREAT), 1)
            command = [sys.executable, "-m", "identify", *arguments]
            settings = {"PYTHONPATH": str(_CHECKOUT), "TERM": "dumb", **(environment or {})}
            os.execve(sys.executable, command, {**os.environ, **settings})
        ioctl(self._terminal, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self._read_to = 0
        self._decoder = getincrementaldecoder("utf-8")()

    def __enter__(self) -> PseudoTerminal:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        os.close(self._terminal)
        if error is not None:
            os.kill(self.process, signal.SIGKILL)
            os.waitpid(self.process, 0)

    def waits_for(self, prompt: str) -> str:
        """Wait until the screen ends with a prompt, and return what came with it."""
        until = time.monotonic() + _PATIENCE
        while not (new := self.screen[self._read_to :]).rstrip(" ").endswith(prompt):
            if time.monotonic() > until or not self._read(until):
                raise AssertionError(f"no {prompt!r} after {new!r}")
        self._read_to = len(self.screen)
        return new

    def types(self, text: str) -> None:
        """Type a line, with Enter behind it."""
        self.presses(f"{text}\n")

    def presses(self, keys: str) -> None:
        """Type less than a whole line, such as Ctrl-C."""
        os.write(self._terminal, keys.encode())

    def answers(self, prompt: str, text: str) -> str:
        """Wait for a prompt, type a line, and return what stood above the prompt."""
        above = self.waits_for(prompt)
        self.types(text)
        return above

    def ends(self) -> int:
        """Wait for the end, and return the exit status."""
        until = time.monotonic() + _PATIENCE
        while self._read(until):
            pass
        return os.waitstatus_to_exitcode(os.waitpid(self.process, 0)[1])

    def _read(self, until: float) -> bool:
        """Read what is new; say whether there may be more."""
        if not select.select([self._terminal], [], [], max(until - time.monotonic(), 0.0))[0]:
            raise AssertionError(f"nothing more after {self.screen[-300:]!r}")
        try:
            new = self._decoder.decode(os.read(self._terminal, 4096))
        except OSError:  # the other end is closed
            return False
        self.screen += _ESCAPES.sub("", new).replace("\r", "")
        return True
