"""The page as it was meant: its readings with a named slip set right."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any, TypeVar

from identify.notebook.measurement import Conditions, Flask, Measurement, Trial
from identify.notebook.quantity.quantities import QuantityError

_PERCENT = re.compile(r"percent (\w+)")
_TRIAL = re.compile(r"trial (\d+)(?: (\w+))?")
_LEFT_OUT = "left out"
_Holder = TypeVar("_Holder", Conditions, Flask, Trial, Measurement)


def as_meant(run: Measurement, repaired: Mapping[str, str]) -> Measurement | None:
    """Return a run with its readings as a slip says that they were meant.

    Parameters
    ----------
    run : Measurement
    repaired : mapping of str to str
        Of the slip: the reading's name, and what it would have been.

    Returns
    -------
    Measurement or None
        None where it names what is not a reading of the page, such as a mass that is missing.

    Examples
    --------
    >>> run = Measurement("C-31", percent={"C": 85.6, "H": 14.4}, flask=Flask(volume="250 mL"))
    >>> meant = as_meant(run, {"volume": "282 mL", "percent H": "13.4 %"})
    >>> str(meant.flask.volume), str(meant.percent["H"])
    ('282 mL', '13.4 %')
    >>> as_meant(run, {"missing_mass": "150 mg"}) is None
    True
    """
    meant = run
    for name, text in repaired.items():
        try:
            changed = _with_reading(meant, name, text)
        except QuantityError:
            return None
        if changed == meant:
            return None
        meant = changed
    return meant


def _with_reading(run: Measurement, name: str, text: str) -> Measurement:
    if found := _PERCENT.fullmatch(name):
        percent: dict[str, Any] = {**(run.percent or {}), found[1]: text}
        return replace(run, percent=percent)
    if found := _TRIAL.fullmatch(name):
        return _in_one_trial(run, int(found[1]) - 1, found[2], text)
    if _has(run, name):
        own: dict[str, Any] = {name: text}
        return replace(run, **own)
    return replace(
        run,
        conditions=_with_own(run.conditions, name, text),
        flask=_with_own(run.flask, name, text),
        trials=tuple(_in_trial(trial, name, text) for trial in run.trials),
    )


def _in_one_trial(run: Measurement, place: int, name: str | None, text: str) -> Measurement:
    before, after = run.trials[:place], run.trials[place + 1 :]
    if name is None and text == _LEFT_OUT:
        return replace(run, trials=(*before, *after))
    if name is None or place >= len(run.trials):
        return run
    return replace(run, trials=(*before, _in_trial(run.trials[place], name, text), *after))


def _in_trial(trial: Trial, name: str, text: str) -> Trial:
    trial = _with_own(trial, name, text)
    if trial.conditions is not None:
        trial = replace(trial, conditions=_with_own(trial.conditions, name, text))
    if trial.flask is not None:
        trial = replace(trial, flask=_with_own(trial.flask, name, text))
    return trial


def _has(run: Measurement, name: str) -> bool:
    return any(field.name == name for field in fields(run))


def _with_own(holder: _Holder, name: str, text: str) -> _Holder:
    """Return conditions, a flask or a trial with a reading changed that it has."""
    has = any(field.name == name for field in fields(holder)) and getattr(holder, name) is not None
    own: dict[str, Any] = {name: text}
    return replace(holder, **own) if has else holder
