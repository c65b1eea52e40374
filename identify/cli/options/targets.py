"""Files that a command is asked to write: refused before any work is done."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from identify.cli.options.options import option
from identify.cli.terminal.streams import Faults

_PAGE_ENDINGS = (".html", ".htm")


@dataclass(frozen=True)
class PageOut:
    """The page to hand on."""

    report: Annotated[
        Path | None,
        option(
            "--report",
            "OUT.html",
            "Write a page to hand on, too: one file that needs no network, with structures, "
            "pictures, findings and cautions; it prints on A4 and Letter.",
        ),
    ] = None


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
    if target.suffix.lower() not in endings:
        ways = "none of " + ", ".join(endings) if len(endings) > 1 else f"no {endings[0]}"
        faults(f'{name}: "{target}" ends in {ways}; the ending decides what is written')
    elif not target.parent.is_dir():
        faults(f"{name}: {target.parent}: there is no such folder; make it first")
    elif target.is_dir():
        faults(f"{name}: {target}: is a folder; give the name of a file")
    elif any(given is not None and same_file(target, given) for given in inputs):
        faults(f"{name}: {target}: is what is read here, and would be lost; give another name")


def check_page(out: PageOut, inputs: Iterable[Path | None], faults: Faults) -> None:
    """Report a page that cannot be written."""
    check_target("--report", out.report, _PAGE_ENDINGS, inputs, faults)


def same_file(one: Path, other: Path) -> bool:
    """Return whether two names are one file, through links and folders too."""
    try:
        return one.samefile(other)
    except OSError:  # one of them is not there yet
        return one.resolve() == other.resolve()


def write_page(make: Callable[[], str], out: PageOut, faults: Faults) -> None:
    """Make and write the page, where one is asked for."""
    if out.report is None:
        return
    from identify.answers.html.page import save_page

    try:
        save_page(make(), out.report)
    except OSError as error:
        faults(f"--report: {out.report}: {error.strerror or error}")
