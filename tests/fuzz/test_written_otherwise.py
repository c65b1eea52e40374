"""One section, written in another way or matched in another way: the same answers.

Any table, also one with something wrong in it. What units, trials and elements in another order,
candidates in another order, and Dask do is held in `test_match_properties` and `test_cluster`.
"""

from __future__ import annotations

import csv
import io
import json
import os
import re
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from itertools import chain
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

from identify import Measurement, load_candidates, match, match_many, read_runs
from identify.notebook.measurement import readings
from identify.notebook.quantity.quantities import Quantity
from identify.tables import Runs
from identify.tables.headings.dictionary import TRIAL_HEADINGS
from tests.fuzz import valid
from tests.fuzz.profiles import share
from tests.fuzz.spoiling import Cells, Draw, spoiled_cells
from tests.fuzz.test_any_input import headings
from tests.fuzz.usual_files import kept_files

_MOST_ROWS = 14
_CONTROL = re.compile(r"[\x00-\x1f\x7f]")


@cache
def _small_tables() -> tuple[Cells, ...]:
    return tuple(rows[:_MOST_ROWS] for rows in valid.trial_tables() if len(rows) > 1)


SECTIONS = spoiled_cells(st.sampled_from(_small_tables()), headings(TRIAL_HEADINGS))
Answers = dict[tuple[str, str], tuple[Any, ...]]


def text_file(rows: Sequence[Sequence[object]], mark: str = ",", **how: Any) -> bytes:
    page = io.StringIO()
    csv.writer(page, delimiter=mark, **how).writerows(rows)
    return page.getvalue().encode()


def runs_of(content: bytes, name: str = "section.csv") -> Runs:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, name)
        file.write_bytes(content)
        return read_runs(file)


def answers(runs: Sequence[Measurement], candidates: object) -> Answers:
    """Return of each unknown what is likely, how sure that is, and the codes of what is noticed."""
    found: Answers = {}
    for run in runs:
        ranking = match(run, candidates)
        found[run.label, run.student] = (
            {one.inchikey: one.probability for one in ranking.candidates},
            ranking.none_of_these,
            sorted(finding.code for finding in ranking.findings),
            sorted(slip.code for slip in ranking.slips),
        )
    return found


@cache
def table() -> Any:
    return load_candidates(kept_files() / "built.parquet")


def assert_same(ours: Answers, theirs: Answers) -> None:
    assert ours.keys() == theirs.keys()
    for key, (likely, none, *codes) in ours.items():
        others, other_none, *other_codes = theirs[key]
        assert codes == other_codes
        assert none == pytest.approx(other_none, rel=1e-6, abs=1e-9)
        for one in likely.keys() | others.keys():
            assert likely.get(one, 0.0) == pytest.approx(others.get(one, 0.0), rel=1e-6, abs=1e-6)


def in_another_order(draw: Draw, rows: Cells) -> Cells:
    header, *below = rows
    if "label" not in header:  # it stands further below now, or nowhere
        return rows
    return [header, *draw(st.permutations(below))]


def with_columns_in_another_order(draw: Draw, rows: Cells) -> Cells:
    width = len(rows[0])
    if any(len(row) > width for row in rows):  # cells under no heading would come under one
        return rows
    places = draw(st.permutations(range(width)))
    return [[row[at] if at < len(row) else "" for at in places] for row in rows]


def with_a_column_that_means_nothing(draw: Draw, rows: Cells) -> Cells:
    at = draw(st.integers(0, min(map(len, rows))))
    cells = ["shelf remark", *draw(st.permutations(["", "red", "7", "78.3 C", "?"] * len(rows)))]
    return [[*row[:at], cell, *row[at:]] for row, cell in zip(rows, cells, strict=False)]


Way = Callable[[Draw, Cells], Cells]
WAYS: tuple[Way, ...] = (
    in_another_order,
    with_columns_in_another_order,
    with_a_column_that_means_nothing,
)


@share(0.5)
@given(rows=SECTIONS, way=st.sampled_from(WAYS), data=st.data())
def test_rows_and_columns(rows: Cells, way: Way, data: st.DataObject) -> None:
    runs = runs_of(text_file(rows))
    # Of two columns for one reading the first counts, and the other is told of.
    assume(not any("says the same as column" in fault.advice for fault in runs.faults))
    expected = answers(runs, table())
    assert_same(answers(runs_of(text_file(way(data.draw, rows))), table()), expected)


