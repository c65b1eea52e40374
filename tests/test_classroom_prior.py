"""The script that tries the prior of a classroom on courses that it was not made from."""

from __future__ import annotations

import numpy as np
import pytest
from classroom_prior import courses_read, score

from identify import load_candidates
from identify.compounds.columns import TableColumns
from identify.compounds.published.classroom import SHARES


def test_documents_of_a_course_are_together() -> None:
    courses = courses_read()
    assert 100 < len(courses) < 130
    assert all(0.0 < part <= 1.0 for course in courses for part in course.values())
    assert sum("67-64-1" in course for course in courses) < 33  # documents that name acetone


def test_courses_left_out_are_foretold() -> None:
    table = load_candidates()
    columns = TableColumns.of(table, range(len(table)))
    assert score(SHARES, columns) > -3.5
    assert score((0.0, 0.0, 1.0), columns) == pytest.approx(-8.7, abs=0.1)
    assert -9.5 < -np.log(len(table)) < score((0.0, 0.0, 1.0), columns)
