"""Sections drawn from the project's own physics: quick, with the faults that a test asks for.

What a bench would have weighed follows from the candidates' constants, so that a section of a
thousand students takes a second; `simulated_sections.py` draws from reference equations of state.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.matching.expected.expectation import Expectation
from identify.notebook.measurement import Conditions, Flask, Measurement, Trial
from identify.physics.constants import ELEMENTS, ICE_POINT
from identify.physics.vapor import Weighing, gain

MMHG = 133.322387415  # Pa

# Twelve liquids that a teaching laboratory would put into bottles, some of them close together.
LIQUIDS: Mapping[str, str] = {
    "D-01": "methanol",
    "D-02": "acetone",
    "D-03": "ethanol",
    "D-04": "hexane",
    "D-05": "ethyl acetate",
    "D-06": "cyclohexane",
    "D-07": "chloroform",
    "D-08": "tetrahydrofuran",
    "D-09": "isopropanol",
    "D-10": "2-butanone",
    "D-11": "methyl acetate",
    "D-12": "benzene",
}


@dataclass(frozen=True)
class Faults:
    """What is wrong with a section; nothing where nothing is given.

    Parameters
    ----------
    contents : mapping of str to str
        Bottles that hold another liquid than their label says.
    cards : mapping of str to str
        Bottles whose card is that of another liquid.
    pressure, balance : mapping of str to float
        By day, what the barometer reads over what is true; by balance, what it shows of a gain
        over the true one.
    grams : mapping of str to float
        By balance, what it shows of a gain beside the true one [g].
    thermometer, bath : mapping of str to float
        By thermometer, how far a measured boiling point is off, and the bath [K].
    everything : float
        All gains over the true ones.
    slips : float
        Share of the trials that are off by any amount up to 40 percent.
    """

    contents: Mapping[str, str] = field(default_factory=dict)
    cards: Mapping[str, str] = field(default_factory=dict)
    pressure: Mapping[str, float] = field(default_factory=dict)
    balance: Mapping[str, float] = field(default_factory=dict)
    grams: Mapping[str, float] = field(default_factory=dict)
    thermometer: Mapping[str, float] = field(default_factory=dict)
    bath: Mapping[str, float] = field(default_factory=dict)
    everything: float = 1.0
    slips: float = 0.0


@dataclass(frozen=True)
class Class:
    """How a section works.

    Parameters
    ----------
    students, trials, days, balances, thermometers : int
    between, within : float
        Standard deviations of the gain from student to student, and from trial to trial of one.
    measured : bool
        Whether the boiling point is measured, to 0.7 K, and not copied from the card.
    liquids : mapping of str to str
        By label.
    """

    students: int = 240
    trials: int = 2
    days: int = 8
    balances: int = 4
    thermometers: int = 6
    between: float = 0.012
    within: float = 0.006
    measured: bool = False
    liquids: Mapping[str, str] = field(default_factory=lambda: dict(LIQUIDS))


class Drawn:
    """Draws sections.

    Parameters
    ----------
    seed : int
    table : CandidateTable, optional
    """

    def __init__(self, seed: int, table: CandidateTable | None = None) -> None:
        self.random = np.random.default_rng(seed)
        self.table = table or load_candidates()
        self._rows: dict[str, int] = {}
        self._expected: dict[str, Expectation] = {}

    def section(self, of: Class, faults: Faults | None = None) -> list[Measurement]:
        """Draw a section, a measurement a student."""
        wrong = faults or Faults()
        random, labels = self.random, list(of.liquids)
        days = [str(day + 1) for day in range(of.days)]
        pressures = dict(zip(days, random.uniform(735.0, 765.0, of.days), strict=True))
        rooms = dict(zip(days, random.uniform(20.0, 24.5, of.days), strict=True))
        runs = []
        for number in range(of.students):
            label = labels[number % len(labels)]
            day = days[int(random.integers(of.days))]
            place = (label, f"student {number + 1}", day)
            runs.append(self._run(of, wrong, place, (pressures[day], rooms[day])))
        return runs

    def row(self, name: str) -> int:
        """Return a liquid's row in the table."""
        if name not in self._rows:
            self._rows[name] = self.table.find(name)[0]
        return self._rows[name]

    def _run(
        self,
        of: Class,
        wrong: Faults,
        place: tuple[str, str, str],
        conditions: tuple[float, float],
    ) -> Measurement:
        random, (label, student, day) = self.random, place
        liquid = of.liquids[label]
        pressure, room = conditions
        balance = str(int(random.integers(of.balances)) + 1)
        thermometer = str(int(random.integers(of.thermometers)) + 1)
        read = pressure * wrong.pressure.get(day, 1.0)
        bath = 98.5 + 0.3 * float(random.standard_normal())
        volume = float(random.uniform(265.0, 300.0))
        held = wrong.contents.get(label, liquid)
        expected = self.gain(held, (bath, room, pressure, volume))
        expected *= wrong.everything * wrong.balance.get(balance, 1.0)
        expected *= 1.0 + of.between * float(random.standard_normal())
        expected += wrong.grams.get(balance, 0.0)
        empty = float(random.uniform(82.0, 97.0))
        shared = (("balance", balance), ("day", day), ("thermometer", thermometer))
        trials = []
        for _ in range(of.trials):
            gained = expected * (1.0 + of.within * float(random.standard_normal()))
            if random.random() < wrong.slips:
                gained *= 1.0 + float(random.uniform(-0.4, 0.4))
            empty_read = empty + 2e-4 * float(random.standard_normal())
            trials.append(
                Trial(
                    f"{empty_read:.4f} g",
                    f"{empty_read + gained:.4f} g",
                    f"{bath + wrong.bath.get(thermometer, 0.0):.1f} C",
                    circumstances=shared,
                )
            )
        card = self.card(wrong.cards.get(label, liquid))
        if of.measured:
            off = 0.7 * float(random.standard_normal()) + wrong.thermometer.get(thermometer, 0.0)
            card["boiling_point"] = f"{self.boiling_point(held, pressure) + off:.1f} C"
            card["boiling_point_at"] = f"{read:.1f} mmHg"
        return Measurement(
            label,
            student=student,
            conditions=Conditions(pressure=f"{read:.1f} mmHg", room=f"{room:.1f} C"),
            flask=Flask(volume=f"{volume:.1f} mL"),
            trials=trials,
            **card,
        )

    def card(self, liquid: str) -> dict[str, Any]:
        """Return what a liquid's card says of its composition and boiling point."""
        row = self.row(liquid)
        percent: dict[str, str] = {
            element: f"{share:.2f} %"
            for element, share in zip(ELEMENTS, self.table.percent[row], strict=True)
            if share > 0.0
        }
        return {"percent": percent, "boiling_point": f"{self.boiling_point(liquid):.1f} C"}

    def boiling_point(self, liquid: str, mmhg: float = 760.0) -> float:
        """Return a boiling point at a pressure [degrees Celsius]."""
        return float(self._alone(liquid).boiling_point(mmhg * MMHG)[0]) - ICE_POINT

    def _alone(self, liquid: str) -> Expectation:
        if liquid not in self._expected:
            self._expected[liquid] = Expectation.of(self.table.take([self.row(liquid)]))
        return self._expected[liquid]

    def gain(self, liquid: str, read: Sequence[float]) -> float:
        """Return the gain of a trial [g] at bath and room [C], pressure [mmHg], volume [mL]."""
        bath, room, pressure, volume = (np.array([value]) for value in read)
        weighing = Weighing(
            gain=np.zeros(1),
            bath=bath + ICE_POINT,
            room=room + ICE_POINT,
            pressure=pressure * MMHG,
            volume=volume * 1e-6,
            volume_temperature=room + ICE_POINT,
            humidity=np.full(1, 0.5),
        )
        one = self._alone(liquid)
        return 1e3 * float(gain(1e-3 * one.molar_mass, weighing, one.liquid)[0, 0])


def few_candidates(others: int = 600) -> CandidateTable:
    """Return a table of the liquids and so many other compounds: quicker to compare with."""
    table = load_candidates()
    ours = [table.find(name)[0] for name in LIQUIDS.values()]
    drawn = np.random.default_rng(0).choice(len(table), others, replace=False)
    return table.take(np.unique(np.concatenate([ours, drawn])))


def write_key(path: Path, liquids: Mapping[str, str] = LIQUIDS) -> Path:
    """Write a key: a stock table with label and identity."""
    rows = [f"{label},{liquid}" for label, liquid in liquids.items()]
    path.write_text("\n".join(["label,identity", *rows]) + "\n", encoding="utf-8")
    return path
