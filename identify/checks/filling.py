"""Whether what was poured in could fill the flask with vapor, of any liquid that is likely."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from identify.bench.trials import BenchTrial
from identify.checks.readings import about_trials
from identify.notebook.findings import Finding
from identify.notebook.usual import USUAL_FILLS
from identify.physics.arrays import Array
from identify.physics.filling import vapor_mass
from identify.physics.vapor import Liquid, Weighing

# A dropper or a pipet is read so well, relative; common practice.
_POURED_WITHIN = 0.1
# Of the liquids that may be in the bottle, the one that takes least counts.
MIN_LIKELY = 0.05
_ML = 1e6  # per m3


def liquid_too_little(
    trials: Sequence[BenchTrial],
    weighing: Weighing | None,
    names: Sequence[str],
    molar_mass: Array,
    liquid: Liquid,
) -> Iterator[Finding]:
    """Yield the trials whose liquid could not have filled the flask, whatever it probably is.

    Parameters
    ----------
    trials : sequence of BenchTrial
        Those of ``weighing``, in its order.
    weighing : Weighing or None
    names : sequence of str, length n
        Of the likely liquids.
    molar_mass : array, shape (n,)
        In kg/mol.
    liquid : Liquid
        Of n liquids.
    """
    if weighing is None or not any(trial.written.liquid for trial in trials):
        return
    least = _least(weighing, molar_mass, liquid)
    short = []
    for place, (trial, needed) in enumerate(zip(trials, least.min(axis=1).tolist(), strict=True)):
        poured = trial.written.liquid
        if poured is not None and trial.is_in_flask:
            share = poured.to("mL").value / needed
            if share < 1.0 - _POURED_WITHIN:
                short.append((share, place, trial.number))
    if not short:
        return
    _, worst, _ = min(short)
    numbers = sorted(number for *_, number in short)
    needed, name = float(least[worst].min()), names[int(least[worst].argmin())]
    poured = trials[worst].written.liquid
    assert poured is not None
    flask = _ML * float(weighing.volume[worst])
    yield Finding(
        "liquid-too-little",
        "warning",
        about_trials(
            numbers if len(trials) > 1 else [],
            f"{poured} of liquid cannot fill the flask: it takes {needed:.2f} mL of {name} for "
            f"{flask:.0f} mL of vapor.",
        ),
        f"Pour in about {USUAL_FILLS * needed:.1f} mL, {USUAL_FILLS:g} times that, to drive out "
        "the air. If the number is right, air was left in the flask, and the molar mass means "
        "nothing.",
        {"poured_mL": poured.to("mL").value, "least_mL": needed},
    )


def _least(weighing: Weighing, molar_mass: Array, liquid: Liquid) -> Array:
    """Return how much of each liquid fills the flask of each trial, shape (k, n) [mL]."""
    bath, pressure, volume = (
        np.atleast_1d(one)[:, np.newaxis]
        for one in (weighing.bath, weighing.pressure, weighing.volume)
    )
    return np.asarray(_ML * vapor_mass(molar_mass, bath, pressure, volume, liquid) / liquid.density)
