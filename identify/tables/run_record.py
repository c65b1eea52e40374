"""The run record: one unknown in a TOML file."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from typing import Any

from identify.notebook.measurement import Fills, Source
from identify.notebook.quantities import QuantityError
from identify.tables.entry import (
    CARD_FIELDS,
    CIRCUMSTANCE_OF,
    CONDITION_FIELDS,
    FIELDS,
    FLASK_FIELDS,
    NOTES,
    PERCENT,
    TRIAL_FIELDS,
    Entry,
)
from identify.tables.faults import Fault, UnreadableError

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
        If the text is no TOML.
    """
    document = _parse(text)
    run = Entry(Source(file), label=_label(document, file, faults))
    run.faulty = not run.label
    run.student = _student(document, run, faults)
    _refuse_unknown(run, "", document, faults)
    for section in ("card", "conditions", "flask"):
        values = document.get(section, {})
        if isinstance(values, dict):
            _read_section(run, section, values, faults)
        else:
            error = QuantityError(str(values), "is no section", f"write [{section}] above its keys")
            run.fault(section, error, faults)
    trials = document.get("trial", [])
    if not isinstance(trials, list) or not all(isinstance(trial, dict) for trial in trials):
        error = QuantityError("", "is no list of trials", "write [[trial]] above each of them")
        run.fault("trial", error, faults)
        trials = []
    sound = []
    for number, values in enumerate(trials, start=1):
        trial = Entry(Source(file), run.label, run.student)
        trial.columns = {name: f"trial {number}, {name}" for name in _SECTIONS["trial"]}
        _read_section(trial, "trial", values, faults, f"trial {number}, ")
        if not trial.written and not trial.faulty:
            error = QuantityError("", "holds nothing", "write empty, condensed and bath")
            trial.fault(f"trial {number}", error, faults)
        if not trial.faulty:
            sound.append(trial)
    if run.faulty or (trials and not sound and not _has_card(run)):
        return []
    return [run, *sound]


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
        f'is no TOML ({reason}); put text such as "742.0 mmHg" in quotation marks', line
    )


def _label(document: Mapping[str, Any], file: str, faults: list[Fault]) -> str:
    label = document.get("label")
    if isinstance(label, int) and not isinstance(label, bool):
        label = str(label)
    if isinstance(label, str) and label.strip():
        return " ".join(label.split())
    advice = 'the label is missing; begin with a line such as label = "C-14"'
    read = ""
    if label is not None and label != "":
        advice, read = 'is no label; write a text such as label = "C-14"', str(label)
    faults.append(Fault(file, None, "label", read, advice))
    return ""


def _student(document: Mapping[str, Any], run: Entry, faults: list[Fault]) -> str:
    student = document.get("student", "")
    if isinstance(student, str | int) and not isinstance(student, bool):
        return " ".join(str(student).split())
    error = QuantityError(str(student), "is no name", 'write a text such as student = "4B"')
    run.fault("student", error, faults)
    return ""


def _read_section(
    entry: Entry, section: str, values: Mapping[str, Any], faults: list[Fault], prefix: str = ""
) -> None:
    prefix = prefix or f"{section}."
    _refuse_unknown(entry, section, values, faults)
    for key, value in values.items():
        if key not in _SECTIONS[section]:
            continue
        entry.columns[key] = f"{prefix}{key}"
        if key == "percent":
            _read_percent(entry, value, faults)
        elif key in CIRCUMSTANCE_OF:
            entry.columns[CIRCUMSTANCE_OF[key]] = f"{prefix}{key}"
            entry.read_circumstance(CIRCUMSTANCE_OF[key], value, faults)
        elif isinstance(value, dict | list) and not _adds_up(key, value):
            error = QuantityError(str(value), "is no reading", 'write it like "742.0 mmHg"')
            entry.fault(key, error, faults)
        else:
            entry.read(key, value, FIELDS[key].unit if key in FIELDS else "", faults)


def _adds_up(key: str, value: object) -> bool:
    return isinstance(value, list) and isinstance(FIELDS.get(key), Fills)


def _read_percent(entry: Entry, values: object, faults: list[Fault]) -> None:
    if not isinstance(values, dict):
        error = QuantityError(str(values), "is no composition", "write { C = 37.48, H = 12.58 }")
        entry.fault("percent", error, faults)
        return
    for key, value in values.items():
        entry.read_element(key, value, f"card.percent.{key}", faults)


def _refuse_unknown(
    entry: Entry, section: str, values: Mapping[str, Any], faults: list[Fault]
) -> None:
    """Report keys that are not in the section: read as nothing, they would be lost."""
    known = _SECTIONS[section]
    for key in values:
        if key in known or key.casefold() in NOTES:
            continue
        home = next((name for name, keys in _SECTIONS.items() if name and key in keys), None)
        near = difflib.get_close_matches(key.casefold()[:60], known, n=1)
        if home:
            advice = f"write it under [{home}]" if home != "trial" else "write it under [[trial]]"
        elif near:
            advice = f"did you mean {near[0]}?"
        else:
            advice = f"use {', '.join(known)}, or note"
        place = f"{section}.{key}" if section else key
        entry.fault(place, QuantityError("", "is no known key", advice), faults)


def _has_card(entry: Entry) -> bool:
    return any(name in CARD_FIELDS or name.startswith(PERCENT) for name in entry.written)
