"""What in a run's numbers does not hold together, before any candidate is looked at.

Each check is a small function from the run's `Facts` to findings, in the file of its subject; it is
listed in ``CHECKS`` there. Readings that no bench shows are found first (`readings`), and the
other checks do without them, so that one slip raises one finding.
"""

from __future__ import annotations

from identify.bench.trials import BenchTrial
from identify.checks import bath, boiling_pressure, composition, readings, unread, weighing
from identify.checks.facts import Facts
from identify.notebook.findings import Finding, worst_first
from identify.notebook.measurement import Measurement
from identify.observables.tolerances import Tolerances

__all__ = ["check"]

_CHECKS = (
    *weighing.CHECKS,
    *bath.CHECKS,
    *boiling_pressure.CHECKS,
    *composition.CHECKS,
    *unread.CHECKS,
)


def check(
    run: Measurement,
    molar_mass: tuple[float, float] | None = None,
    percent_tolerance: float = Tolerances.percent,
    trials: tuple[BenchTrial, ...] = (),
) -> list[Finding]:
    """Say what in a run does not hold together.

    Parameters
    ----------
    run : Measurement
        Anything in it may be missing; a check whose readings are missing is silent.
    molar_mass : (float, float), optional
        The measured molar mass and its standard uncertainty [g/mol]. Where not given, the run's
        own, or what the weighings say of a liquid of which only the boiling point is known.
    percent_tolerance : float, default=0.4
        Half-width within which a percentage agrees, where it has no uncertainty of its own
        [percentage points].
    trials : tuple of BenchTrial, optional
        All of its trials in SI units, where they are at hand.

    Returns
    -------
    list of Finding
        Errors first; empty where nothing is wrong.

    Examples
    --------
    >>> run = Measurement("C-14", percent={"C": 37.5, "H": 12.6, "O": 59.9})
    >>> [(finding.code, finding.severity) for finding in check(run)]
    [('percent-sum-high', 'error')]
    """
    found, doubted = readings.unbelievable(run)
    facts = Facts(run, doubted, molar_mass, percent_tolerance, trials)
    found += [finding for one in _CHECKS for finding in one(facts)]
    return worst_first(found)
