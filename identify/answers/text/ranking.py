"""The answer for one unknown, as plain text."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from operator import attrgetter
from typing import TYPE_CHECKING

from identify.answers.text.numbers import (
    NOTHING,
    listed_up_to,
    percent_text,
    signed,
    with_chance,
    with_uncertainty,
    yes_or_no,
)
from identify.answers.text.page import DIM, WIDE, YELLOW, Page, finding_lines
from identify.answers.text.table import TextColumn, TextTable
from identify.checks.assumed import MATTERS
from identify.notebook.statistics import with_digits_of
from identify.observables.catalog import LIQUID_CONSTANTS

if TYPE_CHECKING:
    from identify.matching.answer import MolarMass, RankedCandidate, Ranking
    from identify.matching.slips import Slip
    from identify.notebook.findings import Finding
    from identify.observables.liquid_constant import LiquidConstant
    from identify.observables.tolerances import Tolerances


def ranking_lines(ranking: Ranking, page: Page, top: int = 10, origin: str = "") -> list[str]:
    """Return what is printed for one unknown.

    Parameters
    ----------
    ranking : Ranking
        The answer.
    page : Page
        What it is laid out for.
    top : int, default=10
        Compounds shown.
    origin : str
        Whose reading it is and where it was read, shown beside the label.
    """
    heading = f"{ranking.label}  ({origin})" if origin else ranking.label
    lines = [page.emphasized(page.elided(heading))]
    lines += page.wrapped(verdict_sentence(ranking), "  ")
    if other := without_classroom_sentence(ranking):
        lines += page.wrapped(other, "  ")
    if ranking.molar_mass is not None:
        lines += page.wrapped(_molar_mass_sentence(ranking.molar_mass), "  ")
    lines.append("")
    lines += _candidate_lines(ranking, page, top)
    for slip in ranking.slips:
        lines += ["", *_slip_lines(slip, page)]
    if following := next_sentences(ranking):
        lines += ["", *page.wrapped(following, "  ")]
    findings = untold_findings(ranking)
    if findings:
        lines.append("")
        for finding in findings:
            lines += finding_lines(finding, page)
    return lines


def without_classroom_sentence(ranking: Ranking) -> str:
    """Return what leads by another prior, in a sentence; empty where the same compound does."""
    if not ranking.without_classroom:
        return ""
    other = with_chance(*ranking.without_classroom[0])
    return (
        f"The order rests on what classes are handed; among all compounds that are sold: {other}."
    )


def next_sentences(ranking: Ranking) -> str:
    """Return what to measure next; empty where nothing is undecided."""
    if ranking.undecided is None:
        return ""
    from identify.matching.advise.next_measurement import deciding_sentences

    return deciding_sentences(ranking.undecided, ranking.verdict == "single match")


_MAX_NAMES_IN_SENTENCE = 3
_LEVEL = 0.95  # of the first one's probability: no likelier than it is


def verdict_sentence(ranking: Ranking) -> str:
    """Return the verdict in one sentence."""
    if ranking.verdict == "no match" or not ranking.candidates:
        return _no_match_sentence(ranking.candidates[:1])
    first = ranking.candidates[0]
    if ranking.verdict == "single match":
        once = ", once a slip is set right" if ranking.slip else ""
        chance = percent_text(first.probability)
        codes = {finding.code for finding in ranking.findings}
        isomer = ", or an isomer that is not in the table" if "isomer-not-listed" in codes else ""
        return f"One match{once}: {first.name}, probability {chance}{isomer}."
    alike = [candidate.name for candidate in ranking.candidates if candidate.plausible]
    if ranking.slip is not None:
        return _after_slip_sentence(first, alike)
    return _several_matches_sentence(ranking.candidates, alike)


def _no_match_sentence(first: Sequence[RankedCandidate]) -> str:
    for one in first:
        nearest = with_chance(one.name, one.probability)
        if one.probability >= 0.9:
            return f"No match with every reading: {nearest} if one reading is wrong, see below."
        return f"{_NO_MATCH} Nearest is {nearest}."
    return _NO_MATCH


_NO_MATCH = "No match: no compound in the table agrees with every reading."


def _after_slip_sentence(first: RankedCandidate, alike: Sequence[str]) -> str:
    likeliest = f"the likeliest is {with_chance(first.name, first.probability)}"
    if not alike:
        return f"No match as it is written. Once a slip is set right, {likeliest}."
    others = f" and {len(alike) - 1} more agree" if len(alike) > 1 else " agrees"
    return (
        f"Several matches: as it is written, {alike[0]}{others} with every reading; once "
        f"a slip is set right, {likeliest}."
    )


def _several_matches_sentence(candidates: Sequence[RankedCandidate], alike: Sequence[str]) -> str:
    first = candidates[0]
    chance = percent_text(first.probability)
    if len(alike) < 2:
        return (
            f"Several matches: likeliest is {first.name} ({chance}), but these readings do not "
            "rule the others out."
        )
    level = sum(one.probability > _LEVEL * first.probability for one in candidates)
    likeliest = f"the likeliest is {first.name}"
    if level > 1:
        likeliest = f"the first {level} are about equally likely"
    return (
        "Several matches: these readings agree with "
        f"{listed_up_to(_MAX_NAMES_IN_SENTENCE, alike)}; {likeliest} ({chance})."
    )


# What follows from readings as they stand, and says nothing more once a slip explains them.
_AS_WRITTEN = ("nothing-plausible", "composition-valence", "composition-no-formula")
_TELLS_ALSO = {
    "element-left-out": ("percent-sum-low",),
    "several-units": ("pressure-unit", "temperature-unit", "volume-unit"),
}


def told_as_slip(finding: Finding, ranking: Ranking) -> bool:
    """Say whether a slip tells the same as a finding, or explains what it is about."""
    told = {slip.code for slip in ranking.slips}
    if ranking.slip is not None and finding.code in _AS_WRITTEN:
        return True
    return finding.code in told or any(finding.code in _TELLS_ALSO.get(code, ()) for code in told)


def untold_findings(ranking: Ranking) -> list[Finding]:
    """Return the findings that no slip tells or explains."""
    return [one for one in ranking.findings if not told_as_slip(one, ranking)]


def probability_of_others(ranking: Ranking, shown: Sequence[RankedCandidate]) -> float:
    """Return the probability of all compounds of the table but those shown."""
    listed = sum(candidate.probability for candidate in shown)
    return max(1.0 - ranking.none_of_these - listed, 0.0)


def _slip_lines(slip: Slip, page: Page) -> list[str]:
    """Return one slip, wrapped: what went wrong, how sure that is, and what it changes."""
    text = f"{slip.message} Probability {percent_text(slip.probability)}. [{slip.code}]"
    lines = page.tagged("slip", text, YELLOW)
    if slip.candidates:
        then, now = (
            ", ".join(with_chance(name, share) for name, share in named if share >= 0.05)
            or "nothing above 5 %"
            for named in (slip.candidates, slip.without)
        )
        ending = f" As written: {now}." if now != then else ""
        lines += page.wrapped(f"With it set right: {then}.{ending}", " " * 10)
    return lines


def _molar_mass_sentence(molar_mass: MolarMass) -> str:
    if not molar_mass.is_possible:
        return "Molar mass: these readings give none, see below."
    value = with_uncertainty(molar_mass.value, molar_mass.standard_uncertainty, "g/mol")
    low, high = with_digits_of(molar_mass.standard_uncertainty, *molar_mass.interval_95)
    sentence = f"Molar mass {value} ({low} to {high} in 95 of 100)"
    ideal = molar_mass.ideal_gas
    if ideal is None or not isfinite(ideal):
        return f"{sentence}, as given."
    return f"{sentence}; the ideal-gas shortcut alone gives {ideal:.1f} g/mol."


def _candidate_lines(ranking: Ranking, page: Page, top: int) -> list[str]:
    shown = ranking.candidates[:top]
    if not shown:
        return []
    lines = TextTable(_COLUMNS, shown).lines(page, "  ", DIM)
    width = len(lines[-1])
    rest = probability_of_others(ranking, shown)
    summary = {"all other compounds": rest} if rest > 5e-4 else {}
    summary |= {"none of these": ranking.none_of_these}
    return [
        *lines,
        *(
            f"    {text}{percent_text(probability):>{width - 4 - len(text)}}"
            for text, probability in summary.items()
        ),
    ]


# Boiling points known worse than this are marked: the default tolerance of a reading [K].
UNCERTAIN_BOILING_POINT = 2.0


def is_boiling_point_uncertain(candidate: RankedCandidate) -> bool:
    """Say whether a compound's own boiling point is marked as one that may be well off."""
    return candidate.boiling_point_u > UNCERTAIN_BOILING_POINT


