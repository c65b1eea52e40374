"""The check of a section: every student, every unknown, and what all of them share.

In the order in which `check_section` goes:

1. The rows of the file become students' runs, grouped by bottle (`runs`); the instructor's key
   says what each bottle should hold (`key`).
2. Each bottle gets a first look: what its students copied from its card, and a liquid that is near
   enough for the corrections (`bottles.card`, `bottles.pooling`).
3. What many share is searched across all bottles, and their readings are set right: a day, a
   barometer, a balance, a thermometer, an offset of everything (`shared`).
4. The runs of each bottle are pooled, and compared with its card and the key (`bottles`).
5. Each student is ranked alone, and told what only the others show (`students`).

`section` takes these steps; `result` is what comes out of them.
"""

from identify.section.check import check_section
from identify.section.result import SectionResult

__all__ = ["SectionResult", "check_section"]
