"""Why a compound is as probable as it is: each observable's say, beside the leader's."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from math import exp, fsum, isfinite, isinf
from typing import Any

import numpy as np

from identify.bench.bench import Bench
from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher, kept_matcher
from identify.matching.explain.terms import Term, reading_text, terms
from identify.matching.posterior import Posterior
from identify.matching.settings import DEFAULT_PRIOR, MatchSettings, Prior
from identify.matching.totals import OUTSIDE
from identify.notebook.errors import UnusableInput
from identify.notebook.measurement import Measurement
from identify.notebook.serializing import (
    Serializable,
    decimals,
    digits,
    plain,
    rounded,
    significant,
)
from identify.notebook.shown import Shown
from identify.observables.error.technique import Technique
from identify.observables.tolerances import Tolerances

# A factor nearer to 1 than this, in its logarithm, decides nothing.
_MIN_LOG_ODDS = 0.05
_DIGITS = 6
_LOG_ODDS_DECIMALS = 12  # the rounded lines still add up to the rounded total within 1e-9
_MAX_TIMES_TOLD = 1e5  # times as likely; beyond, the number itself says no more


@dataclass(frozen=True)
class Line(Serializable):
    """What one observable says for or against a compound.

    Parameters
    ----------
    observable : str
        Its code, see `Term`.
    name, unit : str
    predicted, measured : float or None
        What the compound would have given, and what was read (a molar mass with the compound's
        corrections); None where there is no such number.
    deviation, deviation_of_other : float or None
        Reading minus prediction, in tolerances: the compound's, and that of the one it is compared
        with.
    log_odds : float
        Natural logarithm of how many times as likely this observable makes the compound, beside
        the other.
    """

    observable: str
    name: str
    unit: str
    predicted: float | None = field(metadata=digits(_DIGITS))
    measured: float | None = field(metadata=digits(_DIGITS))
    deviation: float | None = field(metadata=digits(_DIGITS))
    deviation_of_other: float | None = field(metadata=digits(_DIGITS))
    log_odds: float = field(metadata=decimals(_LOG_ODDS_DECIMALS))

    @property
    def times_as_likely(self) -> float:
        """The factor itself: above 1 speaks for the compound, below 1 against it."""
        return _factor(self.log_odds)

    def to_dict(self) -> dict[str, Any]:
        """Return the line as plain data."""
        return super().to_dict() | {"times_as_likely": significant(self.times_as_likely, _DIGITS)}


@dataclass(frozen=True)
class _Side(Serializable):
    """One of the two compounds that are compared."""

    name: str
    cas: str
    bottle: str
    probability: float = field(metadata=digits(10))  # as in the ranking


@dataclass(frozen=True, repr=False)
class Explanation(Shown):
    """Why a compound is as probable as it is, beside the leader.

    Parameters
    ----------
    label : str
        Of the unknown.
    compound : _Side
    other : _Side
        The most probable compound; the second where the compound is the most probable itself.
    lines : tuple of Line
        One an observable. Their log-odds add up to `total`.
    leads : bool
        Whether the compound is the most probable.
    """

    label: str
    compound: _Side
    other: _Side
    lines: tuple[Line, ...]
    leads: bool

    main_table = "lines"

    @property
    def headline(self) -> str:
        """The explanation in a few words."""
        return f"{self.label}: {self.sentence}"

    @property
    def total(self) -> float:
        """Natural logarithm of the compound's probability over the other's."""
        return fsum(line.log_odds for line in self.lines)

    @property
    def times_as_likely(self) -> float:
        """How many times as probable as the other that makes the compound."""
        return _factor(self.total)

    @property
    def strongest(self) -> Line | None:
        """The line that speaks most for a compound that leads, most against another.

        None where none of them says anything.
        """
        sign = 1.0 if self.leads else -1.0
        most = max(sign * line.log_odds for line in self.lines)
        if not most > _MIN_LOG_ODDS:
            return None
        # Several readings that all count as gross errors weigh the same: name the worst.
        equals = [line for line in self.lines if sign * line.log_odds >= most - _MIN_LOG_ODDS]
        worst = "deviation_of_other" if self.leads else "deviation"
        return max(equals, key=lambda line: abs(getattr(line, worst) or 0.0))

    @property
    def sentence(self) -> str:
        """What speaks most for or against the compound, in one sentence."""
        line, compound, other = self.strongest, self.compound.name, self.other.name
        if line is None:
            return f"Nothing that was read tells {compound} from {other}."
        favored, way = (compound, "for") if self.leads else (other, "against")
        times = _factor(abs(line.log_odds))
        weight = (
            times_text(times) if times < _MAX_TIMES_TOLD else f"more than {_MAX_TIMES_TOLD:.0f}"
        )
        return (
            f"{_subject(line)} speaks most {way} {compound}: {_evidence(line, other, self.leads)}. "
            f"That alone makes {favored} {weight} times as likely."
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the explanation as plain data."""
        return {
            "compound": self.compound.to_dict(),
            "compared_with": self.other.to_dict(),
            "sentence": self.sentence,
            "lines": plain(self.lines),
            "log_odds": rounded(self.total, _LOG_ODDS_DECIMALS),
            "times_as_likely": significant(self.times_as_likely, _DIGITS),
        }


