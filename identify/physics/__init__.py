"""Pure functions in SI units, arrays in and arrays out: vapor, boiling, air, water, combustion.

Nothing here knows a compound or a file: whoever calls brings the constants.
"""
