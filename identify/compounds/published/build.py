"""Building the candidate table from structures and published constants."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from identify.chemistry.structures import Structure, describe
from identify.compounds.columns import TableColumns, bottled_weight, commerce_weight
from identify.compounds.published import literature
from identify.compounds.published.classroom import classroom_prior
from identify.compounds.published.consensus import BoilingPoint, boiling_point_consensus
from identify.compounds.published.corrections import BY_HAND, HandCorrection
from identify.compounds.published.estimate import boosted_trees_fill, out_of_fold_boiling_points
from identify.compounds.published.gathering import PublishedCompound, gather
from identify.compounds.published.hazards.flash_points import flash_point
from identify.compounds.published.liquids.columns import set_liquid_columns
from identify.compounds.published.literature import Identifier
from identify.compounds.published.names import leaves_out_form, readable_name
from identify.compounds.published.vapor.corresponding_states import (
    VIRIAL,
    acentric_factor,
    polar_term,
    virial_coefficients,
)
from identify.compounds.published.vapor.curves import vapor_curve
from identify.compounds.published.vapor.dimers import dimer_cells
from identify.compounds.published.vapor.virials import PublishedVirial, published_virial
from identify.compounds.table import (
    ESTIMATED,
    SOURCE_COLUMNS,
    CandidateTable,
)
from identify.notebook.quantity.units import known_unit
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.physics.constants import ICE_POINT

_WIDEST_ESTIMATE = 40.0  # K: an estimate less certain than this is not a boiling point to match by
_CODE_NAME = re.compile(
    r"^(\d+-\d\d-\d|[a-z]{1,9}[-0-9]*\s?\d[\da-z]*|.*\[[a-z]+\]|agn?(-[a-z]+)+-\w+|\w+_\w*\d+"
    r"|(brn|einecs|caswell no\.) .*)$"
)


@dataclass
class Audit:
    """What the build did with published boiling points."""

    compounds: int = 0
    set_aside: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    suspicion: list[tuple[float, str]] = field(default_factory=list)

    def keeps(
        self,
        compound: PublishedCompound,
        point: BoilingPoint,
        by_hand: Sequence[HandCorrection],
        estimate: float,
        spread: float,
    ) -> bool:
        """Say whether a compound stays in the table, and note what is odd about it."""
        if point.set_aside:
            self.set_aside.append(f"{compound.label}: {point.set_aside}")
        is_left_out = any(correction.column == "leave_out" for correction in by_hand)
        if is_left_out or point.uncertainty > _WIDEST_ESTIMATE:
            self.left_out.append(
                f"{compound.label}: boiling point known to ±{point.uncertainty:.0f} K only"
            )
            return False
        if point.published:
            self.suspicion.append(_suspicion(compound, point, estimate, spread))
        return True


@dataclass(frozen=True)
class _PublishedRow:
    """A compound of the table, its boiling point and its other published constants."""

    compound: PublishedCompound
    point: BoilingPoint
    constants: Mapping[str, literature.Constant]
    virial: PublishedVirial | None
    by_hand: Sequence[HandCorrection]

    @property
    def cas(self) -> str:
        """CAS number."""
        return self.compound.lead.cas

    def cells(self) -> dict[str, str | float]:
        """Return what is known of it, by column."""
        compound, structure, point = self.compound, self.compound.structure, self.point
        cells: dict[str, str | float] = {
            "name": self._by_hand("name").value or _plain_name(compound.lead, structure),
            "cas": self.cas,
            "smiles": structure.smiles,
            "inchikey": structure.inchikey,
            "formula": structure.formula,
            "molar_mass": structure.molar_mass,
            "stereo": compound.stereo,
            "groups": structure.groups,
            "log_p": structure.log_p,
            "log_p_source": ESTIMATED,
            "virial_source": VIRIAL,
            **dimer_cells(structure.mol),
            "boiling_point_C": point.value - ICE_POINT,
            "boiling_point_u": point.uncertainty,
            "boiling_point_published": float(point.published),
            "boiling_point_source": point.source,
            "set_aside": point.set_aside,
            "carcinogen": literature.carcinogen_lists(self.cas),
            "not_bottled": compound.why_not_bottled(self._by_hand("not_bottled").reason),
            "inventories": float(compound.inventories),
        }
        for column, (name, scale, offset) in _CONSTANT_COLUMNS.items():
            if name in self.constants:
                known = self.constants[name]
                cells[column] = known.value * scale + offset
                cells[SOURCE_COLUMNS[column]] = known.source
        return cells

    def _by_hand(self, column: str) -> HandCorrection:
        nothing = HandCorrection(self.cas, column, "", "", "")
        return next((one for one in self.by_hand if one.column == column), nothing)


def _from_structure(
    compounds: Sequence[PublishedCompound], descriptors: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return estimates of the boiling points from structure, and the scales of their errors [K]."""
    published = np.array([compound.typical_boiling_point for compound in compounds])
    skeletons = [compound.structure.inchikey[:14] for compound in compounds]
    return out_of_fold_boiling_points(descriptors, published, skeletons)