@share(0.3)
@given(rows=SECTIONS, form=st.sampled_from([";", "\t", "quoted", "xlsx"]))
def test_forms(rows: Cells, form: str) -> None:
    expected = answers(runs_of(text_file(rows)), table())
    if form == "xlsx":
        # No workbook holds control characters; a text file with them is told of.
        assume(not any(ILLEGAL_CHARACTERS_RE.search(str(cell)) for row in rows for cell in row))
        runs = runs_of(_workbook(rows), "section.xlsx")
    elif form == "quoted":
        runs = runs_of(text_file(rows, quoting=csv.QUOTE_ALL))
    else:
        runs = runs_of(text_file(rows, form))
    assert_same(answers(runs, table()), expected)


def _workbook(rows: Cells) -> bytes:
    book, file = Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(file)
    return file.getvalue()


def in_full(value: object) -> str:
    """Return a reading as it is written, with all digits of its uncertainty."""
    if isinstance(value, Quantity) and value.uncertainty is not None and value.fills == 1:
        return f"{value.value!r} ± {value.uncertainty!r} {value.unit}"
    return str(value)


def as_record(run: Measurement) -> bytes:
    """Return a run as a record, section by section."""

    def written(part: object) -> list[str]:
        names = (*readings(type(part)), "boiling_point_by", "molar_mass_by", "closed")
        values = {name: getattr(part, name, None) for name in names}
        told = {name: value for name, value in values.items() if value not in (None, "")}
        return [f'{name} = "{in_full(value)}"' for name, value in told.items()]

    lines = [f"label = {json.dumps(run.label)}", "[card]", *written(run)]
    lines += [f'percent.{element} = "{share}"' for element, share in run.percent.items()]
    lines += ["[conditions]", *written(run.conditions), "[flask]", *written(run.flask)]
    for trial in run.trials:
        own = (trial, trial.conditions, trial.flask)  # of its own, where the trials differ in it
        lines += ["[[trial]]", *chain.from_iterable(map(written, filter(None, own)))]
    return "\n".join(lines).encode()


@share(0.3)
@given(rows=SECTIONS)
def test_records(rows: Cells) -> None:
    for run in runs_of(text_file(rows)):
        if any(one.unread for one in (run, *run.trials)) or run.conditions.mercury_barometer:
            continue  # what could not be read is told beside the answer
        (record,) = runs_of(as_record(run), "page.toml")
        ours, theirs = answers([replace(run, student="")], table()), answers([record], table())
        assert_same(ours, theirs)


@share(0.3)
@given(rows=SECTIONS, large=st.sampled_from(["index.arrow", "parts"]))
def test_large_tables(rows: Cells, large: str) -> None:
    runs = runs_of(text_file(rows))
    assert_same(answers(runs, os.fspath(kept_files() / large)), answers(runs, table()))


@share(0.3)
@given(rows=SECTIONS)
@pytest.mark.filterwarnings("ignore::UserWarning")
def test_many_at_once(rows: Cells) -> None:
    runs = runs_of(text_file(rows))
    many = match_many(runs, table())
    for ours in (many, *_of_a_frame(rows, runs)):
        blocks = {
            key: {
                str(one): float(p) for one, p in zip(b["inchikey"], b["probability"], strict=True)
            }
            for key, b in ours.groupby(["label", "student"] if "student" in ours else ["label"])
        }
        for run in runs:
            key = (run.label, run.student) if "student" in ours else (run.label,)
            likely = {one.inchikey: one.probability for one in match(run, table()).candidates}
            assert blocks[key] == pytest.approx(likely, rel=1e-6, abs=1e-9)


def _of_a_frame(rows: Cells, runs: Sequence[Measurement]) -> list[pd.DataFrame]:
    """Return the answers to the rows as a frame, where they can be one and say the same."""
    header, *below = rows
    if len(set(header)) < len(header) or any(len(row) != len(header) for row in below):
        return []
    # A file may have its header further below, and lines that are not text.
    if "label" not in header or any(_CONTROL.search(str(cell)) for row in rows for cell in row):
        return []
    return [match_many(pd.DataFrame(below, columns=header), table())] if runs else []
