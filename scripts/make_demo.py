#!/usr/bin/env python3
"""Write the demo records: an invented laboratory with invented bottles, weighed truly.

What the balance shows comes from reference equations of state (`weighings.py`). To it are added
the errors of a careful student, drawn from normal distributions with the standard deviations below
and a fixed seed; some records have one slip more, named where it is made.

Usage: python scripts/make_demo.py [--check]

writes ``data/demo/``; with ``--check`` it writes nothing, and exits with 1 where a file is not what
it would write.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from chemicals import search_chemical
from chemicals.elements import mass_fractions, simple_formula_parser
from weighings import ZERO_CELSIUS, Flask, Fluid, Laboratory, balance_gain, vapor_mass

DEMO = Path(__file__).resolve().parents[1] / "data" / "demo"
SEED = 14
MMHG = 133.322387415  # Pa

# Standard deviations of what is read, and of how completely vapor fills the flask.
BALANCE_G, BATH_K, BAROMETER_MMHG, ROOM_K, VOLUME_ML = 0.0003, 0.2, 0.3, 0.2, 0.3
FILLING = 0.004  # of the vapor's mass

METHANOL = Fluid("Methanol", "67-56-1")
ACETONE = Fluid("Acetone", "67-64-1")
CYCLOHEXANE = Fluid("CycloHexane", "110-82-7")
TETRAHYDROFURAN = Fluid("Tetrahydrofuran", "109-99-9")
DIMETHYL_CARBONATE = Fluid("DimethylCarbonate", "616-38-6")
ETHANOL = Fluid("Ethanol", "64-17-5")
HEXANE = Fluid("n-Hexane", "110-54-3")


@dataclass(frozen=True)
class Day:
    """The true conditions of one day in the laboratory."""

    pressure_mmhg: float
    room_c: float
    below_water: float = 0.8  # K by which the bath stays below boiling water

    @property
    def laboratory(self) -> Laboratory:
        """What the generator of weighings needs of it."""
        return Laboratory(self.pressure_mmhg * MMHG, self.room_c + ZERO_CELSIUS, humidity=0.45)


@dataclass(frozen=True)
class Trial:
    """What was read at one trial."""

    empty_g: float
    condensed_g: float
    bath_c: float


@dataclass(frozen=True)
class Page:
    """What was read on one page of the notebook, bottle and card included."""

    fluid: Fluid
    pressure_mmhg: float
    room_c: float
    volume_ml: float
    trials: tuple[Trial, ...]

    @property
    def boiling_point_c(self) -> float:
        """The card's boiling point, at 760 mmHg."""
        return self.fluid.boiling_point() - ZERO_CELSIUS

    def percent(self, *elements: str) -> dict[str, float]:
        """Return the card's percentages, of all elements where none is named."""
        atoms = simple_formula_parser(search_chemical(self.fluid.cas).formula)
        shares = {element: 100.0 * share for element, share in mass_fractions(atoms).items()}
        return {element: shares[element] for element in elements or shares}


class Bench:
    """Reads pages, with the errors of a careful student."""

    def __init__(self, seed: int) -> None:
        self.random = np.random.default_rng(seed)

    def _read(self, true: float, error: float) -> float:
        return true + error * float(self.random.standard_normal())

    def page(self, fluid: Fluid, day: Day, volume_ml: float, trials: int = 1) -> Page:
        """Read one page: a flask of a volume, weighed empty about 98 g."""
        flask_g = 97.0 + 3.0 * float(self.random.random())
        read = tuple(self._trial(fluid, day, volume_ml, flask_g) for _ in range(trials))
        return Page(
            fluid,
            self._read(day.pressure_mmhg, BAROMETER_MMHG),
            self._read(day.room_c, ROOM_K),
            self._read(volume_ml, VOLUME_ML),
            read,
        )

    def _trial(self, fluid: Fluid, day: Day, volume_ml: float, flask_g: float) -> Trial:
        laboratory = day.laboratory
        flask = Flask(1e-6 * volume_ml, laboratory.room)
        bath = laboratory.water_bath + 0.5 - day.below_water
        mass = vapor_mass(fluid, bath, laboratory, flask) * self._read(1.0, FILLING)
        gain = 1e3 * balance_gain(fluid, mass, laboratory, flask)
        return Trial(
            self._read(flask_g, BALANCE_G),
            self._read(flask_g + gain, BALANCE_G),
            self._read(bath - ZERO_CELSIUS, BATH_K),
        )


def card(page: Page, *elements: str) -> str:
    percent = ", ".join(f"{e} = {value:.2f}" for e, value in page.percent(*elements).items())
    return f'[card]\nboiling_point = "{page.boiling_point_c:.1f} C"\npercent = {{ {percent} }}\n'


