"""Weighings that stand in the file under two names: more alike than chance makes them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import prod

from identify.notebook.findings import Finding
from identify.notebook.measurement import Trial
from identify.notebook.quantities import Quantity
from identify.section.runs import Attempt

# Of all pairs of students in a section fewer than this agree so far by chance.
_BY_CHANCE = 1e-3

_FIELDS = ("empty", "gain", "bath", "volume")


@dataclass(frozen=True)
class _Written:
    """One trial as it was written, number by number."""

    attempt: Attempt
    trial: Trial
    numbers: Mapping[str, Hashable]

    @property
    def masses(self) -> Hashable:
        return self.numbers["empty"], self.numbers["gain"]


def repeated(attempts: Sequence[Attempt]) -> Iterator[tuple[Attempt, Finding]]:
    """Yield students whose weighings are another's, and a finding each.

    How often two trials agree in a number by chance follows from the section itself: from the
    share of pairs of students that do.

    Parameters
    ----------
    attempts : sequence of Attempt
    """
    trials = [one for attempt in attempts for one in _written(attempt)]
    pairs = 0.5 * len(trials) * (len(trials) - 1)
    if not pairs:
        return
    chances = {name: _chance([one.numbers[name] for one in trials], pairs) for name in _FIELDS}
    alike: dict[Hashable, list[_Written]] = {}
    for one in trials:
        alike.setdefault(one.masses, []).append(one)
    found: dict[tuple[int, int], list[tuple[_Written, _Written]]] = {}
    for group in alike.values():
        first = group[0]
        for other in group[1:]:
            if other.attempt.place != first.attempt.place:
                places = (first.attempt.place, other.attempt.place)
                found.setdefault(places, []).append((first, other))
    for same in found.values():
        expected = pairs * prod(
            chances[name]
            for one, two in same
            for name in _FIELDS
            if one.numbers[name] == two.numbers[name]
        )
        if expected < _BY_CHANCE:
            first, other = same[0]
            yield first.attempt, _finding([one for one, _ in same], other.attempt, expected)
            yield other.attempt, _finding([two for _, two in same], first.attempt, expected)


def _written(attempt: Attempt) -> Iterator[_Written]:
    for trial in attempt.run.trials:
        if trial.empty is None or trial.condensed is None:
            continue
        flask = attempt.run.trial_flask(trial)
        empty, condensed = (one.to("g").value for one in (trial.empty, trial.condensed))
        yield _Written(
            attempt,
            trial,
            {
                "empty": round(empty, 6),
                "gain": round(condensed - empty, 6),
                "bath": _number(trial.bath, "C"),
                "volume": _number(flask.volume or flask.water_volume or flask.water_mass, ""),
            },
        )


def _number(quantity: Quantity | None, unit: str) -> Hashable:
    if quantity is None:
        return None
    return round(quantity.to(unit).value if unit else quantity.value, 6)


def _chance(numbers: Sequence[Hashable], pairs: float) -> float:
    """Return the share of pairs that agree; one pair more than there are, for few are looked at."""
    same = sum(0.5 * count * (count - 1) for count in Counter(numbers).values())
    return min((same + 1.0) / pairs, 1.0)


def _finding(own: Sequence[_Written], other: Attempt, expected: float) -> Finding:
    masses = " and ".join(f"{one.trial.empty} and {one.trial.condensed}" for one in own[:2])
    return Finding(
        "copied-from",
        "warning",
        f"The masses {masses} stand in the results of {other.student} too (bottle "
        f"{other.run.label}), to the last digit. Of all pairs of trials in this section "
        f"{expected:.1g} would agree so far by chance.",
        "Ask both for their notebooks: numbers may have been copied, or one run entered twice.",
        {"trials": float(len(own)), "expected_by_chance": expected},
    )