def explain(
    run: Measurement,
    name: str,
    candidates: CandidateTable | str | os.PathLike[str] | None = None,
    tolerances: Tolerances | None = None,
    prior: Prior = DEFAULT_PRIOR,
    outside: str | float = OUTSIDE,
    technique: Technique | str | None = None,
) -> Explanation:
    """Say why a compound is as probable as it is.

    Parameters
    ----------
    run : Measurement
        What was read.
    name : str
        Name, CAS number, SMILES or InChIKey of the compound, or a bottle's label in a stock table.
    candidates, tolerances, prior, outside, technique
        As for `match`.

    Returns
    -------
    Explanation
        Beside the most probable compound, or beside the second where it is that itself.

    Raises
    ------
    ValueError
        If the name means no compound or several, the table holds no other compound, or `match`
        could not use the run.

    Examples
    --------
    >>> run = Measurement("K-7", boiling_point="78.4 C", percent={"C": 52.1, "H": 13.1})
    >>> found = explain(run, "acetone")
    >>> print(found.other.name, round(found.lines[-1].deviation, 1), found.strongest.name)
    ethanol 11.1 carbon
    """
    table = candidates if isinstance(candidates, CandidateTable) else load_candidates(candidates)
    matcher = kept_matcher(table, MatchSettings.of(tolerances, prior, outside, technique))
    from identify.compounds.naming.lookup import row_meant

    return explain_row(run, row_meant(table, name), matcher)


def explain_row(run: Measurement, row: int, matcher: Matcher) -> Explanation:
    """Say why the compound in a row of the matcher's table is as probable as it is.

    Raises
    ------
    ValueError
        If the table holds no other compound, or a trial lacks a reading that its molar mass needs.
    """
    table, posterior = matcher.table, Posterior.of(matcher.evidence(Bench.of(run)))
    leaders = [int(one) for one in posterior.leading(2, 0.0)]
    others = [leader for leader in leaders if leader != row]
    if not others:
        alone = table.text("name")[row]
        raise UnusableInput(f"the table holds {alone} alone; there is nothing to compare it with")
    return Explanation(
        label=run.label,
        compound=_side(posterior, row),
        other=_side(posterior, others[0]),
        lines=tuple(_line(term, row, others[0]) for term in terms(posterior)),
        leads=row == leaders[0],
    )


def _factor(log_odds: float) -> float:
    """Return how many times as likely; infinite where it is more than a number can hold.

    Examples
    --------
    >>> _factor(0.0), _factor(1e4)
    (1.0, inf)
    """
    try:
        return exp(log_odds)
    except OverflowError:
        return float("inf")


def times_text(times: float) -> str:
    """Return a factor in two digits, one below 1 as a fraction.

    Examples
    --------
    >>> [times_text(times) for times in (3.49, 1.004, 0.5, 0.0041, 12345.0, 2e-7)]
    ['3.5', '1.0', '1/2.0', '1/240', '12000', '1/5e+06']
    """
    if times <= 0.0 or isinf(times):
        return "0" if times <= 0.0 else "∞"
    if times < 0.995:
        return f"1/{times_text(1.0 / times)}"
    if times >= 99_500.0:
        return f"{times:.0e}"
    return f"{times:.1f}" if times < 9.95 else f"{float(f'{times:.2g}'):.0f}"


def _side(posterior: Posterior, row: int) -> _Side:
    name, cas, bottle = (posterior.table.text(column)[row] for column in ("name", "cas", "label"))
    return _Side(name, cas, bottle, float(posterior.probability[row]))


def _line(term: Term, row: int, other: int) -> Line:
    def at(values: np.ndarray | None, place: int) -> float | None:
        known = values is not None and isfinite(values[place])
        return float(values[place]) if values is not None and known else None

    return Line(
        observable=term.observable,
        name=term.name,
        unit=term.unit,
        predicted=at(term.predicted, row),
        measured=at(term.measured, row),
        deviation=at(term.deviation, row),
        deviation_of_other=at(term.deviation, other),
        log_odds=float(term.log_likelihood[row] - term.log_likelihood[other]),
    )


_SUBJECTS = {
    "commonness": "How common they are",
    "liquid_in_room": "Whether it is a liquid in the room",
    "boils_off": "Whether it boils off in the bath",
    "not_boiled_off": "Whether it may not have boiled off",
    "other_elements": "What the card leaves out",
}


def _subject(line: Line) -> str:
    return _SUBJECTS.get(line.observable, f"The {line.name}")


def _evidence(line: Line, other: str, leads: bool) -> str:
    unit = f" {line.unit}" if line.unit else ""
    given, read = (
        reading_text(one, line.observable, line.unit) + unit
        for one in (line.predicted, line.measured)
    )
    special = {
        "commonness": (f"{other} is less common", f"{other} is more common"),
        "liquid_in_room": (
            f"{other} boils so low that no open bottle holds it",
            f"it boils at {given}, and no open bottle holds it",
        ),
        "boils_off": (
            f"{other} boils too high for a bath at {read}",
            f"it boils at {given}, and the bath was at {read}",
        ),
        "not_boiled_off": (
            f"{other} boils too high for a bath at {read}, and so its molar mass says less for it",
            f"it boils at {given}, the bath was at {read}, and so its molar mass says less for it",
        ),
        "other_elements": (
            f"{other} holds elements that the card does not list and leaves no room for",
            f"{given} of it are elements that the card does not list, with room for {read}",
        ),
    }
    if line.observable in special:
        for_it, against_it = special[line.observable]
        return for_it if leads else against_it
    own, others = (
        "unknown" if off is None else f"{abs(off):.1f}"
        for off in (line.deviation, line.deviation_of_other)
    )
    return (
        f"{read} was read and it would have given {given}, {own} tolerances off; "
        f"for {other} it is {others}"
    )
