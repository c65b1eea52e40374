"""What published lists say of the hazards of a bottle, for the instructor.

The lists are those in the built-in table's sources; the safety data sheet and local rules decide.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isfinite

from identify.bench.laboratory import Laboratory
from identify.compounds.carcinogens import is_grave, of_the_liquid, short_lists
from identify.compounds.naming.meaning import Compound
from identify.compounds.table import CandidateTable
from identify.notebook.findings import Finding, listed
from identify.physics.constants import ICE_POINT
from identify.stock.result import Hazards, StockRow

# One student's trial: some 3 mL of liquid, 0.03 mol, leave the flask as vapor, 0.7 L in the room.
# In a teaching laboratory 15 m3 a student, its air changed eight times an hour, 30 m3 of air pass
# in the quarter of an hour that a trial takes. Without a hood that is 24 ppm. Common practice.
_VAPOR_OF_A_TRIAL = 0.03 * 0.0242  # m3: mol times the molar volume of a gas at 22 degrees Celsius
_AIR_OF_A_TRIAL = 15.0 * 8.0 * 0.25  # m3
_FLASK_PPM = 1e6 * _VAPOR_OF_A_TRIAL / _AIR_OF_A_TRIAL

# Ethers with hydrogen on the carbon beside the oxygen, on CH or CH2 as in diethyl ether; methyl
# ethers of tertiary alcohols and epoxides hardly do. Common practice.
_PEROXIDE_FORMER = "[CX4;H1,H2;!r3][OX2][#6;!$(C=[O,S,N])]"


def hazards_of(compound: Compound, built_in: CandidateTable) -> Hazards:
    """Return what published lists say of a compound.

    Parameters
    ----------
    compound : Compound
    built_in : CandidateTable
        That ``compound.place`` is a row of; a compound that it lacks is looked up by its CAS
        number.
    """
    if compound.place is not None:
        place = compound.place
        return Hazards(
            float(built_in.number("flash_point_C")[place]),
            short_lists(built_in.text("carcinogen")[place]),
            float(built_in.number("exposure_limit_ppm")[place]),
            float(built_in.number("flash_point_highest_C")[place]),
        )
    if not compound.cas:
        return Hazards()
    from identify.compounds.published.hazards.lookup import looked_up

    found = looked_up(compound.cas, compound.smiles, compound.boiling_point_C + ICE_POINT)
    return Hazards(
        found.flash_point.value - ICE_POINT,
        short_lists(found.carcinogen),
        found.exposure_limit_ppm,
        found.flash_point.highest - ICE_POINT,
    )


def hazard_findings(compound: Compound, hazards: Hazards) -> Iterator[Finding]:
    """Yield what the lists say that the instructor should know before the term.

    Parameters
    ----------
    compound : Compound
    hazards : Hazards
        Of it.
    """
    if hazards.carcinogen:
        yield _carcinogen(compound, hazards.carcinogen)
    limit = hazards.exposure_limit_ppm
    if limit < _FLASK_PPM:
        yield Finding(
            "exposure-limit-low",
            "warning",
            f"{compound.name} has an exposure limit of {limit:.3g} ppm (eight hours' average, "
            f"Ontario); one flask boiled off outside the hood gives about {_FLASK_PPM:.0f} ppm.",
            "Have it boiled off in the hood only; its safety data sheet and local rules decide.",
            {"exposure_limit_ppm": limit, "flask_ppm": _FLASK_PPM},
        )


def _carcinogen(compound: Compound, lists: str) -> Finding:
    grave = is_grave(lists)
    advice = (
        "Take another liquid for a class where you can; its safety data sheet and local rules "
        "decide."
        if grave
        else "Read its safety data sheet; local rules decide."
    )
    where = "is on a list of carcinogens"
    if not of_the_liquid(lists):
        where = "as a liquid of the laboratory is on no list of carcinogens; as drunk, it is"
    return Finding(
        "carcinogen",
        "warning" if grave else "note",
        f"{compound.name} {where} ({lists}).",
        advice,
    )


def table_hazards(rows: Sequence[StockRow], laboratory: Laboratory) -> tuple[Finding, ...]:
    """Return what the hazards of all bottles together ask for."""
    return (*_flash_points(rows, laboratory), *_peroxide_formers(rows))


def _flash_points(rows: Sequence[StockRow], laboratory: Laboratory) -> Iterator[Finding]:
    points = [(row, row.hazards.flash_point_C) for row in rows if row.hazards is not None]
    if not points:
        return
    bath = laboratory.bath - ICE_POINT
    below = sum(flash_point < bath for _, flash_point in points)
    unknown = [row.title for row, flash_point in points if not isfinite(flash_point)]
    told = (
        f" No flash point is known here of {listed(unknown)}: read the safety data sheet."
        if unknown
        else ""
    )
    yield Finding(
        "flash-points",
        "note",
        f"{below} of {len(points)} bottles have a flash point below the bath's {bath:.0f} °C: "
        f"their vapor over the bath can catch fire.{told}",
        "No flame in the room, heat electrically, and work in the hood.",
        {"below_bath": float(below), "unknown": float(len(unknown)), "bath_C": bath},
    )


def _peroxide_formers(rows: Sequence[StockRow]) -> Iterator[Finding]:
    held = [(row, row.compound) for row in rows if row.compound is not None]
    formers = forming_peroxides({compound.smiles for _, compound in held})
    bottles = [
        row.title if row.title == compound.name else f"{row.title} ({compound.name})"
        for row, compound in held
        if compound.smiles in formers
    ]
    if not bottles:
        return
    yield Finding(
        "peroxide-formers",
        "note",
        f"Ethers that form explosive peroxides in air and light: {listed(bottles)}.",
        "Date the bottles when they are opened, have them tested before the term, and discard "
        "those that fail as local rules say; never boil one dry that was not tested.",
        {"bottles": float(len(bottles))},
    )


def forming_peroxides(smiles: set[str]) -> set[str]:
    """Return those of some structures, as SMILES, that are ethers which form peroxides."""
    from rdkit import Chem

    from identify.chemistry.structures import read_structure

    pattern = Chem.MolFromSmarts(_PEROXIDE_FORMER)
    structures = {written: read_structure(written) for written in smiles if "O" in written}
    return {
        written
        for written, structure in structures.items()
        if structure is not None and structure.mol.HasSubstructMatch(pattern)
    }
