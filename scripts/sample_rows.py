#!/usr/bin/env python3
"""Print rows of the built-in table drawn at random, to be read by hand.

Is each a real liquid?

Usage: python scripts/sample_rows.py [--rows 150] [--seed 1] [--range 20 100] [--table FILE]

Two samples of rows that the match takes for liquids: what at least one inventory lists, and what
none lists. Left out is what the table itself says is not bottled, and what melts above 30 degrees
Celsius. With --marked, the rows that are said not to be bottled are printed instead, all of them.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from identify.compounds.parquet import built_in_path, read_parquet
from identify.compounds.table import CandidateTable

_SOLID_C = 30.0


def line(table: CandidateTable, row: int) -> str:
    """Return what a reader needs to know of a row."""
    boils, u = (table.number(f"boiling_point_{what}")[row] for what in ("C", "u"))
    words = [table.text(column)[row] for column in ("cas", "name", "smiles")]
    words += [f"{boils:.1f} ± {u:.1f} °C", f"{table.number('inventories')[row]:.0f} inventories"]
    melts = table.number("melting_point_C")[row]
    words += [f"melts at {melts:.0f} °C"] if melts > 15.0 else []
    return " | ".join(filter(None, (*words, table.text("not_bottled")[row])))


def main() -> None:
    """Draw and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=150)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--range", type=float, nargs=2, default=(20.0, 100.0), metavar="C")
    parser.add_argument("--table", type=Path, default=built_in_path())
    parser.add_argument("--marked", action="store_true")
    options = parser.parse_args()
    table = read_parquet(options.table)
    low, high = options.range
    boiling = table.number("boiling_point_C")
    marked = np.array([bool(reason) for reason in table.text("not_bottled")])
    inside = (boiling >= low) & (boiling <= high)
    if options.marked:
        print(*(line(table, row) for row in np.flatnonzero(inside & marked)), sep="\n")
        return
    inside &= ~marked & ~(table.number("melting_point_C") > _SOLID_C)
    sold = table.number("inventories") > 0
    dice = np.random.default_rng(options.seed)
    for title, rows in (("in commerce", sold & inside), ("not in commerce", ~sold & inside)):
        pool = np.flatnonzero(rows)
        drawn = np.sort(dice.choice(pool, min(options.rows, len(pool)), replace=False))
        print(f"{title}: {len(drawn)} of {len(pool)} rows, seed {options.seed}")
        print(*(f"  {line(table, row)}" for row in drawn), sep="\n")


if __name__ == "__main__":
    main()
