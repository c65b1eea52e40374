"""What is told of each bottle: which of weighings, card and key agree, and what follows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from identify.compounds.table import CandidateTable
from identify.notebook.findings import Finding, Severity, listed
from identify.section.bottles.against_key import AgainstKey, CardDisagreement
from identify.section.bottles.pooling import PooledBottle
from identify.section.bottles.spread import spread_findings
from identify.section.key import Key, folded_label
from identify.section.result import KeyRow
from identify.section.wording import as_percent, high_or_low, students

# Chance that a sound section has a fault found; its bottles share it.
_FALSE_ALARM = 0.01
# All students of a bottle are said to be off together where chance makes that less likely than
# this: 2.5 standard deviations.
_NOTABLE_CHANCE = 0.0124
# Without a key a card could be of every compound this likely beside the likeliest, unless it is
# more probable than this that the table lacks its compound.
_MIN_LIKELIHOOD_RATIO, _MAX_OUTSIDE = 1e-3, 0.1
# That are about the bottle, and no student's fault.
CARD_ALONE = "card-not-the-bottle"
"""Of a card that is another liquid's, while the weighings agree with the key where there is one."""
_DOUBTS = ("bottles-exchanged", "bottle-not-the-key", CARD_ALONE)
_FEW = 2  # students, too few to tell a fault of theirs from the bottle's
_MAX_BOTTLES_IN_SENTENCE = 3


