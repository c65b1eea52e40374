"""The feedback on one result, from the result."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from identify.bench.bench import Bench
from identify.bench.record import record_tables, trial_rows
from identify.calculations.molar_mass.shortcut import WorkedReadings
from identify.calculations.working import Step
from identify.notebook.measurement import Measurement
from identify.notebook.statistics import to_uncertainty
from identify.section.feedback import Feedback, OwnReading, Remark
from identify.section.result import RowSetAside, StudentResult
from identify.section.returned.grades import grade_sentences
from identify.section.returned.next_time import HABITS
from identify.section.returned.remarks import remarks
from identify.section.returned.shared import shared_sentences
from identify.section.wording import sentence

_WEIGH_AGAIN = "Weigh a second time: two trials that agree show that neither was spoiled."
_EVERY_CELL = "Write every cell as a number with its unit, so that the row can be read."
_LOOK_THROUGH = "Look through your numbers while you are still at the bench."
_NOTHING_TO_MEND = "Nothing to mend: these readings hang together."


def feedback_of(student: StudentResult, set_aside: Iterable[RowSetAside] = ()) -> Feedback:
    """Return what a student is given back of a result.

    Parameters
    ----------
    student : StudentResult
    set_aside : iterable of RowSetAside
        Rows of this result that could not be used.
    """
    bench = student.bench
    noticed = tuple(remarks(student))
    rows = tuple(map(_row_sentence, set_aside))
    by_key = (
        student.graded is not None
        and student.key is not None
        and student.graded.against == student.key.name
    )
    return Feedback(
        readings=tuple(_readings(student.run)),
        working=tuple(_working(bench)),
        molar_mass=tuple(_molar_mass(student, bench)),
        noticed=noticed,
        shared=tuple(shared_sentences(student.causes)),
        graded=tuple(grade_sentences(student.graded, by_key)),
        next_time=tuple(_next_time(noticed, student.run, bool(rows))),
        set_aside=rows,
    )


def feedback_of_rows(set_aside: Iterable[RowSetAside]) -> Feedback:
    """Return what a student is given back of whom no row could be used."""
    rows = tuple(map(_row_sentence, set_aside))
    return Feedback(set_aside=rows, next_time=(_EVERY_CELL,))


def _row_sentence(row: RowSetAside) -> str:
    return f"Row {row.row}: {sentence(row.reason)}"


def _readings(run: Measurement) -> Iterator[OwnReading]:
    """Yield what was read, the readings of several trials side by side."""
    for table in record_tables(replace(run, trials=())):
        for name, _, read in table.rows:
            yield OwnReading(name, (read,))
    trials = [{name: read for name, _, read in trial_rows(one)} for one in run.trials]
    for name in dict.fromkeys(name for one in trials for name in one):
        yield OwnReading(name, tuple(one.get(name, "") for one in trials))


def _working(bench: Bench) -> Iterator[Step]:
    """Yield the shortcut's working, the first trial in full."""
    if bench.weighing is None:
        return
    parts = bench.weighing.parts(1)
    first, *others = (
        WorkedReadings(trial, part) for trial, part in zip(bench.trials, parts, strict=True)
    )
    yield from first.shortcut_steps(f"trial {first.trial.number}, " if others else "")
    for one in others:
        yield one.shortcut_step()


def _molar_mass(student: StudentResult, bench: Bench) -> Iterator[str]:
    ideal, found = bench.ideal_molar_mass(), student.ranking.molar_mass
    if ideal is not None:
        mean = "the mean of your trials" if len(bench.trials) > 1 else "your trial"
        yield f"By the ideal gas alone, {mean} comes to {ideal:.1f} g/mol."
    elif student.run.trials:
        yield "Your weighings cannot be worked out: a reading is missing or cannot be right."
    if ideal is None or found is None or not found.is_possible:
        return
    right = ", and with what many share set right" if student.causes else ""
    yield (
        "With what the ideal gas leaves out (vapor that stays in the cooled flask, air that it "
        f"shuts out){right}: {to_uncertainty(found.value, found.standard_uncertainty)} g/mol."
    )


def _next_time(noticed: Sequence[Remark], run: Measurement, has_rows: bool) -> Iterator[str]:
    habits = [HABITS[one.code] for one in noticed if one.code in HABITS]
    if has_rows:
        habits.append(_EVERY_CELL)
    if len(run.trials) == 1:
        habits.append(_WEIGH_AGAIN)
    if not habits:
        habits.append(_LOOK_THROUGH if any(noticed) else _NOTHING_TO_MEND)
    yield from dict.fromkeys(habits)
