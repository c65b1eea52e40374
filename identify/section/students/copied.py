"""SectionWeighings that stand in the file under two names: more alike than chance makes them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import prod

from identify.notebook.findings import Finding
from identify.notebook.measurement import Trial
from identify.notebook.quantity.quantities import Quantity
from identify.section.runs import StudentRun

# Pairs of trials in a section that may be expected to agree so far by chance.
_MAX_EXPECTED = 1e-3

_READINGS = ("empty", "gain", "bath", "volume")


@dataclass(frozen=True)
class _WrittenMasses:
    """One trial as it was written, number by number."""

    run: StudentRun
    trial: Trial
    numbers: Mapping[str, Hashable]

    @property
    def masses(self) -> Hashable:
        return self.numbers["empty"], self.numbers["gain"]

    def shared_with(self, other: _WrittenMasses) -> Iterator[str]:
        """Yield the readings that are the same in another trial."""
        return (name for name in _READINGS if self.numbers[name] == other.numbers[name])


def copied_weighings(runs: Sequence[StudentRun]) -> Iterator[tuple[StudentRun, Finding]]:
    """Yield students whose weighings are another's, with a finding each.

    How often two trials agree in a number by chance follows from the section itself: from the
    share of pairs of trials that do.
    """
    trials = [one for run in runs for one in _written(run)]
    pairs = 0.5 * len(trials) * (len(trials) - 1)
    if not pairs:
        return
    chances = {name: _chance([one.numbers[name] for one in trials], pairs) for name in _READINGS}
    for same in _same_masses(trials):
        expected = pairs * prod(chances[name] for one, two in same for name in one.shared_with(two))
        if expected < _MAX_EXPECTED:
            firsts, others = zip(*same, strict=True)
            first, other = firsts[0].run, others[0].run
            yield first, _finding(firsts, other, expected)
            yield other, _finding(others, first, expected)


def _same_masses(
    trials: Sequence[_WrittenMasses],
) -> list[list[tuple[_WrittenMasses, _WrittenMasses]]]:
    """Return pairs of trials with the same masses, by the two runs that they are of."""
    alike: defaultdict[Hashable, list[_WrittenMasses]] = defaultdict(list)
    for one in trials:
        alike[one.masses].append(one)
    found: defaultdict[tuple[int, int], list[tuple[_WrittenMasses, _WrittenMasses]]] = defaultdict(
        list
    )
    for first, *others in alike.values():
        for other in others:
            if other.run.index != first.run.index:
                found[first.run.index, other.run.index].append((first, other))
    return list(found.values())


def _written(run: StudentRun) -> Iterator[_WrittenMasses]:
    for trial in run.measurement.trials:
        if trial.empty is None or trial.condensed is None:
            continue
        flask = run.measurement.trial_flask(trial)
        empty, condensed = (one.to("g").value for one in (trial.empty, trial.condensed))
        yield _WrittenMasses(
            run,
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
    """Return the share of pairs that agree, one added, since few pairs are looked at."""
    same = sum(0.5 * count * (count - 1) for count in Counter(numbers).values())
    return min((same + 1.0) / pairs, 1.0)


def _finding(own: Sequence[_WrittenMasses], other: StudentRun, expected: float) -> Finding:
    masses = " and ".join(f"{one.trial.empty} and {one.trial.condensed}" for one in own[:2])
    return Finding(
        "copied-from",
        "warning",
        f"The masses {masses} stand in the results of {other.student} too (bottle "
        f"{other.measurement.label}), to the last digit. Of all pairs of trials in this section "
        f"{expected:.1g} would agree so far by chance.",
        "Ask both for their notebooks: numbers may have been copied, or one run entered twice.",
        {"trials": float(len(own)), "expected_by_chance": expected},
    )
