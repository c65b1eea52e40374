"""What all errors about input have in common, and what stands in the place of an answer."""

from __future__ import annotations

from dataclasses import dataclass


class UnusableInput(ValueError):
    """What was given cannot be used.

    The message is one line: what was read and where, why it cannot be used, and what to do.
    """


class WorkStopped(RuntimeError):
    """The work as a whole cannot go on: what stops it at one unknown stops it at all."""


def program_failed(error: BaseException) -> str:
    """Say that the program itself failed, which no input is to blame for.

    Examples
    --------
    >>> program_failed(ZeroDivisionError("division by zero"))
    'the program itself failed (ZeroDivisionError: division by zero); please report it'
    """
    return f"the program itself failed ({type(error).__name__}: {error}); please report it"


@dataclass(frozen=True)
class RunFault:
    """Why one unknown of several has no answer.

    Parameters
    ----------
    place : str
        File, row and label, or whatever else names it.
    reason : str
        Why, and what to do.
    of_program : bool
        Whether the program itself failed at it.

    Examples
    --------
    >>> print(RunFault.of("section.csv, row 3, C-14", UnusableInput("nothing was weighed")))
    section.csv, row 3, C-14: nothing was weighed
    """

    place: str
    reason: str
    of_program: bool = False

    @classmethod
    def of(cls, place: str, error: Exception) -> RunFault:
        """Return what an error means for one unknown.

        Raises
        ------
        WorkStopped, OSError
            Where the others meet the same: the error itself.
        """
        if isinstance(error, WorkStopped | OSError):
            raise error
        if isinstance(error, UnusableInput):
            return cls(place, str(error))
        if isinstance(error, MemoryError):
            return cls(place, "there is not enough memory for this unknown; the others go on")
        return cls(place, program_failed(error), of_program=True)

    def __str__(self) -> str:
        return f"{self.place}: {self.reason}" if self.place else self.reason
