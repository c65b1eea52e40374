"""Readings that many got wrong alike, set right in each student's run.

A fault that a section shares is not a slip of a student's. Their runs are ranked, and their slips
searched, with its readings as they should have been.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import isclose
from typing import Any

from identify.notebook.measurement import Conditions, Measurement, Trial
from identify.notebook.quantity.quantities import Quantity

_VOLUMES = ("volume", "water_volume", "water_mass", "size")
_SAME_PRESSURE = 1e-4  # relative: one reading, written in two units


@dataclass(frozen=True)
class Repair:
    """What a reading is multiplied by, or what is added to it.

    Parameters
    ----------
    reading : {"gain", "pressure", "bath", "volume", "boiling_point"}
    factor : float, default=1.0
        Temperatures are multiplied in K.
    shift : float, default=0.0
        Added after that [kg, Pa, K, m3].
    trials : mapping of int to frozenset of int, optional
        By the index of the run in the section, the numbers of the trials that it holds for; without
        it, all trials of everybody.
    """

    reading: str
    factor: float = 1.0
    shift: float = 0.0
    trials: Mapping[int, frozenset[int]] | None = None

    def of(self, run: Measurement, index: int) -> Measurement:
        """Return a run with the reading set right.

        Parameters
        ----------
        run : Measurement
        index : int
            Of the run in the section.

        Examples
        --------
        >>> run = Measurement("D-02", trials=[Trial(empty="80.000 g", condensed="80.500 g")])
        >>> print(Repair("gain", shift=-6e-5).of(run, 0).trials[0].condensed)
        80.440 g
        """
        if self.trials is not None and index not in self.trials:
            return run
        if self.reading == "boiling_point":
            return replace(run, boiling_point=self._changed(run.boiling_point, "K"))
        if self.reading == "pressure" and run.molar_mass is not None:
            return replace(run, molar_mass=_scaled(run.molar_mass, 1.0 / self.factor))
        change = _CHANGES[self.reading]
        trials = [
            change(self, run, trial) if self._holds_for(index, number) else trial
            for number, trial in enumerate(run.trials, 1)
        ]
        changed = replace(run, trials=trials)
        return self._with_pressure_of_card(run, changed) if self.reading == "pressure" else changed

    def _holds_for(self, index: int, number: int) -> bool:
        return self.trials is None or number in self.trials.get(index, ())

    def _changed(self, written: Quantity | None, unit: str) -> Any:
        """Return a reading set right, in its own unit."""
        if written is None:
            return None
        right = written.to(unit).value * self.factor + self.shift
        return replace(written, value=Quantity(right, unit).to(written.unit).value)

    def _gain(self, run: Measurement, trial: Trial) -> Trial:
        gain = self._changed(trial.gain, "kg")
        if trial.empty is None or trial.condensed is None:
            return replace(trial, gain=gain)
        empty = trial.empty.to("kg").value
        right = (trial.condensed.to("kg").value - empty) * self.factor + self.shift
        value = Quantity(empty + right, "kg").to(trial.condensed.unit).value
        return replace(trial, gain=gain, condensed=replace(trial.condensed, value=value))

    def _pressure(self, run: Measurement, trial: Trial) -> Trial:
        right = self._changed(run.trial_conditions(trial).pressure, "Pa")
        own = trial.conditions or Conditions()
        return replace(trial, conditions=replace(own, pressure=right))

    def _bath(self, run: Measurement, trial: Trial) -> Trial:
        return replace(trial, bath=self._changed(trial.bath, "K"))

    def _volume(self, run: Measurement, trial: Trial) -> Trial:
        flask = run.trial_flask(trial)
        right: dict[str, Any] = {
            name: _scaled(written, self.factor)
            for name in _VOLUMES
            if (written := getattr(flask, name)) is not None
        }
        return replace(trial, flask=replace(flask, **right))

    def _with_pressure_of_card(self, run: Measurement, changed: Measurement) -> Measurement:
        """Set right the pressure of a boiling point, where it is the same reading."""
        read, at = run.conditions.pressure, run.boiling_point_at
        if read is None or at is None or not changed.trials:
            return changed
        if not isclose(read.to("Pa").value, at.to("Pa").value, rel_tol=_SAME_PRESSURE):
            return changed
        conditions = changed.trials[0].conditions
        right = None if conditions is None else conditions.pressure
        if right is None:
            return changed
        return replace(
            changed,
            conditions=replace(run.conditions, pressure=right),
            boiling_point_at=self._changed(at, "Pa"),
        )


_CHANGES: Mapping[str, Callable[[Repair, Measurement, Trial], Trial]] = {
    "gain": Repair._gain,
    "pressure": Repair._pressure,
    "bath": Repair._bath,
    "volume": Repair._volume,
}


def _scaled(written: Quantity, factor: float) -> Quantity:
    return replace(written, value=written.value * factor)
