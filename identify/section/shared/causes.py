"""What many students' results have in common: a bottle, an instrument, a day, the whole section.

Where such a cause is likelier than not it is part of each of its students' hypotheses: their runs
are ranked with its reading set right, or by what is in the bottle and not by a card that is another
liquid's, and only what is then left is a slip of their own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import replace
from functools import cached_property
from typing import Any

from identify.matching.evidence import Matcher
from identify.notebook.findings import Finding
from identify.notebook.measurement import Measurement
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.section.bottles.findings import CARD_ALONE, BottleFindings
from identify.section.bottles.pooling import PooledBottle
from identify.section.result import Cause, KeyRow
from identify.section.runs import StudentRun
from identify.section.shared.offset import CommonOffset
from identify.section.shared.repair import Repair
from identify.section.shared.search import SharedFault

# By the number that says how far a group is off: the unit of a cause's size.
_SIZES = {"off_percent": "%", "off_K": "K"}
# Of a bottle whose card is of another liquid: what the other students found in it, beside any other
# liquid of the table.
_AS_THE_OTHERS = 0.98


class SharedCauses:
    """The causes of a section, and its runs as they would be without them.

    Parameters
    ----------
    pooled : mapping of str to PooledBottle
        By label as `folded_label` writes it.
    faults : sequence of SharedFault
    common : CommonOffset
    bottles : BottleFindings
    """

    def __init__(
        self,
        pooled: Mapping[str, PooledBottle],
        faults: Sequence[SharedFault],
        common: CommonOffset,
        bottles: BottleFindings,
    ) -> None:
        self._pooled, self._bottles = pooled, bottles
        self._repairs: list[Repair] = [
            *(repair for fault in faults for repair in fault.repairs),
            *common.repairs(),
        ]
        self._faults, self._common = faults, common
        self._doubtful = {label: bottles.doubt(label) for label in pooled}

    @cached_property
    def told(self) -> tuple[Cause, ...]:
        """Bottles and cards first, then what else many share."""
        return tuple(self._told())

    def _told(self) -> Iterator[Cause]:
        told: set[str] = set()
        for label, doubt in self._doubtful.items():
            if doubt is not None and label not in told:
                together = [label, *self._bottles.exchanged_with(label)]
                told.update(together)
                runs = [run for one in together for run in self._pooled[one].bottle.runs]
                yield _cause(doubt, runs, is_of_bottle=True)
        runs = [run for one in self._pooled.values() for run in one.bottle.runs]
        for finding in self._common.findings():
            yield _cause(finding, runs)
        for fault in self._faults:
            yield _cause(fault.finding, [run for run in runs if run.index in fault.students])

    def without(self, label: str, run: StudentRun) -> Measurement:
        """Return a run with what many share set right.

        Parameters
        ----------
        label : str
            Of its bottle, as `folded_label` writes it.
        run : StudentRun
        """
        found = run.measurement
        for repair in self._repairs:
            found = repair.of(found, run.index)
        return self._without_entries(found, self._wrong_entries(label))

    def matcher(self, label: str, matcher: Matcher) -> Matcher:
        """Return a matcher for the runs of a bottle: it knows what the others found in it."""
        by_weighings = self._pooled[label].by_weighings
        if by_weighings is None or not self._card_is_of_another(label):
            return matcher
        found = copy(matcher)
        others = by_weighings.probability / by_weighings.probability.sum()
        known = _AS_THE_OTHERS * (1.0 - matcher.outside) * others
        found.prior = known + (1.0 - _AS_THE_OTHERS) * matcher.prior
        return found

    def liquid(self, label: str, key: KeyRow | None) -> int | None:
        """Return the row of the liquid that is in a bottle, as far as that is known.

        Parameters
        ----------
        label : str
        key : KeyRow or None
            What the key says of it.
        """
        pooled, doubt = self._pooled[label], self._doubtful[label]
        if key is not None and (doubt is None or doubt.code == CARD_ALONE):
            return key.row
        is_likely = pooled.probability[pooled.leader] >= 0.5
        return pooled.leader if doubt is None or is_likely else None

    def _card_is_of_another(self, label: str) -> bool:
        """Say whether a bottle's card is not about the liquid that was weighed of it."""
        if self._doubtful[label] is None:
            return False
        pooled = self._pooled[label]
        is_told = pooled.mean.count > 0 and pooled.by_card is not None
        return is_told and pooled.same_liquid < 0.5

    def _wrong_entries(self, label: str) -> frozenset[str]:
        """Return what students copied from a card that is not about the bottle."""
        readings = self._pooled[label].card.readings
        copied = {name for name, reading in readings.items() if reading.is_copied}
        if self._card_is_of_another(label):
            return frozenset(copied)
        return self._bottles.wrong_entries(label) & copied

    @staticmethod
    def _without_entries(run: Measurement, entries: frozenset[str]) -> Measurement:
        """Leave entries of the card out of a run that has something else."""
        if not entries or not run.trials:
            return run
        left_out: dict[str, Any] = {
            name: None for name in ("boiling_point", *LIQUID_CONSTANTS) if name in entries
        }
        if any(name.startswith("percent ") for name in entries):
            left_out |= {"percent": {}, "formula": "", "combustion": None}
        return replace(run, **left_out)


def _cause(finding: Finding, runs: Sequence[StudentRun], is_of_bottle: bool = False) -> Cause:
    """Put a finding and those whom it is about together."""
    size = next((name for name in _SIZES if name in finding.numbers), "")
    return Cause(
        finding.code,
        finding.severity,
        finding.message,
        finding.advice,
        tuple(dict.fromkeys(run.measurement.label for run in runs)),
        tuple(dict.fromkeys(run.student for run in runs)),
        finding.numbers.get(size),
        _SIZES.get(size, ""),
        frozenset(run.index for run in runs),
        is_of_bottle,
    )
