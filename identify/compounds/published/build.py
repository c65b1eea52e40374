"""Building the candidate table from structures and published constants."""

from __future__ import annotations

import csv
import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from identify.chemistry.structures import Structure, describe, read_structure
from identify.compounds.names import Identifier
from identify.compounds.published import curves, literature
from identify.compounds.published.consensus import BoilingPoint, boiling_point_consensus
from identify.compounds.published.estimate import boosted_trees_fill, out_of_fold_boiling_points
from identify.compounds.published.names import readable_name
from identify.compounds.table import (
    ESTIMATED,
    NUMBER_COLUMNS,
    SOURCE_COLUMNS,
    TEXT_COLUMNS,
    CandidateTable,
)
from identify.notebook.units import known_unit
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.physics.constants import ELEMENTS, ICE_POINT

_SAME_BOILING_POINT = 1.5  # K: a flat form that boils with a stereoisomer is that stereoisomer
_MIRRORED = "enantiomers and racemate cannot be told apart"
_WIDEST_ESTIMATE = 40.0  # K: an estimate less certain than this is no boiling point to match by
_CODE_NAME = re.compile(r"^(\d+-\d\d-\d|[a-z]{1,9}[-0-9]*\s?\d[\da-z]*|.*\[[a-z]+\])$")


@dataclass
class PublishedCompound:
    """One row in the making: a structure, and every identifier that is it or its mirror image."""

    structure: Structure
    members: list[Identifier]
    boiling_points: dict[str, float]
    stereo: str = ""

    @property
    def lead(self) -> Identifier:
        """The identifier that names the row."""
        return self.members[0]


@dataclass(frozen=True)
class HandCorrection:
    """One line of the corrections file."""

    cas: str
    column: str
    value: str
    reason: str
    source: str


@dataclass
class Audit:
    """What the build did with published boiling points."""

    compounds: int = 0
    set_aside: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    suspicion: list[tuple[float, str]] = field(default_factory=list)


def read_corrections(path: Path) -> list[HandCorrection]:
    """Read the corrections made by hand: columns cas, column, value, reason, source.

    ``column`` is ``boiling_point_C`` (replaces the consensus), ``set_aside`` (the published value
    is not used, ``value`` may name one collection), or ``leave_out`` (the row leaves the table).
    """
    with path.open(encoding="utf-8", newline="") as lines:
        return [HandCorrection(**row) for row in csv.DictReader(lines)]


def build(
    corrections: Sequence[HandCorrection] = (),
    left_out: tuple[str, ...] = (),
    only: frozenset[str] | None = None,
) -> tuple[CandidateTable, Audit]:
    """Build the candidate table.

    Parameters
    ----------
    corrections : sequence of HandCorrection
    left_out : tuple of str
        Collections not to be used, such as ``REFERENCE_EQUATIONS``.
    only : frozenset of str, optional
        CAS numbers to write; the estimates still learn from all compounds.

    Returns
    -------
    CandidateTable, Audit
    """
    compounds = gather(left_out)
    structures = [compound.structure for compound in compounds]
    descriptors = describe(structures)
    published = np.array([np.median(list(c.boiling_points.values())) for c in compounds])
    skeletons = [structure.inchikey[:14] for structure in structures]
    estimate, spread = out_of_fold_boiling_points(descriptors, published, skeletons)
    by_hand: dict[str, list[HandCorrection]] = defaultdict(list)
    for correction in corrections:
        by_hand[correction.cas].append(correction)

    audit = Audit(compounds=len(compounds))
    kept, points = [], []
    for place, compound in enumerate(compounds):
        point = _boiling_point(compound, estimate[place], spread[place], by_hand)
        label = f"{compound.lead.name} ({compound.lead.cas})"
        if point.set_aside:
            audit.set_aside.append(f"{label}: {point.set_aside}")
        if point.uncertainty > _WIDEST_ESTIMATE or _is_left_out(compound, by_hand):
            audit.left_out.append(
                f"{label}: boiling point known to ±{point.uncertainty:.0f} K only"
            )
            continue
        if point.published:
            deviation = (point.value - estimate[place]) / spread[place]
            audit.suspicion.append(
                (
                    deviation,
                    f"{label} {compound.structure.smiles} {point.value - ICE_POINT:.1f} C "
                    f"± {point.uncertainty:.1f}, from structure "
                    f"{estimate[place] - ICE_POINT:.0f} ± {spread[place]:.0f}, "
                    f"from groups {_from_groups(compound):.0f}; "
                    + ", ".join(
                        f"{name} {value - ICE_POINT:.1f}"
                        for name, value in compound.boiling_points.items()
                    ),
                )
            )
        kept.append(place)
        points.append(point)
    chosen = [compounds[place] for place in kept]
    return _write(chosen, points, descriptors[kept], left_out, only), audit


