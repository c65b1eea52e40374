"""What a text means: the compounds, and what there is to say where it is not one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from identify.notebook.findings import Severity, listed
from identify.notebook.quantity.quantities import excerpt
from identify.physics.constants import ELEMENTS

if TYPE_CHECKING:
    from identify.chemistry.structures import Structure
    from identify.compounds.table import CandidateTable

HOW_TO_NAME = "Write its full name with all locants, its CAS number or its SMILES."
_MAX_NAMES_IN_SENTENCE = 5

_Code = Literal["identity-ambiguous", "identity-unknown", "identity-unsuitable"]


@dataclass(frozen=True)
class Compound:
    """What an identity means.

    Parameters
    ----------
    name, cas, smiles, inchikey, formula : str
        Empty where not known.
    molar_mass : float
        In g/mol.
    percent : mapping of str to float
        Percent by mass of each element that it holds.
    boiling_point_C, boiling_point_u : float
        Consensus at 101325 Pa and its standard uncertainty; NaN where none is known.
    place : int or None
        Row of the built-in table; None for a compound that it lacks.
    """

    name: str
    cas: str
    smiles: str
    inchikey: str
    formula: str
    molar_mass: float
    percent: Mapping[str, float]
    boiling_point_C: float = float("nan")
    boiling_point_u: float = float("nan")
    place: int | None = None

    @classmethod
    def of_place(cls, table: CandidateTable, place: int) -> Compound:
        """Return the compound in a row of a table."""
        text = table.text
        return cls(
            text("name")[place],
            text("cas")[place],
            text("smiles")[place],
            text("inchikey")[place],
            text("formula")[place],
            float(table.number("molar_mass")[place]),
            _held(table.percent[place]),
            float(table.number("boiling_point_C")[place]),
            float(table.number("boiling_point_u")[place]),
            place,
        )

    @classmethod
    def of_structure(cls, structure: Structure, name: str = "", cas: str = "") -> Compound:
        """Return a compound that the table lacks."""
        return cls(
            name or structure.smiles,
            cas,
            structure.smiles,
            structure.inchikey,
            structure.formula,
            structure.molar_mass,
            _held(structure.percent),
        )

    def is_same(self, other: Compound) -> bool:
        """Whether the two cannot be told apart: one row of the table, or one constitution."""
        if self.place is not None and other.place is not None:
            return self.place == other.place
        return self.inchikey.partition("-")[0] == other.inchikey.partition("-")[0]

    def __str__(self) -> str:
        return f"{self.name} {self.cas}".strip()


def _held(percent: Iterable[float]) -> dict[str, float]:
    """Return the percentages of the elements that a compound holds."""
    return {e: float(p) for e, p in zip(ELEMENTS, percent, strict=True) if p > 0.0}


@dataclass(frozen=True)
class Problem:
    """Why a text is not, or not surely, one compound.

    Parameters
    ----------
    code : str
    reason : str
        Goes on where the text in quotes leaves off, without a full stop.
    advice : str
        A sentence.
    severity : {"error", "warning"}
    """

    code: _Code
    reason: str
    advice: str
    severity: Severity = "error"

    def line(self, read: str) -> str:
        """Return what to say in one line."""
        advice = self.advice[:1].lower() + self.advice[1:].removesuffix(".")
        return f'"{excerpt(read)}" {self.reason}; {advice}'


@dataclass(frozen=True)
class Meaning:
    """What a text means.

    Parameters
    ----------
    compounds : tuple of Compound
        One where it is clear, several where it is not, none where it means nothing usable.
    problem : Problem or None
        What there is to say where nothing else settles it.
    is_usual : bool
        The first of several compounds is meant where nothing else is said.
    wrong_number : str
        A CAS number whose check digit is wrong; empty where there is none.
    part_of : tuple of Compound
        What a solution, a grade or a mixture is made of, where it means no one compound.
    """

    compounds: tuple[Compound, ...] = ()
    problem: Problem | None = None
    is_usual: bool = field(default=False, kw_only=True)
    wrong_number: str = field(default="", kw_only=True)
    part_of: tuple[Compound, ...] = field(default=(), kw_only=True)

    @property
    def is_clear(self) -> bool:
        """Whether it means one compound, be it only usually."""
        return self.is_usual or (self.problem is None and len(self.compounds) == 1)

    @property
    def is_unknown(self) -> bool:
        """Whether nothing is known by it."""
        return self.problem is not None and self.problem.code == "identity-unknown"


def clear(compound: Compound) -> Meaning:
    """Return that one compound is meant."""
    return Meaning((compound,))


def ambiguous(compounds: Iterable[Compound], reason: str) -> Meaning:
    """Return that one of several compounds is meant, and which they are."""
    meant = tuple({one.inchikey or str(one): one for one in compounds}.values())
    reason = f"{reason}: {_named(meant)}" if meant else reason
    return Meaning(meant, Problem("identity-ambiguous", reason, HOW_TO_NAME))


def usual(compounds: Sequence[Compound]) -> Meaning:
    """Return that the first of several compounds is meant, the straight chain."""
    first, *others = compounds
    reason = (
        f"has no mark in front of its alkyl group, and is taken for {first}, the straight chain; "
        f"some would have it mean {_named(others)}"
    )
    advice = "Write n- in front, or the CAS number."
    problem = Problem("identity-ambiguous", reason, advice, "warning")
    return Meaning(tuple(compounds), problem, is_usual=True)


def unknown(reason: str, advice: str = HOW_TO_NAME) -> Meaning:
    """Return that nothing is known by a text."""
    return Meaning((), Problem("identity-unknown", reason, advice))


def unsuitable(reason: str, meant: Sequence[Compound] = ()) -> Meaning:
    """Return that a text means what this method cannot name, and what may be meant instead."""
    advice = "Leave it out, or correct the name."
    if meant:
        advice = f"If one of these is in the bottle, write so: {_named(meant)}."
    reason = f"{reason}: this method needs one volatile compound of carbon"
    return Meaning((), Problem("identity-unsuitable", reason, advice), part_of=tuple(meant))


def common(meanings: Sequence[Meaning]) -> list[Compound]:
    """Return the compounds that several texts may all mean; none where there is no text."""
    if not meanings:
        return []
    first, *others = meanings
    return [
        compound
        for compound in first.compounds
        if all(any(compound.is_same(one) for one in meaning.compounds) for meaning in others)
    ]


def settled(meanings: Sequence[Meaning]) -> Compound | None:
    """Return the one compound that several texts mean together, None where they leave it open.

    A name that usually means one of several stands for that one where nothing says otherwise. A
    text that may mean several is settled only by another, even where one compound is known.
    """
    shared = common(meanings)
    if not shared:
        return None
    is_sure = len(meanings) > 1 or meanings[0].problem is None
    return shared[0] if (len(shared) == 1 and is_sure) or meanings[0].is_usual else None


def _named(compounds: Sequence[Compound]) -> str:
    """Name compounds in a sentence, the first few of many."""
    return listed([str(one) for one in compounds], _MAX_NAMES_IN_SENTENCE)
