#!/usr/bin/env python3
"""Try the prior of a classroom on courses that it was not made from.

Each course of ``data/classroom.csv`` is left out once; the score is the mean over courses of the
mean logarithm of the prior of the liquids that the course hands out. More is better.

Usage: python scripts/classroom_prior.py
"""

from __future__ import annotations

import csv
import re
from collections import defaultdict

import numpy as np
from build_candidates import COURSES

from identify import load_candidates
from identify.compounds.columns import TableColumns
from identify.compounds.published.classroom import SHARES, classroom_prior

_SPLIT = re.compile(r" \(1/(\d)\)$")  # an isomer that is not stated: each counts a part

Course = dict[str, float]
"""What a course hands out: the share of each liquid, by CAS number."""


def courses_read() -> list[Course]:
    """Return what each course hands out; a document is a course where nothing else is known."""
    courses: dict[str, Course] = {}
    with COURSES.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    together = [which.split(" + ") for row in rows for which in row["which"].split("; ")]
    first = {_SPLIT.sub("", one): _SPLIT.sub("", same[0]) for same in together for one in same}
    # A document may stand alone with one liquid, and with others of its course at another.
    first |= {one: same[0] for same in together if len(same) > 1 for one in same}
    for row in rows:
        for one in row["which"].split("; "):
            parts = _SPLIT.search(one)
            document = _SPLIT.sub("", one.split(" + ")[0])
            course = courses.setdefault(first[document], {})
            course[row["cas"]] = 1.0 / int(parts[1]) if parts else 1.0
    return list(courses.values())


def score(shares: tuple[float, float, float], columns: TableColumns) -> float:
    """Return the mean logarithm of the prior of what a left-out course hands out."""
    courses, row_of = courses_read(), {cas: row for row, cas in enumerate(columns.text["cas"])}
    counted: defaultdict[str, float] = defaultdict(float)
    for course in courses:
        for cas, part in course.items():
            counted[cas] += part
    found = []
    for course in courses:
        others = {cas: count - course.get(cas, 0.0) for cas, count in counted.items()}
        prior = classroom_prior(columns, others, shares)
        rows, parts = [row_of[cas] for cas in course], np.array(list(course.values()))
        found.append(float(parts @ np.log(prior[rows])) / float(parts.sum()))
    return float(np.mean(found))


def main() -> None:
    """Print the score of some shares."""
    table = load_candidates()
    columns = TableColumns.of(table, range(len(table)))
    print(f"{len(courses_read())} courses, each left out once")
    print("handed out  solvents  commerce   mean ln p")
    tried = ((0.7, 0.2, 0.1), SHARES, (0.8, 0.1, 0.1), (0.85, 0.1, 0.05), (0.0, 0.0, 1.0))
    for shares in tried:
        handed_out, solvents, commerce = shares
        print(
            f"{handed_out:10.2f}  {solvents:8.2f}  {commerce:8.2f}   {score(shares, columns):9.3f}"
        )
    print(f"   all of the table alike       {-np.log(len(table)):9.3f}")


if __name__ == "__main__":
    main()
