"""What each student of a section is given back: whose page holds which results."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from identify.answers.text.numbers import counted
from identify.section.feedback import Feedback
from identify.section.key import folded_label
from identify.section.returned import feedback_of_rows

if TYPE_CHECKING:
    from identify.section.result import RowSetAside, SectionResult

TITLE = "Your results"
READINGS, WORKING, NOTICED = "Your numbers", "The molar mass from them", "What was noticed"
SHARED, GRADED, NEXT_TIME = "What is not your doing", "What you handed in", "Next time"
SET_ASIDE = "Rows that could not be used"


@dataclass(frozen=True)
class FeedbackPage:
    """One student's page.

    Parameters
    ----------
    student : str
        Empty where the table names none; the page is then that of one result.
    file : str
        Name of the section's table.
    results : sequence of (str, Feedback)
        By the bottle's label.
    """

    student: str
    file: str
    results: Sequence[tuple[str, Feedback]]

    @property
    def heading(self) -> str:
        """Whose page it is."""
        return self.student or f"Bottle {self.results[0][0]}"

    @property
    def origin(self) -> str:
        """Where the results stand."""
        return f"{counted(len(self.results), 'result')} in {self.file}"


def feedback_pages(section: SectionResult) -> list[FeedbackPage]:
    """Return the pages of a section, a student each, in the order of the file."""
    pages: defaultdict[tuple[str, ...], list[tuple[str, Feedback]]] = defaultdict(list)
    for place, one in enumerate(section.students):
        whose = (one.student,) if one.student else ("", str(place))
        pages[whose].append((one.label, one.feedback))
    for (student, label), rows in _without_result(section).items():
        # A row that names nobody belongs to whoever has its label alone.
        whose = (student,) if student else ("", label)
        pages[whose].append((label, feedback_of_rows(rows)))
    file = Path(section.file).name
    return [FeedbackPage(student, file, results) for (student, *_), results in pages.items()]


def _without_result(section: SectionResult) -> dict[tuple[str, str], list[RowSetAside]]:
    """Return the rows set aside of whom nothing else is there."""
    known = {(one.student, folded_label(one.label)) for one in section.students}
    rows: defaultdict[tuple[str, str], list[RowSetAside]] = defaultdict(list)
    for row in section.set_aside:
        is_somebodys = bool(row.student or row.label)
        if is_somebodys and (row.student, folded_label(row.label)) not in known:
            rows[row.student, row.label].append(row)
    return rows