def _suspicion(
    compound: PublishedCompound, point: BoilingPoint, estimate: float, spread: float
) -> tuple[float, str]:
    """Return how far a boiling point is from the estimate, in its spreads, and a line on it."""
    from_groups = literature.group_contribution_boiling_point(compound.lead.cas) - ICE_POINT
    published = ", ".join(
        f"{name} {value - ICE_POINT:.1f}" for name, value in compound.boiling_points.items()
    )
    return (
        (point.value - estimate) / spread,
        f"{compound.label} {compound.structure.smiles} {point.value - ICE_POINT:.1f} C "
        f"± {point.uncertainty:.1f}, from structure {estimate - ICE_POINT:.0f} ± {spread:.0f}, "
        f"from groups {from_groups:.0f}; {published}",
    )


def build(
    corrections: Sequence[HandCorrection] = (),
    left_out: tuple[str, ...] = (),
    only: frozenset[str] | None = None,
    courses: Mapping[str, float] | None = None,
    virials: Mapping[str, PublishedVirial] | None = None,
    learn_every: int = 1,
) -> tuple[CandidateTable, Audit]:
    """Build the candidate table.

    Parameters
    ----------
    corrections : sequence of HandCorrection
    left_out : tuple of str
        Collections not to be used, such as ``REFERENCE_EQUATIONS``.
    only : frozenset of str, optional
        CAS numbers to write; the estimates learn from the other compounds too.
    courses : mapping of str to float, optional
        How many courses hand out a liquid, by CAS number; without it the table has no prior of a
        classroom.
    virials : mapping of str to PublishedVirial, optional
        Second virial coefficients chosen by hand, by CAS number.
    learn_every : int
        Of the compounds that are not to be written, the estimates learn from one in so many.

    Returns
    -------
    CandidateTable, Audit
    """
    compounds = _taking_part(gather(left_out, corrections), only, learn_every)
    descriptors = describe([compound.structure for compound in compounds])
    estimate, spread = _from_structure(compounds, descriptors)
    audit = Audit(compounds=len(compounds))
    kept, entries = [], []
    for place, compound in enumerate(compounds):
        by_hand = [one for one in corrections if one.cas == compound.lead.cas]
        from_structure = float(estimate[place]), float(spread[place])
        point = _boiling_point(compound, by_hand, *from_structure)
        if audit.keeps(compound, point, by_hand, *from_structure):
            kept.append(place)
            constants = literature.published_constants(compound.lead.cas, point.value, left_out)
            virial = published_virial(compound.lead.cas, virials or {}, left_out)
            entries.append(_PublishedRow(compound, point, constants, virial, by_hand))
    rows = TableColumns.blank(len(entries))
    _set_critical_constants(rows, entries, descriptors[kept])
    set_liquid_columns(
        rows,
        [(entry.cas, entry.compound.structure) for entry in entries],
        _column(entries, "melting_point"),
        np.array([entry.point.value for entry in entries]),
        descriptors[kept],
        corrections,
        left_out,
    )
    chosen = [row for row, entry in enumerate(entries) if only is None or entry.cas in only]
    rows = TableColumns.joined([rows], np.array(chosen))
    return _table(rows, [entries[row] for row in chosen], courses), audit


def _taking_part(
    compounds: Sequence[PublishedCompound], only: frozenset[str] | None, learn_every: int
) -> list[PublishedCompound]:
    """Return the compounds to write, and of the others those that the estimates learn from."""
    return [
        compound
        for place, compound in enumerate(compounds)
        if place % learn_every == 0 or only is None or compound.lead.cas in only
    ]


def _boiling_point(
    compound: PublishedCompound, by_hand: Sequence[HandCorrection], estimate: float, spread: float
) -> BoilingPoint:
    values = dict(compound.boiling_points)
    reasons: list[str] = []
    for correction in by_hand:
        if correction.column not in ("boiling_point_C", "set_aside"):
            continue
        reasons.append(correction.why)
        if correction.column == "boiling_point_C":
            value = float(correction.value) + ICE_POINT
            return BoilingPoint(value, 0.5, True, BY_HAND, "; ".join(reasons))
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


# Column of the table: name of the published constant, factor and offset from SI units.
_CONSTANT_COLUMNS = {
    **{
        constant.column: (constant.name, 1.0 / unit.scale, -unit.zero)
        for constant in LIQUID_CONSTANTS.values()
        for unit in (known_unit(constant.column_unit),)
    },
    "exposure_limit_ppm": ("exposure_limit_ppm", 1.0, 0.0),
    "log_p": ("log_p", 1.0, 0.0),
}


def _column(entries: Sequence[_PublishedRow], name: str) -> NDArray[np.float64]:
    """Return a published constant of each entry in SI units, NaN where there is none."""
    known = (entry.constants.get(name) for entry in entries)
    return np.array([np.nan if one is None else one.value for one in known])


