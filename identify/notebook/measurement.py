"""What was written in the notebook: frozen dataclasses, no arithmetic.

Every field keeps the quantity as it was written (value, unit, uncertainty), or None. A field may be
given as a `Quantity`, as text with its unit ("64.6 C"), or as a plain number in the unit that
stands beside the field.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeAlias

from identify.notebook import usual
from identify.notebook.composition.combustion import PRODUCT_OF, burned_percent
from identify.notebook.composition.formulas import percent_composition
from identify.notebook.composition.percentages import Composition
from identify.notebook.errors import UnusableInput
from identify.notebook.fields import (
    Fills,
    OneOf,
    Reading,
    Summed,
    Worded,
    WrittenFormula,
    is_word,
)
from identify.notebook.quantity.quantities import (
    Quantity,
    QuantityError,
    excerpt,
)

_Circumstances: TypeAlias = tuple[tuple[str, str], ...]
_WORDS = usual.BATH_WORDS | usual.ROOM_WORDS


@dataclass(frozen=True)
class Source:
    """Where a measurement was read: file, and row of a table (its header is row 1).

    Examples
    --------
    >>> print(Source("section.csv", 14))
    section.csv, row 14
    """

    file: str = ""
    row: int | None = None

    def __str__(self) -> str:
        return self.file if self.row is None else f"{self.file}, row {self.row}"


@dataclass(frozen=True)
class Conditions:
    """The laboratory during the run.

    Parameters
    ----------
    pressure : quantity, optional
        Station pressure, plain numbers in mmHg.
    room : quantity, optional
        Room temperature, plain numbers in degrees Celsius, or ``"room temperature"``.
    bath, weighed_at, liquid : quantity, optional
        Of all trials that have none of their own, as in `Trial`.
    humidity : quantity, optional
        Relative humidity, plain numbers in percent.
    mercury_barometer : bool
        The pressure is the uncorrected height of a mercury column at room temperature. Then the
        column's temperature and, where given, latitude and height are corrected for.
    latitude : quantity, optional
        Plain numbers in degrees.
    height : quantity, optional
        Height above sea level, plain numbers in meters: tells the pressure where none was read.

    Raises
    ------
    QuantityError
        If a field cannot be read; the error names it.
    """

    pressure: Summed = Summed("pressure", "mmHg")
    room: Worded = Worded(usual.ROOM_WORDS)
    humidity: Reading = Reading("percent", "%")
    mercury_barometer: bool = False
    latitude: Reading = Reading("angle", "deg")
    height: Reading = Reading("length", "m")
    bath: Worded = Worded(usual.BATH_WORDS)
    weighed_at: Worded = Worded(usual.COOLED_WORDS)
    liquid: Reading = Reading("volume", "mL")


_WHILE_HOT = ("closed hot", "stoppered hot", "stoppered while hot", "true", "while hot", "yes")
_NOT_HOT = ("after cooling", "cold", "cool", "false", "no", "not closed", "open", "when cool")
_CLOSED = dict.fromkeys(_WHILE_HOT, "hot") | dict.fromkeys(_NOT_HOT, "")
IN_FLASK, IN_SYRINGE = "flask", "syringe"


@dataclass(frozen=True)
class Flask:
    """The flask's brim volume, or the water that filled it.

    Parameters
    ----------
    volume : quantity, optional
        Plain numbers in mL.
    water_mass : quantity, optional
        Mass of the water that filled it to the brim, plain numbers in g.
    water_temperature : quantity, optional
        Plain numbers in degrees Celsius.
    water_volume : quantity, optional
        Volume of that water, measured out; plain numbers in mL. Fills of a graduated cylinder add:
        ``"100.0 + 100.0 + 83.6 mL"``, or a list with one entry a fill.
    size : quantity, optional
        What is printed on it, plain numbers in mL; the brim holds more, see `usual.BRIM_RATIO`.
        Counts only where nothing else says how large it is.
    closed : {"", "hot"}
        ``"hot"`` where it was stoppered while hot, so that no air came back into it.

    Raises
    ------
    QuantityError
        If a field cannot be read, or the flask was closed otherwise; the error names it.

    Examples
    --------
    >>> flask = Flask(water_volume=[100.0, "100.0 mL", 83.6])
    >>> print(flask.water_volume, "in", flask.water_volume.fills)
    283.6 mL in 3
    """

    volume: Summed = Summed("volume", "mL")
    water_mass: Summed = Summed("mass", "g")
    water_temperature: Worded = Worded(usual.ROOM_WORDS)
    water_volume: Fills = Fills("volume", "mL")
    size: Reading = Reading("volume", "mL")
    closed: OneOf = OneOf(_CLOSED, "write hot where it was stoppered while hot, or leave it out")

    @property
    def measured_volume(self) -> Quantity | None:
        """The volume as it was read off; None where only the water's mass is written."""
        return self.volume if self.volume is not None else self.water_volume


