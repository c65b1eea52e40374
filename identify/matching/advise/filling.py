"""Whether what was poured in could fill the flask with vapor."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from identify.checks.readings import about_trials
from identify.matching.posterior import Posterior
from identify.notebook.findings import Finding
from identify.notebook.usual import USUAL_FILLS
from identify.physics.arrays import Array
from identify.physics.constants import ICE_POINT
from identify.physics.filling import vapor_mass

# A dropper or a pipet is read so well, relative; common practice.
_POURED_WITHIN = 0.1
# Of the candidates that may be in the bottle, the one that takes least counts.
_MIN_PROBABILITY = 0.05
_ML, _AT_20_C = 1e6, ICE_POINT + 20.0


def liquid_too_little(posterior: Posterior, rows: NDArray[np.int64]) -> Iterator[Finding]:
    """Yield the trials whose liquid could not have filled the flask, whatever it probably is.

    Parameters
    ----------
    posterior : Posterior
    rows : array of int
        The table's rows that are shown, the most probable first.
    """
    bench = posterior.evidence.bench
    if bench.weighing is None or not any(one.written.liquid for one in bench.trials):
        return
    likely = rows[posterior.probability[rows] >= _MIN_PROBABILITY]
    likely = likely if len(likely) else rows[:1]
    least = _least(posterior, likely)
    short = []
    for place, trial in enumerate(bench.trials):
        poured = trial.written.liquid
        if poured is not None and trial.is_in_flask:
            needed = float(np.nanmin(least[place])) if np.isfinite(least[place]).any() else 0.0
            if poured.to("mL").value < (1.0 - _POURED_WITHIN) * needed:
                short.append((place, trial, needed, poured))
    if not short:
        return
    place, _, needed, poured = min(short, key=lambda one: one[3].to("mL").value / one[2])
    name = posterior.table.text("name")[likely[int(np.nanargmin(least[place]))]]
    numbers = [trial.number for _, trial, _, _ in short]
    flask = _ML * float(bench.weighing.volume[place])
    yield Finding(
        "liquid-too-little",
        "warning",
        about_trials(
            numbers if len(bench.trials) > 1 else [],
            f"{poured} of liquid cannot fill the flask: it takes {needed:.2f} mL of {name} for "
            f"{flask:.0f} mL of vapor.",
        ),
        f"Pour in about {USUAL_FILLS * needed:.1f} mL, {USUAL_FILLS:g} times that, to drive out "
        "the air. If the number is right, air was left in the flask, and the molar mass means "
        "nothing.",
        {"poured_mL": poured.to("mL").value, "least_mL": needed},
    )


def _least(posterior: Posterior, rows: NDArray[np.int64]) -> Array:
    """Return how much of some candidates fills the flask of each trial, (trials, rows) [mL]."""
    expectation, weighing = (
        posterior.evidence.matcher.expectation,
        posterior.evidence.bench.weighing,
    )
    assert weighing is not None
    mass = vapor_mass(
        1e-3 * expectation.molar_mass[rows],
        weighing.bath[:, np.newaxis],
        weighing.pressure[:, np.newaxis],
        weighing.volume[:, np.newaxis],
        expectation.liquid.take(rows),
    )
    density, _ = expectation.predicted("density", _AT_20_C)
    return np.asarray(_ML * mass / density[rows])
