"""Slips of the pen and of the bench, made in the rows of one student's trials.

Each takes the rows as text, cell by cell, and changes them in place; it says whether that is a slip
that shows. All of them are known to the match, by the same codes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from simulated_runs import BRIM_VOLUMES

Random = np.random.Generator
Row = dict[str, str]

DECIMALS = 3  # of the masses, in grams
PRINTED_ML = {BRIM_VOLUMES[0]: "125", BRIM_VOLUMES[1]: "250"}

Slip = Callable[[Sequence[Row], Random], bool]


def in_other_unit(column: str, convert: Callable[[float], str]) -> Slip:
    def slip(rows: Sequence[Row], random: Random) -> bool:
        for row in rows:
            row[column] = convert(float(row[column]))
        return True

    return slip


def exchange_digits(rows: Sequence[Row], random: Random) -> bool:
    """Exchange the first two decimals of a mass, where that is more than a tenth of a gram."""
    masses = [(row, column) for row in rows for column in ("empty_g", "condensed_g")]
    for place in random.permutation(len(masses)):
        row, column = masses[place]
        whole, decimals = row[column].split(".")
        if abs(int(decimals[0]) - int(decimals[1])) > 1:
            row[column] = f"{whole}.{decimals[1]}{decimals[0]}{decimals[2:]}"
            return True
    return False


def print_volume(rows: Sequence[Row], random: Random) -> bool:
    for row in rows:
        volume = float(row["volume_mL"])
        row["volume_mL"] = PRINTED_ML[min(PRINTED_ML, key=lambda brim: abs(brim[0] - volume))]
    return True


def leave_liquid(rows: Sequence[Row], random: Random) -> bool:
    share = float(random.uniform(0.2, 0.6))
    for row in rows:
        gain = float(row["condensed_g"]) - float(row["empty_g"])
        row["condensed_g"] = f"{float(row['condensed_g']) + share * gain:.{DECIMALS}f}"
    return True


def spoil_one_trial(rows: Sequence[Row], random: Random) -> bool:
    return len(rows) > 1 and leave_liquid([rows[int(random.integers(len(rows)))]], random)


def exchange_masses(rows: Sequence[Row], random: Random) -> bool:
    for row in rows:
        row["empty_g"], row["condensed_g"] = row["condensed_g"], row["empty_g"]
    return True


# By the code of the slip that a match knows them by.
SLIPS: Mapping[str, Slip] = {
    "digits-exchanged": exchange_digits,
    "masses-exchanged": exchange_masses,
    "mass-in-excess": leave_liquid,
    "one-trial-off": spoil_one_trial,
    "point-moved": in_other_unit("percent_C", lambda percent: f"{percent / 10.0:.3f}"),
    "pressure-unit": in_other_unit("pressure_mmHg", lambda mmhg: f"{mmhg / 25.4:.2f}"),
    "temperature-unit": in_other_unit("bath_C", lambda celsius: f"{1.8 * celsius + 32.0:.1f}"),
    "volume-nominal": print_volume,
}
# Cells that cannot be used, by column.
UNREADABLE = (
    ("label", ""),
    ("empty_g", "see page 7"),
    ("empty_g", ""),
    ("condensed_g", "9?.372"),
    ("bath_C", "hot"),
    ("bath_C", ""),
    ("room_C", "-300"),
    ("pressure_mmHg", ""),
    ("volume_mL", "0"),
)
