"""The slips that are known, by the reading that they spoil: one small function each.

A function takes the `Case` (an unknown's readings, and the candidates that a slip could lead to)
and yields what may have happened: a `Hypothesis`, with the density of the readings for each of
those candidates had it happened; or, for the weighings, what they would have been, a `Rewritten`.
A new slip is a function in the file of its kind, and an entry here.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from identify.matching.slips.catalog.boiling_point import (
    boiling_point_digits,
    boiling_point_unit,
    superheated,
    thread_uncorrected,
)
from identify.matching.slips.catalog.bottles import boiling_point_of_another, composition_of_another
from identify.matching.slips.catalog.composition import (
    percent_as_fraction,
    percent_by_difference,
    percentage_digits,
    percentages_exchanged,
    wet_liquid,
)
from identify.matching.slips.catalog.pen import (
    digits_of_a_mass,
    digits_of_the_bath,
    digits_of_the_pressure,
    digits_of_the_volume,
    masses_exchanged,
    molar_mass_digits,
)
from identify.matching.slips.catalog.pressure import (
    gauge_pressure,
    pressure_at_sea,
    pressure_at_sea_of_unknown_height,
)
from identify.matching.slips.catalog.technique import (
    lid_left_off,
    mass_added,
    mass_copied,
    mass_in_excess,
    mass_missing,
    one_trial_off,
    volume_nominal,
)
from identify.matching.slips.catalog.units import masses_in_milligrams, units_mistaken
from identify.matching.slips.mechanism.rewriting import SlipFunction

SLIPS: Mapping[str, tuple[SlipFunction, ...]] = MappingProxyType(
    {
        "weighings": (
            digits_of_a_mass,
            masses_in_milligrams,
            masses_exchanged,
            gauge_pressure,
            pressure_at_sea,
            digits_of_the_pressure,
            digits_of_the_volume,
            digits_of_the_bath,
            units_mistaken,
            mass_in_excess,
            mass_missing,
            mass_added,
            lid_left_off,
            mass_copied,
            one_trial_off,
            volume_nominal,
            pressure_at_sea_of_unknown_height,
        ),
        "molar_mass": (molar_mass_digits,),
        "boiling_point": (
            boiling_point_unit,
            boiling_point_digits,
            thread_uncorrected,
            superheated,
            boiling_point_of_another,
        ),
        "composition": (
            percent_as_fraction,
            percentage_digits,
            percentages_exchanged,
            percent_by_difference,
            wet_liquid,
            composition_of_another,
        ),
    }
)
"""By what was read; each is looked for where that was."""
