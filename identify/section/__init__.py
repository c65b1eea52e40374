"""The check of a section: every student, every unknown, and what all of them share."""

from identify.section.analysis import check_section
from identify.section.result import SectionResult

__all__ = ["SectionResult", "check_section"]
