"""Constants that several of the functions need."""

from collections.abc import Mapping
from types import MappingProxyType

GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018, exact since the SI of 2019
STANDARD_PRESSURE = 101325.0  # Pa, the standard atmosphere, exact (10th CGPM, 1954)
ICE_POINT = 273.15  # K, zero on the Celsius scale, exact

# With 400 ppm of carbon dioxide: Picard et al., Metrologia 45 (2008) 149, CIPM-2007.
DRY_AIR_MOLAR_MASS = 28.96546e-3  # kg/mol
WEIGHT_DENSITY = 8000.0  # kg/m3, conventional density of balance weights, OIML D 28

# Conventional atomic weights [g/mol]; F, P and I have one stable isotope and their standard value:
# Prohaska et al., Standard atomic weights of the elements 2021, Pure Appl. Chem. 94 (2022) 573.
ATOMIC_WEIGHTS: Mapping[str, float] = MappingProxyType(
    {
        "C": 12.011,
        "H": 1.008,
        "N": 14.007,
        "O": 15.999,
        "S": 32.06,
        "P": 30.973761998,
        "F": 18.998403162,
        "Cl": 35.45,
        "Br": 79.904,
        "I": 126.90447,
        "Si": 28.085,
        "B": 10.81,
    }
)
# Elements that a composition may name, in the order of every table and message.
ELEMENTS = tuple(ATOMIC_WEIGHTS)
