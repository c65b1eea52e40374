"""What a molar mass is uncertain by, instruments and technique together."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import inf

from identify.notebook.statistics import student_t_quantile
from identify.observables.error.molar_mass import MolarMassError
from identify.observables.error.technique import Technique
from identify.observables.weighing import LEAST_GAINED, MOLAR_MASS

_WIDE = 0.95  # what the interval holds that is printed


@dataclass(frozen=True)
class TotalUncertainty:
    """The uncertainty of one molar mass.

    Parameters
    ----------
    instruments : float
        Standard uncertainty from all that was read or assumed, and without technique also from how
        the trials scatter [g/mol].
    error : MolarMassError or None
        With technique; None where the instruments are all there is.
    gained : float
        What `error` is relative to [g/mol].
    degrees : float
        Of freedom of `instruments`, where they are all there is.
    """

    instruments: float
    error: MolarMassError | None = None
    gained: float = 1.0
    degrees: float = inf

    @classmethod
    def of(
        cls,
        technique: Technique,
        value: float,
        gained: float,
        instruments: float,
        trials: int = 1,
        scatter: float = 0.0,
    ) -> TotalUncertainty:
        """Put instruments and technique together.

        Parameters
        ----------
        technique : Technique
        value : float
            Mean over the trials [g/mol].
        gained : float
            What of it was gained, without the air that was shut out [g/mol].
        instruments : float
            Standard uncertainty of the mean from all that was read or assumed [g/mol].
        trials : int
        scatter : float
            Standard deviation of single trials, beyond what the balance explains [g/mol].
        """
        # Nor to less than what the trials lie apart by.
        base = max(gained, LEAST_GAINED * abs(value), MOLAR_MASS.least, scatter)
        error = technique.error(
            instruments / base, trials, scatter / base, relative_to=abs(value) / base
        )
        return cls(instruments, error, base)

    @cached_property
    def standard_uncertainty(self) -> float:
        """Half of the interval that holds 68.27 of 100 true values [g/mol]."""
        if self.error is None:
            return self.instruments
        return self.gained * self.error.standard_uncertainty

    @cached_property
    def expanded_uncertainty(self) -> float:
        """Half of the interval that holds 95 of 100 true values [g/mol]."""
        low, high = self.interval()
        return 0.5 * (high - low)

    @property
    def coverage_factor(self) -> float:
        """Expanded over standard uncertainty."""
        standard = self.standard_uncertainty
        if standard > 0.0:
            return self.expanded_uncertainty / standard
        return student_t_quantile(self.degrees)

    def interval(self, holds: float = _WIDE) -> tuple[float, float]:
        """Return the central interval of the true value minus the one found [g/mol]."""
        if self.error is None:
            half = student_t_quantile(self.degrees, 0.5 + 0.5 * holds) * self.instruments
            return -half, half
        low, high = self.error.interval(holds)
        return self.gained * low, self.gained * high

    def around(self, value: float, holds: float = _WIDE) -> tuple[float, float]:
        """Return that interval around the molar mass found, none of it below zero [g/mol]."""
        low, high = self.interval(holds)
        return max(value + low, min(value, 0.0)), value + high