class BottleFindings:
    """What is told of the bottles of a section, against its key.

    Parameters
    ----------
    pooled : mapping of str to PooledBottle
        By label as `folded_label` writes it.
    key : Key
    table : CandidateTable
    """

    def __init__(self, pooled: Mapping[str, PooledBottle], key: Key, table: CandidateTable) -> None:
        self.table, self.key = table, key
        self._found: dict[str, list[Finding]] = {}
        chance = _FALSE_ALARM / max(len(pooled), 1)
        self.bottles = {
            label: AgainstKey(one, key.of(label), chance) for label, one in pooled.items()
        }

    def of(self, label: str) -> list[Finding]:
        """List what there is to say of a bottle.

        Parameters
        ----------
        label : str
            As `folded_label` writes it.
        """
        if label not in self._found:
            self._found[label] = list(self._of(label))
        return self._found[label]

    def _of(self, label: str) -> Iterator[Finding]:
        bottle = self.bottles[label]
        yield from spread_findings(bottle.pooled, self.table)
        if bottle.key is not None and bottle.row is not None:
            yield from self._with_key(bottle, bottle.key, bottle.row)
        else:
            if bottle.key is not None:
                yield _not_in_table(bottle.key)
            yield from self._without_key(bottle)
        if 0 < bottle.count <= _FEW:
            yield _few_students(bottle)

    def doubt(self, label: str) -> Finding | None:
        """Return the finding by which a bottle, its card or its key is wrong, None without one."""
        errors = (one for one in self.of(label) if one.severity == "error")
        return next((one for one in errors if one.code in _DOUBTS), None)

    def wrong_entries(self, label: str) -> frozenset[str]:
        """Return the entries of a card that the key contradicts, and the weighings do not."""
        bottle, doubt = self.bottles[label], self.doubt(label)
        if doubt is None or doubt.code != CARD_ALONE or bottle.row is None:
            return frozenset()
        return frozenset(one.name for one in bottle.card_disagreements(bottle.row))

    def exchanged_with(self, label: str) -> list[str]:
        """Return the label of the bottle that a bottle was exchanged with, if it was."""
        bottle = self.bottles[label]
        other = self._exchanged_with(bottle) if bottle.contradicts_key else None
        return [] if other is None else [folded_label(other.pooled.bottle.label)]

    def _molar_mass(self, row: int) -> float:
        return float(self.table.number("molar_mass")[row])

    # ------------------------------------------------------------------------ against the key

    def _with_key(self, bottle: AgainstKey, key: KeyRow, row: int) -> Iterator[Finding]:
        off, disagreements = bottle.off(row), bottle.card_disagreements(row)
        if off is not None and bottle.contradicts_key:
            yield self._not_the_key(bottle, key, off, disagreements)
        elif disagreements:
            yield self._card_not_the_bottle(bottle, key, off, disagreements)
        elif off is not None and abs(off) > bottle.pooled.mean.bound(_NOTABLE_CHANCE):
            yield _weighings_off(bottle, key, off)

    def _not_the_key(
        self,
        bottle: AgainstKey,
        key: KeyRow,
        off: float,
        disagreements: Sequence[CardDisagreement],
    ) -> Finding:
        pooled = bottle.pooled
        label, spread = pooled.bottle.label, 100.0 * pooled.mean.spread
        mass, percent = pooled.molar_mass(self.table.number("molar_mass")), as_percent(off)
        leader = self.table.text("name")[pooled.leader]
        numbers = {
            "molar_mass_g_per_mol": mass,
            "key_molar_mass_g_per_mol": key.molar_mass,
            "off_percent": percent,
            "by_chance_percent": as_percent(bottle.bound),
            "spread_percent": spread,
            "students": float(bottle.count),
            "key_probability": float(pooled.probability[bottle.row]),
        }
        found = (
            f"{students(bottle.count)} of bottle {label} agree with each other on {mass:.1f} "
            f"g/mol (with the corrections of {leader}; they spread by {spread:.1f} %), and not "
            f"with the key: {key.name} has {key.molar_mass:.1f} g/mol, and with its corrections "
            f"they are {abs(percent):.1f} % {high_or_low(percent)}, where chance and what they "
            f"share allow {as_percent(bottle.bound):.1f} %."
        )
        other = self._exchanged_with(bottle)
        # Who weighed the other bottle of an exchange bears it out.
        witnesses = bottle.count + (0 if other is None else other.count)
        severity: Severity = "error" if witnesses > _FEW else "warning"
        if other is not None:
            return Finding(
                "bottles-exchanged",
                severity,
                f"{found} Bottles {label} and {other.pooled.bottle.label} are exchanged: what was "
                "weighed of each fits what the key says of the other.",
                "Exchange the two labels, or the two rows of the key; nobody's result on either "
                "bottle can be judged by this key before.",
                numbers,
            )
        return Finding(
            "bottle-not-the-key",
            severity,
            f"{found} {_card_sentence(bottle, disagreements)} {self._fitting_sentence(bottle)}",
            "Look what is in the bottle: its label, the bottle that it was filled from, the key's "
            "row. Do not judge its students by this key before.",
            numbers,
        )

    def _exchanged_with(self, bottle: AgainstKey) -> AgainstKey | None:
        """Return the bottle that holds what this one should, and the other way round."""
        for other in self.bottles.values():
            if other is bottle or other.row is None or bottle.row is None:
                continue
            if other.contradicts_key and bottle.fits(other.row) and other.fits(bottle.row):
                return other
        return None

    def _fitting_sentence(self, bottle: AgainstKey) -> str:
        """Say which liquid of the key the weighings fit, else which of the table."""
        pooled = bottle.pooled
        fitting = [
            (abs(float(pooled.offsets[other.row])), other)
            for other in self.key.rows.values()
            if other.row is not None and other != bottle.key and bottle.fits(other.row)
        ]
        if fitting:
            fitting.sort(key=lambda one: one[0])
            named = [
                f"bottle {other.label} ({other.name}, {as_percent(off):.1f} % off)"
                for off, other in fitting
            ]
            bottles = listed(named, _MAX_BOTTLES_IN_SENTENCE)
            return f"The weighings fit what the key has in {bottles}."
        # Where the card belongs to what was weighed, both say what it is.
        chances = pooled.probability
        if pooled.same_liquid < 0.5 and pooled.by_weighings is not None:
            chances = pooled.by_weighings.probability
        best = int(np.argmax(chances))
        return (
            f"They fit no other liquid of the key; of the table's, {self.table.text('name')[best]} "
            f"({self._molar_mass(best):.1f} g/mol) comes first with a probability of "
            f"{float(chances[best]):.2g}."
        )

    def _card_not_the_bottle(
        self,
        bottle: AgainstKey,
        key: KeyRow,
        off: float | None,
        disagreements: Sequence[CardDisagreement],
    ) -> Finding:
        label = bottle.pooled.bottle.label
        told = " and ".join(
            f"the {one.words} is {one.shown(one.card)} there, and {one.shown(one.liquid)} in "
            f"{key.name}"
            for one in disagreements
        )
        subject = "What its students read"
        if all(one.is_copied for one in disagreements):
            subject = "Its card"
        numbers = {f"card_{one.words.replace(' ', '_')}": one.card for one in disagreements}
        weighed = f"Nothing was weighed of bottle {label}."
        if off is not None:
            percent = numbers["off_percent"] = as_percent(off)
            weighed = (
                f"The weighings of bottle {label} agree with the key ({key.name}, "
                f"{percent:+.1f} %)."
            )
        return Finding(
            CARD_ALONE,
            "error",
            f"{weighed} {subject} does not: {told}.{self._whose_card(bottle, key)}",
            "Correct the card. Whoever relied on it has the wrong answer for that reason, and "
            "should not be marked down.",
            numbers,
        )

    def _whose_card(self, bottle: AgainstKey, key: KeyRow) -> str:
        """Say of which other bottles of the key the card would be, if of any."""
        others = [
            other.label
            for other in self.key.rows.values()
            if other.row is not None
            and other.inchikey != key.inchikey
            and not bottle.card_disagreements(other.row)
        ]
        if not others:
            return ""
        return f" It would be the card of bottle {listed(others, _MAX_BOTTLES_IN_SENTENCE)}."

    # -------------------------------------------------------------------------- without a key

    def _without_key(self, bottle: AgainstKey) -> Iterator[Finding]:
        """Yield that card and weighings cannot be of one liquid."""
        pooled = bottle.pooled
        by_weighings, by_card = pooled.by_weighings, pooled.by_card
        if by_weighings is None or by_card is None or bottle.count <= _FEW:
            return
        likely = by_card.probability
        # Any compound that the card could be, unless it may well be of one that no table has.
        could_be = likely >= _MIN_LIKELIHOOD_RATIO * float(likely.max())
        nearest = float(np.nanmin(np.abs(pooled.offsets[could_be])))
        if by_card.none_of_these > _MAX_OUTSIDE or nearest <= bottle.bound:
            return
        carded, weighed = int(np.argmax(likely)), int(np.argmax(by_weighings.probability))
        name = self.table.text("name")
        percent = as_percent(float(pooled.offsets[carded]))
        yield Finding(
            CARD_ALONE,
            "error",
            f"The card of bottle {pooled.bottle.label} says {name[carded]} "
            f"({self._molar_mass(carded):.1f} g/mol), but {students(bottle.count)} agree with each "
            f"other on a molar mass that is {abs(percent):.1f} % {high_or_low(percent)} for it, "
            f"where chance and what they share allow {as_percent(bottle.bound):.1f} %; that would "
            f"fit {name[weighed]} among others.",
            "Look what is in the bottle, and whose card that is; a key would tell which is wrong.",
            {"off_percent": percent, "together": pooled.same_liquid},
        )


