"""Refractive indices and densities against a handbook's and against CoolProp's equations of state.

``pytest -s`` prints the worst of each.
"""

from __future__ import annotations

import numpy as np
import pytest
from chemicals import refractivity
from CoolProp.CoolProp import PropsSI
from liquid_volumes import Known, by_formula, by_refraction, fit
from weighings import ATMOSPHERE, ZERO_CELSIUS, reference_fluids, why_absent

from identify.compounds.table import ESTIMATED, NUMBER_COLUMNS, TEXT_COLUMNS, CandidateTable
from identify.observables.density import DENSITY
from identify.observables.liquid_constant import LiquidConstants
from identify.observables.refractive_index import REFRACTIVE_INDEX
from identify.physics import liquid

# CAS number, refractive index at the sodium D line and density [g/mL], both at 20 degrees Celsius:
# from memory of the CRC Handbook of Chemistry and Physics (Physical Constants of Organic
# Compounds), densities that it lists at 25 degrees carried to 20 from memory as well. The table's
# indices come from there too: these show only that they are read and carried to 20 degrees aright.
HANDBOOK = [
    ("67-64-1", 1.3588, 0.7900),  # acetone
    ("75-05-8", 1.3442, 0.7822),  # acetonitrile
    ("71-43-2", 1.5011, 0.8790),  # benzene
    ("71-36-3", 1.3988, 0.8095),  # 1-butanol
    ("56-23-5", 1.4601, 1.5940),  # tetrachloromethane
    ("67-66-3", 1.4459, 1.4891),  # chloroform
    ("110-82-7", 1.4266, 0.7786),  # cyclohexane
    ("60-29-7", 1.3526, 0.7138),  # diethyl ether
    ("109-99-9", 1.4072, 0.8875),  # tetrahydrofuran
    ("64-17-5", 1.3611, 0.7893),  # ethanol
    ("67-56-1", 1.3288, 0.7914),  # methanol
    ("141-78-6", 1.3723, 0.9003),  # ethyl acetate
    ("142-82-5", 1.3878, 0.6837),  # heptane
    ("110-54-3", 1.3749, 0.6593),  # hexane
    ("109-66-0", 1.3575, 0.6262),  # pentane
    ("111-65-9", 1.3974, 0.7026),  # octane
    ("67-63-0", 1.3776, 0.7855),  # 2-propanol
    ("71-23-8", 1.3850, 0.8038),  # 1-propanol
    ("108-88-3", 1.4961, 0.8668),  # toluene
    ("75-09-2", 1.4242, 1.3256),  # dichloromethane
    ("107-06-2", 1.4448, 1.2531),  # 1,2-dichloroethane
    ("78-93-3", 1.3788, 0.8049),  # 2-butanone
    ("123-91-1", 1.4224, 1.0337),  # 1,4-dioxane
    ("64-19-7", 1.3720, 1.0492),  # acetic acid
    ("110-86-1", 1.5095, 0.9825),  # pyridine
    ("121-44-8", 1.4010, 0.7276),  # triethylamine
    ("107-83-5", 1.3715, 0.6532),  # 2-methylpentane
    ("96-14-0", 1.3765, 0.6643),  # 3-methylpentane
    ("75-83-2", 1.3688, 0.6492),  # 2,2-dimethylbutane
    ("79-29-8", 1.3750, 0.6616),  # 2,3-dimethylbutane
    ("108-87-2", 1.4231, 0.7694),  # methylcyclohexane
    ("95-47-6", 1.5055, 0.8802),  # o-xylene
    ("108-38-3", 1.4972, 0.8642),  # m-xylene
    ("106-42-3", 1.4958, 0.8611),  # p-xylene
    ("74-96-4", 1.4239, 1.4604),  # bromoethane
    ("75-03-6", 1.5133, 1.9358),  # iodoethane
    ("106-94-5", 1.4343, 1.3537),  # 1-bromopropane
    ("109-65-9", 1.4401, 1.2758),  # 1-bromobutane
    ("540-54-5", 1.3879, 0.8899),  # 1-chloropropane
    ("75-29-6", 1.3777, 0.8617),  # 2-chloropropane
    ("109-69-3", 1.4023, 0.8862),  # 1-chlorobutane
    ("127-18-4", 1.5059, 1.6227),  # tetrachloroethene
    ("79-01-6", 1.4773, 1.4642),  # trichloroethene
    ("75-15-0", 1.6277, 1.2632),  # carbon disulfide
    ("79-20-9", 1.3614, 0.9342),  # methyl acetate
    ("109-60-4", 1.3842, 0.8878),  # propyl acetate
    ("142-96-1", 1.3992, 0.7684),  # dibutyl ether
    ("108-20-3", 1.3679, 0.7241),  # diisopropyl ether
    ("1634-04-4", 1.3690, 0.7405),  # methyl tert-butyl ether
    ("107-10-8", 1.3870, 0.7173),  # propylamine
    ("98-95-3", 1.5562, 1.2037),  # nitrobenzene
    ("75-52-5", 1.3817, 1.1371),  # nitromethane
]
# CAS number, refractive index at 20 and at 25 degrees Celsius, measured to 1e-5 at the National
# Bureau of Standards: from memory of A. F. Forziati, J. Res. Natl. Bur. Stand. 44 (1950) 373.
MEASURED = [
    ("110-54-3", 1.37486, 1.37226),  # hexane
    ("142-82-5", 1.38764, 1.38511),  # heptane
    ("107-83-5", 1.37145, 1.36873),  # 2-methylpentane
    ("96-14-0", 1.37652, 1.37386),  # 3-methylpentane
    ("540-84-1", 1.39145, 1.38898),  # 2,2,4-trimethylpentane
    ("110-82-7", 1.42623, 1.42354),  # cyclohexane
    ("108-87-2", 1.42312, 1.42058),  # methylcyclohexane
    ("71-43-2", 1.50112, 1.49792),  # benzene
    ("108-88-3", 1.49693, 1.49413),  # toluene
    ("95-47-6", 1.50545, 1.50295),  # o-xylene
    ("106-42-3", 1.49582, 1.49325),  # p-xylene
]
TEMPERATURES = [15.0, 20.0, 25.0, 30.0]  # degrees Celsius


