"""Weighings, card and key of a bottle: which of them agree, and what follows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import sqrt

import numpy as np

from identify.compounds.table import CandidateTable
from identify.notebook.findings import Finding, Severity, listed
from identify.section.bottles.against_key import CHANCE, Disagreement, Judged
from identify.section.bottles.pooling import Pooled
from identify.section.key import Key, some
from identify.section.result import KeyEntry
from identify.section.robust_mean import Clusters, two_places

# From here on all students of a bottle are said to be off together: 2.5 standard deviations.
_NOTABLE = 0.0124
# Without a key: a card could be of every compound that is so likely beside the likeliest, unless it
# is of none in the table with more than this probability.
_COULD_BE, _OUTSIDE = 1e-3, 0.1
_FEW = 2  # students, with whom a fault of theirs cannot be told from the bottle's
# A bottle whose students spread this much wider than the class is good to, and two liquids in it
# that are this far apart, relative to what one run is good to.
_WIDE, _TWO_LIQUIDS = 2.0, 2.0
# Where one value of ten is a slip, the median distance from the median of ten and more comes out
# larger by twice 1 + 3 / sqrt(n) in less than 1 of 1,000 lots: 20,000 drawn of each of n = 10 to
# 80, the slips up to thirty standard deviations off.
_WIDER_BY_CHANCE, _SPREAD_KNOWN = 3.0, 10


class Sources:
    """All bottles of a section beside its key.

    Parameters
    ----------
    pooled : mapping of str to Pooled
        By label as `folded` writes it.
    key : Key
    table : CandidateTable
    shared : float
        Standard uncertainty that a bottle's students have in common, relative.
    half : float
        Standard uncertainty of one run's molar mass, relative: half the tolerance.
    """

    def __init__(
        self,
        pooled: Mapping[str, Pooled],
        key: Key,
        table: CandidateTable,
        shared: float,
        half: float,
    ) -> None:
        self.table, self.key, self.shared, self.half = table, key, shared, half
        chance = CHANCE / max(len(pooled), 1)
        self.judged = {
            label: Judged(one, key.of(label), chance, shared) for label, one in pooled.items()
        }

    def findings(self, label: str) -> Iterator[Finding]:
        """Yield what there is to say of a bottle.

        Parameters
        ----------
        label : str
            As `folded` writes it.
        """
        judged = self.judged[label]
        clusters = self._clusters(judged)
        if clusters is not None:
            yield self._two_liquids(judged, clusters)
        else:
            yield from self._wide(judged)
        entry, place = judged.entry, judged.place
        if entry is not None and place is None:
            yield _not_in_table(entry)
        if entry is None or place is None:
            yield from self._without_key(judged)
        else:
            yield from self._with_key(judged, entry, place)
        yield from _few(judged)

    # ------------------------------------------------------------------------ against the key

    def _with_key(self, judged: Judged, entry: KeyEntry, place: int) -> Iterator[Finding]:
        disagreeing = judged.card_disagrees(place)
        if judged.against_key:
            yield self._not_the_key(judged, entry, place, disagreeing)
        elif disagreeing:
            yield self._card_not_the_bottle(judged, entry, place, disagreeing)
        else:
            yield from self._off(judged, entry, place)

    def _not_the_key(
        self, judged: Judged, entry: KeyEntry, place: int, disagreeing: Sequence[Disagreement]
    ) -> Finding:
        pooled = judged.pooled
        off = judged.off(place)
        assert off is not None
        mass, percent = entry.molar_mass * float(np.exp(off)), _percent(off)
        partner = self._exchanged_with(judged)
        numbers = {
            "molar_mass_g_per_mol": mass,
            "key_molar_mass_g_per_mol": entry.molar_mass,
            "off_percent": percent,
            "by_chance_percent": _percent(judged.bound(judged.chance)),
            "spread_percent": 100.0 * pooled.middle.spread,
            "students": float(pooled.middle.count),
            "key_probability": float(pooled.probability[place]),
        }
        found = (
            f"{_students(pooled.middle.count)} of bottle {pooled.bottle.label} agree with each "
            f"other on {mass:.1f} g/mol (they spread by {100 * pooled.middle.spread:.1f} %), and "
            f"not with the key: {entry.name} has {entry.molar_mass:.1f} g/mol, so that they are "
            f"{abs(percent):.1f} % {_high_or_low(percent)}, where chance and what they share "
            f"allow {_percent(judged.bound(judged.chance)):.1f} %."
        )
        severity: Severity = "error" if judged.count > _FEW else "warning"
        if partner is not None:
            other = partner.pooled.bottle.label
            return Finding(
                "bottles-exchanged",
                severity,
                f"{found} Bottles {pooled.bottle.label} and {other} are exchanged: what was "
                "weighed of each fits what the key says of the other.",
                "Exchange the two labels, or the two rows of the key; nobody's result on either "
                "bottle can be judged by this key before.",
                numbers,
            )
        return Finding(
            "bottle-not-the-key",
            severity,
            f"{found} {self._card_sentence(judged, disagreeing)} {self._fits(judged)}",
            "Look what is in the bottle: its label, the bottle that it was filled from, the key's "
            "row. Do not judge its students by this key before.",
            numbers,
        )

    def _card_sentence(self, judged: Judged, disagreeing: Sequence[Disagreement]) -> str:
        pooled = judged.pooled
        if pooled.carded is None:
            return "No card says which of the two is right."
        if not disagreeing:
            return "The card agrees with the key: another liquid is in the bottle."
        measured = [words for words, *_ in disagreeing if not judged.is_copied(words)]
        if measured and len(measured) == len(disagreeing):
            return f"The {listed(measured)} that they measured speaks against the key too."
        if pooled.together >= 0.5:
            return "The card agrees with the weighings: the key or the label is wrong."
        return "The card agrees with neither of them."

    def _fits(self, judged: Judged) -> str:
        """Say which liquid of the key the weighings fit, else which of the table."""
        fitting = [
            (abs(judged.pooled.centers[other.place]), other)
            for other in self.key.entries.values()
            if other.place is not None and other != judged.entry and judged.fits(other.place)
        ]
        if fitting:
            fitting.sort(key=lambda one: float(one[0]))
            named = [
                f"bottle {other.label} ({other.name}, {_percent(float(off)):.1f} % off)"
                for off, other in fitting
            ]
            return f"The weighings fit what the key has in {some(named, 3)}."
        pooled = judged.pooled
        # Where the card belongs to what was weighed, both say what it is.
        chances = pooled.probability
        if pooled.together < 0.5 and pooled.weighed is not None:
            chances = pooled.weighed.probability
        best = int(np.argmax(chances))
        return (
            f"They fit no other liquid of the key; of the table's, {self.table.text('name')[best]} "
            f"({self.table.number('molar_mass')[best]:.1f} g/mol) comes first with a probability "
            f"of {float(chances[best]):.2g}."
        )

    def _exchanged_with(self, judged: Judged) -> Judged | None:
        """Return the bottle that holds what this one should, and the other way round."""
        for other in self.judged.values():
            if other is judged or other.place is None or judged.place is None:
                continue
            if not (judged.against_key and other.against_key):
                continue
            if judged.fits(other.place) and other.fits(judged.place):
                return other
        return None

    def _card_not_the_bottle(
        self,
        judged: Judged,
        entry: KeyEntry,
        place: int,
        disagreeing: Sequence[Disagreement],
    ) -> Finding:
        pooled, off = judged.pooled, judged.off(place)
        told = " and ".join(
            f"the {words} is {_shown(card, unit)} there, and {_shown(liquid, unit)} in {entry.name}"
            for words, card, liquid, unit in disagreeing
        )
        copied = all(judged.is_copied(words) for words, *_ in disagreeing)
        subject = "Its card" if copied else "What its students read"
        weighed = (
            f"Nothing was weighed of bottle {pooled.bottle.label}."
            if off is None
            else f"The weighings of bottle {pooled.bottle.label} agree with the key "
            f"({entry.name}, {_percent(off):+.1f} %)."
        )
        others = [
            other.label
            for other in self.key.entries.values()
            if other.place is not None
            and other.inchikey != entry.inchikey
            and not judged.card_disagrees(other.place)
        ]
        belongs = f" It would be the card of bottle {some(others, 3)}." if others else ""
        return Finding(
            "card-not-the-bottle",
            "error",
            f"{weighed} {subject} does not: {told}.{belongs}",
            "Correct the card. Whoever relied on it has the wrong answer for that reason, and "
            "should not be marked down.",
            {f"card_{words.replace(' ', '_')}": card for words, card, _, _ in disagreeing}
            | ({} if off is None else {"off_percent": _percent(off)}),
        )

    def _off(self, judged: Judged, entry: KeyEntry, place: int) -> Iterator[Finding]:
        off = judged.off(place)
        if off is None or abs(off) <= judged.bound(_NOTABLE):
            return
        percent, count = _percent(off), judged.pooled.middle.count
        yield Finding(
            "weighings-off",
            "warning",
            f"{_students(count)} of bottle {judged.pooled.bottle.label} are "
            f"{abs(percent):.1f} % {_high_or_low(percent)} in the mean, more than they should be "
            f"together, and less than would speak against the key ({entry.name}).",
            "Look for what they have in common: how the flasks were dried, how long they were in "
            "the bath, whether the liquid is pure.",
            {"off_percent": percent, "students": float(count)},
        )

    # -------------------------------------------------------------------------- without a key

    def _without_key(self, judged: Judged) -> Iterator[Finding]:
        pooled = judged.pooled
        if pooled.weighed is None or pooled.carded is None or pooled.middle.count <= _FEW:
            return
        likely = pooled.carded.probability
        # Any compound that the card could be, one outside of the table not to be thought of.
        could_be = likely >= _COULD_BE * float(likely.max())
        nearest = float(np.nanmin(np.abs(pooled.centers[could_be])))
        if pooled.carded.none_of_these > _OUTSIDE or nearest <= judged.bound(judged.chance):
            return
        by_card, by_weight = int(np.argmax(likely)), int(np.argmax(pooled.weighed.probability))
        name = self.table.text("name")
        off = float(pooled.centers[by_card])
        yield Finding(
            "card-not-the-bottle",
            "error",
            f"The card of bottle {pooled.bottle.label} says {name[by_card]} "
            f"({self.table.number('molar_mass')[by_card]:.1f} g/mol), but "
            f"{_students(pooled.middle.count)} agree with each other on a molar mass that is "
            f"{abs(_percent(off)):.1f} % {_high_or_low(off)} for it, where chance and what they "
            f"share allow {_percent(judged.bound(judged.chance)):.1f} %; that would fit "
            f"{name[by_weight]} among others.",
            "Look what is in the bottle, and whose card that is; a key would tell which is wrong.",
            {"off_percent": _percent(off), "together": pooled.together},
        )

    # ------------------------------------------------------------------- among the students

    def _clusters(self, judged: Judged) -> Clusters | None:
        clusters = two_places(judged.pooled.middle.values)
        if clusters is None or clusters.apart < _TWO_LIQUIDS * self.half:
            return None
        return clusters

    def _two_liquids(self, judged: Judged, clusters: Clusters) -> Finding:
        pooled = judged.pooled
        mass = float(self.table.number("molar_mass")[pooled.reference])
        values = pooled.middle.values
        places = {
            words: (int(group.sum()), mass * float(np.exp(np.nanmean(values[group]))))
            for words, group in (("lower", clusters.lower), ("upper", clusters.upper))
        }
        (few, low), (many, high) = places["lower"], places["upper"]
        return Finding(
            "students-disagree",
            "warning",
            f"The students of bottle {pooled.bottle.label} fall into two groups: {few} with "
            f"{low:.1f} g/mol and {many} with {high:.1f} g/mol, with next to nobody between them.",
            "Some of them probably had another bottle, or it was filled up with another liquid in "
            "between: compare the days and the places at which they worked.",
            {"lower_g_per_mol": low, "upper_g_per_mol": high, "lower": few, "upper": many},
        )

    def _wide(self, judged: Judged) -> Iterator[Finding]:
        pooled = judged.pooled
        count = int(np.isfinite(pooled.middle.values).sum())
        spread = 100.0 * pooled.middle.width
        by_chance = 1.0 + _WIDER_BY_CHANCE / sqrt(max(count, 1))
        if count < _SPREAD_KNOWN or spread <= 100.0 * _WIDE * self.half * by_chance:
            return
        yield Finding(
            "students-disagree",
            "warning",
            f"The molar masses of bottle {pooled.bottle.label} spread by {spread:.1f} % from "
            f"student to student, where {100.0 * self.half:.1f} % is what one run is good to.",
            "Look whether the liquid boils off in the bath, whether it is one liquid, and how the "
            "flasks were dried.",
            {"spread_percent": spread, "students": float(count)},
        )


def _not_in_table(entry: KeyEntry) -> Finding:
    return Finding(
        "key-not-in-table",
        "note",
        f"The key's compound of bottle {entry.label}, {entry.name}, is not in the candidate table, "
        "so that nobody can find it and nothing is compared with it.",
        "Match the section against a table that has it, such as the key itself.",
    )


def _few(judged: Judged) -> Iterator[Finding]:
    count = judged.pooled.middle.count
    if 0 < count <= _FEW:
        yield Finding(
            "few-students",
            "note",
            f"Only {_students(count)} weighed bottle {judged.pooled.bottle.label} to any use: a "
            "fault of theirs cannot be told from one of the bottle.",
            "Weigh it yourself before you blame one or the other.",
            {"students": float(count)},
        )


def _students(count: int) -> str:
    return "1 student" if count == 1 else f"{count} students"


def _percent(logarithm: float) -> float:
    """Return the difference that a logarithm of a ratio stands for [percent]."""
    return 100.0 * float(np.expm1(logarithm))


def _high_or_low(value: float) -> str:
    return "high" if value > 0.0 else "low"


def _shown(value: float, unit: str) -> str:
    return f"{value:.4g} {unit}".strip() if unit else f"{value:.4f}"
