"""A page asked for in the terminal: one reading after the other, each checked as it is typed."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from identify.answers.forms.lines import LINE_OF, LINES, TRIALS
from identify.answers.forms.record import FilledPage, Place
from identify.answers.text import Page
from identify.answers.text.page import DIM, finding_lines
from identify.checks import check
from identify.cli.terminal.output import OutputFormat
from identify.cli.terminal.streams import UNUSABLE, complain
from identify.notebook.quantity.quantities import QuantityError
from identify.notebook.saving import written_anew
from identify.notebook.usual import NOT_MEASURED_WORDS
from identify.tables.entry import RECORD_FIELDS
from identify.tables.records.keys import CARD, COMBUSTION, CONDITIONS, FLASK, TRIAL

if TYPE_CHECKING:
    from identify.notebook.findings import Finding

_TITLES = {
    "": "The bottle",
    CARD: "The liquid",
    COMBUSTION: "The combustion",
    CONDITIONS: "The laboratory",
    FLASK: "The flask",
    TRIAL: "Trial",
}
_WEIGHINGS = "The weighings"
_HOW = (
    "One reading after the other, as it stands on your page. Enter: not measured. back: the one "
    "before. same: as in the trial before. Ctrl-C: stop, and nothing is written."
)
_BACK, _SAME, _HELP = "back", "same", frozenset({"?", "help"})
# Codes of findings on what is missing: on a page that is being filled in, more is to come.
_LACKING = frozenset({"weighings-unused", "condition-assumed"})


def ask_and_match(target: Path, label: str, trials: tuple[int, int], form: OutputFormat) -> int:
    """Ask for the readings of a page, write it, and match it.

    Parameters
    ----------
    target : Path
        The record to write; not there yet.
    label : str
        Of the bottle, where nothing else is typed.
    trials : (int, int)
        How many pairs of weighings there are where nothing else is typed, and at most.
    form : OutputFormat
        Of the answer.

    Returns
    -------
    int
        The exit status: that of the match.
    """
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        complain(
            "--ask: there is no terminal to ask in; without --ask, a record to fill in is written"
        )
        return UNUSABLE
    try:
        page = _Dialog(label, *trials).filled(target)
    except EOFError:
        print(file=sys.stderr)  # after the prompt
        complain("the input ended before the page was complete; nothing is written")
        return UNUSABLE
    except KeyboardInterrupt:
        print("\nstopped; nothing is written", file=sys.stderr)
        raise
    if page.is_empty:
        complain("no reading was typed; nothing is written")
        return UNUSABLE
    if not _is_written(page, target):
        return UNUSABLE
    from identify.cli.commands.match import match_file

    return match_file(target, form)


def _is_written(page: FilledPage, target: Path) -> bool:
    try:
        with written_anew(target) as beside:
            beside.write_text(page.text(), encoding="utf-8")
    except OSError as error:
        complain(f"{target}: cannot be written ({error.strerror or error}); what was typed:")
        print(page.text(), file=sys.stderr)
        return False
    print(f"{target} is written.\n", file=sys.stderr)
    return True


class _Dialog:
    """Asks on standard error, so that standard output holds the answer alone."""

    def __init__(self, label: str, trials: int, most_trials: int) -> None:
        self.most_trials = most_trials
        self.terminal = Page.of(sys.stderr)
        self.page = FilledPage({Place("label"): label} if label else {})
        self.page = self.page.with_text(Place(TRIALS), str(trials))
        self.title = ""
        with suppress(ImportError):  # arrow keys and the lines before, where there is such a thing
            import_module("readline")

    def filled(self, target: Path) -> FilledPage:
        """Return the page as it was typed, looked through and found good.

        Raises
        ------
        EOFError, KeyboardInterrupt
            If whoever types stops before that.
        """
        self._say(_HOW)
        asked: list[Place] = []
        while place := self._next(asked):
            if self._ask(place):
                asked.append(place)
            elif asked:
                asked.pop()
        self._look_through(target)
        return self.page

    def _next(self, asked: list[Place]) -> Place | None:
        return next((one for one in self.page.open_places() if one not in asked), None)

    # --------------------------------------------------------------------------- one question

    def _ask(self, place: Place) -> bool:
        """Ask until something can be taken, and say whether to go on: not back."""
        self._introduce(place)
        while (text := self._typed(self._prompt(place))).casefold() != _BACK:
            if self._is_settled(place, text):
                return True
        return False

    def _is_settled(self, place: Place, text: str) -> bool:
        """Act upon what was typed, and say whether the question is answered."""
        said = text.casefold()
        if said in _HELP:
            self._say(_HOW)
            return False
        if said in NOT_MEASURED_WORDS:
            self.page = self._without(place)
        elif text and not self._takes(place, text):
            if self.page[place]:
                self._say("Enter keeps it; or type it again.", "    ")
            return False
        if place.key == "label" and not self.page[place]:
            self._say("Every page needs one.", "    ")
            return False
        return True

    def _introduce(self, place: Place) -> None:
        line = LINE_OF[place.key]
        title = _WEIGHINGS if place.key == TRIALS else _TITLES[line.section]
        title += f" {place.trial}" if place.trial else ""
        if title != self.title:
            self.title = title
            print(f"\n{self.terminal.emphasized(title)}", file=sys.stderr)
        if place.trial > 1:
            return  # as in the first
        self._say(f"{line.words[:1].upper()}{line.words[1:]}.", "  ")
        if line.without:
            self._say(f"Not measured: {line.without}", "    ", DIM)

    def _prompt(self, place: Place) -> str:
        line = LINE_OF[place.key]
        unit = f" ({self.terminal.text(line.unit_text).strip()})" if line.unit else ""
        there = f" [{self.page[place]}]" if self.page[place] else ""
        return f"  {place.key}{unit}{there}: "

    def _takes(self, place: Place, text: str) -> bool:
        """Take what was typed; say whether it is taken without a doubt."""
        if text.casefold() == _SAME and place.trial > 1:
            text = self.page[Place(place.key, place.trial - 1)]
        try:
            page = self._with(place, text)
            findings = self._new_findings(place, page)
        except QuantityError as error:
            self._say(f'"{error.read or text}" {error.reason}; {error.advice}', "    ")
            return False
        self.page = page
        for finding in findings:
            print("\n".join(finding_lines(finding, self.terminal)), file=sys.stderr)
        return all(finding.severity == "note" for finding in findings)

    def _with(self, place: Place, text: str) -> FilledPage:
        if place.key == TRIALS:
            self._check_count(text)
        return self.page.with_text(place, _with_unit(text, LINE_OF[place.key].unit))

    def _without(self, place: Place) -> FilledPage:
        return self.page.with_text(place, "0" if place.key == TRIALS else "")

    def _check_count(self, text: str) -> None:
        if not (text.isascii() and text.isdigit() and int(text) <= self.most_trials):
            advice = f"write a whole number up to {self.most_trials}; a table holds more"
            raise QuantityError(text, "is not a number of trials", advice)

    def _new_findings(self, place: Place, page: FilledPage) -> list[Finding]:
        """Return what is found now and would not be without this reading."""
        before = {str(finding.message) for finding in check(self._without(place).measurement())}
        found = check(page.measurement())
        return [one for one in found if one.message not in before and one.code not in _LACKING]

    # ------------------------------------------------------------------------- the page as a whole

    def _look_through(self, target: Path) -> None:
        """Show all that was typed, and take corrections until it is good."""
        while True:
            places = list(self.page.open_places())
            print(f"\n{self.terminal.emphasized('The page')}", file=sys.stderr)
            for number, place in enumerate(places, 1):
                print(self._listed(number, place), file=sys.stderr)
            self._say(
                f"Enter writes {target} and matches it. A number corrects that line. Another "
                f"reading, such as density = 0.653 g/mL, is added.",
                "  ",
            )
            text = self._typed("  > ")
            if not text:
                return
            self._correct(text, places)

    def _listed(self, number: int, place: Place) -> str:
        name = f"{place.key} {place.trial}" if place.trial else place.key
        return self.terminal.elided(f"  {number:>3}  {name:<20} {self.page[place] or '-'}")

    def _correct(self, text: str, places: list[Place]) -> None:
        key, equals, value = (part.strip() for part in text.partition("="))
        if text.isdigit() and 0 < int(text) <= len(places):
            self._ask(places[int(text) - 1])
        elif equals and key in self._further_keys():
            self._takes(Place(key), value.strip('"'))
        else:
            keys = ", ".join(self._further_keys())
            advice = f"Press Enter, or type a number of this list, or one of {keys}, = and a value."
            self._say(advice, "    ")

    def _further_keys(self) -> Iterator[str]:
        return (line.key for line in LINES if line.is_rare and line.key in RECORD_FIELDS)

    # --------------------------------------------------------------------------------- terminal

    def _typed(self, prompt: str) -> str:
        shown = self.terminal.text(prompt)
        if sys.stdout.isatty():
            return input(shown).strip()
        print(shown, end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            raise EOFError
        return line.strip()

    def _say(self, text: str, indent: str = "", code: str = "") -> None:
        for line in self.terminal.wrapped(text, indent):
            print(self.terminal.emphasized(line, code) if code else line, file=sys.stderr)


def _with_unit(text: str, unit: str) -> str:
    """Return what was typed, with the usual unit behind a bare number.

    Examples
    --------
    >>> _with_unit("742.0(5)", "mmHg"), _with_unit("29.92  inHg", "mmHg")
    ('742.0(5) mmHg', '29.92 inHg')
    """
    said = " ".join(text.split())
    is_bare = not any(letter.isalpha() or letter in "°%" for letter in said)
    return f"{said} {unit}" if is_bare and unit else said
