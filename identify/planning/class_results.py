"""How well a class has weighed, from the results of its section, for the plan of the next term."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import hypot, sqrt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from identify.bench.laboratory import Laboratory
from identify.compounds.table import CandidateTable
from identify.planning.precision import INSTRUMENTS, ClassSetup
from identify.planning.result import PlanError, Precision
from identify.tables.faults import UnreadableError
from identify.tables.limits import MAX_RESULTS
from identify.tables.lines import file_bytes

if TYPE_CHECKING:
    from identify.section.result import SectionResult

_HOW = "save it with identify-unknown section FILE --out results.json"


@dataclass(frozen=True)
class ClassResults:
    """What a section's results say of how its class weighs.

    Parameters
    ----------
    results : int
    spread, bias : float
        Of the molar mass [percent].
    spoiled : float
        Of the runs [percent].
    """

    results: int
    spread: float
    bias: float
    spoiled: float

    @classmethod
    def read(cls, path: Path) -> ClassResults:
        """Read the results of `section` as JSON.

        Raises
        ------
        PlanError
            If the file is not there, or does not say how the class weighs.
        """
        try:
            data = json.loads(file_bytes(path, MAX_RESULTS))
        except UnreadableError as error:
            raise PlanError(f"--class: {error.fault(str(path))}; {_HOW}") from None
        except (ValueError, RecursionError):
            raise PlanError(f"--class: {path} is not JSON; {_HOW}") from None
        told: Any = data.get("precision", ...) if isinstance(data, dict) else ...
        if told is None:
            raise PlanError(
                f"--class: {path}: too few of its students weighed a known liquid to say how well "
                "the class weighs; give --technique instead"
            )
        try:
            return cls._of(told)
        except (KeyError, TypeError, ValueError):
            raise PlanError(
                f"--class: {path} does not hold the results of a section; {_HOW}"
            ) from None

    @classmethod
    def of(cls, section: SectionResult) -> ClassResults:
        """Take what a section's check says of its class.

        Raises
        ------
        PlanError
            If too few of its students weighed a known liquid.
        """
        if section.precision is None:
            raise PlanError(
                "too few of this section's students weighed a known liquid to say how well the "
                "class weighs"
            )
        return cls._of(section.precision.to_dict())

    @classmethod
    def _of(cls, told: Mapping[str, Any]) -> ClassResults:
        spread, bias, spoiled = (
            float(told[f"{name}_percent"]) for name in ("spread", "bias", "spoiled")
        )
        if not (spread > 0.0 and abs(bias) < 100.0 and 0.0 <= spoiled <= 100.0):
            raise ValueError
        return cls(int(told["results"]), spread, bias, spoiled)

    def precision(
        self, planned: Precision, table: CandidateTable, laboratory: Laboratory
    ) -> Precision:
        """Return a precision with the technique that this class has shown.

        What instruments explain is taken off the spread. A bias is not known to come again, nor to
        be put right: it counts as spread.

        Parameters
        ----------
        planned : Precision
            Of the instruments.
        table : CandidateTable
            Of the liquids that a plan chooses from: the instruments' part is the median one's.
        laboratory : Laboratory
        """
        instruments = replace(planned, technique=0.0)
        setup = ClassSetup.of(table, laboratory, instruments)
        part = 100.0 * float(np.median(setup.molar_mass_uncertainty()))
        technique = sqrt(max(hypot(self.spread, self.bias) ** 2 - part**2, 0.0))
        coarsest = INSTRUMENTS["technique"].coarsest
        return replace(planned, technique=min(technique, coarsest), spoiled=self.spoiled)