def _boiling_text(candidate: RankedCandidate) -> str:
    mark = "?" if is_boiling_point_uncertain(candidate) else " "
    return f"{candidate.boiling_point_C:.1f}{mark}"


def _worst_element(candidate: RankedCandidate) -> str:
    deviations = candidate.deviations.percent
    known = {symbol: value for symbol, value in deviations.items() if isfinite(value)}
    if not known:
        return NOTHING
    symbol = max(known, key=lambda element: abs(known[element]))
    if abs(known[symbol]) < 0.005:
        return "0.00   "
    return f"{signed(known[symbol], 2)} {symbol:<2}"


def _liquid_constant_column(constant: LiquidConstant) -> TextColumn:
    key, digits = constant.deviation_key, constant.decimals
    return TextColumn(
        constant.column_heading,
        lambda one: signed(one.deviations.further.get(key), digits),
        if_any=lambda one: key in one.deviations.further,
    )


_SHORTEST_COMPOUND = 12  # characters of a compound's name, below which columns make room for it
_COLUMNS = (
    TextColumn("#", lambda one: str(one.rank)),
    TextColumn(
        "compound", lambda one: one.name, left=True, shortest=_SHORTEST_COMPOUND, is_roomy=True
    ),
    TextColumn("formula", lambda one: one.formula, left=True, longest=14, spare=3),
    TextColumn("bottle", lambda one: one.bottle, longest=12, if_any=attrgetter("bottle")),
    TextColumn("CAS", lambda one: one.cas, page_width=WIDE),
    TextColumn("molar\nmass", lambda one: f"{one.molar_mass:.2f}", spare=2),
    TextColumn("boils\n°C", _boiling_text),
    TextColumn(
        "mass\noff %",
        lambda one: signed(one.deviations.molar_mass_percent, 1),
        if_any=lambda one: one.deviations.molar_mass_percent is not None,
    ),
    TextColumn(
        "boils\noff °C",
        lambda one: signed(one.deviations.boiling_point_C, 1),
        if_any=lambda one: one.deviations.boiling_point_C is not None,
    ),
    *map(_liquid_constant_column, LIQUID_CONSTANTS.values()),
    TextColumn("worst\nelement", _worst_element, spare=1, if_any=attrgetter("deviations.percent")),
    TextColumn("agrees", lambda one: yes_or_no(one.plausible)),
    TextColumn("prob-\nability", lambda one: percent_text(one.probability)),
)


