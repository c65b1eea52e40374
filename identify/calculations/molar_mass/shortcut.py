"""The working of a trial as far as it needs no liquid: the readings, and the ideal-gas shortcut."""

from __future__ import annotations

from collections.abc import Iterator

from identify.bench.trials import BenchTrial
from identify.calculations.working import Step
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.quantity.units import MMHG, shown_unit
from identify.physics.barometer import local_gravity
from identify.physics.constants import GAS_CONSTANT, ICE_POINT, STANDARD_PRESSURE, WEIGHT_DENSITY
from identify.physics.vapor import Weighing
from identify.physics.water import water_density

# 62.3636 L mmHg / (mol K): in the units of the bench.
BENCH_GAS_CONSTANT = GAS_CONSTANT * 1e3 / MMHG
GAS_CONSTANT_TEXT = f"{BENCH_GAS_CONSTANT:.4f} L mmHg/(mol K)"
DENSITY_UNIT = "g/L"


class WorkedReadings:
    """The readings of one trial in the units of the bench: g, L, mmHg, K.

    Parameters
    ----------
    trial : BenchTrial
    read : Weighing
        Of this trial alone.
    """

    def __init__(self, trial: BenchTrial, read: Weighing) -> None:
        self.trial, self.read = trial, read
        self.gain = 1e3 * float(read.gain[0])
        self.bath = float(read.bath[0])
        self.pressure = float(read.pressure[0]) / MMHG
        self.volume = 1e3 * float(read.volume[0])
        self.air = float(read.air_density[0])

    def shortcut_steps(self, before: str = "") -> Iterator[Step]:
        """Yield the working up to the ideal-gas shortcut, each line's title after ``before``."""
        yield from self._gain(before)
        yield from self._converted(before)
        yield from self._air_for_volume(before)
        yield from self._volume()
        yield self._shortcut(before)

    def shortcut_step(self) -> Step:
        """Return the shortcut's working in one line."""
        title = f"trial {self.trial.number}, m = {self.gain:.4f} g, in the same way"
        one = self._shortcut("")
        return Step(title, one.formula, one.numbers, one.result)

    @property
    def _is_filled_with_water(self) -> bool:
        """Whether the volume is weighed as water, for which the density of the air is needed."""
        return self.trial.flask.measured_volume is None

    def _air_for_volume(self, before: str) -> Iterator[Step]:
        if self._is_filled_with_water:
            yield from self._air(before)

    def _air(self, before: str) -> Iterator[Step]:
        yield from self._barometer(before)
        if self.trial.is_in_flask:
            yield self._air_density(before)

    def _gain(self, before: str) -> Iterator[Step]:
        if not self.trial.is_by_difference:  # else one reading needs no working
            yield Step(
                f"{before}gain in mass",
                "m = m(condensed) - m(empty)",
                f"{self.trial.written.condensed} - {self.trial.written.empty}",
                f"{self.gain:.4f} g",
            )

    def _converted(self, before: str) -> Iterator[Step]:
        bath, pressure = self.trial.written.bath, self.trial.conditions.pressure
        if bath is not None and bath.unit != "K":
            celsius = bath.to("C")
            yield Step(
                f"{before}temperature of the bath",
                "T = t + 273.15",
                f"{celsius.value:.2f} + 273.15 K",
                f"{self.bath:.2f} K",
            )
        if pressure is not None and pressure.unit not in ("mmHg", "torr"):
            unit = pressure.unit
            standard = Quantity(STANDARD_PRESSURE, "Pa").to(unit).value
            yield Step(
                f"{before}pressure, in mmHg",
                f"P(mmHg) = P x 760 mmHg / {standard:.6g}{shown_unit(unit)}",
                f"{pressure} x 760 mmHg / {standard:.6g}{shown_unit(unit)}",
                f"{pressure.to('mmHg').value:.2f} mmHg",
            )

    def _volume(self) -> Iterator[Step]:
        flask = self.trial.flask
        measured = flask.measured_volume
        if measured is not None:
            # One reading needs no working.
            if measured.fills > 1:
                result = f"{1e3 * self.volume:.1f} mL"
                yield Step("volume of the flask", "V = sum of the fills", measured.text, result)
            return
        kelvin = self.trial.water_temperature.value
        yield Step(
            f"volume of the flask, from the water that fills it at {kelvin - ICE_POINT:.1f} °C "
            "(density of water after IAPWS)",
            "V = m(water) (1 - rho(air) / rho(weights)) / (rho(water) - rho(air))",
            f"{flask.water_mass} x (1 - {self.air:.4f} / {WEIGHT_DENSITY:g}) / "
            f"({water_density(kelvin):.2f} - {self.air:.2f}) {DENSITY_UNIT}",
            f"{self.volume:.5f} L",
        )

    def _shortcut(self, before: str) -> Step:
        pressure = self.trial.pressure.value / MMHG
        symbol = "P(read)" if self.trial.conditions.mercury_barometer else "P"
        lost = self.air * self.volume if self.trial.flask.closed else 0.0
        ideal = (self.gain + lost) * BENCH_GAS_CONSTANT * self.bath / (pressure * self.volume)
        mass = f"({self.gain:.4f} + {lost:.4f}) g" if lost else f"{self.gain:.4f} g"
        return Step(
            f"{before}ideal-gas shortcut" + (", the missing air added back" if lost else ""),
            f"M = m R T / ({symbol} V)",
            f"{mass} x {GAS_CONSTANT_TEXT} x {self.bath:.2f} K / "
            f"({pressure:.2f} mmHg x {self.volume:.5f} L)",
            f"{ideal:.2f} g/mol",
        )

    def _barometer(self, before: str) -> Iterator[Step]:
        conditions, read = self.trial.conditions, self.trial.pressure.value / MMHG
        if not conditions.mercury_barometer:
            return
        what, formula, numbers = f"{before}barometer, mercury and brass scale at 0 °C", "", ""
        if conditions.latitude is not None:
            latitude = conditions.latitude.to("deg").value
            height = 0.0 if conditions.height is None else conditions.height.to("m").value
            what += f", gravity at latitude {latitude:g}° and {height:g} m"
            formula, numbers = " g / 9.80665", f" x {local_gravity(latitude, height):.5f} / 9.80665"
        celsius = f"{self.trial.room.value - ICE_POINT:.1f}"
        yield Step(
            what,
            f"P = P(read) (1 - (0.0001818 - 0.0000184) t / (1 + 0.0001818 t)){formula}",
            f"{read:.2f} mmHg x (1 - 0.0001634 x {celsius} / (1 + 0.0001818 x {celsius})){numbers}",
            f"{self.pressure:.2f} mmHg",
        )

    def _air_density(self, before: str) -> Step:
        assumed = " assumed" if self.trial.humidity.is_assumed else ""
        return Step(
            f"{before}density of the air in the room (formula CIPM-2007, or a table)",
            "rho = rho(t, P, humidity)",
            f"rho({self.read.room[0] - ICE_POINT:.1f} °C, {self.pressure:.1f} mmHg, "
            f"{100.0 * self.read.humidity[0]:.0f} %{assumed})",
            f"{self.air:.4f} {DENSITY_UNIT}",
        )
