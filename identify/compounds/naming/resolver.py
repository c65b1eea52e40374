"""The one resolver of names: a text in, what it means out. Every command asks here."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from identify.chemistry import cas_numbers
from identify.chemistry.formula import FormulaError, hill_formula, parse_formula
from identify.compounds.naming import spelling
from identify.compounds.naming.known_names import KnownNames, NamedCompound, Use, known_names
from identify.compounds.naming.meaning import (
    HOW_TO_NAME,
    Compound,
    Meaning,
    ambiguous,
    clear,
    settled,
    unknown,
    unsuitable,
    usual,
)
from identify.compounds.parquet import built_in_table
from identify.compounds.table import CandidateTable
from identify.notebook.findings import listed

Kind = Literal["identity", "cas", "smiles", "name"]
"""What a text is said to be; an ``identity`` may be any of the others, or an InChIKey."""

_INCHIKEY = re.compile(r"(?:InChIKey=)?([A-Z]{14}-[A-Z]{10}-[A-Z])", re.IGNORECASE)
# Near names are sought first among what a student could be given.
_VOLATILE_BELOW = 130.0  # degrees Celsius
_ROOM_TEMPERATURE = 25.0  # degrees Celsius
_FIRST_SOUGHT = 400  # names that are thought of first: what teaching stockrooms hold
_MIN_SIMILARITY = 0.7  # share of letters in common: two letters exchanged in a short name
_MAX_NAME_LENGTH = 60  # characters; nobody mistypes a longer one into a compound
_MUCH_COMMONER = 100.0  # times as likely in a bottle as another compound
_MAX_READ = 200  # characters; no longer text is a name
# Anything else is not a SMILES, and need not be shown to RDKit, which takes a while to load.
_SMILES = re.compile(r"(?:Cl|Br|[BCNOPSFIbcnops]|\[[^\]]+\]|[-=#$:/\\().%+@\d])+")

_NO_STEREO_FORM = "leaves out which stereo form it is"
_NO_LOCANTS = "leaves out where the parts of the molecule are"
_SEVERAL = "is a name of several compounds"
_PLURAL = "is a plural, the name of a mixture of isomers"
_NOT_KNOWN = "is not a compound known here"


@dataclass
class Resolver:
    """The compounds of the built-in table, and those of the index of names beside it.

    Examples
    --------
    >>> resolver = Resolver()
    >>> [str(one) for one in resolver.meaning("Isopropyl alcohol, 99 %").compounds]
    ['isopropanol 67-63-0']
    >>> resolver.meaning("dichloroethane").problem.line("dichloroethane")
    '"dichloroethane" leaves out where the parts of the molecule are: 1,2-dichloroethane 107-06-2 \
and 1,1-dichloroethane 75-34-3; write its full name with all locants, its CAS number or its SMILES'
    """

    table: CandidateTable = field(default_factory=built_in_table)
    names: KnownNames = field(default_factory=known_names)
    _compounds: dict[int, Compound] = field(default_factory=dict, init=False, repr=False)

    def meaning(self, read: str, kind: Kind = "identity") -> Meaning:
        """Return what a text means.

        Parameters
        ----------
        read : str
            Not empty.
        kind : str
            See `Kind`.
        """
        if len(read) > _MAX_READ and kind != "smiles":
            return unknown(_NOT_KNOWN)
        meanings = (reading(self, read) for reading in _READINGS[kind])
        return next(meaning for meaning in meanings if meaning is not None)

    def of_place(self, place: int) -> Compound:
        """Return a compound of the table."""
        if place not in self._compounds:
            self._compounds[place] = Compound.of_place(self.table, place)
        return self._compounds[place]

    def of_formula(self, formula: str) -> list[Compound]:
        """Return the table's compounds of a formula in Hill order, the commonest first."""
        rows = self.table.index.formulas.get(formula, ())
        return sorted(map(self.of_place, rows), key=self._rarity)

    def in_table(self, cas: str) -> Compound | None:
        """Return the table's compound of a CAS number, None where it has none."""
        place = self.table.index.row(cas)
        return None if place is None else self.of_place(place)

    # ------------------------------------------------ how a text may be read, None where it is not

    def _as_date(self, read: str) -> Meaning | None:
        number = cas_numbers.number_behind_date(read.strip())
        if not number:
            return None
        advice = "format the cell as text, and enter it again"
        return unknown("is a date", f"A spreadsheet made a date of {number}; {advice}.")

    def _as_cas_number(self, read: str) -> Meaning | None:
        number = cas_numbers.written_number(spelling.plain_name(read))
        return None if number is None else self._of_cas_number(number)

    def _as_inchikey(self, read: str) -> Meaning | None:
        found = _INCHIKEY.fullmatch(read.strip())
        if not found:
            return None
        inchikey = found[1].upper()
        if (place := self.table.index.row(inchikey)) is not None:
            return clear(self.of_place(place))
        named = self.names.of_inchikey(inchikey)
        return unknown(_NOT_KNOWN) if named is None else self._of_named(named)

    def _as_smiles(self, read: str) -> Meaning | None:
        smiles = read.strip()
        if len(rows := self.table.index.smiles.get(smiles, [])) == 1:  # spares loading RDKit
            return clear(self.of_place(rows[0]))
        return self._of_smiles(smiles) if _SMILES.fullmatch(smiles) else None

    def _as_formula(self, read: str) -> Meaning | None:
        """Read a text as a formula: never one compound, for others may share it."""
        try:
            counts = parse_formula(read)
        except FormulaError:
            return None
        if "C" not in counts:
            return unsuitable("has no carbon")
        compounds = self.of_formula(formula := hill_formula(counts))
        # CH3CH2CHO says how the atoms are joined; C3H6O does not.
        called = self._usable(_constitutions(self._called(read)))
        if len(called) == 1 and called[0].formula == formula != read.strip():
            return clear(called[0])
        if not compounds:
            return unknown("is a formula, and no compound known here has it")
        return ambiguous(compounds, "is a formula, which several compounds may share")

    def _as_laboratory_name(self, read: str) -> Meaning | None:
        """Read a text as what laboratories call a compound, or several, or a mixture."""
        called: dict[Use, list[Meaning]] = {}
        for named, use in self.names.called(spelling.folded_name(read)):
            called.setdefault(use, []).extend([] if named is None else [self._of_named(named)])
        if one := called.get("one"):
            return one[0]
        if several := called.get("several"):
            reason = _PLURAL if read.strip().endswith("s") else _SEVERAL
            return ambiguous(_compounds(several), reason)
        if (parts := called.get("mixture")) is not None:
            return unsuitable("is sold as a mixture", _compounds(parts))
        return None

    def _as_name_in_table(self, read: str) -> Meaning | None:
        """Read a text as the table's own name of a compound."""
        forms = self.table.index.called(spelling.plain_name(read))
        if len(forms) > 1:
            return ambiguous(map(self.of_place, forms), _NO_STEREO_FORM)
        return clear(self.of_place(forms[0])) if forms else None

    def _as_own_name(self, read: str) -> Meaning | None:
        return self._as_laboratory_name(read) or self._as_name_in_table(read)

    def _as_name(self, read: str) -> Meaning:
        """Read a text as a name, alone or with what stands beside a name on labels."""
        return next(
            (meaning for way in _WAYS if (meaning := way(self, read)) is not None),
            None,
        ) or unknown(_NOT_KNOWN, self._advice(read))

    def _as_bad_number(self, read: str) -> Meaning:
        advice = "Correct it, or leave the cell empty."
        return unknown("is not a CAS number; write it like 64-17-5", advice)

    def _as_bad_smiles(self, read: str) -> Meaning:
        return unknown("is not a SMILES", "Correct it, or leave the cell empty.")

    # ------------------------------------------------ ways in which names are written

    def _by_itself(self, read: str) -> Meaning | None:
        """Return what a text means that is a name and nothing else."""
        if (own := self._as_own_name(read)) is not None:
            return own
        folded = spelling.folded_name(read)
        # Of stereo forms with one main name, that of the table is meant.
        mains = sorted(self._called(read, "main"), key=lambda one: not self._is_in_table(one))
        if len(main := _constitutions(mains)) == 1:
            is_known = self._is_in_table(main[0])
            return self._of_named(main[0]) if is_known else self._of_flat_name(folded, main[0])
        alike = self._alike(folded)
        every = self._called(read)
        called = _constitutions(one for one in every if one in alike)
        # Where the table has none that is alike, its own compound is meant before any other.
        if not any(map(self._is_in_table, alike)):
            called = _constitutions(filter(self._is_in_table, every)) or called
        if spelling.may_lack_marks(folded):
            if len(_constitutions(alike)) > 1:
                return self._without_marks(folded, alike, called)
            called = called or _constitutions(alike)
        known = list(filter(self._is_in_table, called))
        if len(called := known or called) == 1:
            return self._of_flat_name(folded, called[0])
        return ambiguous(self._usable(called), _SEVERAL) if called else None

    def _of_flat_name(self, folded: str, named: NamedCompound) -> Meaning:
        """Return what a name means that may leave out which stereo form it is."""
        forms = self.table.index.rows_of_skeleton(named.inchikey)
        if spelling.has_stereo_mark(folded):
            return self._of_named(named)
        if len(forms) > 1:
            return ambiguous(map(self.of_place, forms), _NO_STEREO_FORM)
        # The table may have one of the two forms alone.
        alike = [one for one in self.names.alike(folded) if one.skeleton == named.skeleton]
        both = {one.inchikey: one for one in (named, *alike) if _is_at_double_bond(one)}
        is_one_of_them = named.inchikey in both
        if len(both) > is_one_of_them and (is_one_of_them or self.in_table(named.cas) is None):
            usable = self._usable(both.values())
            return ambiguous(usable, _NO_STEREO_FORM) if len(usable) > 1 else clear(usable[0])
        return self._of_named(named)

    def _is_in_table(self, named: NamedCompound) -> bool:
        return self.table.index.row(named.inchikey) is not None

    def _alike(self, folded: str) -> list[NamedCompound]:
        """Return the compounds whose names differ from one by marks alone, of one formula.

        Where as many names speak for several formulas, that of the name as it is written, or of a
        compound that is much commoner.
        """
        alike = self.names.alike(folded)
        weights: dict[str, float] = {}
        for one in alike:
            row = self.table.index.row(one.inchikey)
            weight = 0.0 if row is None else float(self._weights[row])
            weights[one.formula] = max(weight, weights.get(one.formula, 0.0))
        if len(weights) < 2:
            return alike
        if len(called := {one.formula for one in self._called(folded)}) == 1:
            return [one for one in alike if one.formula in called]
        first, second, *_ = sorted(weights, key=weights.__getitem__, reverse=True)
        if weights[first] < _MUCH_COMMONER * weights[second]:
            return alike
        return [one for one in alike if one.formula == first]

    def _called(self, read: str, use: Use | None = None) -> list[NamedCompound]:
        """Return the compounds of the collection with a name, or those whose main one it is."""
        called = self.names.called(spelling.folded_name(read))
        return [one for one, as_use in called if one is not None and use in (None, as_use)]

    def _without_marks(
        self, folded: str, alike: Sequence[NamedCompound], called: Sequence[NamedCompound]
    ) -> Meaning:
        """Return what a name means that several compounds have with one mark or another."""
        compounds = self._usable(alike)
        chain = self._usable(called)
        if len(called) == len(chain) == 1 and spelling.has_alkyl_group(folded):
            others = [one for one in compounds if not one.is_same(chain[0])]
            return usual([*chain, *others]) if others else clear(chain[0])
        return ambiguous(compounds, _NO_LOCANTS)

    def _usable(self, named: Iterable[NamedCompound]) -> list[Compound]:
        """Return those that may stand in a bottle, the commonest first."""
        compounds = _compounds(map(self._of_named, named))
        return sorted({one.inchikey: one for one in compounds}.values(), key=self._rarity)

    def _as_isomers(self, read: str) -> Meaning | None:
        """Read a plural, or a name with the remark that all isomers are meant."""
        name = spelling.without_isomers(read)
        if not name and (plain := spelling.plain_name(read)).endswith("s"):
            name = plain[:-1]
        single = self._by_itself(name) if name else None
        if single is None or single.is_unknown:
            return None
        compounds = list(single.compounds)
        if len(compounds) == 1:
            compounds = self.of_formula(compounds[0].formula)
        if not compounds:
            return single
        return ambiguous(compounds, _PLURAL)

    def _beside_remarks(self, read: str) -> Meaning | None:
        name = spelling.without_remarks(read)
        return self.meaning(name) if name not in ("", spelling.plain_name(read)) else None

    def _beside_formula(self, read: str) -> Meaning | None:
        name, written = spelling.name_and_formula(read)
        meaning = self.meaning(name) if name else None
        if meaning is None or not meaning.is_clear:
            return meaning
        formula = hill_formula(parse_formula(written))
        if meaning.compounds[0].formula == formula:
            return meaning
        reason = f"says {formula}, but {meaning.compounds[0]} is {meaning.compounds[0].formula}"
        return unknown(reason, "Write the name alone.")

    def _as_other_than_one(self, read: str) -> Meaning | None:
        reason = spelling.other_than_one_compound(read)
        if not reason:
            return None
        named = self._by_itself(spelling.leading_name(read))
        return unsuitable(reason, () if named is None else named.compounds)

    def _in_other_order(self, read: str) -> Meaning | None:
        """Read a name whose words stand in another order, as in lists sorted by parent."""
        found = [self._by_itself(name) for name in spelling.reordered(read)]
        meanings = [one for one in found if one is not None]
        sure = [one for one in meanings if one.is_clear]
        return next(iter(sure or meanings), None) if len(_different(sure)) < 2 else None

    def _by_aliases(self, read: str) -> Meaning | None:
        """Read several names beside each other, which must mean one compound."""
        names = tuple(dict.fromkeys(spelling.aliases(read)))
        meanings = list(map(self.meaning, names))
        if not meanings or any(one.is_unknown for one in meanings):
            return None
        compound = settled(meanings)
        firsts = _different(meanings)
        if compound is not None and not (len(firsts) > 1 and spelling.offers_choice(read)):
            return clear(compound)
        unusable = [one for one in meanings if not one.compounds]
        if unusable or len(meanings) == 1:
            return (unusable or meanings)[0]
        said = [
            f"{name} is {listed(list(map(str, meaning.compounds)), 2, 'or')}"
            for name, meaning in zip(names, meanings, strict=True)
        ]
        return unknown(f"names more than one compound: {listed(said)}", "Write one name alone.")

    def _advice(self, read: str) -> str:
        name = spelling.without_remarks(read)
        near = _near_names(name, self._volatile_names) or _near_names(name, self.table.text("name"))
        return f"Did you mean {listed(near, conjunction='or')}?" if near else HOW_TO_NAME

    @cached_property
    def _volatile_names(self) -> list[str]:
        boiling = self.table.number("boiling_point_C")
        names = self.table.text("name")
        order = np.argsort(-self.table.number("prior"), kind="stable")
        return [names[place].casefold() for place in order if boiling[place] < _VOLATILE_BELOW]

    # ------------------------------------------------------------------- what was found

    def _of_cas_number(self, number: str) -> Meaning:
        if not cas_numbers.has_right_check_digit(number):
            right = cas_numbers.with_check_digit(number)[-1]
            reason = f"is not a CAS number: its last digit would have to be {right}"
            return replace(unknown(reason, "Copy it from the bottle again."), wrong_number=number)
        if (compound := self.in_table(number)) is not None:
            return clear(compound)
        named = self.names.of_cas(number)
        if named is None:
            return unknown("is the CAS number of no compound known here")
        return self._of_named(named)

    def _of_named(self, named: NamedCompound) -> Meaning:
        place = self.table.index.row(named.inchikey)
        if place is not None:
            return clear(self.of_place(place))
        return self._of_smiles(named.smiles, named) or unsuitable(
            "has no structure that is known here"
        )

    def _of_smiles(self, smiles: str, named: NamedCompound | None = None) -> Meaning | None:
        """Return what a structure means, None where it is not one."""
        from identify.chemistry.structures import is_no_bottled_liquid, read_structure

        structure = read_structure(smiles)
        if structure is None:
            reason = is_no_bottled_liquid(smiles)
            return unsuitable(reason) if reason else None
        index = self.table.index
        if (place := index.row_of_structure(structure)) is not None:
            return clear(self.of_place(place))
        forms = index.stereo_forms(structure)
        if len(forms) > 1 and structure.is_flat:
            return ambiguous(map(self.of_place, forms), _NO_STEREO_FORM)
        if named is None:
            return clear(Compound.of_structure(structure))
        if named.melting_point_C is not None and named.melting_point_C > _ROOM_TEMPERATURE:
            return unsuitable(
                f"is a solid that melts at {named.melting_point_C:.0f} °C, and nobody has boiled it"
            )
        return clear(Compound.of_structure(structure, named.name, named.cas))

    @cached_property
    def _weights(self) -> NDArray[np.float64]:
        return self.table.weights("classroom")

    def _rarity(self, compound: Compound) -> float:
        if compound.place is None:
            return 1.0
        return -float(self._weights[compound.place])


