"""The run record as a form to fill in, and as it was filled in."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from identify.answers.forms.lines import (
    BENCH_CAUTIONS,
    LINE_OF,
    LINES,
    TRIALS,
    FormLine,
    section_lines,
)
from identify.notebook.measurement import Combustion, Conditions, Flask, Measurement, Trial
from identify.tables.records.keys import (
    CARD,
    COMBUSTION,
    CONDITIONS,
    FLASK,
    TRIAL,
    VAPOR,
)

_WIDTH = 96  # columns of a comment
_CODE = 28  # columns of key and value before the comment beside them
_TITLES = {
    CARD: "what the card of the bottle says, and what was read of the liquid",
    CONDITIONS: "the laboratory while the flask was weighed",
    FLASK: "the flask, to the brim",
    COMBUSTION: "in place of percentages: masses of a combustion",
    VAPOR: "in place of flask and trials: a weighed liquid vaporized in a syringe",
    TRIAL: "one pair of weighings; write one more [[trial]] for each further pair",
}


class Place(NamedTuple):
    """Where on a page something is written: under a key, of a trial (from 1) or of the whole."""

    key: str
    trial: int = 0


@dataclass(frozen=True)
class FilledPage:
    """What was written on a page, by place, as it was typed; does not change.

    Examples
    --------
    >>> page = FilledPage().with_text(Place("label"), "C-14")
    >>> page = page.with_text(Place("boiling_point"), "64.6")
    >>> print(page.measurement().boiling_point)
    64.6 °C
    """

    written: Mapping[Place, str] = field(default_factory=dict)

    def __getitem__(self, place: Place) -> str:
        """Return what is written at a place, empty where nothing is."""
        return self.written.get(place, "")

    def with_text(self, place: Place, text: str) -> FilledPage:
        """Return the page with a text at a place, or with nothing there where it is empty."""
        written = {**self.written, place: text}
        return replace(self, written={one: said for one, said in written.items() if said})

    @property
    def trials(self) -> int:
        """How many trials there are."""
        return int(self[Place(TRIALS)] or 0)

    @property
    def is_empty(self) -> bool:
        """Whether nothing was measured."""
        return not any(LINE_OF[place.key].section for place in self.written)

    def open_places(self) -> Iterator[Place]:
        """Yield the places that are filled or that there is a point in filling, in their order."""
        for line in LINES:
            if line.section != TRIAL and self._is_open(line, 0):
                yield Place(line.key)
        for trial in self._numbers():
            for line in section_lines(TRIAL):
                if self._is_open(line, trial):
                    yield Place(line.key, trial)

    def _is_open(self, line: FormLine, trial: int) -> bool:
        if self[Place(line.key, trial)]:
            return True
        has_need = not line.needs or self._has(line.needs, trial)
        is_settled = any(self._has(key, trial) for key in line.instead)
        return has_need and not is_settled and not line.is_rare

    def _has(self, key: str, trial: int) -> bool:
        return bool(self.trials) if key == TRIALS else bool(self[Place(key, trial)])

    def measurement(self) -> Measurement:
        """Return the page as a measurement, however little is written.

        Raises
        ------
        QuantityError
            If something cannot be read; the error names its field.
        """
        burned = self._section(COMBUSTION)
        return Measurement(
            **self._section(""),
            **self._section(CARD),
            combustion=Combustion(**burned) if burned else None,
            conditions=Conditions(**self._section(CONDITIONS)),
            flask=Flask(**self._section(FLASK)),
            trials=[Trial(**self._section(TRIAL, trial)) for trial in self._numbers()],
        )

    def _numbers(self) -> range:
        return range(1, self.trials + 1)

    def _section(self, section: str, trial: int = 0) -> dict[str, Any]:
        places = [Place(line.key, trial) for line in section_lines(section)]
        return {one.key: self.written[one] for one in places if one in self.written}

    def text(self) -> str:
        """Return the page as a record, without what was not written."""
        parts = [_written_section("", self._section(""))]
        for section in (CARD, COMBUSTION, CONDITIONS, FLASK):
            parts.append(_written_section(f"[{section}]\n", self._section(section)))
        for trial in self._numbers():
            parts.append(_written_section("[[trial]]\n", self._section(TRIAL, trial)))
        return "\n".join(filter(None, parts))


def _written_section(head: str, written: Mapping[str, str]) -> str:
    lines = [f"{key} = {_quoted(text)}\n" for key, text in written.items()]
    return head + "".join(lines) if lines else ""


def _quoted(text: str) -> str:
    # A basic string of TOML is written like one of JSON, but for the character DEL.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


# ------------------------------------------------------------------------------- the form to fill


def blank_record(label: str = "", trials: int = 1, file: str = "") -> str:
    """Return a record that holds nothing yet but the label, with what to write where.

    Parameters
    ----------
    label : str
    trials : int
        How many pairs of weighings it has room for.
    file : str
        Its name, for the command that reads it.

    Returns
    -------
    str
        TOML.
    """
    named = section_lines("")
    parts = [_comment(_heading(file)), "\n".join(_form_line(line, label) for line in named)]
    parts += map(_section_form, (CARD, CONDITIONS, FLASK))
    first = _section_form(TRIAL)
    parts += [first, *[first.replace(f"  # {_TITLES[TRIAL]}", "")] * (trials - 1)]
    parts += map(_section_form, (COMBUSTION, VAPOR))
    return "\n\n".join(parts) + "\n"


def _heading(file: str) -> Sequence[str]:
    return (
        "A page of the notebook: one unknown, as one person measured it.",
        "",
        'Write each reading between its quotation marks, as in room = "22.5 C"; a number without '
        'unit is taken in the unit beside it. What was not measured stays "". A line that begins '
        "with # is not read: take the # away where you need it. Then:",
        "",
        f"    identify-unknown match {file or 'this-file.toml'}",
        "",
        "Cautions",
        *(f"- {caution}" for caution in BENCH_CAUTIONS),
    )


def _comment(paragraphs: Sequence[str]) -> str:
    import textwrap

    lines = []
    for text in paragraphs:
        rest = "  " if text.startswith("- ") else ""
        lines += textwrap.wrap(text, _WIDTH - 2, subsequent_indent=rest) or [""]
    return "\n".join(f"# {line}".rstrip() for line in lines)


def _section_form(section: str) -> str:
    lines = section_lines(section)
    head = f"[[{section}]]" if section == TRIAL else f"[{section}]"
    head = f"{'# ' * all(line.is_rare for line in lines)}{head}  # {_TITLES[section]}"
    return "\n".join([head, *map(_form_line, lines)])


def _form_line(line: FormLine, label: str = "") -> str:
    comment = f"# {line.unit_text}: {line.words}" if line.unit else f"# {line.words}"
    code = f"{line.key} = {_quoted(label if line.key == 'label' else '')}"
    return f"{'# ' * line.is_rare}{code}".ljust(_CODE) + f" {comment}"
