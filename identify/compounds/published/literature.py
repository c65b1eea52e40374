"""Published constants as the `chemicals` library ships them, each with the collection's name."""

from __future__ import annotations

import csv
import gzip
import math
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib import resources
from typing import Any

import numpy as np

from identify.compounds.carcinogens import AS_DRUNK
from identify.compounds.listed import Listing
from identify.compounds.published.consensus import WITNESSES
from identify.physics.arrays import Array

try:
    import chemicals
    from chemicals import safety, vapor_pressure, volume
    from chemicals.identifiers import CAS_to_int, int_to_CAS, pubchem_db
except ImportError:
    raise ImportError(
        "the built-in table is made with the library chemicals: "
        "pip install 'identify-unknown[build]'"
    ) from None

# Collections fitted to, or read off, the reference equations of state.
REFERENCE_EQUATIONS = ("HEOS",)
# Collections whose terms exclude commercial use: CC BY-NC 4.0.
NON_COMMERCIAL = ("COMMON_CHEMISTRY",)
# Estimates that the library lists among its methods.
_ESTIMATES = ("JOBACK", "WILSON_JASPERSON", "ACENTRIC_DEFINITION")


@dataclass(frozen=True)
class Constant:
    """A published value in SI units, and the collection that it comes from."""

    value: float
    source: str


@dataclass(frozen=True)
class Identifier:
    """A compound as the library's collection of identifiers lists it."""

    cas: str
    name: str
    systematic_name: str
    smiles: str

    @classmethod
    def of(cls, entry: Any) -> Identifier:
        """Take what an entry of the collection says, empty text for what it does not."""
        return cls(entry.CASs, entry.common_name or "", entry.iupac_name or "", entry.smiles or "")


def identifiers() -> Iterator[Identifier]:
    """Yield every identifier with a SMILES and no charge, by rising CAS number."""
    pubchem_db.finish_loading()
    for _, entry in sorted(pubchem_db.CAS_index.items()):
        if entry.smiles and not entry.charge:
            yield Identifier.of(entry)


def published_boiling_points(cas: str, left_out: tuple[str, ...] = ()) -> dict[str, float]:
    """Return each collection's normal boiling point [K], estimates not among them.

    Where a collection of boiling points lists the compound, published vapor-pressure equations
    count too, with the temperature at which they reach one atmosphere.
    """
    found = {}
    for method in chemicals.Tb_methods(cas):
        if method in WITNESSES and method not in left_out:
            found[method] = float(chemicals.Tb(cas, method=method))
    if found:
        for fit in vapor_pressure_fits(cas):
            boiling_point = _reaches_an_atmosphere(fit)
            if boiling_point is not None:
                found.setdefault(fit.collection, boiling_point)
    return found


_LOOKUPS: dict[str, tuple[Callable[..., Any], Callable[..., Any]]] = {
    "critical_temperature": (chemicals.Tc_methods, chemicals.Tc),
    "critical_pressure": (chemicals.Pc_methods, chemicals.Pc),
    "acentric_factor": (chemicals.omega_methods, chemicals.omega),
}


def published_constants(
    cas: str, boiling_point: float, left_out: tuple[str, ...] = ()
) -> dict[str, Constant]:
    """Return the first published value of each constant, in the library's order of preference.

    Parameters
    ----------
    cas : str
    boiling_point : float
        In K; for the melting points that cannot be this compound's.
    left_out : tuple of str
        Collections not to be used.
    """
    sought = {
        "melting_point": _melting_point(cas, boiling_point, left_out),
        **{name: _first_listed(cas, name, left_out) for name in _LOOKUPS},
        "log_p": next(
            (
                Constant(float(chemicals.logP(cas, method=method)), method)
                for method in chemicals.logP_methods(cas)
            ),
            None,
        ),
        "exposure_limit_ppm": _exposure_limit(cas),
        "dipole_moment": _dipole_moment(cas),
    }
    return {name: constant for name, constant in sought.items() if constant is not None}