@pytest.fixture(scope="module")
def rows(table: CandidateTable) -> np.ndarray:
    return np.array([table.find(cas)[0] for cas, _, _ in HANDBOOK])


def is_published(table: CandidateTable) -> np.ndarray:
    sources = table.text("liquid_density_source")
    return np.array([source not in ("", ESTIMATED) for source in sources])


def worst(table: CandidateTable, rows: np.ndarray, off: np.ndarray, shown: str) -> str:
    order = np.argsort(-np.abs(np.nan_to_num(off)))[:6]
    return ", ".join(f"{table.text('name')[rows[i]]} {off[i]:{shown}}" for i in order)


def test_refractive_indices_are_the_handbooks(table, rows):
    value, uncertainty = LiquidConstants(table).predicted(REFRACTIVE_INDEX)
    off = value[rows] - np.array([index for _, index, _ in HANDBOOK])
    known = np.isfinite(off)
    print(f"\nrefractive index, {known.sum()} of {len(rows)} known: median off ", end="")
    print(f"{np.median(np.abs(off[known])):.5f}; worst {worst(table, rows, off, '+.4f')}")
    assert known.mean() > 0.8
    assert np.median(np.abs(off[known])) < 0.0003
    assert not {HANDBOOK[place][0] for place in np.flatnonzero(np.abs(off) > 0.0018)}
    assert (np.abs(off) <= 2.0 * uncertainty[rows])[known].mean() > 0.9


@pytest.mark.parametrize(("temperature", "column"), [(293.15, 1), (298.15, 2)])
def test_refractive_indices_are_the_measured_ones(table, temperature, column):
    value, uncertainty = LiquidConstants(table).predicted(REFRACTIVE_INDEX, temperature)
    places = np.array([table.find(one[0])[0] for one in MEASURED])
    off = value[places] - np.array([one[column] for one in MEASURED])
    shown = worst(table, places, off, "+.4f")
    print(f"\nat {temperature} K: median off {np.median(np.abs(off)):.5f}; worst {shown}")
    assert np.median(np.abs(off)) < 0.0006
    assert (np.abs(off) <= 2.0 * uncertainty[places]).all()


