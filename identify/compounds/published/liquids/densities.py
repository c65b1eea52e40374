"""Published densities of liquids, collection by collection, carried to 25 degrees Celsius."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any
from xml.etree import ElementTree

from chemicals import volume
from chemicals.identifiers import CAS_to_int
from chemicals.miscdata import CHEMSEP, COMMON_CHEMISTRY

from identify.compounds.published.liquids.handbook import as_printed
from identify.physics.constants import ICE_POINT

AT_20, AT_25 = 293.15, 298.15  # K
_NEAR_CRITICAL = 0.05  # of the critical temperature
_BELOW_MELTING = 2.0  # K: read further below the melting point, it is the density of a crystal
# Of single readings [kelvins]: expansion differs from what is taken by a tenth.
_FARTHEST = 50.0


@dataclass(frozen=True)
class Density:
    """A published density of a liquid.

    Parameters
    ----------
    source : str
        The collection.
    at_25 : float
        At 25 degrees Celsius [kg/m3].
    at_20 : float
        Likewise; NaN where the collection gives it at one temperature.
    u : float
        Relative standard uncertainty of the collection.
    """

    source: str
    at_25: float
    at_20: float
    u: float


@dataclass(frozen=True)
class ListedLiquid:
    """What a density of a compound is carried with.

    Parameters
    ----------
    cas : str
    molar_mass : float
        In g/mol.
    melting_point, boiling_point : float
        In K; NaN where not known.
    expansion : float
        Relative change of the density for each kelvin at 25 degrees Celsius.
    """

    cas: str
    molar_mass: float
    melting_point: float
    boiling_point: float
    expansion: float

    @property
    def is_gas(self) -> bool:
        """Whether it boils below the room: a density without temperature may be any."""
        return self.boiling_point < AT_20


_Equation = Callable[[float], float]

# Relative standard uncertainties. Of equations, as they differ from each other and from reference
# equations of state; of the handbook, by its decimals, and more where no temperature stands behind
# them: mostly 20 degrees Celsius, but 0 leaves no digits either.
_EQUATION_U = 0.0015
_PRINTED_U = {4: 0.0012, 3: 0.0015, 2: 0.004}
_NO_TEMPERATURE_U = 0.01


def published_densities(liquid: ListedLiquid, left_out: tuple[str, ...] = ()) -> list[Density]:
    """Return each collection's density of a liquid.

    Parameters
    ----------
    liquid : ListedLiquid
    left_out : tuple of str
        Collections not to be used.
    """
    found = []
    for source, equation in _equations(liquid):
        at_25, at_20 = equation(AT_25), equation(AT_20)
        if at_25 > 0.0:
            found.append(Density(source, at_25, at_20, _EQUATION_U))
    found += [*_handbook(liquid), *_molar_volume(liquid)]
    return [one for one in found if one.source not in left_out]


def _equations(liquid: ListedLiquid) -> Iterator[tuple[str, _Equation]]:
    table = volume.rho_data_VDI_PPDS_2
    if liquid.cas in table.index:
        yield "VDI PPDS", _vdi(table.loc[liquid.cas])
    table = volume.rho_data_Perry_8E_105_l
    if liquid.cas in table.index:
        row: Any = table.loc[liquid.cas]
        if row["Tmin"] <= AT_25 <= row["Tmax"]:
            terms = tuple(float(row[f"C{place}"]) for place in range(1, 5))
            yield "Perry 8E", _dippr_105(terms, liquid.molar_mass)
    if liquid.cas in _chemsep():
        terms, low, high = _chemsep()[liquid.cas]
        if low - _BELOW_MELTING <= AT_25 <= high:
            # In kmol/m3.
            yield CHEMSEP, _dippr_105((1e3 * terms[0], *terms[1:]), liquid.molar_mass)


def _vdi(row: Any) -> _Equation:
    coefficients = [float(row[letter]) for letter in "ABCD"]
    critical, density = float(row["Tc"]), float(row["rhoc"])

    def at(temperature: float) -> float:
        tau = 1.0 - temperature / critical
        if tau < _NEAR_CRITICAL:
            return math.nan
        terms = zip(coefficients, (0.35, 2 / 3, 1.0, 4 / 3), strict=True)
        return density + sum(one * tau**power for one, power in terms)

    return at


def _dippr_105(terms: tuple[float, ...], molar_mass: float) -> _Equation:
    """Return the density [kg/m3] by DIPPR's equation 105, whose first term is in mol/m3."""
    c1, c2, critical, c4 = terms

    def at(temperature: float) -> float:
        if temperature > (1.0 - _NEAR_CRITICAL) * critical:
            return math.nan
        molar = c1 / c2 ** (1.0 + (1.0 - temperature / critical) ** c4)
        return molar * molar_mass / 1e3

    return at