def gather(left_out: tuple[str, ...] = ()) -> list[PublishedCompound]:
    """Return the compounds with a published boiling point, mirror images merged."""
    by_skeleton: dict[str, dict[str, PublishedCompound]] = defaultdict(dict)
    for identifier in literature.identifiers():
        boiling_points = literature.published_boiling_points(identifier.cas, left_out)
        structure = read_structure(identifier.smiles) if boiling_points else None
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
        others = ", ".join(member.cas for member in compound.members[1:])
        compound.stereo = f"also {others}: {_MIRRORED}"


def _merge_flat_forms(forms: list[PublishedCompound]) -> list[PublishedCompound]:
    """Merge a form without stereo marks into the stereoisomer that boils with it."""
    if len(forms) == 1:
        return forms
    flat = [form for form in forms if form.structure.is_flat]
    marked = [form for form in forms if not form.structure.is_flat]
    for form in flat:
        typical = np.median(list(form.boiling_points.values()))
        twin = next(
            (
                other
                for other in marked
                if abs(np.median(list(other.boiling_points.values())) - typical)
                < _SAME_BOILING_POINT
            ),
            None,
        )
        if twin is None:
            form.stereo = "stereo form not stated: a mixture of stereoisomers, or one of them"
            marked.append(form)
            continue
        twin.members.extend(form.members)
        twin.boiling_points = {**form.boiling_points, **twin.boiling_points}
        others = ", ".join(member.cas for member in twin.members[1:])
        twin.stereo = f"also {others}: listed without stereo marks, same boiling point"
    return marked


def _boiling_point(
    compound: PublishedCompound,
    estimate: float,
    spread: float,
    by_hand: Mapping[str, list[HandCorrection]],
) -> BoilingPoint:
    values = dict(compound.boiling_points)
    reasons: list[str] = []
    for correction in by_hand.get(compound.lead.cas, ()):
        reasons.append(f"{correction.reason} ({correction.source})")
        if correction.column == "boiling_point_C":
            value = float(correction.value) + ICE_POINT
            return BoilingPoint(value, 0.5, True, "corrected by hand", "; ".join(reasons))
        if correction.column == "set_aside":
            # All of them where no collection is named.
            values = {
                name: value
                for name, value in values.items()
                if correction.value and name != correction.value
            }
    if not values:
        return BoilingPoint(estimate, 1.25 * spread, False, ESTIMATED, "; ".join(reasons))
    point = boiling_point_consensus(values, float(estimate), float(spread))
    return replace(
        point, set_aside="; ".join(dict.fromkeys(filter(None, (*reasons, point.set_aside))))
    )


def _from_groups(compound: PublishedCompound) -> float:
    return literature.group_contribution_boiling_point(compound.lead.cas) - ICE_POINT


def _is_left_out(compound: PublishedCompound, by_hand: Mapping[str, list[HandCorrection]]) -> bool:
    return any(c.column == "leave_out" for c in by_hand.get(compound.lead.cas, ()))


