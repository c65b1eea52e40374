"""The page that a student is given back."""

from __future__ import annotations

from identify.answers import feedback as words
from identify.answers.feedback import FeedbackPage
from identify.answers.html.page import render


def feedback_html(page: FeedbackPage) -> str:
    """Return a student's page.

    Returns
    -------
    str
        HTML. The same page gives the same text.
    """
    return render("feedback.html.j2", page=page, words=words)
