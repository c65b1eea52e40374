#!/usr/bin/env python3
"""Build the built-in candidate table, and print the audit of published boiling points.

Usage: python scripts/build_candidates.py [--out data/candidates.parquet] [--listing FILE]
                                           [--open-terms]

Where the built-in table is written, its index of names and the lists of inventories and hazards are
made and written beside it, and data/SOURCES.md is told how many values rest on collections whose
terms exclude commercial use. With --open-terms, a table is built without those collections; a match
takes it with --candidates. With --classroom, only the prior of a classroom is worked out anew, in
the table as it is; with --names, only the index of names; with --lists, only the lists.
"""

from __future__ import annotations

import argparse
import re
from pathlib import Path

import numpy as np

from identify.compounds.columns import TableColumns
from identify.compounds.listed import save_lists
from identify.compounds.naming.making import collected_names
from identify.compounds.parquet import read_parquet
from identify.compounds.published.build import Audit, build
from identify.compounds.published.classroom import classroom_prior, read_courses
from identify.compounds.published.corrections import read_corrections
from identify.compounds.published.literature import NON_COMMERCIAL, REFERENCE_EQUATIONS, listings
from identify.compounds.published.vapor.virials import read_virials
from identify.compounds.ready import save_ready
from identify.compounds.table import CandidateTable

DATA = Path(__file__).parents[1] / "data"
CANDIDATES = DATA / "candidates.parquet"
SOURCES = DATA / "SOURCES.md"
CORRECTIONS = DATA / "corrections.csv"
COURSES = DATA / "classroom.csv"
VIRIALS = DATA / "virial_coefficients.csv"
LABORATORY_NAMES = DATA / "laboratory_names.csv"


def rows_without_reference_equations(cas_numbers: list[str]) -> CandidateTable:
    """Return rows built without any constant that was fitted to a reference equation of state.

    The estimates, which decide only where collections contradict each other, learn from one
    compound in four: a fifth of the time.
    """
    table, _ = build(
        read_corrections(CORRECTIONS),
        left_out=REFERENCE_EQUATIONS,
        only=frozenset(cas_numbers),
        virials=read_virials(VIRIALS),
        learn_every=4,
    )
    return table


def with_classroom_prior(table: CandidateTable) -> CandidateTable:
    """Return a table with its prior of a classroom worked out anew."""
    columns = TableColumns.of(table, range(len(table)))
    columns.numbers["classroom"] = classroom_prior(columns, read_courses(COURSES))
    return CandidateTable(columns.text, columns.numbers)


def resting_on_non_commercial(table: CandidateTable) -> dict[str, int]:
    """Return how many values of each kind rest on non-commercial collections alone."""
    columns = {
        "boiling points": "boiling_point_source",
        "melting points": "melting_point_source",
        "densities": "liquid_density_source",
    }
    return {
        what: sum(map(_is_non_commercial, table.text(column))) for what, column in columns.items()
    }


def _is_non_commercial(source: str) -> bool:
    """Whether a source such as "2 of 3 sources: YAWS, WEBBOOK" names such collections alone."""
    return {*source.rpartition("sources: ")[2].split(", ")} <= {*NON_COMMERCIAL}


def told_of_terms(page: str, table: CandidateTable) -> str:
    """Return the page of sources with the numbers of those rows."""
    for what, number in (resting_on_non_commercial(table) | {"rows": len(table)}).items():
        page, found = re.subn(rf"\b[\d,]+(?= {what}\b.*<!-- terms -->)", f"{number:,}", page)
        assert found == 1, f"data/SOURCES.md does not say how many {what}"
    return page


def save_names(table: CandidateTable, folder: Path) -> None:
    """Make the index of names for a table, and write it into a folder."""
    collected_names(table, LABORATORY_NAMES).save(folder)


def main() -> None:
    """Build, save, report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=CANDIDATES)
    parser.add_argument("--listing", type=Path, help="published values by suspicion, for reading")
    parser.add_argument("--classroom", action="store_true", help="only the classroom's prior")
    parser.add_argument("--open-terms", action="store_true", help="free for commercial use too")
    parser.add_argument("--names", action="store_true", help="only the index of names")
    parser.add_argument("--lists", action="store_true", help="only inventories and hazards")
    options = parser.parse_args()
    if options.open_terms and options.out == CANDIDATES:
        parser.error("--open-terms needs --out: the built-in table holds all collections")
    if options.classroom:
        with_classroom_prior(read_parquet(options.out)).save(options.out)
        save_ready(read_parquet(options.out), options.out)
        return
    if options.names:
        save_names(read_parquet(options.out), options.out.parent)
        return
    if options.lists:
        save_lists(listings(), DATA)
        return
    table, audit = build(
        read_corrections(CORRECTIONS),
        courses=read_courses(COURSES),
        virials=read_virials(VIRIALS),
        left_out=NON_COMMERCIAL if options.open_terms else (),
    )
    table.save(options.out)
    if options.out == CANDIDATES:
        save_ready(read_parquet(options.out), options.out)
        save_names(table, options.out.parent)
        save_lists(listings(), DATA)
        SOURCES.write_text(told_of_terms(SOURCES.read_text("utf-8"), table), "utf-8")
    report(table, audit)
    if options.listing:
        rows = [line for _, line in sorted(audit.suspicion)]
        options.listing.write_text("\n".join(rows) + "\n", encoding="utf-8")


def report(table: CandidateTable, audit: Audit) -> None:
    """Print the audit."""
    boiling = table.number("boiling_point_C")
    published = table.number("boiling_point_published") > 0
    print(f"compounds with a published boiling point: {audit.compounds}")
    print(f"rows in the table: {len(table)}, {int((~published).sum())} of them estimated")
    print(f"left out, boiling point too uncertain: {len(audit.left_out)}")
    print(f"rows with a published value set aside: {len(audit.set_aside)}")
    for low, high in ((20, 98), (20, 150)):
        inside = (boiling >= low) & (boiling <= high)
        print(
            f"boiling between {low} and {high} C: {int((inside & published).sum())} published, "
            f"{int((inside & ~published).sum())} estimated; median uncertainty "
            f"{np.median(table.number('boiling_point_u')[inside & published]):.2f} K"
        )
    vacuum = [line for line in audit.set_aside if "under vacuum" in line]
    print(f"values taken to be under vacuum: {len(vacuum)}; the first of them:")
    for line in vacuum[:12]:
        print(f"  {line[:110]}")


if __name__ == "__main__":
    main()
