"""The compounds that have a published boiling point: structures, and who is whose other form."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from identify.chemistry.isolable import why_not_isolable
from identify.chemistry.structures import Structure, read_structure
from identify.compounds.published import literature
from identify.compounds.published.corrections import HandCorrection
from identify.compounds.published.literature import Identifier
from identify.compounds.published.names import readable_name

_SAME_BOILING_POINT = 1.5  # K: a flat form that boils with a stereoisomer is that stereoisomer
_AMONG_ISOMERS = 6.0  # K: a flat form that boils this near to stereoisomers is one of them, or all
_NO_CHOICE, _NOT_ISOLABLE = "no choice of its own beside ", "not-isolable: "
_MIRRORED = "enantiomers and racemate cannot be told apart"


@dataclass
class PublishedCompound:
    """One row in the making: a structure, and every identifier that is it or its mirror image."""

    structure: Structure
    members: list[Identifier]
    boiling_points: dict[str, float]
    stereo: str = ""
    stands_for: list[PublishedCompound] = field(default_factory=list)
    isomers: list[PublishedCompound] = field(default_factory=list)
    """The forms that stand for it: it is not a choice of its own beside them."""

    @property
    def lead(self) -> Identifier:
        """The identifier that names the row."""
        return self.members[0]

    def boils_with(self, other: PublishedCompound) -> bool:
        """Whether another boils at the same temperature."""
        apart = abs(other.typical_boiling_point - self.typical_boiling_point)
        return apart < _SAME_BOILING_POINT

    def boils_among(self, others: Sequence[PublishedCompound]) -> bool:
        """Whether it boils between others, or near one of them."""
        boiling = [one.typical_boiling_point for one in others]
        low, high = min(boiling) - _AMONG_ISOMERS, max(boiling) + _AMONG_ISOMERS
        return low < self.typical_boiling_point < high

    @property
    def inventories(self) -> int:
        """How many of the six list it, with stereo marks or without."""
        listed = [one.inventories for one in self.stands_for]
        listed += [literature.inventories_listing(member.cas) for member in self.members]
        return max(listed)

    def why_not_bottled(self, by_hand: str) -> str:
        """Return why no bottle holds it as what it is listed as, empty text where one may."""
        if self.isomers:
            names = (f"{readable_name(one.lead.name)} ({one.lead.cas})" for one in self.isomers)
            return _NO_CHOICE + " and ".join(names)
        reason = by_hand or why_not_isolable(self.structure.mol, self.inventories)
        return reason and _NOT_ISOLABLE + reason

    @property
    def others(self) -> str:
        """CAS numbers of the other identifiers."""
        return ", ".join(member.cas for member in self.members[1:])

    @property
    def label(self) -> str:
        """Name and CAS number."""
        return f"{self.lead.name} ({self.lead.cas})"

    @property
    def typical_boiling_point(self) -> float:
        """The median of the published ones [K]."""
        return float(np.median(list(self.boiling_points.values())))


def gather(
    left_out: tuple[str, ...] = (), corrections: Sequence[HandCorrection] = ()
) -> list[PublishedCompound]:
    """Return the compounds with a published boiling point, mirror images merged."""
    drawn = {one.cas: one.value for one in corrections if one.column == "smiles"}
    by_skeleton: dict[str, dict[str, PublishedCompound]] = defaultdict(dict)
    for identifier in literature.identifiers():
        boiling_points = literature.published_boiling_points(identifier.cas, left_out)
        smiles = drawn.get(identifier.cas, identifier.smiles)
        structure = read_structure(smiles) if boiling_points else None
        if structure is None:
            continue
        forms = by_skeleton[structure.inchikey[:14]]
        key = "any" if structure.has_one_center else structure.mirror_pair
        if key not in forms:
            forms[key] = PublishedCompound(structure, [], {}, _MIRRORED if key == "any" else "")
        forms[key].members.append(identifier)
        _add_boiling_points(forms[key], identifier, boiling_points)
    compounds = []
    for forms in by_skeleton.values():
        compounds.extend(_merge_flat_forms(list(forms.values())))
    return sorted(compounds, key=lambda compound: literature.CAS_to_int(compound.lead.cas))


def _add_boiling_points(
    compound: PublishedCompound,
    identifier: Identifier,
    boiling_points: Mapping[str, float],
) -> None:
    # The identifier with the most sources leads; the others only add sources it lacks.
    if len(boiling_points) > len(compound.boiling_points):
        compound.members.remove(identifier)
        compound.members.insert(0, identifier)
        compound.boiling_points = {**compound.boiling_points, **boiling_points}
    else:
        compound.boiling_points = {**boiling_points, **compound.boiling_points}
    if len(compound.members) > 1:
        compound.stereo = f"also {compound.others}: {_MIRRORED}"


def _merge_flat_forms(forms: list[PublishedCompound]) -> list[PublishedCompound]:
    """Merge a form without stereo marks into the stereoisomer that boils with it.

    One that boils near them is one of them, or their mixture: it can still be looked up, and is
    not a choice beside them. Where the table knows but one stereoisomer, what is sold more stands
    for both: crotyl alcohol is not answered with its Z form.
    """
    if len(forms) == 1:
        return forms
    fewest = min(form.structure.unspecified for form in forms)
    marked = [form for form in forms if form.structure.unspecified == fewest]
    unmerged = []
    for form in forms:
        if form.structure.unspecified == fewest:
            continue
        twin = next((one for one in marked if one.boils_with(form)), None)
        if twin is None:
            form.stereo = "stereo form not stated: a mixture of stereoisomers, or one of them"
            unmerged.append(form)
            if form.boils_among(marked):
                is_sold_flat = len(marked) == 1 and form.inventories >= marked[0].inventories
                _stand_for(*(([form], marked) if is_sold_flat else (marked, [form])))
            continue
        twin.members.extend(form.members)
        twin.boiling_points = {**form.boiling_points, **twin.boiling_points}
        twin.stereo = f"also {twin.others}: listed without stereo marks, same boiling point"
    return marked + unmerged


def _stand_for(choices: list[PublishedCompound], others: list[PublishedCompound]) -> None:
    for one in others:
        one.isomers = choices
    for one in choices:
        one.stands_for.extend(others)