def test_densities_are_the_handbooks(table, rows):
    value, uncertainty = LiquidConstants(table).predicted(DENSITY)
    off = value[rows] / np.array([1e3 * density for _, _, density in HANDBOOK]) - 1.0
    u = uncertainty[rows] / value[rows]
    assert is_published(table)[rows].all()
    print(f"\ndensity: median off {np.median(np.abs(off)):.2%}; ", end="")
    print(f"worst {worst(table, rows, off, '+.2%')}")
    assert np.median(np.abs(off)) < 0.001
    assert np.abs(off).max() < 0.006
    assert (np.abs(off) <= 2.0 * u).mean() > 0.9


def test_densities_are_the_equations_of_state_s(table):
    constants = LiquidConstants(table)
    found: dict[tuple[str, bool], list[float]] = {}
    within = []
    for fluid in reference_fluids():
        if why_absent(fluid, table):
            continue
        row = table.find(fluid.cas)[0]
        published = bool(is_published(table)[row])
        for temperature in TEMPERATURES:
            kelvin = temperature + ZERO_CELSIUS
            # Reads of a liquid: it neither boils nor freezes there.
            if kelvin > fluid.boiling_point() or kelvin < PropsSI("Tmin", fluid.name):
                continue
            true = PropsSI("D", "T", kelvin, "P", ATMOSPHERE, fluid.name)
            value, uncertainty = constants.predicted(DENSITY, kelvin)
            found.setdefault((fluid.name, published), []).append(value[row] / true - 1.0)
            within.append(abs(value[row] - true) <= 2.0 * uncertainty[row])
    slopes = [np.ptp(off) for off in found.values() if len(off) == len(TEMPERATURES)]
    for kind in (True, False):
        off = {name: max(o, key=abs) for (name, p), o in found.items() if p is kind}
        values = np.abs(list(off.values()))
        order = sorted(off, key=lambda name: -abs(off[name]))[:6]
        print(
            f"\n{len(off)} {'published' if kind else 'estimated'}: median {np.median(values):.2%}"
        )
        print("worst " + ", ".join(f"{name} {off[name]:+.2%}" for name in order), end="")
        assert np.median(values) < (0.003 if kind else 0.03)
        assert values.max() < (0.02 if kind else 0.15)
    print(f"\nbetween 15 and 30 degrees the error changes by {max(slopes):.2%} at most")
    assert max(slopes) < 0.01
    assert np.mean(within) > 0.9


def test_published_densities_are_foretold_as_well_as_is_said(table):
    numbers = {column: table.number(column) for column in NUMBER_COLUMNS}
    for column in ("liquid_density_20C", "liquid_density_25C", "liquid_density_u"):
        numbers[column] = np.full(len(table), np.nan)
    blind = CandidateTable({column: table.text(column) for column in TEXT_COLUMNS}, numbers)
    value, uncertainty = LiquidConstants(blind).predicted(DENSITY, 298.15)
    known = Known.of(table, table.number("critical_temperature_K")).rows
    known = known[is_published(table)[known]]
    off = np.log(value[known] / table.number("liquid_density_25C")[known])
    u = uncertainty[known] / value[known]
    print(f"\n{len(known)} estimates: two in three within {np.quantile(np.abs(off), 0.683):.1%}")
    print("shares within 1, 2 and 3 standard uncertainties:", end=" ")
    print([f"{(np.abs(off) <= k * u).mean():.1%}" for k in (1, 2, 3)])
    # The errors have longer tails than a normal distribution: nearer than said in the middle.
    assert 0.65 < (np.abs(off) <= u).mean() < 0.85
    assert (np.abs(off) <= 3.0 * u).mean() > 0.96


def test_the_increments_are_those_of_the_fit(table):
    known = Known.of(table, table.number("critical_temperature_K"))
    indexed = known.rows[np.isfinite(known.lorentz[known.rows])]
    for form, rows, increments in (
        (by_formula, known.rows, liquid.VOLUME),
        (by_refraction, indexed, liquid.REFRACTION),
    ):
        fitted = fit(form, known, rows)
        assert fitted == pytest.approx([*increments.atoms, increments.further], abs=0.02)


def test_refractive_indices_are_carried_to_20_degrees(table):
    checked = 0
    columns = table.text("cas"), table.text("refractive_index_source")
    for cas, source, index in zip(*columns, table.number("refractive_index"), strict=True):
        listed, temperature = refractivity.RI(cas, method="CRC") if cas else (None, None)
        if listed is None or temperature is None or source != "CRC":
            continue
        assert index == pytest.approx(listed + 4.5e-4 * (temperature - 293.15), abs=2e-6), cas
        checked += 1
    assert checked > 3000
