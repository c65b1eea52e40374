"""How well a class weighs: by all its results, liquid by liquid, and instrument by instrument.

What many share (a day's barometer, a balance) is set right before: it is told as a cause, and the
next term need not have it. What is left is the class's own.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from identify.observables.class_spread import (
    ClassPrecision,
    ClassSpread,
    GroupPrecision,
    shares_within,
)
from identify.physics.arrays import Array

_INSTRUMENTS = ("balance", "barometer", "thermometer", "flask", "bench", "day")
_MIN_OF_GROUP = 3  # results that tell a spread
_SPOILED = 0.5  # probability from which on a run counts as spoiled


@dataclass(frozen=True)
class WeighedResult:
    """One student's molar mass against what is in the bottle.

    Parameters
    ----------
    label, liquid : str
    error : float
        Found over true, less one, shared faults set right.
    circumstances : mapping of str to str
    """

    label: str
    liquid: str
    error: float
    circumstances: Mapping[str, str] = field(default_factory=dict)


def class_precision(results: Sequence[WeighedResult]) -> ClassPrecision | None:
    """Say how well a class weighs, None where too few have weighed a known liquid.

    Parameters
    ----------
    results : sequence of WeighedResult
        Those of known liquids.
    """
    errors = np.array([one.error for one in results])
    found = ClassSpread.of(errors)
    if found is None:
        return None
    spread, spoiled = found
    return ClassPrecision(
        spread,
        shares_within(errors),
        groups=tuple(_groups(results, errors, spoiled >= _SPOILED)),
    )


def _groups(
    results: Sequence[WeighedResult], errors: Array, spoiled: NDArray[np.bool_]
) -> Iterator[GroupPrecision]:
    places: dict[tuple[str, str], list[int]] = defaultdict(list)
    for place, one in enumerate(results):
        places["liquid", f"{one.label} {one.liquid}"].append(place)
    for kind in _INSTRUMENTS:
        for place, one in enumerate(results):
            if name := one.circumstances.get(kind, ""):
                places[kind, name].append(place)
    for (kind, name), members in places.items():
        sound = errors[members][~spoiled[members]]
        yield GroupPrecision(
            kind,
            name,
            len(members),
            100.0 * float(sound.mean()) if len(sound) else None,
            100.0 * float(sound.std(ddof=1)) if len(sound) >= _MIN_OF_GROUP else None,
            int(spoiled[members].sum()),
        )
