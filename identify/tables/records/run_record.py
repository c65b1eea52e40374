"""The run record: the sections of its document to entries."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from identify.notebook.fields import Fills
from identify.notebook.measurement import IN_SYRINGE, Source
from identify.notebook.quantity.quantities import Quantity, read_quantity
from identify.notebook.usual import says_not_measured
from identify.tables.entry import CIRCUMSTANCE_OF, FIELDS, NAMES, WEIGHINGS, Entry
from identify.tables.faults import Fault
from identify.tables.limits import MAX_TEXT
from identify.tables.records.keys import (
    CARD,
    CONDITIONS,
    PERCENT,
    SECTIONS,
    TRIAL,
    VAPOR,
    VAPOR_FIELDS,
    advice_on,
    is_note,
    key_meant,
    known_key,
    plain_key,
)
from identify.tables.records.toml_text import AGAIN, UNREAD, read_toml
from identify.tables.rows import is_blank

_STANDARD = re.compile(
    r"(.*?)[\s,(]*(?:at |@ ?)?(?:s\.?t\.?p\.?|standard temperature and pressure)\)?", re.IGNORECASE
)
_AT_STANDARD = {"temperature": "0 C", "pressure": "1 atm"}


def record_entries(text: str, file: str, faults: list[Fault]) -> list[Entry]:
    """Read a run record.

    Parameters
    ----------
    text : str
        The TOML document.
    file : str
        For sources and faults.
    faults : list of Fault
        Takes what cannot be used; the rest is read.

    Returns
    -------
    list of Entry
        The run's own entry, then its trials; empty if the record has no label.

    Raises
    ------
    UnreadableError
        If the text is not TOML.
    """
    found = read_toml(text, file)
    faults += found.faults
    document = _filled(found.document)
    run = Entry(Source(file), label="", kind="run", faults=faults, faulty=bool(found.faults))
    _read_names(run, document)
    trials: list[Entry] = []
    for name, value in document.items():
        section = plain_key(name.removesuffix(AGAIN))
        if section in (TRIAL, VAPOR):
            trials += _trials(run, section, value, len(trials))
        elif section in SECTIONS and isinstance(value, dict):
            _read_section(run, section, value)
        elif section in SECTIONS:
            run.refuse(section, "is not a section", f"write [{section}] above its keys", value)
        elif section not in NAMES:
            _read_key(run, "", name, value)
    return [run, *_with_common_weighings(run, trials)] if run.label else []


def _filled(values: Mapping[str, Any]) -> dict[str, Any]:
    """Leave out what is still blank, or says that there is no reading.

    A form has a pair of quotation marks for each reading.

    A trial of which nothing was filled in is left out too; one that has no keys is not.
    """
    filled: dict[str, Any] = {}
    for key, value in values.items():
        if isinstance(value, dict):
            filled[key] = _filled(value)
        elif isinstance(value, list):
            parts = [(one, _filled(one) if isinstance(one, dict) else one) for one in value]
            filled[key] = [part for one, part in parts if part or not one]
        elif not (is_blank(value) or (plain_key(key) not in NAMES and says_not_measured(value))):
            filled[key] = value
    return filled


def _read_names(run: Entry, document: Mapping[str, Any]) -> None:
    """Take label and student from wherever they stand; without a label nothing can be answered."""
    places = (document, *(part for part in document.values() if isinstance(part, dict)))
    names = {
        plain_key(key): value
        for part in reversed(places)
        for key, value in part.items()
        if plain_key(key) in NAMES
    }
    label, student = names.get("label", ""), names.get("student", "")
    if label == UNREAD:
        run.label = Path(run.source.file).stem
    elif _is_too_long(label):
        run.refuse("label", *_TOO_LONG, label)
    elif _is_name(label) and str(label).strip():
        run.label = " ".join(str(label).split())
    elif label == "":
        run.refuse("label", "the label is missing", 'begin with a line such as label = "C-14"')
    else:
        run.refuse("label", "is not a label", 'write a text such as label = "C-14"', label)
    if _is_too_long(student):
        run.refuse("student", *_TOO_LONG, student)
    elif _is_name(student):
        run.student = "" if student == UNREAD else " ".join(str(student).split())
    else:
        run.refuse("student", "is not a name", 'write a text such as student = "4B"', student)


_TOO_LONG = ("is too long", "check the quotation marks")


def _is_too_long(value: object) -> bool:
    return len(str(value)) > MAX_TEXT if _is_name(value) else False


def _is_name(value: object) -> bool:
    return isinstance(value, str | int) and not isinstance(value, bool)


def _trials(run: Entry, section: str, values: object, before: int) -> Iterator[Entry]:
    """Read one trial, or a list of them."""
    parts = [values] if isinstance(values, dict) else values
    if not isinstance(parts, list) or not all(isinstance(part, dict) for part in parts):
        run.refuse(section, f"is not a list of {section}s", f"write [[{section}]] above each")
        return
    for number, part in enumerate(parts, start=before + 1):
        prefix = f"trial {number}, " if section == TRIAL else "vapor."
        yield _trial(run, section, part, prefix)


def _trial(run: Entry, section: str, values: Mapping[str, Any], prefix: str) -> Entry:
    trial = Entry(run.source, run.label, run.student, kind="trial", faults=run.faults)
    if section == VAPOR:
        trial.vaporized_in = IN_SYRINGE
        trial.columns = {field: f"vapor.{key}" for key, field in VAPOR_FIELDS.items()}
    else:
        trial.columns = {name: f"{prefix}{name}" for name in FIELDS}
    _read_section(trial, section, _at_standard(values) if section == VAPOR else values, prefix)
    if section == VAPOR and not {"volume", "water_volume"} & {*trial.written, *trial.unread}:
        trial.refuse("volume", "is missing", "write the volume of the vapor")
    if not trial.written and not trial.unread and not trial.faulty:
        trial.refuse(prefix.rstrip(", ."), "holds nothing", "write empty, condensed and bath")
    return trial


def _at_standard(values: Mapping[str, Any]) -> dict[str, Any]:
    """Write out what STP says of a vapor: 0 °C and 1 atm, as in exercises (common practice).

    Examples
    --------
    >>> _at_standard({"mass": "0.18 g", "volume": "90.0 mL at STP"})
    {'mass': '0.18 g', 'volume': '90.0 mL', 'temperature': '0 C', 'pressure': '1 atm'}
    """
    found = {
        key: _STANDARD.fullmatch(value) if isinstance(value, str) else None
        for key, value in values.items()
    }
    if not any(found.values()):
        return dict(values)
    written = {key: values[key] if one is None else one[1] for key, one in found.items()}
    kept = {key: value for key, value in written.items() if value != "" or found[key] is None}
    return kept | {key: value for key, value in _AT_STANDARD.items() if key not in kept}


def _with_common_weighings(run: Entry, trials: list[Entry]) -> list[Entry]:
    """Give the weighings that stand outside of trials to those that lack them, or to one trial."""
    common = {name: run.written.pop(name) for name in WEIGHINGS if name in run.written}
    lost = [name for name in WEIGHINGS if name in run.unread]
    if (common or lost) and not trials:
        trials = [Entry(run.source, run.label, run.student, kind="trial", faults=run.faults)]
        trials[0].columns = run.columns
    for trial in trials:
        if trial.vaporized_in != IN_SYRINGE:
            _share(trial, common, lost)
    return trials


def _share(trial: Entry, common: Mapping[str, Quantity], lost: Iterable[str]) -> None:
    own = {*trial.written, *trial.unread}
    trial.written |= {name: read for name, read in common.items() if name not in own}
    trial.unread += [name for name in lost if name not in trial.written]


def _read_section(entry: Entry, section: str, values: Mapping[str, Any], prefix: str = "") -> None:
    for key, value in values.items():
        _read_key(entry, section, key, value, prefix or f"{section}.")


def _read_key(entry: Entry, section: str, written: str, value: object, prefix: str = "") -> None:
    """Read a key wherever it can be understood."""
    key = known_key(written, section)
    if not key:
        _refuse_unknown(entry, section, written, value)
    elif key in NAMES:
        return
    elif key == PERCENT:
        _read_percent(entry, value, f"{prefix}{written}")
    elif (section, key) == (VAPOR, "density"):
        _read_density(entry, value, f"{prefix}{written}")
    elif key in CIRCUMSTANCE_OF and section in (CONDITIONS, TRIAL):
        entry.columns[CIRCUMSTANCE_OF[key]] = f"{prefix}{written}"
        if value != UNREAD:
            entry.read_circumstance(CIRCUMSTANCE_OF[key], value)
    else:
        field = VAPOR_FIELDS.get(key, key) if section == VAPOR else key
        _read_field(entry, field, value, f"{prefix}{written}")


def _read_field(entry: Entry, field: str, value: object, place: str) -> None:
    is_twice = field in entry.written or field in entry.words
    entry.columns[field] = place
    if value == UNREAD:
        entry.lose(field)
    elif is_twice:
        entry.refuse(field, "is there twice", "keep the one that is right", value)
        entry.written.pop(field, None)
        entry.words.pop(field, None)
    elif isinstance(value, dict | list) and not _adds_up(field, value):
        entry.refuse(field, "is not a reading", 'write it like "742.0 mmHg"', value)
    else:
        entry.read(field, value, "")


def _read_density(entry: Entry, value: object, place: str) -> None:
    """Read a vapor's mass over its volume: what one liter of it weighs."""
    entry.columns |= {"gain": place, "volume": place}
    if value != UNREAD:
        with entry.reading("gain"):
            read = read_quantity(value, "mass of a liter", "g/L")
            liter = read.to("g/L")
            text = read.text if read.unit == "g/L" else ""
            entry.written["gain"] = Quantity(liter.value, "g", liter.uncertainty, text)
            entry.written["volume"] = Quantity(1.0, "L", text="1.0000")
            return
    entry.lose("gain")
    entry.lose("volume")


