"""The check of a section: every student, every unknown, and what all of them share."""

from identify.section.check import check_section
from identify.section.result import SectionResult

__all__ = ["SectionResult", "check_section"]