def _card_sentence(bottle: AgainstKey, disagreements: Sequence[CardDisagreement]) -> str:
    """Say whom the card agrees with, where the weighings contradict the key."""
    if bottle.pooled.by_card is None:
        return "No card says which of the two is right."
    if not disagreements:
        return "The card agrees with the key: another liquid is in the bottle."
    if not any(one.is_copied for one in disagreements):
        measured = listed([one.words for one in disagreements])
        return f"The {measured} that they measured speaks against the key too."
    if bottle.pooled.same_liquid >= 0.5:
        return "The card agrees with the weighings: the key or the label is wrong."
    return "The card agrees with neither of them."


def _weighings_off(bottle: AgainstKey, key: KeyRow, off: float) -> Finding:
    percent = as_percent(off)
    return Finding(
        "weighings-off",
        "warning",
        f"{students(bottle.count)} of bottle {bottle.pooled.bottle.label} are {abs(percent):.1f} % "
        f"{high_or_low(percent)} in the mean, more than they should be together, and less than "
        f"would speak against the key ({key.name}).",
        "Look for what they have in common: how the flasks were dried, how long they were in the "
        "bath, whether the liquid is pure.",
        {"off_percent": percent, "students": float(bottle.count)},
    )


def _not_in_table(key: KeyRow) -> Finding:
    return Finding(
        "key-not-in-table",
        "note",
        f"The key's compound of bottle {key.label}, {key.name}, is not in the candidate table, so "
        "that nobody can find it and nothing is compared with it.",
        "Match the section against a table that has it, such as the key itself.",
    )


FEW_STUDENTS = "few-students"


def _few_students(bottle: AgainstKey) -> Finding:
    label, count = bottle.pooled.bottle.label, bottle.count
    return Finding(
        FEW_STUDENTS,
        "note",
        f"Only {students(count)} weighed bottle {label} to any use: {_ONE_OF_FEW}",
        "Weigh it yourself before you blame one or the other.",
        {"students": float(count)},
    )


_ONE_OF_FEW = "a fault of theirs cannot be told from one of the bottle."


def few_students_each(found: Sequence[Finding], bottles: str) -> Finding:
    """Return what is found of several bottles as one finding; which they are, in words."""
    most = int(max(one.numbers["students"] for one in found))
    few = "1 student" if most == 1 else f"1 or {most} students"
    return replace(
        found[0],
        message=f"Only {few} weighed each of {bottles} to any use: {_ONE_OF_FEW}",
        advice="Weigh them yourself before you blame one or the other.",
        numbers={"students": float(most)},
    )