def _adds_up(key: str, value: object) -> bool:
    return isinstance(value, list) and isinstance(FIELDS.get(key), Fills)


def _read_percent(entry: Entry, values: object, place: str) -> None:
    entry.columns[PERCENT] = place
    if isinstance(values, dict):
        for key, value in values.items():
            if value == UNREAD:
                entry.lose(PERCENT)
            else:
                entry.read_element(key, value, f"{place}.{key}")
    elif values == UNREAD:
        entry.lose(PERCENT)
    elif isinstance(values, str):
        entry.read_composition(values, place)
    else:
        entry.refuse(PERCENT, "is not a composition", "write { C = 37.48, H = 12.58 }", values)


def _refuse_unknown(entry: Entry, section: str, key: str, value: object) -> None:
    """Report a key that is not known; what it seems to mean is not taken from elsewhere."""
    if is_note(key):
        return
    meant = key_meant(key, section)
    entry.lose(VAPOR_FIELDS.get(meant, meant) if section == VAPOR else meant)
    for part in value if isinstance(value, list) else [value]:
        for inner in part if isinstance(part, dict) else ():
            entry.lose(known_key(inner, meant if meant in SECTIONS else CARD))
    if value != UNREAD:
        place = f"{section}.{key}" if section else key
        entry.refuse(place, "is not a known key", advice_on(key, section))
