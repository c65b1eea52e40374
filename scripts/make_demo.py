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
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from chemicals import Tb, search_chemical
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


def composition(cas: str) -> dict[str, float]:
    """Return the percentages by mass of a compound."""
    atoms = simple_formula_parser(search_chemical(cas).formula)
    return {element: 100.0 * share for element, share in mass_fractions(atoms).items()}


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
        shares = composition(self.fluid.cas)
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


@dataclass(frozen=True)
class Bottle:
    """What stands in a bottle of the stock table, and what its row says instead where it errs.

    Parameters
    ----------
    identity : str
        As the table writes it.
    cas : str
    boils_c : float
        At 760 mmHg.
    miswritten : mapping of str to str
        Cells as they stand in the file.
    """

    identity: str
    cas: str
    boils_c: float
    miswritten: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def of(cls, identity: str, fluid: Fluid) -> Bottle:
        """Fill a bottle with a fluid of the notebook: its card says the same here as there."""
        return cls(identity, fluid.cas, fluid.boiling_point() - ZERO_CELSIUS)

    def cells(self) -> dict[str, str]:
        """Return the row but for its label."""
        percent = composition(self.cas)
        return {
            "identity": self.identity,
            "boiling_point_C": f"{self.boils_c:.1f}",
            **{
                f"percent_{element}": f"{percent[element]:.2f}" if element in percent else ""
                for element in ("C", "H", "O")
            },
            **self.miswritten,
        }


def shelf() -> dict[str, Bottle]:
    """Return the bottles of the stock table; boiling points without equation of state: Tb()."""

    def published(identity: str, cas: str, **miswritten: str) -> Bottle:
        return Bottle(identity, cas, float(Tb(cas)) - ZERO_CELSIUS, miswritten)

    bottles = {
        "C-08": Bottle.of("tetrahydrofuran", TETRAHYDROFURAN),
        "C-14": Bottle.of("methanol", METHANOL),
        "C-23": Bottle.of("67-64-1", ACETONE),
        "C-31": Bottle.of("cyclohexane", CYCLOHEXANE),
        "C-52": Bottle.of("dimethyl carbonate", DIMETHYL_CARBONATE),
        "C-60": published("isopropyl alcohol", "67-63-0"),
        "C-66": published("ethyl acetate", "141-78-6"),
        # The fault: two digits exchanged; it is 54.53.
        "C-71": published("methyl propionate", "554-12-1", percent_C="45.53"),
        "C-77": published("propionaldehyde", "123-38-6"),
        "D-02": Bottle.of("CCO", ETHANOL),
        "D-05": Bottle.of("67-64-1", ACETONE),
        # The fault: the check digit; hexane is 110-54-3.
        "D-07": replace(Bottle.of("110-54-3", HEXANE), identity="110-54-4"),
        "D-09": Bottle.of("methanol", METHANOL),
    }
    # The fault: each card stands in the other's row.
    here, there = bottles["C-60"], bottles["C-66"]
    exchanged = {"C-60": replace(there, identity=here.identity)}
    return bottles | exchanged | {"C-66": replace(here, identity=there.identity)}


def stock() -> str:
    """Return the stock table, with three faults."""
    bottles = {label: {"label": label, **bottle.cells()} for label, bottle in shelf().items()}
    rows = [list(bottles["C-08"]), *(list(cells.values()) for cells in bottles.values())]
    return "\n".join(map(",".join, rows)) + "\n"


def demo_files() -> dict[str, str]:
    """Return the demo's files by name."""
    bench = Bench(SEED)
    return {**notebook(bench), "section.csv": section(bench), "stock.csv": stock()}


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