def conditions(page: Page) -> str:
    pressure, room = f"{page.pressure_mmhg:.1f} mmHg", f"{page.room_c:.1f} C"
    return f'[conditions]\npressure = "{pressure}"\nroom = "{room}"\n'


def trials(page: Page, balance: str = "") -> str:
    return "\n".join(
        f'[[trial]]\nempty = "{trial.empty_g:.4f}{balance} g"\n'
        f'condensed = "{trial.condensed_g:.4f}{balance} g"\nbath = "{trial.bath_c:.1f} C"\n'
        for trial in page.trials
    )


def record(label: str, remark: str, *parts: str) -> str:
    return "\n".join((f'# {remark}\nlabel = "{label}"\n', *parts))


def notebook(bench: Bench) -> dict[str, str]:
    """Return the run records by name of file."""
    first, second = Day(742.0, 22.4), Day(711.0, 20.8)
    good = bench.page(METHANOL, first, 287.4)
    nominal = bench.page(CYCLOHEXANE, first, 283.6)
    near = bench.page(DIMETHYL_CARBONATE, replace(second, below_water=6.0), 287.4)
    partial = bench.page(TETRAHYDROFURAN, second, 290.2)
    several = bench.page(ACETONE, first, 285.1, trials=3)
    flask = '[flask]\nvolume = "{:.1f} mL"\n'
    water_g = 0.9966 * several.volume_ml  # at 22.4 C, weighed in air
    return {
        "C-14.toml": record(
            "C-14",
            "A complete page.",
            card(good),
            conditions(good),
            flask.format(good.volume_ml),
            trials(good),
        ),
        "C-31.toml": record(
            "C-31",
            "The volume is the one printed on the flask.",
            card(nominal),
            conditions(nominal),
            flask.format(250.0),  # the slip: it holds 283.6 mL
            trials(nominal),
        ),
        "C-52.toml": record(
            "C-52",
            "The bath was not hot enough for this liquid.",
            card(near),
            conditions(near),
            flask.format(near.volume_ml),
            trials(near),
        ),
        "C-08.toml": record(
            "C-08",
            "The card names carbon and hydrogen only.",
            card(partial, "C", "H"),  # the slip: oxygen is left out
            conditions(partial),
            flask.format(partial.volume_ml),
            trials(partial),
        ),
        "C-23.toml": record(
            "C-23",
            "Three trials, uncertainties in brackets (last digits), volume from the water's mass.",
            card(several),
            conditions(several),
            f'[flask]\nwater_mass = "{water_g:.1f} g"\nwater_temperature = "22.4 C"\n',
            trials(several, balance="(3)"),
        ),
        "C-77.toml": record(
            "C-77",
            "A molar mass that was worked out already, and nothing else.",
            '[card]\nmolar_mass = "58.6 g/mol"\n',
        ),
    }


def section(bench: Bench) -> str:
    """Return a small section's trial table: four students, two trials each."""
    day = Day(745.5, 23.1)
    columns = "label,student,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL,"
    lines = [columns + "boiling_point_C,percent_C,percent_H,percent_O"]
    pages = [
        ("D-02", "bench 1", ETHANOL, 286.8),
        ("D-05", "bench 2", ACETONE, 288.9),
        ("D-07", "bench 3", HEXANE, 284.3),
        ("D-09", "bench 4", METHANOL, 291.0),
    ]
    for label, student, fluid, volume in pages:
        page = bench.page(fluid, day, volume, trials=2)
        # The slip of bench 4: the barometer read in inches, in a column of millimeters.
        slip = student == "bench 4"
        pressure = f"{page.pressure_mmhg / 25.4:.2f}" if slip else f"{page.pressure_mmhg:.1f}"
        percent = page.percent()
        listed = ",".join(f"{percent[e]:.2f}" if e in percent else "" for e in ("C", "H", "O"))
        lines += [
            f"{label},{student},{trial.empty_g:.4f},{trial.condensed_g:.4f},{trial.bath_c:.1f},"
            f"{page.room_c:.1f},{pressure},{page.volume_ml:.1f},{page.boiling_point_c:.1f},{listed}"
            for trial in page.trials
        ]
    return "\n".join(lines) + "\n"


def demo_files() -> dict[str, str]:
    """Return the demo's files by name."""
    bench = Bench(SEED)
    return {**notebook(bench), "section.csv": section(bench)}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true", help="write nothing, exit 1 if outdated")
    check_only = parser.parse_args().check
    outdated = False
    for name, text in demo_files().items():
        path = DEMO / name
        if path.exists() and path.read_text(encoding="utf-8") == text:
            continue
        outdated = True
        if check_only:
            print(f"data/demo/{name} is outdated: run python scripts/make_demo.py", file=sys.stderr)
        else:
            DEMO.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="\n")
    return int(check_only and outdated)


if __name__ == "__main__":
    sys.exit(main())