@dataclass(frozen=True)
class Trial:
    """One pair of weighings, or one weighed liquid in a syringe.

    Parameters
    ----------
    empty : quantity, optional
        Flask and lid, plain numbers in g; what was weighed apart adds: ``"78.64 + 0.24 g"``.
    condensed : quantity, optional
        Flask, lid and condensed liquid, likewise.
    gain : quantity, optional
        The two weighings as their difference, likewise. They count where they are written too.
    bath : quantity, optional
        Plain numbers in degrees Celsius, or ``"boiling water"``.
    weighed_at : quantity, optional
        Temperature of the contents at the second weighing, plain numbers in degrees Celsius, or
        ``"ice bath"``; the room's where not given.
    liquid : quantity, optional
        How much was poured into the flask, plain numbers in mL.
    vaporized_in : {"flask", "syringe"}
        In a syringe there is no air: ``gain`` is the liquid's mass, ``bath`` the temperature of the
        vapor, and the volume of the flask its volume.
    unread : tuple of str
        Fields of it, its conditions or its flask in which something was written that could not be
        read: nothing usual is taken in their place.
    conditions, flask : optional
        What this trial had of its own; replaces the run's, field by field.
    source : Source
    circumstances : tuple of (str, str)
        Day and instruments, such as ``("balance", "2")``, kept in order; no match looks at them.

    Raises
    ------
    QuantityError
        If a field cannot be read; the error names it.
    """

    empty: Summed = Summed("mass", "g")
    condensed: Summed = Summed("mass", "g")
    bath: Worded = Worded(usual.BATH_WORDS)
    conditions: Conditions | None = None
    flask: Flask | None = None
    source: Source = Source()
    circumstances: _Circumstances = ()
    gain: Summed = Summed("mass", "g")
    weighed_at: Worded = Worded(usual.COOLED_WORDS)
    liquid: Reading = Reading("volume", "mL")
    vaporized_in: str = IN_FLASK
    unread: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.vaporized_in not in (IN_FLASK, IN_SYRINGE):
            raise UnusableInput(f"vaporized_in: {excerpt(str(self.vaporized_in))} is not a place")
        object.__setattr__(self, "circumstances", _in_order(self.circumstances))


@dataclass(frozen=True)
class Combustion:
    """What was weighed of a combustion, plain numbers in g.

    Parameters
    ----------
    sample : quantity, optional
        What was burned; not zero.
    co2, h2o, n2, so2, agcl, agbr, agi : quantity, optional
        What was collected of it.

    Raises
    ------
    QuantityError
        If a field cannot be read, or the sample has no mass.
    """

    sample: Summed = Summed("mass", "g")
    co2: Summed = Summed("mass", "g")
    h2o: Summed = Summed("mass", "g")
    n2: Summed = Summed("mass", "g")
    so2: Summed = Summed("mass", "g")
    agcl: Summed = Summed("mass", "g")
    agbr: Summed = Summed("mass", "g")
    agi: Summed = Summed("mass", "g")

    def __post_init__(self) -> None:
        if self.sample is not None and not self.sample.value > 0.0:
            raise QuantityError(str(self.sample), "has no mass", "weigh it", "sample")

    def percent(self) -> dict[str, Quantity]:
        """Return the percentages of the elements that were collected; none without a sample."""
        masses = {formula: getattr(self, formula.lower()) for formula in PRODUCT_OF}
        collected = {formula: mass for formula, mass in masses.items() if mass is not None}
        return burned_percent(self.sample, collected) if self.sample is not None else {}


@dataclass(frozen=True)
class Reported:
    """What the student made of the readings. No match looks at it.

    Parameters
    ----------
    answer : str
        The liquid that the student named.
    molar_mass : float or None
        That the student worked out [g/mol]; of several trials their mean.
    """

    answer: str = ""
    molar_mass: float | None = None