def _first_listed(cas: str, name: str, left_out: tuple[str, ...]) -> Constant | None:
    methods, look_up = _LOOKUPS[name]
    for method in methods(cas):
        if method in _ESTIMATES or method in left_out:
            continue
        value = look_up(cas, method=method)
        if value is not None and value > -1.0:
            return Constant(float(value), method)
    return None


def flash_points(cas: str) -> dict[str, float]:
    """Return the flash point [K] of each collection that has one, none that a model predicts.

    Of Serat's 870 values, 380 have twelve decimals: what the authors' model makes of them, up to
    40 K below what is measured of small alcohols and 20 K above what is of an acetal.
    """
    found = {method: safety.T_flash(cas, method=method) for method in safety.T_flash_methods(cas)}
    return {
        method: float(value)
        for method, value in found.items()
        # None is written to more than five decimals, in Fahrenheit made kelvins.
        if value and abs(value - round(value, 5)) < 1e-9
    }


def _exposure_limit(cas: str) -> Constant | None:
    """Return the limit over 8 hours [ppm], None where it is not published, or by mass."""
    limits = (safety.TWA(cas, method=method) for method in safety.TWA_methods(cas))
    limit = next(filter(None, limits), None)
    return Constant(float(limit[0]), "ONTARIO") if limit and limit[1] == "ppm" else None


def carcinogen_lists(cas: str) -> str:
    """Return what the carcinogen lists say and of which use, or empty text where none lists it."""
    listed = safety.Carcinogen(cas)
    scope = {_IARC: f", {AS_DRUNK}"} if cas in _LISTED_AS_DRUNK else {}
    return "; ".join(
        f"{name}: {verdict}{scope.get(name, '')}"
        for name, verdict in sorted(listed.items())
        if not str(verdict).startswith(("Unlisted", "Not classifiable"))
    )


_IARC = "International Agency for Research on Cancer"
# Ethanol and acetaldehyde, see `AS_DRUNK`: the library drops what its list is about.
_LISTED_AS_DRUNK = ("64-17-5", "75-07-0")


# Open collections list melting points of salts and derivatives as if they were the compound's.
_CAREFUL = ("CRC_ORG", "CRC_INORG", "WEBBOOK")
_USUAL_MELTING = 0.9  # of the boiling point [K]; round molecules may exceed it, and a few sublime
_ROOM, _BOILS_IN_A_BATH = 298.15, 393.15  # K
_SUBLIMES = 15.0  # K above the boiling point at most: hexachloroethane, dodecafluorocyclohexane


def _melting_point(cas: str, boiling_point: float, left_out: tuple[str, ...]) -> Constant | None:
    listed = [
        Constant(float(chemicals.Tm(cas, method=method)), method)
        for method in chemicals.Tm_methods(cas)
        if method not in (*_ESTIMATES, *left_out)
    ]
    careful = [
        found
        for found in listed
        if found.source in _CAREFUL and found.value < boiling_point + _SUBLIMES
    ]
    # What boils in a bath is a liquid in the room but for a few.
    highest = _USUAL_MELTING * boiling_point
    if boiling_point < _BOILS_IN_A_BATH:
        highest = min(highest, _ROOM)
    usual = [found for found in listed if found.value < highest]
    return next(iter((*usual, *careful)), None)


def virial_coefficients(cas: str, temperatures: Array) -> Array | None:
    """Return the CRC Handbook's second virial coefficients [m3/mol], None where it has none.

    Parameters
    ----------
    cas : str
    temperatures : array
        In K.

    References
    ----------
    Virial Coefficients of Selected Gases; CRC Handbook of Chemistry and Physics, 95th ed.:
    ``B = sum of a_i (298.15 K / T - 1)^(i - 1)``, fitted to selected measurements.
    """
    table = volume.rho_data_CRC_virial
    if cas not in table.index:
        return None
    row: Any = table.loc[cas]
    reduced = 298.15 / temperatures - 1.0
    return np.asarray(1e-6 * sum(row[f"a{order + 1}"] * reduced**order for order in range(5)))


