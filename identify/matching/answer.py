"""What an answer is: the ranked compounds of one unknown, its verdict and findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

from identify.bench.assumed import AssumedCondition
from identify.matching.advise.next_measurement import DECIDED, NextMeasurement, Remaining
from identify.matching.slips.mechanism.hypothesis import Slip, names_and_probabilities
from identify.notebook.findings import Finding
from identify.notebook.serializing import (
    OMITTED,
    Serializable,
    decimals,
    digits,
    plain,
    rounded,
    significant,
)
from identify.notebook.shown import Shown

if TYPE_CHECKING:
    import pandas as pd

Verdict = Literal["single match", "several matches", "no match"]

_PROBABILITY_DIGITS = 10  # the probabilities still add up to one within 1e-9


@dataclass(frozen=True)
class Deviations(Serializable):
    """Reading minus what the candidate would have given; None where not measured.

    Parameters
    ----------
    molar_mass_percent : float or None
        In percent of the candidate's molar mass.
    boiling_point_C : float or None
        In degrees Celsius, at the pressure of the reading.
    percent : mapping of str to float
        In percentage points, by element; where the card adds up to 100, also the candidate's
        elements that it does not list.
    further : mapping of str to float or None
        By the observable's ``deviation_key``, in its unit, for what else was read; None where the
        table has no such constant.
    """

    molar_mass_percent: float | None = field(metadata=decimals(4))
    boiling_point_C: float | None = field(metadata=decimals(4))
    percent: Mapping[str, float] = field(metadata=decimals(4))
    further: Mapping[str, float | None] = field(default_factory=dict, metadata=OMITTED)

    @property
    def read(self) -> set[str]:
        """By which keys there are deviations, of whatever was read."""
        stated = {name for name, off in vars(self).items() if off is not None and off != {}}
        return {*stated, *self.further} - {"further"}

    def to_dict(self) -> dict[str, Any]:
        """Return the deviations as plain data, rounded to what can be read."""
        return super().to_dict() | rounded(self.further, 6)


@dataclass(frozen=True)
class RankedCandidate(Serializable):
    """One compound of a ranking.

    Parameters
    ----------
    rank : int
        1 for the most probable.
    name, cas, smiles, inchikey, formula : str
    molar_mass, boiling_point_C, boiling_point_u : float
        From the table [g/mol, degrees Celsius at 101325 Pa, K].
    probability : float
    plausible : bool
        Whether every reading is within tolerance, and the compound a liquid in the room that boils
        off in the bath.
    deviations : Deviations
    index : int
        Row of the candidate table, from 0.
    bottle : str
        Its labels in a stock table; empty otherwise.
    note : str
        What the table has to say about this compound.
    """

    rank: int
    name: str
    cas: str
    smiles: str
    inchikey: str
    formula: str
    molar_mass: float = field(metadata=decimals(4))
    boiling_point_C: float = field(metadata=decimals(2))
    boiling_point_u: float = field(metadata=decimals(3))
    probability: float = field(metadata=digits(_PROBABILITY_DIGITS))
    plausible: bool
    deviations: Deviations
    index: int = field(metadata=OMITTED)
    note: str = ""
    bottle: str = ""


@dataclass(frozen=True)
class MolarMass(Serializable):
    """The measured molar mass [g/mol].

    Parameters
    ----------
    value : float
        With the corrections of the most probable candidate.
    standard_uncertainty : float
        Of instruments and technique together: half of the interval that holds 68.27 of 100 true
        values.
    ideal_gas : float or None
        What the shortcut m R T / (P V) gives; None where a molar mass was given as such.
    interval_95 : (float, float)
        Holds 95 of 100 true values; the value is not in its middle where technique is rough.
    """

    value: float = field(metadata=decimals(4))
    standard_uncertainty: float = field(metadata=decimals(4))
    ideal_gas: float | None = field(metadata=decimals(4))
    interval_95: tuple[float, float] = field(metadata=decimals(4))

    @property
    def is_possible(self) -> bool:
        """Whether a liquid can have it: a loss of mass, or air let in, gives what none has."""
        return 5.0 < self.value < 2000.0


@dataclass(frozen=True, repr=False)
class Ranking(Shown):
    """What an unknown could be.

    Parameters
    ----------
    label : str
    verdict : {"single match", "several matches", "no match"}
        ``single match``: the first has a probability of at least 0.9, and the errors that classes
        make explain all its deviations taken together (chi-squared, 99 %), or a slip that is
        likelier than not does. ``no match``: they do not, or `none_of_these` is above one half.
    candidates : tuple of RankedCandidate
        Those with a probability of 1e-6 or more, and the plausible ones, at most 50.
    none_of_these : float
        Probability that the liquid is not in the table.
    molar_mass : MolarMass or None
        None where nothing was weighed and no molar mass given.
    findings : list of Finding
    student : str
    remaining : Remaining or None
        The candidates that remain, and what they would show in further measurements.
    without_classroom : tuple of (str, float)
        Where another compound leads by the prior in commerce than by that of a classroom: the first
        three by that, names and probabilities. Empty where the same one leads, under another prior,
        and for an index or a table in parts, which are not weighed twice.
    assumed : tuple of AssumedCondition
        Conditions that were not written down, and taken as usual.
    slips : tuple of Slip
        What probably went wrong with the readings; the probabilities take it into account, the
        deviations and ``plausible`` are those of the readings as they stand.
    """

    label: str
    verdict: Verdict
    candidates: tuple[RankedCandidate, ...]
    none_of_these: float
    molar_mass: MolarMass | None
    findings: list[Finding]
    student: str = ""
    remaining: Remaining | None = field(default=None, repr=False, compare=False)
    slips: tuple[Slip, ...] = ()
    assumed: tuple[AssumedCondition, ...] = ()
    without_classroom: tuple[tuple[str, float], ...] = ()

    @property
    def slip(self) -> Slip | None:
        """The slip that the first compound needs to fit; None where it needs none."""
        if not self.candidates or self.candidates[0].plausible:
            return None
        leader = self.candidates[0].name
        return next((slip for slip in self.slips if slip.points_to(leader)), None)

    @property
    def undecided(self) -> Remaining | None:
        """The candidates that a further measurement has to decide between.

        None where one is as good as sure (`DECIDED`), and where nothing matches: then a reading so
        far is wrong, and comes first.
        """
        remaining = self.remaining
        if self.verdict == "no match" or remaining is None or remaining.missing_bits <= DECIDED:
            return None
        return remaining

    @property
    def next_measurements(self) -> tuple[NextMeasurement, ...]:
        """What to measure next, that which tells most first; empty where nothing is undecided."""
        return () if self.undecided is None else self.undecided.measurements

    main_table = "candidates"

    @property
    def headline(self) -> str:
        """The answer in a few words."""
        first = [f"{one.name} {one.probability:.3g}" for one in self.candidates[:1]]
        none = f"none of these {self.none_of_these:.2g}"
        return f"{self.label}: {', '.join([self.verdict, *first, none])}"

    @cached_property
    def tables(self) -> dict[str, pd.DataFrame]:
        """Each list of the answer as a frame; the candidates as in `table`."""
        return {**super().tables, "candidates": self.table}

    @cached_property
    def table(self) -> pd.DataFrame:
        """The candidates as a pandas frame, one row each, deviations in columns of their own."""
        import pandas as pd

        rows = []
        for candidate in self.candidates:
            row = candidate.to_dict()
            off = row.pop("deviations")
            note, bottle = row.pop("note"), row.pop("bottle")
            row["molar_mass_percent_off"] = off["molar_mass_percent"]
            row["boiling_point_C_off"] = off["boiling_point_C"]
            percent = off.pop("percent")
            row |= {f"percent_{element}_off": value for element, value in percent.items()}
            row |= {f"{name}_off": off[name] for name in candidate.deviations.further}
            rows.append({**row, "note": note, **({"bottle": bottle} if bottle else {})})
        return pd.DataFrame(rows).dropna(axis="columns", how="all")

    def to_dict(self) -> dict[str, Any]:
        """Return the ranking as plain data, ready for JSON."""
        data = {
            "label": self.label,
            "student": self.student,
            "verdict": self.verdict,
            "molar_mass": self.molar_mass,
            "candidates": self.candidates,
            "none_of_these": significant(self.none_of_these, _PROBABILITY_DIGITS),
            "slips": self.slips,
            "findings": self.findings,
            "assumed": self.assumed,
            "next": self.next_measurements,
            "without_classroom": names_and_probabilities(self.without_classroom),
        }
        return {key: plain(value) for key, value in data.items()}
