#!/usr/bin/env python3
"""A section's trial table as a whole class would write it, with what truly happened beside it.

What the balances show comes from reference equations of state (`weighings.py`), what is read from
instruments as `simulated_runs.py` takes them, with a scatter from trial to trial. In this sound
section some things are then wrong, and the truth says which: a share of students makes one slip
each, a bottle holds another liquid than its key and card say, two bottles are exchanged, a card
states what belongs to another liquid, a barometer is off for a whole day, a balance or a
thermometer for the whole term, some students hand in another's run, and some rows hold a cell that
nobody can read.

Usage: python scripts/simulated_sections.py --out section.csv [--key key.csv] [--truth truth.csv]
           [--rows 2000] [--seed 20] [--slips 0.05] [--unreadable 0] [--boiling-point card|measured]
           [--mislabeled 1] [--exchanged 0] [--wrong-cards 0] [--barometer-off 22] [--balance-off 0]
           [--balance-grams 0] [--thermometer-off 0] [--copied 0]
"""

from __future__ import annotations

import argparse
import csv
import datetime
import sys
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from section_liquids import FLUIDS, boiling_point, name_of, percentages, unlike
from section_slips import DECIMALS, SLIPS, UNREADABLE, Row
from simulated_runs import BAROMETER_MMHG, BRIM_VOLUMES, FILL_ML, MMHG, TECHNIQUE, THERMOMETER_K
from weighings import ZERO_CELSIUS, Flask, Fluid, Laboratory, balance_gain, vapor_mass

from identify.notebook.saving import written_beside

if TYPE_CHECKING:
    import pandas as pd

BALANCE_G = 10.0**-DECIMALS  # one unit of the last digit
FIRST_DAY = datetime.date(2026, 3, 2)
PRESSURES_MMHG, ROOMS_C, HUMIDITIES = (735.0, 765.0), (20.0, 24.0), (0.3, 0.6)


@dataclass(frozen=True)
class Section:
    """What a simulated section is like.

    Parameters
    ----------
    rows, trials : int
        Rows of the table, and trials of each student; every student has one bottle.
    fluids : tuple of Fluid
        One bottle of each.
    days, balances, thermometers : int
    slips : float
        Share of the students that make one slip.
    mislabeled, wrong_cards : int
        Bottles that hold another liquid than key and card say; sound bottles whose card states the
        boiling point or the percentages of another liquid.
    exchanged : int
        Pairs of bottles, each of which holds what key and card say of the other.
    barometer_off, balance_off, balance_grams, thermometer_off : float
        What the barometer reads too high on one of the days [mmHg], what one of the balances reads
        too high [share, and g once the flask was heated], and one of the thermometers [K]; zero
        where it is sound.
    copied : int
        Students who hand in the run of another with the same bottle.
    boiling_point : {"card", "measured"}
        Copied from the card, for 760 mmHg, or read by the student at the laboratory's pressure.
    unreadable : float
        Share of the rows with a cell that cannot be used.
    """

    rows: int = 2000
    trials: int = 2
    fluids: tuple[Fluid, ...] = FLUIDS
    days: int = 8
    balances: int = 6
    thermometers: int = 6
    slips: float = 0.05
    mislabeled: int = 1
    exchanged: int = 0
    wrong_cards: int = 0
    barometer_off: float = 22.0
    balance_off: float = 0.0
    balance_grams: float = 0.0
    thermometer_off: float = 0.0
    copied: int = 0
    boiling_point: Literal["card", "measured"] = "card"
    unreadable: float = 0.0


@dataclass(frozen=True)
class TrueRow:
    """What is true of one row of the table: its liquid, its slip, whether it can be read."""

    row: int
    label: str
    student: str
    liquid: str
    cas: str
    day: str
    slip: str = ""
    unreadable: str = ""


