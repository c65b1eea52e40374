"""What a student is given back of a result: their own numbers, and what to do better."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from identify.calculations.working import Step
from identify.notebook.serializing import Serializable, serialized


@dataclass(frozen=True)
class OwnReading:
    """A reading as the student wrote it, with its unit.

    Parameters
    ----------
    name : str
    values : tuple of str
        One for each trial, or one for all; empty text where a trial has none.
    """

    name: str
    values: tuple[str, ...]

    def __str__(self) -> str:
        """Return the reading as one text."""
        return f"{self.name}: {'; '.join(value or 'nothing' for value in self.values)}"


@dataclass(frozen=True)
class Remark(Serializable):
    """What was noticed in a student's own numbers.

    Parameters
    ----------
    code : str
        Of the finding or slip.
    message, advice : str
    """

    code: str
    message: str
    advice: str


def _as_texts(readings: Sequence[OwnReading]) -> list[str]:
    return [str(one) for one in readings]


def _as_lines(steps: Sequence[Step]) -> list[str]:
    """Return the working, a text for each line."""
    return [f"{one.what}: {one.formula} = {one.numbers} = {one.result}" for one in steps]


@dataclass(frozen=True)
class Feedback(Serializable):
    """What a student is given back of one result.

    Nothing in it is another student's, or says what the key has in the bottle.

    Parameters
    ----------
    readings : tuple of OwnReading
    working : tuple of Step
        Of the molar mass, by the ideal-gas shortcut.
    molar_mass : tuple of str
        What the weighings come to, in sentences.
    noticed : tuple of Remark
        Slips and findings.
    shared : tuple of str
        What many students share, and nobody has to answer for.
    graded : tuple of str
        How name and molar mass that were handed in were graded.
    next_time : tuple of str
        What to do better.
    set_aside : tuple of str
        Rows that could not be used, with the reason.
    """

    readings: tuple[OwnReading, ...] = field(default=(), metadata=serialized(_as_texts))
    working: tuple[Step, ...] = field(default=(), metadata=serialized(_as_lines))
    molar_mass: tuple[str, ...] = ()
    noticed: tuple[Remark, ...] = ()
    shared: tuple[str, ...] = ()
    graded: tuple[str, ...] = ()
    next_time: tuple[str, ...] = ()
    set_aside: tuple[str, ...] = ()
