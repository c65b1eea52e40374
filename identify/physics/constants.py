"""Constants that several of the functions need."""

GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018, exact since the SI of 2019
STANDARD_PRESSURE = 101325.0  # Pa, the standard atmosphere, exact (10th CGPM, 1954)
STANDARD_GRAVITY = 9.80665  # m/s2, exact (3rd CGPM, 1901)
ICE_POINT = 273.15  # K, zero on the Celsius scale, exact

WEIGHT_DENSITY = 8000.0  # kg/m3, conventional density of balance weights, OIML D 28
