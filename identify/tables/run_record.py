"""The run record: one unknown in a TOML file."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from typing import Any

from identify.notebook.measurement import Fills, Source
from identify.tables.entry import (
    CARD_FIELDS,
    CIRCUMSTANCE_OF,
    CONDITION_FIELDS,
    FIELDS,
    FLASK_FIELDS,
    NOTES,
    TRIAL_FIELDS,
    Entry,
)
from identify.tables.faults import Fault, UnreadableError
from identify.tables.rows import is_blank

_SECTIONS = {
    "": ("label", "student", "card", "conditions", "flask", "trial"),
    "card": (*CARD_FIELDS, "percent"),
    "conditions": (*CONDITION_FIELDS, "barometer", *CIRCUMSTANCE_OF),
    "flask": FLASK_FIELDS,
    # What a trial had of its own stands beside its weighings.
    "trial": (*TRIAL_FIELDS, *CONDITION_FIELDS, *FLASK_FIELDS, *CIRCUMSTANCE_OF),
}


def record_entries(text: str, file: str, faults: list[Fault]) -> list[Entry]:
    """Read a run record.

    Parameters
    ----------
    text : str
        The TOML document.
    file : str
        For sources and faults.
    faults : list of Fault
        Takes what cannot be used. A fault in a trial sets that trial aside, any other the record.

    Returns
    -------
    list of Entry
        The run's own entry, then its trials; empty if the record is set aside.

    Raises
    ------
    UnreadableError
        If the text is not TOML.
    """
    document = _filled(_parse(text))
    run = Entry(Source(file), label="", faults=faults)
    _read_names(run, document)
    _refuse_unknown(run, "", document)
    for section in ("card", "conditions", "flask"):
        values = document.get(section, {})
        if isinstance(values, dict):
            _read_section(run, section, values)
        else:
            run.refuse(section, "is not a section", f"write [{section}] above its keys", values)
    trials = _trials(run, document.get("trial", []))
    sound = [trial for trial in trials if not trial.faulty]
    is_lost = run.faulty or (trials and not sound and not run.on_card())
    return [] if is_lost else [run, *sound]


def _filled(values: Mapping[str, Any]) -> dict[str, Any]:
    """Leave out what is still blank: a form has a pair of quotation marks for each reading.

    A trial of which nothing was filled in is left out too; one that has no keys is not.
    """
    filled: dict[str, Any] = {}
    for key, value in values.items():
        if isinstance(value, dict):
            filled[key] = _filled(value)
        elif isinstance(value, list):
            parts = [(one, _filled(one) if isinstance(one, dict) else one) for one in value]
            filled[key] = [part for one, part in parts if part or not one]
        elif not is_blank(value):
            filled[key] = value
    return filled


def _trials(run: Entry, trials: object) -> list[Entry]:
    if isinstance(trials, list) and all(isinstance(trial, dict) for trial in trials):
        return [_trial(run, number, values) for number, values in enumerate(trials, start=1)]
    run.refuse("trial", "is not a list of trials", "write [[trial]] above each of them")
    return []


def _trial(run: Entry, number: int, values: Mapping[str, Any]) -> Entry:
    trial = Entry(run.source, run.label, run.student, faults=run.faults)
    trial.columns = {name: f"trial {number}, {name}" for name in _SECTIONS["trial"]}
    _read_section(trial, "trial", values, f"trial {number}, ")
    if not trial.written and not trial.faulty:
        trial.refuse(f"trial {number}", "holds nothing", "write empty, condensed and bath")
    return trial


def _parse(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        reason = str(error)
    except RecursionError:
        reason = "brackets within brackets, too many"
    except ValueError:  # a number of thousands of digits, a date that does not exist
        reason = "a number or date that cannot be"
    line = None
    if found := re.search(r" \(at line ([0-9]+), column [0-9]+\)", reason):
        line, reason = int(found[1]), reason.replace(found[0], "")
    reason = " ".join(reason.replace(" (at end of document)", " at its end").split())[:80]
    raise UnreadableError(
        f'is not TOML ({reason}); put text such as "742.0 mmHg" in quotation marks', line
    )


def _read_names(run: Entry, document: Mapping[str, Any]) -> None:
    label, student = document.get("label", ""), document.get("student", "")
    if _is_name(label) and str(label).strip():
        run.label = " ".join(str(label).split())
    elif label == "":
        run.refuse("label", "the label is missing", 'begin with a line such as label = "C-14"')
    else:
        run.refuse("label", "is not a label", 'write a text such as label = "C-14"', label)
    if _is_name(student):
        run.student = " ".join(str(student).split())
    else:
        run.refuse("student", "is not a name", 'write a text such as student = "4B"', student)


def _is_name(value: object) -> bool:
    return isinstance(value, str | int) and not isinstance(value, bool)


def _read_section(entry: Entry, section: str, values: Mapping[str, Any], prefix: str = "") -> None:
    prefix = prefix or f"{section}."
    _refuse_unknown(entry, section, values)
    for key, value in values.items():
        if key not in _SECTIONS[section]:
            continue
        entry.columns[key] = f"{prefix}{key}"
        if key == "percent":
            _read_percent(entry, value)
        elif key in CIRCUMSTANCE_OF:
            entry.columns[CIRCUMSTANCE_OF[key]] = f"{prefix}{key}"
            entry.read_circumstance(CIRCUMSTANCE_OF[key], value)
        elif isinstance(value, dict | list) and not _adds_up(key, value):
            entry.refuse(key, "is not a reading", 'write it like "742.0 mmHg"', value)
        else:
            entry.read(key, value, FIELDS[key].unit if key in FIELDS else "")


def _adds_up(key: str, value: object) -> bool:
    return isinstance(value, list) and isinstance(FIELDS.get(key), Fills)


def _read_percent(entry: Entry, values: object) -> None:
    if isinstance(values, dict):
        for key, value in values.items():
            entry.read_element(key, value, f"card.percent.{key}")
    elif isinstance(values, str):
        entry.read_composition(values, "card.percent")
    else:
        entry.refuse("percent", "is not a composition", "write { C = 37.48, H = 12.58 }", values)


def _refuse_unknown(entry: Entry, section: str, values: Mapping[str, Any]) -> None:
    """Report keys that are not in the section: read as nothing, they would be lost."""
    for key in values:
        if key not in _SECTIONS[section] and key.casefold() not in NOTES:
            place = f"{section}.{key}" if section else key
            entry.refuse(place, "is not a known key", _advice_on(key, section))


def _advice_on(key: str, section: str) -> str:
    """Say where a key belongs, or which one may be meant."""
    known = _SECTIONS[section]
    home = next((name for name, keys in _SECTIONS.items() if name and key in keys), "")
    if home:
        return "write it under [[trial]]" if home == "trial" else f"write it under [{home}]"
    near = difflib.get_close_matches(key.casefold()[:60], known, n=1)
    return f"did you mean {near[0]}?" if near else f"use {', '.join(known)}, or note"