# What a text may be read as by what it is said to be; the first that it can be is meant.
_READINGS: Mapping[Kind, tuple[Callable[[Resolver, str], Meaning | None], ...]] = {
    "identity": (
        Resolver._as_date,
        Resolver._as_cas_number,
        Resolver._as_own_name,
        Resolver._as_inchikey,
        Resolver._as_smiles,
        Resolver._as_formula,
        Resolver._as_name,
    ),
    "cas": (Resolver._as_date, Resolver._as_cas_number, Resolver._as_bad_number),
    "smiles": (Resolver._as_smiles, Resolver._as_bad_smiles),
    "name": (Resolver._as_own_name, Resolver._as_formula, Resolver._as_name),
}
# Ways to write a name, the plainest first.
_WAYS: tuple[Callable[[Resolver, str], Meaning | None], ...] = (
    Resolver._as_isomers,
    Resolver._as_other_than_one,
    Resolver._by_itself,
    Resolver._beside_formula,
    Resolver._beside_remarks,
    Resolver._in_other_order,
    Resolver._by_aliases,
)


@lru_cache(maxsize=1)
def built_in_resolver() -> Resolver:
    """Return the resolver of the built-in table, the same each time."""
    return Resolver()


def _near_names(name: str, known: Sequence[str], count: int = 3) -> list[str]:
    """Return the names most like one that nobody knows.

    Parameters
    ----------
    name : str
        As `plain_name` gives it.
    known : sequence of str
        Names that it may have been meant for, the commonest first.
    count : int, default=3

    Examples
    --------
    >>> _near_names("ethonal", ["methanol", "ethanol", "hexane"])
    ['ethanol']
    >>> _near_names("acetone, from the cupboard", ["acetone"])
    ['acetone']
    """
    if len(name) > _MAX_NAME_LENGTH:
        return []
    lead = re.split(r"[,(;]", name)[0].strip()
    if lead in known:
        return [lead]
    for usual_names in (known[:_FIRST_SOUGHT], known):
        if near := difflib.get_close_matches(name, usual_names, n=count, cutoff=_MIN_SIMILARITY):
            return near
    return []


def _constitutions(named: Iterable[NamedCompound]) -> list[NamedCompound]:
    """Return one compound of each constitution."""
    return list({one.skeleton: one for one in reversed(list(named))}.values())


def _is_at_double_bond(named: NamedCompound) -> bool:
    """Whether a structure says on which sides of a double bond its parts are."""
    return "/" in named.smiles or "\\" in named.smiles


def _compounds(meanings: Iterable[Meaning]) -> list[Compound]:
    return [compound for meaning in meanings for compound in meaning.compounds]


def _different(meanings: Iterable[Meaning]) -> set[str]:
    return {meaning.compounds[0].inchikey for meaning in meanings if meaning.compounds}
