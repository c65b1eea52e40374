"""Files that a command is asked to write: refused before any work is done."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from identify.answers.files.names import is_pattern
from identify.cli.options.options import option
from identify.cli.terminal.streams import Faults

if TYPE_CHECKING:
    from identify.notebook.measurement import Measurement

_PAGE_ENDINGS = (".html", ".htm")


@dataclass(frozen=True)
class PageOut:
    """The page to hand on."""

    report: Path | None = option(
        "OUT.html",
        "Write a page to hand on, too: one file that needs no network, with structures, "
        "pictures, findings and cautions; it prints on A4 and Letter. For match and "
        "molar-mass, {label} or {student} in the name makes a page for each.",
    )


def check_target(
    name: str,
    target: Path | None,
    endings: Sequence[str],
    inputs: Iterable[Path | None],
    faults: Faults,
) -> None:
    """Report a file that cannot be written.

    Parameters
    ----------
    name : str
        The option that names it, such as ``--out``.
    target : Path or None
        None where the option was not given.
    endings : sequence of str
        One of which its name must have.
    inputs : iterable of Path or None
        What is read, and must not be written over.
    faults : Faults
    """
    if target is None:
        return
    if has_other_ending(name, target, endings, faults):
        return
    if not target.parent.is_dir():
        faults(f"{name}: {target.parent}: there is no such folder; make it first")
    elif target.is_dir():
        faults(f"{name}: {target}: is a folder; give the name of a file")
    elif any(given is not None and same_file(target, given) for given in inputs):
        faults(f"{name}: {target}: is what is read here, and would be lost; give another name")


def has_other_ending(name: str, target: Path, endings: Sequence[str], faults: Faults) -> bool:
    """Say whether a name has none of the endings, which is a fault."""
    if target.suffix.lower() in endings:
        return False
    ways = "none of " + ", ".join(endings) if len(endings) > 1 else f"no {endings[0]}"
    faults(f'{name}: "{target}" ends in {ways}; the ending decides what is written')
    return True


def check_page(
    out: PageOut, inputs: Iterable[Path | None], faults: Faults, instead: str = ""
) -> None:
    """Report a page that cannot be written.

    Parameters
    ----------
    out : PageOut
    inputs : iterable of Path or None
        What is read, and must not be written over.
    faults : Faults
    instead : str
        What to do where the name is a pattern, of which a command makes nothing.
    """
    report = out.report
    if report is None or not is_pattern(report):
        check_target("--report", report, _PAGE_ENDINGS, inputs, faults)
    elif instead:
        faults(f'--report: "{report}" names more than one page, and here is one; {instead}')
    else:  # its files are known, and checked, once the runs are read
        has_other_ending("--report", report, _PAGE_ENDINGS, faults)


def check_folder(name: str, folder: Path | None, faults: Faults) -> None:
    """Report a folder that cannot be made, nor be written to."""
    if folder is None:
        return
    if folder.exists() and not folder.is_dir():
        faults(f"{name}: {folder}: is a file; give the name of a folder")
    elif not folder.parent.is_dir():
        faults(f"{name}: {folder.parent}: there is no such folder; make it first")


def same_file(one: Path, other: Path) -> bool:
    """Return whether two names are one file, through links and folders too."""
    try:
        with suppress(OSError):  # one of them is not there yet
            return one.samefile(other)
        return one.resolve() == other.resolve()
    except ValueError:  # it is not the name of a file
        return False


def write_page(make: Callable[[], str], out: PageOut, faults: Faults) -> None:
    """Make and write the page, where one is asked for."""
    if out.report is not None:
        _write_page(make, out.report, faults)


def write_pages(
    make: Callable[[Sequence[int]], str],
    runs: Sequence[Measurement],
    out: PageOut,
    inputs: Sequence[Path | None],
    faults: Faults,
) -> None:
    """Make and write the pages that the name stands for, where it does.

    Parameters
    ----------
    make : callable
        From the places of some runs to their page.
    runs : sequence of Measurement
    out : PageOut
        A name that is not a pattern stands for one page of all runs.
    inputs : sequence of Path or None
        What was read, and must not be written over.
    faults : Faults
    """
    if out.report is None:
        return
    from identify.answers.files.names import SharedNameError, named_files

    try:
        pages = named_files(out.report, runs, "written into", is_shared=True)
    except SharedNameError as error:
        faults(f"--report: {error}")
        return
    before = faults.count
    for page in pages:
        check_target("--report", page, _PAGE_ENDINGS, inputs, faults)
        if faults.count > before:  # the others would mostly say the same
            return
    for page, places in pages.items():
        _write_page(partial(make, places), page, faults)


def _write_page(make: Callable[[], str], page: Path, faults: Faults) -> None:
    """Write a page; what else is asked for is written also where it fails."""
    from identify.answers.html.page import save_page

    place = f"--report: {page}"
    try:
        with faults.apart(place):
            save_page(make(), page)
    except OSError as error:
        faults(f"{place}: {error.strerror or error}")
