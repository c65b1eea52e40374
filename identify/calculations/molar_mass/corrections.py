"""What the ideal-gas shortcut leaves out, one correction after the other."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from identify.budget.model import GRAMS, Model
from identify.physics.arrays import Array
from identify.physics.constants import WEIGHT_DENSITY
from identify.physics.vapor import implied_molar_mass


@dataclass(frozen=True)
class ShortcutCorrection:
    """One thing that the shortcut leaves out, and what it changes the molar mass by [g/mol]."""

    name: str
    change: float


def corrected(
    model: Model, as_read: Array, at_zero: Array
) -> tuple[Array, tuple[tuple[str, Array], ...]]:
    """Return the shortcut's molar mass, and that after each further correction.

    Parameters
    ----------
    model : Model
    as_read, at_zero : array, shape (k,)
        Pressure as the barometer shows it, and corrected for the mercury's temperature but not
        for gravity [Pa].

    Returns
    -------
    array, shape (k,) [g/mol]
        The shortcut.
    tuple of (str, array of shape (k, n))
        Name of the correction, and the molar mass with it and all before it [g/mol].
    """
    read, liquids = model.weighing, model.liquids
    dry = replace(read, humidity=np.zeros_like(read.humidity))
    ideal = liquids.without_nonideality()
    dropless = replace(ideal, density=np.full_like(ideal.density, np.inf))
    filled = read.volume_at(read.bath)

    def shortcut(pressure: Array, volume: Array) -> Array:
        return GRAMS * replace(read, pressure=pressure, volume=volume).ideal_molar_mass()

    expanded = shortcut(read.pressure, filled)
    single = liquids.without_dimers()
    stages: tuple[tuple[str, Array], ...] = (
        ("barometer: temperature of the mercury", shortcut(at_zero, read.volume)),
        ("barometer: local gravity", shortcut(read.pressure, read.volume)),
        ("expansion of the glass", expanded),
        ("buoyancy of the weights", expanded * (1.0 - dry.air_density / WEIGHT_DENSITY)),
        ("air shut out by the vapor left", GRAMS * implied_molar_mass(dry, dropless)),
        ("air displaced by the liquid", GRAMS * implied_molar_mass(dry, ideal)),
        ("moisture of the air", GRAMS * implied_molar_mass(read, ideal)),
        ("the vapor is not an ideal gas", GRAMS * implied_molar_mass(read, single)),
    )
    if liquids.liquid.dimerizing.size:
        stages += (("dimers in the vapor", model.molar_masses()),)
    shape = (read.trials, len(liquids.weight))
    return shortcut(as_read, read.volume), tuple(
        (name, np.broadcast_to(value[:, np.newaxis] if value.ndim == 1 else value, shape))
        for name, value in stages
    )