@lru_cache(maxsize=1)
def _chemsep() -> Mapping[str, tuple[tuple[float, ...], float, float]]:
    """Return the terms of equation 105 and their range [K], by CAS number."""
    file = resources.files("chemicals") / "Misc" / "ChemSep8.32.xml"
    found = {}
    for compound in ElementTree.fromstring(file.read_bytes()).iter("compound"):
        cas, density = compound.find("CAS"), compound.find("LiquidDensity")
        if cas is None or density is None:
            continue
        cells = {cell.tag: float(cell.attrib["value"]) for cell in density}
        if cells.get("eqno") == 105.0:
            terms = tuple(cells[letter] for letter in "ABCD")
            found[cas.attrib["value"].strip()] = terms, cells["Tmin"], cells["Tmax"]
    return found


def _handbook(liquid: ListedLiquid) -> Iterator[Density]:
    """Yield the CRC Handbook's density where it is that of a liquid."""
    run_on = _listed(_HANDBOOK, "rho").get(CAS_to_int(liquid.cas))
    if run_on is None:
        return
    printed = as_printed(run_on / 1e3, liquid.melting_point - ICE_POINT)
    is_known = math.isfinite(printed.temperature)
    temperature = (printed.temperature if is_known else 20.0) + ICE_POINT
    off = temperature - AT_25
    if (
        temperature < liquid.melting_point - _BELOW_MELTING
        or abs(off) > _FARTHEST
        or (liquid.is_gas and not is_known)
    ):
        return
    u = math.hypot(_PRINTED_U[printed.decimals], 1e-4 * off, 0.0 if is_known else _NO_TEMPERATURE_U)
    yield Density("CRC_ORG", 1e3 * printed.value / (1.0 + liquid.expansion * off), math.nan, u)


_HANDBOOK = "Physical Constants of Organic Compounds.csv"


@lru_cache(maxsize=2)
def _listed(file: str, column: str) -> Mapping[int, float]:
    """Return a column of a file of the library by CAS number, without hyphens."""
    import pandas as pd

    with resources.as_file(resources.files("chemicals") / "Misc" / file) as path:
        listed = pd.read_csv(path, sep="\t", usecols=["CAS", column]).dropna()
    numbers = [int(str(cas).replace("-", "")) for cas in listed["CAS"]]
    return dict(zip(numbers, map(float, listed[column]), strict=True))


_COMMON_CHEMISTRY_U = 0.005  # no temperature: 20 or 25 degrees Celsius, rarely another


def _molar_volume(liquid: ListedLiquid) -> Iterator[Density]:
    """Yield what follows from the molar volume that CAS Common Chemistry lists."""
    listed = _listed("common_chemistry_data.tsv", "Vml").get(CAS_to_int(liquid.cas))
    if listed is not None and not liquid.melting_point > AT_20 and not liquid.is_gas:
        density = liquid.molar_mass / listed / 1e3
        # Taken at 20 degrees Celsius.
        at_25 = density / (1.0 + liquid.expansion * (AT_20 - AT_25))
        yield Density(COMMON_CHEMISTRY, at_25, math.nan, _COMMON_CHEMISTRY_U)