_OWN = ("i", "me", "mine", "myself", "own reading", "own measurement", "measured", "student")
_BY = {**dict.fromkeys(_OWN, "own"), "bottle": "card", "label": "card", "the card": "card"}
_IDEAL_GAS = dict.fromkeys(
    ("ideal", "ideal-gas", "ideal gas law", "ideal-gas law", "mrt/pv", "pv=nrt", "pv = nrt"),
    "ideal gas",
)


@dataclass(frozen=True)
class Measurement:
    """One unknown as one person measured it.

    Parameters
    ----------
    label : str
        The bottle's label.
    molar_mass : quantity, optional
        A molar mass already worked out, plain numbers in g/mol. Replaces flask and trials.
    percent : mapping of element symbol to quantity
        Percent composition by mass; symbols from `ELEMENTS`, in any case.
    boiling_point : quantity, optional
        Plain numbers in degrees Celsius.
    boiling_point_at : quantity, optional
        Pressure of the boiling point, plain numbers in mmHg; 760 mmHg where not given.
    refractive_index, density : quantity, optional
        Of the liquid: refractive index at the sodium D line, 1.2 to 1.8; density, plain numbers in
        g/mL, 0.5 to 3.5 g/mL.
    refractive_index_at, density_at : quantity, optional
        Temperature of that reading, plain numbers in degrees Celsius; 20 where not given.
    melting_point : quantity, optional
        Melting or freezing point, plain numbers in degrees Celsius.
    conditions, flask, trials
        The weighings.
    student : str
        Who measured, where a table says so.
    source, circumstances, unread
        Of the whole run, as in `Trial`; each trial has its circumstances too.
    formula : str
        Instead of a composition, which follows from it where that is not written.
    vapor_density : quantity, optional
        Instead of a molar mass, which follows from it where that is not written: plain numbers
        relative to hydrogen, or ``"2.55 (air)"``.
    combustion : Combustion, optional
        Instead of a composition, before a formula; what is left to 100 % is oxygen.
    boiling_point_by : {"", "card", "own"}
        ``"own"`` where the student read it.
    molar_mass_by : {"", "ideal gas"}
        ``"ideal gas"`` where it is m R T / (P V).
    reported : Reported
        What the student made of it.

    Raises
    ------
    QuantityError
        If a field cannot be read, or an element is not in `ELEMENTS`.
    TypeError
        If the label is not a text, or a part is not of its class.

    Examples
    --------
    >>> run = Measurement("C-14", molar_mass=32.4, boiling_point="64.6 C", percent={"c": 37.5})
    >>> run.boiling_point.to("K").value
    337.75
    >>> print(run.molar_mass, run.percent["C"])
    32.4 g/mol 37.5 %
    """

    label: str
    molar_mass: Reading = Reading("molar mass", "g/mol")
    percent: Composition = Composition()
    boiling_point: Reading = Reading("temperature", "C")
    boiling_point_at: Reading = Reading("pressure", "mmHg")
    refractive_index: Reading = Reading("refractive index", "1")
    refractive_index_at: Reading = Reading("temperature", "C")
    density: Reading = Reading("liquid density", "g/mL")
    density_at: Reading = Reading("temperature", "C")
    melting_point: Reading = Reading("temperature", "C")
    conditions: Conditions = Conditions()
    flask: Flask = Flask()
    trials: Sequence[Trial] = ()
    student: str = ""
    source: Source = Source()
    circumstances: _Circumstances = ()
    unread: tuple[str, ...] = ()
    formula: WrittenFormula = WrittenFormula()
    vapor_density: Reading = Reading("vapor density", "H2")
    combustion: Combustion | None = None
    boiling_point_by: OneOf = OneOf(_BY, "write own where the student read it, or card")
    molar_mass_by: OneOf = OneOf(_IDEAL_GAS, "write ideal gas where it is m R T / (P V)")
    reported: Reported = Reported()

    def __post_init__(self) -> None:
        _require("label", self.label, str)
        _require("student", self.student, str)
        _require("conditions", self.conditions, Conditions)
        _require("flask", self.flask, Flask)
        if isinstance(self.trials, Trial | str) or not isinstance(self.trials, Iterable):
            raise TypeError(f"trials: {excerpt(self.trials)} is not a list of Trial")
        trials = tuple(self.trials)
        for trial in trials:
            _require("trials", trial, Trial)
        object.__setattr__(self, "trials", tuple(map(self._with_what_all_share, trials)))
        object.__setattr__(self, "circumstances", _in_order(self.circumstances))
        self._follow()

    def _follow(self) -> None:
        """Take a composition and a molar mass from what is written in their place."""
        if not self.percent and self.combustion is not None:
            object.__setattr__(self, "percent", self.combustion.percent())
        if not self.percent and self.formula:
            shares = percent_composition(self.formula)
            percent = {element: round(share, 3) for element, share in shares.items()}
            object.__setattr__(self, "percent", percent)
        if self.molar_mass is None and self.vapor_density is not None:
            object.__setattr__(self, "molar_mass", self.vapor_density.to("g/mol"))

    @property
    def place(self) -> str:
        """Where it was read, and its label: what stands before whatever is said of it."""
        return ", ".join(filter(None, (str(self.source), self.label)))

    @property
    def is_burned(self) -> bool:
        """Whether the percentages follow from the masses of a combustion."""
        return self.combustion is not None and dict(self.percent) == self.combustion.percent()

    def without_molar_mass(self) -> Measurement:
        """Leave out a molar mass that was worked out before, and what it would follow from."""
        return replace(self, molar_mass=None, vapor_density=None)

    @cached_property
    def in_some_trial(self) -> dict[str, tuple[Quantity, ...]]:
        """Pressures, rooms and baths as numbers, of the trials that have one of their own."""
        found: dict[str, tuple[Quantity, ...]] = {}
        for trial in self.trials:
            for name, record in (
                ("pressure", trial.conditions),
                ("room", trial.conditions),
                ("bath", trial),
            ):
                written = getattr(record, name, None)
                if written is not None and not is_word(written, _WORDS):
                    found[name] = (*found.get(name, ()), written)
        return found

    def _with_what_all_share(self, trial: Trial) -> Trial:
        """Give a trial the bath and the cooled contents that were written for all."""
        own = trial.conditions or self.conditions
        shared = {
            name: getattr(own, name) or getattr(self.conditions, name)
            for name in ("bath", "weighed_at", "liquid")
            if getattr(trial, name) is None
        }
        written = {name: one for name, one in shared.items() if one is not None}
        return replace(trial, **written) if written else trial

    def trial_conditions(self, trial: Trial) -> Conditions:
        """Merge a trial's own conditions over the run's.

        Examples
        --------
        >>> noon = Trial(conditions=Conditions(pressure="741.2 mmHg"))
        >>> run = Measurement("C-14", conditions=Conditions(pressure=742.0, room=22.5))
        >>> merged = run.trial_conditions(noon)
        >>> print(merged.pressure, "and", merged.room)
        741.2 mmHg and 22.5 °C
        """
        own = trial.conditions
        if own is None:
            return self.conditions
        return replace(
            self.conditions,
            mercury_barometer=self.conditions.mercury_barometer or own.mercury_barometer,
            **_written_fields(own),
        )

    def trial_flask(self, trial: Trial) -> Flask:
        """Merge a trial's own flask over the run's.

        Examples
        --------
        >>> run = Measurement("C-14", flask=Flask(volume=287.4), trials=[Trial(empty=98.1132)])
        >>> print(run.trial_flask(run.trials[0]).volume)
        287.4 mL
        """
        own = trial.flask
        if own is None:
            return self.flask
        closed = own.closed or self.flask.closed
        return replace(self.flask, closed=closed, **_written_fields(own))


def readings(record: type) -> dict[str, Reading]:
    """List the quantity fields of a dataclass above, by name."""
    return {name: value for name, value in vars(record).items() if isinstance(value, Reading)}


def words(record: type) -> dict[str, OneOf]:
    """List the fields of a dataclass above that hold a word, by name."""
    return {name: value for name, value in vars(record).items() if isinstance(value, OneOf)}


def _require(field: str, value: object, kind: type) -> None:
    if not isinstance(value, kind):
        wanted = "a text" if kind is str else f"a {kind.__name__}"
        raise TypeError(f"{field}: {excerpt(repr(value))} is not {wanted}")


def _in_order(circumstances: _Circumstances) -> _Circumstances:
    for part in (part for pair in circumstances for part in pair):
        _require("circumstances", part, str)
    return tuple(sorted(circumstances))


def _written_fields(record: Conditions | Flask) -> dict[str, Quantity]:
    written = {name: getattr(record, name) for name in readings(type(record))}
    return {name: quantity for name, quantity in written.items() if quantity is not None}
