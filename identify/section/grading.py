"""What a student made of the readings, graded: the liquid's name, and the molar mass.

A molar mass is held against the student's own weighings, by the shortcut of the ideal gas and with
the corrections of the liquid that was in the bottle; where it is neither, the usual slips of that
arithmetic are tried.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from identify.bench.bench import Bench
from identify.compounds.naming.resolver import built_in_resolver
from identify.compounds.table import CandidateTable
from identify.matching.expected.expectation import Expectation
from identify.notebook.measurement import Measurement
from identify.notebook.quantity.units import MMHG
from identify.notebook.serializing import Serializable
from identify.physics.arrays import Array
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE
from identify.physics.vapor import Weighing

# Relative: what rounding on the way makes, to three digits. Common practice.
_ROUNDED = 0.006
# That a pressure is written in, or a gas constant beside liters [Pa]: 8.314 is that of kPa.
_PRESSURE_UNITS = (STANDARD_PRESSURE, MMHG, 1000.0, 1e5, 100.0)
_SHORTCUT, _CORRECTED = "by the shortcut", "with corrections"
_UNEXPLAINED = "does not follow from the weighings"


@dataclass(frozen=True)
class Graded(Serializable):
    """What a student handed in, and what it is worth.

    Parameters
    ----------
    answer : str
        As it was written.
    answer_grade : {"right", "right formula", "wrong", "not clear", ""}
        ``not clear`` where it is not the name of one compound. Empty where nothing was written, or
        what is in the bottle is not known.
    reported_molar_mass : float or None
        In g/mol.
    molar_mass_grade : str
        What the molar mass is: as it follows from the weighings, or the slip of the arithmetic that
        explains it. Empty where none was written, or nothing was weighed.
    is_molar_mass_right : bool or None
        Whether it follows from the student's own weighings.
    percent_error : float or None
        Of the molar mass that was handed in against ``against`` [percent].
    against : str
        The liquid that was in the bottle, as far as that is known.
    """

    answer: str = ""
    answer_grade: str = ""
    reported_molar_mass: float | None = None
    molar_mass_grade: str = ""
    is_molar_mass_right: bool | None = None
    percent_error: float | None = None
    against: str = ""

    @property
    def is_explained(self) -> bool:
        """Whether one slip of the arithmetic makes the molar mass what it is."""
        return self.is_molar_mass_right is False and self.molar_mass_grade != _UNEXPLAINED

    @classmethod
    def of(cls, run: Measurement, bench: Bench, bottled: Bottled) -> Graded | None:
        """Grade what a student reported, None where that is nothing.

        Parameters
        ----------
        run : Measurement
        bench : Bench
            Of it, as it was written.
        bottled : Bottled
        """
        answer, value = run.reported.answer, run.reported.molar_mass
        if not answer and value is None:
            return None
        grade, is_right = "", None
        if value is not None:
            grade, is_right = graded_molar_mass(value, bench, bottled)
        known = value is not None and bottled.row is not None
        return cls(
            answer,
            graded_answer(answer, bottled),
            value,
            grade,
            is_right,
            100.0 * (value / bottled.molar_mass - 1.0) if known and value is not None else None,
            bottled.name,
        )


@dataclass(frozen=True)
class Bottled:
    """The liquid that was in a bottle.

    Parameters
    ----------
    table : CandidateTable
    row : int or None
        None where it is not known.
    """

    table: CandidateTable
    row: int | None

    @property
    def molar_mass(self) -> float:
        """In g/mol; NaN where the liquid is not known."""
        return (
            float("nan") if self.row is None else float(self.table.number("molar_mass")[self.row])
        )

    @property
    def name(self) -> str:
        """Empty where the liquid is not known."""
        return "" if self.row is None else self.table.text("name")[self.row]

    def implied_molar_masses(self, weighing: Weighing) -> Array:
        """Return the molar masses of trials with this liquid's corrections [g/mol]."""
        assert self.row is not None
        liquid = Expectation.of(self.table.take([self.row]))
        return liquid.implied_molar_mass(weighing)[:, 0]