def _set_critical_constants(
    rows: TableColumns, entries: Sequence[_PublishedRow], descriptors: NDArray[np.float64]
) -> None:
    """Set the published critical constants, estimated from structure where there are none."""
    boiling = np.array([entry.point.value for entry in entries])
    # The ratio Tc/Tb lies between 1.2 and 2 for nearly every molecular liquid.
    ratio = _column(entries, "critical_temperature") / boiling
    ratio[(ratio < 1.15) | (ratio > 2.2)] = np.nan
    logarithm = np.log(_column(entries, "critical_pressure"))
    logarithm[(logarithm < np.log(3e5)) | (logarithm > np.log(1.5e7))] = np.nan
    temperature = boosted_trees_fill(descriptors, ratio) * boiling
    pressure = np.exp(boosted_trees_fill(descriptors, logarithm))
    published = np.isfinite(ratio) & np.isfinite(logarithm)
    acentric = _column(entries, "acentric_factor")
    estimated = ~(published & np.isfinite(acentric))
    acentric[estimated] = acentric_factor(boiling, temperature, pressure)[estimated]
    rows.numbers |= {
        "critical_temperature_K": temperature,
        "critical_pressure_Pa": pressure,
        "acentric_factor": acentric,
    }
    rows.text["critical_source"] = [ESTIMATED] * len(entries)
    for row in np.flatnonzero(published).tolist():
        known = entries[row].constants
        both = (known["critical_temperature"].source, known["critical_pressure"].source)
        rows.text["critical_source"][row] = ", ".join(dict.fromkeys(both))


def _table(
    rows: TableColumns, entries: Sequence[_PublishedRow], courses: Mapping[str, float] | None
) -> CandidateTable:
    """Return the table of compounds whose critical constants are set."""
    rows.set_percent(np.array([entry.compound.structure.percent for entry in entries]))
    dipole = np.zeros(len(entries))
    for row, entry in enumerate(entries):
        rows.fill(row, entry.cells())
        rows.fill(row, _vapor_curve_cells(rows, row, entry))
        rows.fill(row, _flash_point_cells(rows, row, entry))
        moment = entry.constants.get("dipole_moment")
        if moment is not None and entry.compound.structure.is_polar:
            dipole[row] = moment.value
            rows.fill(row, {"virial_source": f"Tsonopoulos 1975, dipole moment {moment.source}"})
    columns = ("critical_temperature_K", "critical_pressure_Pa", "acentric_factor")
    temperature, pressure, acentric = (rows.numbers[column] for column in columns)
    polar = polar_term(dipole, temperature, pressure)
    virial = virial_coefficients(temperature, pressure, acentric, polar)
    for row, entry in enumerate(entries):
        if entry.virial is not None and (over := entry.virial.over(virial[row])) is not None:
            virial[row] = over
            rows.fill(row, {"virial_source": entry.virial.source})
    rows.numbers |= {f"virial_{order}": one for order, one in enumerate(virial.T)}
    weight = bottled_weight(rows) * commerce_weight(rows.numbers["inventories"])
    rows.numbers["prior"] = weight / weight.sum()
    if courses is not None:
        rows.numbers["classroom"] = classroom_prior(rows, courses)
    return CandidateTable(rows.text, rows.numbers)


def _vapor_curve_cells(
    rows: TableColumns, row: int, entry: _PublishedRow
) -> dict[str, str | float]:
    temperature = float(rows.numbers["critical_temperature_K"][row])
    pressure = float(rows.numbers["critical_pressure_Pa"][row])
    fits = literature.vapor_pressure_fits(entry.cas)
    curve, source = vapor_curve(entry.point.value, temperature, pressure, fits)
    cells = {f"vapor_curve_{letter}": one for letter, one in zip("abc", curve, strict=True)}
    return {**cells, "vapor_curve_source": source}


def _flash_points_by_hand(by_hand: Sequence[HandCorrection]) -> dict[str, float]:
    return {
        one.source: float(one.value) + ICE_POINT for one in by_hand if one.column == "flash_point_C"
    }


def _flash_point_cells(
    rows: TableColumns, row: int, entry: _PublishedRow
) -> dict[str, str | float]:
    first, second, third = (float(rows.numbers[f"vapor_curve_{letter}"][row]) for letter in "abc")
    published = literature.flash_points(entry.cas) | _flash_points_by_hand(entry.by_hand)
    atoms = entry.compound.structure.atoms
    return flash_point(published, entry.point.value, (first, second, third), atoms).cells()


def _plain_name(identifier: Identifier, structure: Structure) -> str:
    """Return the common name, or the systematic one where the common one is a code or too wide."""
    name, systematic = readable_name(identifier.name), readable_name(identifier.systematic_name)
    if name and not _CODE_NAME.match(identifier.name) and not leaves_out_form(name, systematic):
        return name
    return systematic or name or structure.smiles
