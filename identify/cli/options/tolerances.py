"""The tolerances that a command was given, and what else a match assumes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from identify.cli.terminal.streams import Faults
from identify.observables.catalog import OBSERVABLES

if TYPE_CHECKING:
    from identify.cli.options.options import Judgment
    from identify.matching.settings import MatchSettings, Prior
    from identify.observables.error.technique import Technique
    from identify.observables.tolerances import Tolerances

_TOLERANCES = {one.option: one.name for one in OBSERVABLES.values()}
# Blank or comma before the next name: "molar-mass=3 %, percent=0,3".
_NEXT_TOLERANCE = re.compile(r"[\s,;]+(?=[A-Za-z][-\w]*\s*=)")
_TOLERANCE_UNITS = ("°C", "K", *(one.tolerance_unit for one in OBSERVABLES.values()))


def technique_given(text: str | None, faults: Faults) -> Technique | None:
    """Read what follows ``--technique``; None, the fault reported, where it cannot be used."""
    from identify.observables.error.technique import Technique

    try:
        return Technique.of(text)
    except ValueError as error:
        faults(f"--{error}")
        return None


def tolerances_given(texts: Sequence[str], faults: Faults) -> Tolerances | None:
    """Read what follows ``--tolerance``; None, each fault reported, where it cannot be used."""
    from identify.observables.tolerances import Tolerances

    given: dict[str, float] = {}
    usable = True
    for text in (part for whole in texts for part in _NEXT_TOLERANCE.split(whole.strip())):
        name, _, number = text.partition("=")
        field = _TOLERANCES.get(name.strip().lower().replace("_", "-"))
        value = _positive(number)
        if field is None or value is None:
            faults(
                f'--tolerance: "{text}" is not one of '
                f"{', '.join(f'{known}=NUMBER' for known in _TOLERANCES)} with a number above 0"
            )
            usable = False
        elif field in given:
            faults(f'--tolerance: "{text}" gives {name} a second time; give it once')
            usable = False
        else:
            given[field] = value
    try:
        return Tolerances(**given) if usable else None
    except ValueError as error:
        faults(f"--{error}")
        return None


def settings_given(judgment: Judgment, faults: Faults) -> MatchSettings | None:
    """Read what a match takes for granted; None, each fault reported, where it cannot be used."""
    from identify.matching.settings import MatchSettings

    known = tolerances_given(judgment.tolerance or (), faults)
    prior: Prior = judgment.prior.value
    try:
        settings = MatchSettings.of(known, prior, judgment.outside, judgment.technique)
    except ValueError as error:
        faults(f"--{error}")
        return None
    return None if known is None else settings


def _positive(text: str) -> float | None:
    number = text.strip().replace(",", ".")
    for unit in _TOLERANCE_UNITS:
        number = number.removesuffix(unit).strip()
    try:
        value = float(number)
    except ValueError:
        return None
    return value if 0.0 < value < float("inf") else None