# Measured dipole moments; the library also tabulates computed ones.
_DIPOLES = ("CCCBDB", "MULLER", "POLING")


def _dipole_moment(cas: str) -> Constant | None:
    """Return the published dipole moment [debye]."""
    for method in chemicals.dipole_moment_methods(cas):
        if method in _DIPOLES:
            value = chemicals.dipole_moment(cas, method=method)
            if value is not None:
                return Constant(float(value), method)
    return None


def group_contribution_boiling_point(cas: str) -> float:
    """Return Joback's estimate as the library tabulates it [K], NaN where it has none."""
    if "JOBACK" not in chemicals.Tb_methods(cas):
        return math.nan
    return float(chemicals.Tb(cas, method="JOBACK"))


@dataclass(frozen=True)
class VaporPressureFit:
    """A published vapor-pressure equation: pressure [Pa] by temperature [K], and its range."""

    source: str
    collection: str
    low: float
    high: float
    pressure: Callable[[float], float]


def vapor_pressure_fits(cas: str) -> Iterator[VaporPressureFit]:
    """Yield the published vapor-pressure equations of a compound, the best-founded first."""
    for source, collection, table, read in _EQUATIONS:
        if cas in table.index:
            row = table.loc[cas]
            if getattr(row, "ndim", 1) > 1:
                row = row.iloc[0]
            fit = VaporPressureFit(source, collection, *read(row))
            if fit.high - fit.low > _NARROWEST:
                yield fit


_Range = tuple[float, float, Callable[[float], float]]


def _wagner_original(row: Any) -> _Range:
    a, b, c, d, pc, tc, low = (row[key] for key in ("A", "B", "C", "D", "Pc", "Tc", "Tmin"))
    return low, tc, lambda t: chemicals.Wagner_original(t, tc, pc, a, b, c, d)


def _wagner(row: Any, lowest: str = "Tmin") -> _Range:
    a, b, c, d, pc, tc, low = (row[key] for key in ("A", "B", "C", "D", "Pc", "Tc", lowest))
    return low, tc, lambda t: chemicals.Wagner(t, tc, pc, a, b, c, d)


def _wagner_vdi(row: Any) -> _Range:
    return _wagner(row, lowest="Tm")


def _perry(row: Any) -> _Range:
    c1, c2, c3, c4, c5 = (row[f"C{i}"] for i in range(1, 6))
    return row["Tmin"], row["Tmax"], lambda t: chemicals.EQ101(t, c1, c2, c3, c4, c5)


def _antoine(row: Any) -> _Range:
    a, b, c = row["A"], row["B"], row["C"]
    return row["Tmin"], row["Tmax"], lambda t: chemicals.Antoine(t, a, b, c)


def _antoine_natural(row: Any) -> _Range:
    # This collection's coefficients are those of the natural logarithm.
    a, b, c = row["A"], row["B"], row["C"]
    return row["Tmin"], row["Tmax"], lambda t: chemicals.Antoine(t, a, b, c, base=math.e)


# Source as the table names it, collection as a witness of the boiling point, table, and reader.
_EQUATIONS: tuple[tuple[str, str, Any, Callable[[Any], _Range]], ...] = (
    (
        "Wagner (McGarry 1983)",
        "VP_MCGARRY",
        vapor_pressure.Psat_data_WagnerMcGarry,
        _wagner_original,
    ),
    ("Wagner (Poling 2001)", "VP_POLING", vapor_pressure.Psat_data_WagnerPoling, _wagner),
    ("Perry 8E table 2-8", "VP_PERRY", vapor_pressure.Psat_data_Perrys2_8, _perry),
    ("VDI PPDS", "VP_VDI", vapor_pressure.Psat_data_VDI_PPDS_3, _wagner_vdi),
    ("Antoine (Poling 2001)", "VP_POLING", vapor_pressure.Psat_data_AntoinePoling, _antoine),
    (
        "Antoine (Landolt-Boernstein)",
        "VP_LANDOLT",
        vapor_pressure.Psat_data_Landolt_Antoine,
        _antoine_natural,
    ),
)
_NARROWEST = 10.0  # K: some "ranges" are the boiling point alone, with a slope for all compounds
_BEYOND_RANGE = 2.0  # K that an equation may be carried beyond its range


