"""What each student is given back: from a result to `Feedback`, in words for its student.

A result is written for the instructor: it may name the key's liquid, and other students. Nothing of
either goes into a feedback. What only the section or the candidates show is therefore told anew
here, code by code, and what has no words here is not told.
"""

from identify.section.returned.writing import feedback_of, feedback_of_rows

__all__ = ["feedback_of", "feedback_of_rows"]