def graded_answer(answer: str, bottled: Bottled) -> str:
    """Grade the name that a student wrote, see `Graded`.

    Examples
    --------
    >>> from identify.compounds.loading import load_candidates
    >>> table = load_candidates()
    >>> acetone = Bottled(table, table.find("acetone")[0])
    >>> [graded_answer(one, acetone) for one in ("2-propanone", "propanal", "ethanol", "no idea")]
    ['right', 'right formula', 'wrong', 'not clear']
    """
    if not answer or bottled.row is None:
        return ""
    table, row = bottled.table, bottled.row
    meant = built_in_resolver().meaning(answer).compounds
    skeletons = {one.inchikey.partition("-")[0] for one in meant}
    if skeletons == {table.text("inchikey")[row].partition("-")[0]}:
        return "right"
    if meant and {one.formula for one in meant} == {table.text("formula")[row]}:
        return "right formula"
    return "wrong" if len(skeletons) == 1 else "not clear"


def graded_molar_mass(reported: float, bench: Bench, bottled: Bottled) -> tuple[str, bool | None]:
    """Say how a molar mass follows from a student's own weighings.

    Parameters
    ----------
    reported : float
        In g/mol.
    bench : Bench
        As the student wrote the readings.
    bottled : Bottled

    Returns
    -------
    grade : str
    is_right : bool or None
        None where nothing was weighed.
    """
    weighing = bench.weighing
    if weighing is None:
        return "", None
    right = {_SHORTCUT: 1e3 * weighing.ideal_molar_mass()}
    if bottled.row is not None:
        right[_CORRECTED] = bottled.implied_molar_masses(weighing)
    for grade, each in right.items():
        if _is_same(reported, each):
            return grade, True
    for words, change in _SLIPS.items():
        for each in change(weighing, bench):
            if _is_same(reported, right[_SHORTCUT] * each):
                return words, False
    return _UNEXPLAINED, False


def _is_same(reported: float, each: Array) -> bool:
    """Say whether a molar mass is the mean over the trials, or that of one of them."""
    expected = np.append(each, each.mean())
    known = expected[np.isfinite(expected) & (expected > 0.0)]
    return bool((np.abs(reported / known - 1.0) < _ROUNDED).any())


_Change = Callable[[Weighing, Bench], Iterator[Array]]


def _celsius(weighing: Weighing, bench: Bench) -> Iterator[Array]:
    yield (weighing.bath - ICE_POINT) / weighing.bath


def _room(weighing: Weighing, bench: Bench) -> Iterator[Array]:
    yield weighing.room / weighing.bath


def _standard(weighing: Weighing, bench: Bench) -> Iterator[Array]:
    yield weighing.pressure / STANDARD_PRESSURE


def _other_units(weighing: Weighing, bench: Bench) -> Iterator[Array]:
    for pressure in _PRESSURE_UNITS:
        for constant in _PRESSURE_UNITS:
            if pressure != constant:
                yield np.full_like(weighing.bath, pressure / constant)


def _milliliters(weighing: Weighing, bench: Bench) -> Iterator[Array]:
    yield np.full_like(weighing.bath, 1e-3)
    yield np.full_like(weighing.bath, 1e3)


def _whole_mass(weighing: Weighing, bench: Bench) -> Iterator[Array]:
    for name in ("condensed", "empty"):
        masses = np.array([getattr(trial, name).value for trial in bench.trials])
        yield masses / weighing.gain


def _printed_size(weighing: Weighing, bench: Bench) -> Iterator[Array]:
    for size in _SIZES:
        yield weighing.volume / size


_SIZES = (125e-6, 250e-6)  # m3, printed on the usual flasks
_SLIPS: dict[str, _Change] = {
    "temperature in °C where kelvin are needed": _celsius,
    "temperature of the room where the bath's is needed": _room,
    "760 mmHg in place of the laboratory's pressure": _standard,
    "size printed on the flask in place of its volume": _printed_size,
    "milliliters where liters are needed": _milliliters,
    "pressure and gas constant in different units": _other_units,
    "mass of the flask not subtracted": _whole_mass,
}