def _reaches_an_atmosphere(fit: VaporPressureFit) -> float | None:
    """Return where an equation reaches 101325 Pa [K], None where that is not in its range."""
    from scipy.optimize import brentq

    def excess(temperature: float) -> float:
        return float(fit.pressure(temperature)) - 101325.0

    # Wagner's form ends at the critical point; Antoine's is often fitted up to the boiling point.
    high = fit.high + _BEYOND_RANGE if fit.source.startswith("Antoine") else 0.999 * fit.high
    low = max(fit.low - _BEYOND_RANGE, 100.0)
    try:
        if not excess(low) < 0.0 < excess(high):
            return None
        return float(brentq(excess, low, high, xtol=1e-6))
    except (ArithmeticError, ValueError):  # an equation that fails outside its range
        return None


@lru_cache(maxsize=1)
def _commerce_inventories() -> tuple[frozenset[int], ...]:
    """Return the CAS numbers, as integers without hyphens, of each regulatory inventory."""
    folder = resources.files("chemicals") / "Law"
    names = (
        "Canada Feb 11 2015 - DSL.csv.gz",
        "EINECS 2015-03.csv.gz",
        "SPIN Inventory 2015-03.csv.gz",
        "TSCA Inventory 2016-01.csv.gz",
        "EPA Chemical Data Reporting - 2012.csv.gz",
        "HPV 2015 March 3.csv",
    )
    inventories = []
    for name in names:
        content = (folder / name).read_bytes()
        text = (gzip.decompress(content) if name.endswith(".gz") else content).decode()
        first = (row[0] for row in csv.reader(text.splitlines(), delimiter="\t") if row)
        inventories.append(frozenset(int(cell) for cell in first if cell.isdigit()))
    return tuple(inventories)


def inventories_listing(cas: str) -> int:
    """Return how many of the six regulatory inventories list a CAS number."""
    number = CAS_to_int(cas)
    return sum(number in inventory for inventory in _commerce_inventories())


def listings() -> dict[int, Listing]:
    """Return what the lists say of every compound on one of them, by CAS number without hyphens."""
    inventories = Counter(number for each in _commerce_inventories() for number in each)
    safety.T_flash_methods(_ANY), safety.TWA_methods(_ANY), safety.Carcinogen(_ANY)  # loads them
    tables = [*safety.Tflash_sources.values(), safety.IARC_data, safety.NTP_data]
    named = {
        cas if isinstance(cas, str) else int_to_CAS(cas)
        for keys in (*(table.index for table in tables), safety.Ontario_exposure_limits_dict)
        for cas in keys
        if not isinstance(cas, str) or _CAS.fullmatch(cas)  # a list has remnants of a remark
    }
    listed = {CAS_to_int(cas): _hazards(cas) for cas in named}
    numbers = {*inventories, *listed}
    every = {
        number: replace(listed.get(number, Listing()), inventories=inventories[number])
        for number in numbers
    }
    return {number: one for number, one in every.items() if one != Listing()}


_ANY = "64-17-5"
_CAS = re.compile(r"\d+-\d\d-\d")


def _hazards(cas: str) -> Listing:
    limit = _exposure_limit(cas)
    return Listing(
        carcinogen=carcinogen_lists(cas),
        exposure_limit_ppm=math.nan if limit is None else limit.value,
        flash_points=flash_points(cas),
    )