@dataclass(frozen=True)
class Truth:
    """What is wrong with a section.

    Parameters
    ----------
    rows : tuple of TrueRow
        One a row of the table, in its order.
    mislabeled : mapping of str to str
        Bottles that hold another liquid than key and card say, and its CAS number.
    wrong_cards : mapping of str to str
        Bottles whose card is wrong, and whether in ``boiling_point`` or ``percent``.
    barometer_day, balance, thermometer : str
        The day and the instruments that read wrong; empty where none does.
    copied : mapping of str to str
        Students who handed in another's run, and whose.
    """

    rows: tuple[TrueRow, ...]
    mislabeled: Mapping[str, str] = field(default_factory=dict)
    wrong_cards: Mapping[str, str] = field(default_factory=dict)
    barometer_day: str = ""
    balance: str = ""
    thermometer: str = ""
    copied: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Simulated:
    """A section's trial table, the instructor's key (a stock table), and the truth."""

    table: tuple[Row, ...]
    key: tuple[Row, ...]
    truth: Truth

    @cached_property
    def frame(self) -> pd.DataFrame:
        """The trial table; cells are text, as in a file."""
        import pandas as pd

        return pd.DataFrame(list(self.table))


# ---------------------------------------------------------------------------- bottles and days


@dataclass(frozen=True)
class Bottle:
    """A bottle: the liquid in it, the one that the key says, and those that its card copies."""

    label: str
    liquid: Fluid
    key: Fluid
    boiling_point: Fluid
    percent: Fluid

    @property
    def wrong_card(self) -> str:
        """What the card states of another liquid than the key's."""
        for part in ("boiling_point", "percent"):
            if getattr(self, part) != self.key:
                return part
        return ""


@dataclass(frozen=True)
class Day:
    """A day in the laboratory, and what the whole class reads from the barometer [mmHg]."""

    name: str
    laboratory: Laboratory
    pressure: float

    @cached_property
    def bath(self) -> float:
        """In K."""
        return self.laboratory.water_bath


# ----------------------------------------------------------------------------------- the class