def footnote(rankings: Sequence[Ranking], tolerances: Tolerances, top: int = 10) -> str:
    """Return what the columns and marks of the tables mean, of those that are there.

    Parameters
    ----------
    rankings : sequence of Ranking
    tolerances : Tolerances
    top : int, default=10
        Compounds shown of each.
    """
    shown = [candidate for ranking in rankings for candidate in ranking.candidates[:top]]
    offs = [candidate.deviations for candidate in shown]
    within = agreement_text(rankings, tolerances)
    worst = _WORST_ELEMENT if any(off.percent for off in offs) else ""
    meanings = {
        f"off: reading minus what the compound would have given{worst}": within,
        f"agrees: within tolerance ({within})": within,
        "±: one standard uncertainty": any(one.molar_mass is not None for one in rankings),
        f"?: may itself be off by more than {UNCERTAIN_BOILING_POINT:g} °C, as is allowed for": any(
            map(is_boiling_point_uncertain, shown)
        ),
        "-: not in the table, counts neither way": any(off.further for off in offs),
    }
    return " ".join(f"{text}." for text, is_there in meanings.items() if is_there)


_WORST_ELEMENT = " (worst element: in points)"


def agreement_text(rankings: Sequence[Ranking], tolerances: Tolerances) -> str:
    """Return within what the readings of some unknowns agree with a compound."""
    read = [one.deviations for ranking in rankings for one in ranking.candidates[:1]]
    shares = [one.share for ranking in rankings for one in ranking.assumed]
    matters = any(share >= MATTERS for share in shares)
    spread = " and the spread of what was assumed" if matters else ""
    widths = {
        "molar_mass_percent": f"molar mass {tolerances.molar_mass:g} %{spread}",
        "percent": f"each element {tolerances.percent:g} points",
        "boiling_point_C": f"boiling point {tolerances.boiling_point:g} °C",
    }
    for name, constant in LIQUID_CONSTANTS.items():
        width = f"{constant.words} {getattr(tolerances, name):g}{constant.unit_text}"
        widths[constant.deviation_key] = width
    return ", ".join(width for key, width in widths.items() if any(key in off.read for off in read))