def _write(
    compounds: Sequence[PublishedCompound],
    points: Sequence[BoilingPoint],
    descriptors: NDArray[np.float64],
    left_out: tuple[str, ...],
    only: frozenset[str] | None,
) -> CandidateTable:
    boiling = np.array([point.value for point in points])
    constants = [
        literature.published_constants(compound.lead.cas, point.value, left_out)
        for compound, point in zip(compounds, points, strict=True)
    ]
    critical, critical_source = _critical_constants(constants, boiling, descriptors)
    rows = [place for place, c in enumerate(compounds) if only is None or c.lead.cas in only]
    text: dict[str, list[str]] = {column: [] for column in TEXT_COLUMNS}
    numbers = {column: np.full(len(rows), np.nan) for column in NUMBER_COLUMNS}
    for row, place in enumerate(rows):
        compound, point, known = compounds[place], points[place], constants[place]
        structure, cas = compound.structure, compound.lead.cas
        curve, curve_source = curves.vapor_curve(
            point.value, critical[place], literature.vapor_pressure_fits(cas)
        )
        cells = {
            "name": _plain_name(compound.lead, structure),
            "cas": cas,
            "smiles": structure.smiles,
            "inchikey": structure.inchikey,
            "formula": structure.formula,
            "boiling_point_source": point.source,
            "set_aside": point.set_aside,
            "vapor_curve_source": curve_source,
            "critical_source": critical_source[place],
            "virial_source": "Tsonopoulos 1974",
            "carcinogen": literature.carcinogen_lists(cas),
            "stereo": compound.stereo,
            "groups": structure.groups,
            "log_p_source": ESTIMATED,
        }
        numbers["log_p"][row] = structure.log_p
        for column, (name, scale, offset) in _CONSTANT_COLUMNS.items():
            if name in known:
                numbers[column][row] = known[name].value * scale + offset
                cells[SOURCE_COLUMNS[column]] = known[name].source
        numbers["molar_mass"][row] = structure.molar_mass
        for element, percent in zip(ELEMENTS, structure.percent, strict=True):
            numbers[f"percent_{element}"][row] = percent
        numbers["boiling_point_C"][row] = point.value - ICE_POINT
        numbers["boiling_point_u"][row] = point.uncertainty
        numbers["boiling_point_published"][row] = float(point.published)
        numbers["critical_temperature_K"][row] = critical[place].temperature
        numbers["critical_pressure_Pa"][row] = critical[place].pressure
        numbers["acentric_factor"][row] = critical[place].acentric
        for letter, coefficient in zip("abc", curve, strict=True):
            numbers[f"vapor_curve_{letter}"][row] = coefficient
        dipole = literature.dipole_moment(cas)
        polar_class = structure.polar_class if dipole is not None else ""
        virial = curves.second_virial_coefficients(
            critical[place], polar_class, 0.0 if dipole is None else dipole.value
        )
        if dipole is not None and polar_class:
            cells["virial_source"] = f"Tsonopoulos 1975, dipole moment {dipole.source}"
        for order, coefficient in enumerate(virial):
            numbers[f"virial_{order}"][row] = coefficient
        for column in TEXT_COLUMNS:
            text[column].append(cells.get(column, ""))
        numbers["inventories"][row] = max(
            literature.inventories_listing(member.cas) for member in compound.members
        )
    numbers["prior"] = commerce_prior(numbers["inventories"])
    return CandidateTable(text, numbers)


# Column of the table: name of the published constant, factor and offset from SI units.
_CONSTANT_COLUMNS = {
    **{
        constant.column: (constant.name, 1.0 / unit.scale, -unit.zero)
        for constant in LIQUID_CONSTANTS.values()
        for unit in (known_unit(constant.column_unit),)
    },
    "flash_point_C": ("flash_point", 1.0, -ICE_POINT),
    "exposure_limit_ppm": ("exposure_limit_ppm", 1.0, 0.0),
    "log_p": ("log_p", 1.0, 0.0),
}


def commerce_prior(inventories: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the prior of each compound: one part, and half a part for each inventory listing it.

    The six inventories name what is made or sold in quantity; a compound on all of them is four
    times as probable beforehand as one on none. Mild by intent: it settles a tie, not a match.
    """
    weight = 1.0 + 0.5 * inventories
    return np.asarray(weight / weight.sum())


def _critical_constants(
    constants: Sequence[Mapping[str, literature.Constant]],
    boiling: NDArray[np.float64],
    descriptors: NDArray[np.float64],
) -> tuple[list[curves.CriticalConstants], list[str]]:
    def column(name: str) -> NDArray[np.float64]:
        return np.array([known[name].value if name in known else np.nan for known in constants])

    # The ratio Tc/Tb lies between 1.2 and 2 for nearly every molecular liquid.
    ratio = column("critical_temperature") / boiling
    ratio[(ratio < 1.15) | (ratio > 2.2)] = np.nan
    pressure = np.log(column("critical_pressure"))
    pressure[(pressure < np.log(3e5)) | (pressure > np.log(1.5e7))] = np.nan
    temperature = boosted_trees_fill(descriptors, ratio) * boiling
    filled_pressure = np.exp(boosted_trees_fill(descriptors, pressure))
    acentric = column("acentric_factor")
    criticals, sources = [], []
    for place, known in enumerate(constants):
        published = np.isfinite(ratio[place]) and np.isfinite(pressure[place])
        omega = acentric[place]
        if not (published and np.isfinite(omega)):
            omega = curves.acentric_from_boiling_point(
                boiling[place], temperature[place], filled_pressure[place]
            )
        criticals.append(
            curves.CriticalConstants(temperature[place], filled_pressure[place], omega)
        )
        if published:
            both = (known["critical_temperature"].source, known["critical_pressure"].source)
            sources.append(", ".join(dict.fromkeys(both)))
        else:
            sources.append(ESTIMATED)
    return criticals, sources


def _plain_name(identifier: Identifier, structure: Structure) -> str:
    """Return the common name, or the systematic one where the common name is a code."""
    if identifier.name and not _CODE_NAME.match(identifier.name):
        return readable_name(identifier.name)
    return identifier.systematic_name or identifier.name or structure.smiles