class School:
    """Fills bottles, keeps days, and does the students' runs."""

    def __init__(self, section: Section, seed: int) -> None:
        self.section = section
        self.random = np.random.default_rng(seed)
        self.elements = sorted(
            {e for fluid in section.fluids for e in percentages(fluid)}, key="CHNOSFClBrI".find
        )
        self.bottles = self._bottles()
        self.days = [self._day(number) for number in range(section.days)]
        off = self._any(self.days) if section.barometer_off else None
        self.barometer_day = off.name if off else ""
        off_balance = section.balance_off or section.balance_grams
        self.balance = self._instrument("B", section.balances, off_balance)
        self.thermometer = self._instrument("T", section.thermometers, section.thermometer_off)

    def simulated(self) -> Simulated:
        """Do all runs."""
        section = self.section
        table: list[Row] = []
        truth: list[TrueRow] = []
        while len(table) < section.rows:
            number = len(table) // section.trials
            bottle = self.bottles[number % len(self.bottles)]
            count = min(section.trials, section.rows - len(table))
            rows = self._run(f"S-{number + 1:04d}", bottle, count)
            slip = self._slip(rows) if self.random.random() < section.slips else ""
            for row in rows:
                place = len(table) + 2
                known = (row["label"], row["student"], name_of(bottle.liquid), bottle.liquid.cas)
                unreadable = self._spoil(row)
                truth.append(TrueRow(place, *known, row["day"], slip, unreadable))
                table.append(row)
        copied = self._copied(table, truth) if section.copied else {}
        return Simulated(
            tuple(table),
            tuple({"label": b.label, "identity": name_of(b.key)} for b in self.bottles),
            Truth(
                tuple(truth),
                {b.label: b.liquid.cas for b in self.bottles if b.liquid != b.key},
                {b.label: b.wrong_card for b in self.bottles if b.wrong_card},
                self.barometer_day,
                self.balance,
                self.thermometer,
                copied,
            ),
        )

    def _copied(self, table: list[Row], truth: Sequence[TrueRow]) -> dict[str, str]:
        """Let students without a slip hand in another's run; return who did, and whose."""
        trials, every = self.section.trials, len(self.bottles)
        copied: dict[str, str] = {}
        for first in self.random.permutation(len(table) // trials - every):
            own, other = trials * (int(first) + every), trials * int(first)
            students = {truth[own].student, truth[other].student}
            is_sound = not (truth[own].slip or truth[other].slip)
            if is_sound and not students & (copied.keys() | set(copied.values())):
                copied[truth[own].student] = truth[other].student
                for place in range(trials):
                    table[own + place] = table[other + place] | {"student": truth[own].student}
            if len(copied) == self.section.copied:
                break
        return copied

    def _any(self, choices: Sequence[Any]) -> Any:
        return choices[int(self.random.integers(len(choices)))]

    def _read(self, true: float, error: float) -> float:
        return true + error * float(self.random.standard_normal())

    def _instrument(self, letter: str, count: int, off: float) -> str:
        number = int(self.random.integers(1, count + 1))
        return f"{letter}-{number}" if off else ""

    def _bottles(self) -> list[Bottle]:
        order = self.random.permutation(len(self.section.fluids))
        fluids = [self.section.fluids[place] for place in order]
        wrong = self.random.permutation(len(fluids))
        mislabeled = set(wrong[: self.section.mislabeled])
        cards = set(wrong[self.section.mislabeled :][: self.section.wrong_cards])
        exchanged = self._exchanged(fluids)
        bottles = []
        for place, fluid in enumerate(fluids):
            parts = {"liquid": fluid, "boiling_point": fluid, "percent": fluid}
            spoiled = "liquid" if place in mislabeled else ""
            if place in cards:
                measured = self.section.boiling_point == "measured"
                spoiled = "percent" if measured else self._any(["boiling_point", "percent"])
            if spoiled:
                parts[spoiled] = self._any([one for one in fluids if unlike(fluid, one, spoiled)])
            parts["liquid"] = exchanged.get(fluid, parts["liquid"])
            bottles.append(Bottle(f"K-{place + 1:02d}", key=fluid, **parts))
        return bottles

    def _exchanged(self, fluids: Sequence[Fluid]) -> dict[Fluid, Fluid]:
        """Return what stands in whose bottle, of those that are exchanged."""
        found: dict[Fluid, Fluid] = {}
        while len(found) < 2 * self.section.exchanged:
            one, other = (fluids[place] for place in self.random.permutation(len(fluids))[:2])
            if unlike(one, other, "liquid") and not found.keys() & {one, other}:
                found |= {one: other, other: one}
        return found

    def _day(self, number: int) -> Day:
        uniform = self.random.uniform
        weeks, weekday = divmod(number, 5)
        date = FIRST_DAY + datetime.timedelta(days=7 * weeks + weekday)
        pressure, room = uniform(*PRESSURES_MMHG), uniform(*ROOMS_C) + ZERO_CELSIUS
        laboratory = Laboratory(pressure * MMHG, room, uniform(*HUMIDITIES))
        return Day(date.isoformat(), laboratory, self._read(pressure, BAROMETER_MMHG))

    def _run(self, student: str, bottle: Bottle, trials: int) -> list[Row]:
        section, random = self.section, self.random
        day = self._any(self.days)
        balance = f"B-{random.integers(1, section.balances + 1)}"
        thermometer = f"T-{random.integers(1, section.thermometers + 1)}"
        flask = Flask(1e-6 * random.uniform(*self._any(BRIM_VOLUMES)), day.laboratory.room)
        pressure = day.pressure + section.barometer_off * (day.name == self.barometer_day)
        scale = 1.0 + section.balance_off * (balance == self.balance)
        grams_more = section.balance_grams * (balance == self.balance)
        warm = section.thermometer_off * (thermometer == self.thermometer) - ZERO_CELSIUS
        once = {
            "label": bottle.label,
            "student": student,
            "day": day.name,
            "balance": balance,
            "thermometer": thermometer,
            "room_C": f"{self._read(day.laboratory.room - ZERO_CELSIUS, THERMOMETER_K):.1f}",
            "pressure_mmHg": f"{pressure:.1f}",
            "volume_mL": f"{self._read(1e6 * flask.volume, FILL_ML):.1f}",
            **self._card(bottle, day, warm),
        }
        lid_on = random.uniform(90.0, 100.0)
        mass = vapor_mass(bottle.liquid, day.bath, day.laboratory, flask)
        rows = []
        for _ in range(trials):
            filled = self._read(1.0, TECHNIQUE) * mass
            gain = 1e3 * balance_gain(bottle.liquid, filled, day.laboratory, flask)
            true = (lid_on, lid_on + gain + grams_more)
            weighed = (scale * self._read(grams, BALANCE_G) for grams in true)
            empty, condensed = (f"{grams:.{DECIMALS}f}" for grams in weighed)
            bath = f"{self._read(day.bath + warm, THERMOMETER_K):.1f}"
            rows.append({**once, "empty_g": empty, "condensed_g": condensed, "bath_C": bath})
        return rows

    def _card(self, bottle: Bottle, day: Day, warm: float) -> Row:
        """Return boiling point and percentages; a thermometer adds ``warm`` to a temperature."""
        if self.section.boiling_point == "measured":
            boiling = boiling_point(bottle.liquid, day.laboratory.pressure)
            card = {
                "boiling_point_C": f"{self._read(boiling + warm, THERMOMETER_K):.1f}",
                "boiling_point_at": "laboratory",
            }
        else:
            boiling = boiling_point(bottle.boiling_point) - ZERO_CELSIUS
            card = {"boiling_point_C": f"{boiling:.1f}"}
        stated = percentages(bottle.percent)
        for element in self.elements:
            card[f"percent_{element}"] = f"{stated[element]:.2f}" if element in stated else ""
        return card

    def _slip(self, rows: Sequence[Row]) -> str:
        """Let one slip happen; where one would change nothing, another."""
        kinds = list(SLIPS)
        for place in self.random.permutation(len(kinds)):
            if SLIPS[kinds[place]](rows, self.random):
                return kinds[place]
        return ""

    def _spoil(self, row: Row) -> str:
        if self.random.random() >= self.section.unreadable:
            return ""
        column, text = self._any(UNREADABLE)
        row[column] = text
        # What is only missing is taken as usual, or its weighing is left out; a label is needed.
        return column if text or column == "label" else ""


def simulate(section: Section = Section(), seed: int = 20) -> Simulated:
    """Return a simulated section.

    Parameters
    ----------
    section : Section
    seed : int
        The same seed draws the same section.
    """
    return School(section, seed).simulated()


def write(path: Path, rows: Sequence[Mapping[str, object]]) -> None:
    with (
        written_beside(path) as beside,
        beside.open("w", newline="", encoding="utf-8") as file,
    ):
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    for name in ("out", "key", "truth"):
        parser.add_argument(f"--{name}", type=Path, required=name == "out")
    parser.add_argument("--seed", type=int, default=20)
    options = [one for one in fields(Section) if one.name not in ("fluids", "boiling_point")]
    for one in options:
        option = f"--{one.name.replace('_', '-')}"
        parser.add_argument(option, type=type(one.default), default=one.default)
    parser.add_argument("--boiling-point", choices=("card", "measured"), default="card")
    given = vars(parser.parse_args(arguments))
    out, key, truth, seed = (given.pop(name) for name in ("out", "key", "truth", "seed"))
    simulated = simulate(Section(**given), seed)
    write(out, simulated.table)
    if key is not None:
        write(key, simulated.key)
    if truth is not None:
        write(truth, [asdict(row) for row in simulated.truth.rows])
    wrong = {name: value for name, value in vars(simulated.truth).items() if name != "rows"}
    print("\n".join(f"{name}: {value}" for name, value in wrong.items() if value), file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
