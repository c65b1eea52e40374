"""Standard output and standard error: one line a fault, never a traceback."""

from __future__ import annotations

import errno
import io
import os
import re
import signal
import sys
import threading
import warnings
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TYPE_CHECKING, ClassVar, NoReturn, TextIO, TypeVar

from identify.notebook.errors import RunFault
from identify.notebook.printable import on_one_line

if TYPE_CHECKING:
    from identify.notebook.quantity.quantities import QuantityError

_Told = TypeVar("_Told")

FAULTS_FOUND = 1
UNUSABLE = 2
FAILED = 3  # the program itself
INTERRUPTED = 130  # 128 + SIGINT, what shells report
READER_GONE = 141  # 128 + SIGPIPE, likewise

# A cell may hold a million characters; its fault stays one line that can be read.
_LONGEST_LINE = 500


class _ClosedOutput(io.TextIOBase):
    """Stands for a standard output that is closed: whoever writes to it is told so."""

    encoding = "utf-8"

    def write(self, text: str, /) -> int:
        raise OSError(errno.EBADF, "it is closed")


def prepare_streams() -> None:
    """Let neither a closed stream nor a character that it cannot show stop the program."""
    # In this order, so that no file that is opened later takes the number of a closed one.
    if sys.stdin is None:
        sys.stdin = open(os.devnull, encoding="utf-8")  # noqa: SIM115
    if sys.stdout is None:
        os.open(os.devnull, os.O_WRONLY)
        sys.stdout = _ClosedOutput()
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    # What an impossible reading does to arithmetic is said by the findings.
    warnings.simplefilter("ignore", RuntimeWarning)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


@contextmanager
def ended_as_from_the_keyboard() -> Iterator[None]:
    """Have a request to end answered as the keyboard is: what is half-done is tidied away."""
    if threading.current_thread() is not threading.main_thread():  # others may not say so
        yield
        return
    before = signal.signal(signal.SIGTERM, _interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _interrupt(number: int, frame: FrameType | None) -> NoReturn:
    raise KeyboardInterrupt


def _one_line(text: str, longest: int = _LONGEST_LINE) -> str:
    r"""Return text as one printable line, its middle left out where it is too long.

    Examples
    --------
    >>> _one_line("a\nb\x1b[31m")
    'a b [31m'
    >>> _one_line("abcdefghij", longest=7)
    'a ... j'
    """
    kept = text if len(text) <= 4 * longest else text[: 2 * longest] + text[-2 * longest :]
    line = " ".join(on_one_line(kept, " ").split())
    if len(line) <= longest:
        return line
    half = (longest - 5) // 2
    return f"{line[:half]} ... {line[-half:]}"


def complain(line: str) -> None:
    """Write one line to standard error; where that is full, the exit status alone says it."""
    try:
        print(_one_line(line), file=sys.stderr, flush=True)
    except BrokenPipeError:  # nobody reads what is said: there is nothing to go on for
        raise
    except OSError:
        _leave(sys.stderr)


def output_failed(error: OSError) -> int:
    """Say that what was to be printed could not be, and return the exit status."""
    complain(f"{error.filename or 'standard output'}: cannot be used ({error.strerror or error})")
    leave_pipe()
    return UNUSABLE


_MAX_OF_A_KIND = 20
_PLACE_IN_FILE = re.compile(r"\b(row|line|record) [0-9]+")
_READ = re.compile(r'"[^"]*"|[0-9][0-9.,]*')


def _kind(line: str) -> str:
    """Return what faults of one kind in one file have in common: not rows, nor what was read.

    Examples
    --------
    >>> _kind('a1.csv, row 14, bath_C: "hot" does not start with a number')
    'a1.csv, row ..., bath_C: ... does not start with a number'
    """
    place, colon, reason = line.partition(": ")
    return _PLACE_IN_FILE.sub(r"\1 ...", place) + colon + _READ.sub("...", reason)


class Faults:
    """Writes each fault as one line, and knows which it wrote.

    Of one kind it writes the first few; how many more there are is said by `told_to_the_end`. What
    is the same to the letter, such as an option that is typed twice, is written once.
    """

    _open: ClassVar[list[Faults]] = []

    def __init__(self) -> None:
        self.said: list[object] = []
        self._kinds: Counter[str] = Counter()
        self._written: set[str] = set()
        self._open.append(self)

    @classmethod
    @contextmanager
    def told_to_the_end(cls) -> Iterator[None]:
        """Say at the end of a command how many faults of each kind were not written."""
        cls._open.clear()
        try:
            yield
        finally:
            for kind, count in (pair for one in cls._open for pair in one._kinds.items()):
                if (more := count - _MAX_OF_A_KIND) > 0:
                    complain(f"{more:,} more of this kind: {kind}")
            cls._open.clear()

    @property
    def count(self) -> int:
        """How many."""
        return len(self.said)

    @property
    def status(self) -> int:
        """The exit status that they make: that of a failure of the program before all others."""
        if any(getattr(one, "of_program", False) for one in self.said):
            return FAILED
        return UNUSABLE if self.said else 0

    def __call__(self, line: object) -> None:
        """Write a fault."""
        self.said.append(line)
        text = str(line)
        if text in self._written:
            return
        kind = _kind(text)
        self._kinds[kind] += 1
        if self._kinds[kind] <= _MAX_OF_A_KIND:
            self._written.add(text)
            complain(text)

    def singly(self, ones: Iterable[tuple[str, Callable[[], _Told]]]) -> Iterator[_Told]:
        """Yield what each gives; where that fails, it is the fault of what is named alone."""
        for place, tell in ones:
            try:
                told = tell()
            except Exception as error:
                self(RunFault.of(place, error))
            else:
                yield told

    @contextmanager
    def apart(self, place: str) -> Iterator[None]:
        """Let what fails within be the fault of what is named alone."""
        try:
            yield
        except Exception as error:
            self(RunFault.of(place, error))

    def of_option(self, name: str, error: QuantityError) -> None:
        """Write what is wrong with what was typed for an option, by the name of its field."""
        option = name.replace("_", "-")
        self(f'--{option}: "{error.read}" {error.reason}; {error.advice}')

    def of_table(self, error: Exception) -> None:
        """Write why a table cannot be used: each reason that there is."""
        from identify.tables.faults import TableError

        for reason in error.args if isinstance(error, TableError) else (error,):
            self(reason)


def leave_pipe() -> None:
    """Stop writing to a pipe that nobody reads, without a complaint when Python shuts down."""
    _leave(sys.stdout)


def _leave(stream: TextIO) -> None:
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
    except (OSError, ValueError):  # it is not a real file: nothing to redirect
        return
