"""A folder with a page for each student, and one document of all: all of it, or nothing."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from identify.answers.feedback import feedback_pages
from identify.answers.files.names import distinct_names
from identify.notebook.saving import written_beside

if TYPE_CHECKING:
    from identify.section.result import SectionResult

_ALL = "feedback.pdf"


class InputInTheWayError(OSError):
    """A page has the name of a file that was read, and would be written over it."""


def write_feedback(
    section: SectionResult, folder: Path, inputs: Iterable[Path | None] = ()
) -> list[Path]:
    """Write a page for each student into a folder, which is made where it is missing.

    Pages of an earlier time are replaced; other files stay.

    Parameters
    ----------
    section : SectionResult
    folder : Path
    inputs : iterable of Path or None
        What was read, and is never written over.

    Returns
    -------
    list of Path
        What was written, the document of all last.

    Raises
    ------
    InputInTheWayError
        If a page would be written over one of the inputs. Nothing is written then.
    OSError
        If the folder cannot be made or written to.
    """
    from identify.answers.files.feedback_pdf import feedback_pdf
    from identify.answers.html.feedback_page import feedback_html

    pages = feedback_pages(section)
    names = [f"{name}.html" for name in distinct_names([page.heading for page in pages])]
    targets = [folder / name for name in (*names, _ALL)]
    read = {path.resolve() for path in filter(None, inputs)}
    for target in targets:
        if target.resolve() in read:
            raise InputInTheWayError(f"{target}: is what is read here, and would be lost")
    # On the same disk: what is whole there is renamed in no time.
    near = folder if folder.is_dir() else folder.parent
    beside = Path(tempfile.mkdtemp(dir=near, prefix=".pages-"))
    try:
        for page, name in zip(pages, names, strict=True):
            (beside / name).write_text(feedback_html(page), encoding="utf-8", newline="\n")
        (beside / _ALL).write_bytes(feedback_pdf(pages))
        folder.mkdir(exist_ok=True)
        for target in targets:
            with written_beside(target) as whole:
                shutil.move(beside / target.name, whole)  # a link may lead to another disk
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return targets
