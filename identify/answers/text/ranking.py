"""The answer for one unknown, as plain text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from identify.answers.text.page import (
    DIM,
    YELLOW,
    Page,
    elided,
    finding_lines,
    percent_text,
    signed,
    table_lines,
    with_uncertainty,
)

if TYPE_CHECKING:
    from identify.matching.answer import MolarMass, RankedCandidate, Ranking
    from identify.matching.slips import Slip
    from identify.notebook.findings import Finding
from identify.observables.catalog import LIQUID_CONSTANTS
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
    lines = [page.emphasized(elided(page.text(heading), page.width, page.text("…")))]
    lines += page.wrapped(verdict_sentence(ranking), "  ")
    if ranking.molar_mass is not None:
        lines += page.wrapped(_molar_mass_sentence(ranking.molar_mass), "  ")
    lines.append("")
    lines += _candidate_lines(ranking, page, top)
    for slip in ranking.slips:
        lines += ["", *slip_lines(slip, page)]
    if ranking.undecided is not None:
        from identify.matching.advise.next_measurement import deciding_sentences

        is_surer = ranking.verdict == "single match"
        lines += ["", *page.wrapped(deciding_sentences(ranking.undecided, is_surer), "  ")]
    findings = [one for one in ranking.findings if not told_as_slip(one, ranking)]
    if findings:
        lines.append("")
        for finding in findings:
            lines += finding_lines(finding, page)
    return lines


_LEVEL = 0.95  # of the first one's probability: no likelier than it is


def verdict_sentence(ranking: Ranking) -> str:
    """Return the verdict in one sentence."""
    first = ranking.candidates[0] if ranking.candidates else None
    if ranking.verdict == "no match" or first is None:
        if first is not None and first.probability >= 0.9:
            return (
                f"No match with every reading: {first.name} "
                f"({percent_text(first.probability)}) if one reading is wrong, see below."
            )
        ending = f" Nearest is {first.name} ({percent_text(first.probability)})." if first else ""
        return f"No match: no compound in the table agrees with every reading.{ending}"
    slip = ranking.slip
    if ranking.verdict == "single match":
        once = ", once a slip is set right" if slip else ""
        return f"One match{once}: {first.name}, probability {percent_text(first.probability)}."
    alike = [candidate for candidate in ranking.candidates if candidate.plausible]
    if slip is not None:
        likeliest = f"the likeliest is {first.name} ({percent_text(first.probability)})"
        if not alike:
            return f"No match as it is written. Once a slip is set right, {likeliest}."
        others = f" and {len(alike) - 1} more agree" if len(alike) > 1 else " agrees"
        return (
            f"Several matches: as it is written, {alike[0].name}{others} with every reading; once "
            f"a slip is set right, {likeliest}."
        )
    named = [candidate.name for candidate in alike[:3]]
    more = len(alike) - len(named)
    if len(named) < 2:
        return (
            f"Several matches: likeliest is {first.name} ({percent_text(first.probability)}), but "
            "these readings do not rule the others out."
        )
    names = ", ".join(named[:-1]) + (f" and {named[-1]}" if not more else f", {named[-1]}")
    rest = f" and {more} more" if more else ""
    level = sum(one.probability > _LEVEL * first.probability for one in ranking.candidates)
    if level > 1:
        likeliest = f"the first {level} are about equally likely"
    else:
        likeliest = f"the likeliest is {first.name}"
    return (
        f"Several matches: these readings agree with {names}{rest}; {likeliest} "
        f"({percent_text(first.probability)})."
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


def slip_lines(slip: Slip, page: Page) -> list[str]:
    """Return one slip, wrapped: what went wrong, how sure that is, and what it changes."""
    word = "  slip    "
    text = f"{slip.message} Probability {percent_text(slip.probability)}. [{slip.code}]"
    lines = page.wrapped(text, word, " " * len(word))
    if page.color:
        lines[0] = page.emphasized(word, YELLOW) + lines[0][len(word) :]
    if slip.candidates:
        then, now = (
            ", ".join(f"{name} ({percent_text(share)})" for name, share in named if share >= 0.05)
            for named in (slip.candidates, slip.without)
        )
        ending = f" As written: {now or 'nothing above 5 %'}." if now != then else ""
        lines += page.wrapped(f"With it set right: {then}.{ending}", " " * len(word))
    return lines


def _molar_mass_sentence(molar_mass: MolarMass) -> str:
    if not 5.0 < molar_mass.value < 2000.0:
        return "Molar mass: these readings give none, see below."
    value = with_uncertainty(molar_mass.value, molar_mass.standard_uncertainty, "g/mol")
    sentence = f"Molar mass {value}"
    ideal = molar_mass.ideal_gas
    if ideal is None or not isfinite(ideal):
        return f"{sentence} (as given)."
    return f"{sentence}; the ideal-gas shortcut alone gives {ideal:.1f} g/mol."


def _candidate_lines(ranking: Ranking, page: Page, top: int) -> list[str]:
    shown = ranking.candidates[:top]
    if not shown:
        return []
    columns = [
        _Column(_two_lines(page, column.heading), [page.text(cell) for cell in column.cells])
        for column in _columns(shown, wide=page.width >= 100)
    ]
    for dispensable in ("formula", "molar\nmass", "worst\nelement"):
        if _room_for_compound(columns, page) < _SHORTEST_COMPOUND:
            columns = [column for column in columns if column.heading != dispensable]
    room = max(_room_for_compound(columns, page), _SHORTEST_COMPOUND)
    for column in columns:
        if column.heading == _COMPOUND:
            column.cells[:] = [elided(cell, room, page.text("…")) for cell in column.cells]
    cells = list(zip(*(column.cells for column in columns), strict=True))
    headings = [column.heading for column in columns]
    left = [place for place, heading in enumerate(headings) if heading in (_COMPOUND, "formula")]
    lines = ["  " + line for line in table_lines(cells, headings, left)]
    width = len(lines[-1])
    rest = 1.0 - ranking.none_of_these - sum(candidate.probability for candidate in shown)
    summary = {"all other compounds": rest} if rest > 5e-4 else {}
    summary |= {"none of these": ranking.none_of_these}
    return [
        *(page.emphasized(line, DIM) for line in lines[:2]),
        *lines[2:],
        *(
            f"    {text}{percent_text(probability):>{width - 4 - len(text)}}"
            for text, probability in summary.items()
        ),
    ]


_COMPOUND = "compound"
_SHORTEST_COMPOUND = 12  # characters of a compound's name, below which columns make room for it


def _room_for_compound(columns: Sequence[_Column], page: Page) -> int:
    return page.width - sum((c.width + 1 for c in columns if c.heading != _COMPOUND), 2)


@dataclass(frozen=True)
class _Column:
    heading: str
    cells: list[str]

    @property
    def width(self) -> int:
        texts = (*self.heading.split("\n"), *self.cells)
        return max(len(text) for text in texts)


def _two_lines(page: Page, heading: str) -> str:
    return "\n".join(page.text(line) for line in heading.split("\n"))


def _columns(shown: Sequence[RankedCandidate], wide: bool) -> list[_Column]:
    """Return the columns of the list, leaving out what nothing was measured for."""
    offs = [candidate.deviations for candidate in shown]
    columns = [
        _Column("#", [str(candidate.rank) for candidate in shown]),
        _Column(_COMPOUND, [candidate.name for candidate in shown]),
        _Column("formula", [elided(candidate.formula, 14) for candidate in shown]),
    ]
    if any(candidate.bottle for candidate in shown):
        columns.append(_Column("bottle", [elided(candidate.bottle, 12) for candidate in shown]))
    if wide:
        columns.append(_Column("CAS", [candidate.cas for candidate in shown]))
    columns.append(_Column("molar\nmass", [f"{candidate.molar_mass:.2f}" for candidate in shown]))
    columns.append(_Column("boils\n°C", [_boiling_text(candidate) for candidate in shown]))
    if any(off.molar_mass_percent is not None for off in offs):
        columns.append(_Column("mass\noff %", [signed(off.molar_mass_percent, 1) for off in offs]))
    if any(off.boiling_point_C is not None for off in offs):
        columns.append(_Column("boils\noff °C", [signed(off.boiling_point_C, 1) for off in offs]))
    for constant in LIQUID_CONSTANTS.values():
        key = constant.deviation_key
        if any(key in off.further for off in offs):
            cells = [signed(off.further.get(key), constant.decimals) for off in offs]
            columns.append(_Column(constant.column_heading, cells))
    if any(off.percent for off in offs):
        columns.append(_Column("worst\nelement", [_worst_element(off.percent) for off in offs]))
    columns.append(_Column("agrees", ["yes" if c.plausible else "no" for c in shown]))
    columns.append(_Column("prob-\nability", [percent_text(c.probability) for c in shown]))
    return columns


# Boiling points known worse than this are marked: the default tolerance of a reading [K].
_UNCERTAIN_BOILING_POINT = 2.0


def _boiling_text(candidate: RankedCandidate) -> str:
    mark = "?" if candidate.boiling_point_u > _UNCERTAIN_BOILING_POINT else " "
    return f"{candidate.boiling_point_C:.1f}{mark}"


def _worst_element(deviations: Mapping[str, float]) -> str:
    known = {symbol: value for symbol, value in deviations.items() if isfinite(value)}
    if not known:
        return "-"
    symbol = max(known, key=lambda element: abs(known[element]))
    if abs(known[symbol]) < 0.005:
        return "0.00   "
    return f"{signed(known[symbol], 2)} {symbol:<2}"


def footnote_lines(
    rankings: Sequence[Ranking], tolerances: Tolerances, page: Page, top: int = 10
) -> list[str]:
    """Return what the columns and marks of the tables mean, of those that are there.

    Parameters
    ----------
    rankings : sequence of Ranking
    tolerances : Tolerances
    page : Page
    top : int, default=10
        Compounds shown of each.
    """
    within = agreement_text(rankings, tolerances)
    shown = [candidate for ranking in rankings for candidate in ranking.candidates[:top]]
    sentences = []
    if within:
        sentences.append("off: the reading minus what the compound would have given")
        if any(candidate.deviations.percent for candidate in shown):
            sentences[-1] += (
                "; worst element: the element that is farthest off, in percentage points"
            )
        sentences.append(f"agrees: yes where every reading is within tolerance ({within})")
    if any(ranking.molar_mass is not None for ranking in rankings):
        sentences.append("±: one standard uncertainty")
    if any(candidate.boiling_point_u > _UNCERTAIN_BOILING_POINT for candidate in shown):
        sentences.append(
            f"?: a boiling point that may be off by more than {_UNCERTAIN_BOILING_POINT:g} °C, "
            "and is allowed that much more"
        )
    if any(candidate.deviations.further for candidate in shown):
        sentences.append("-: the table has no such constant of it, which counts neither way")
    return page.wrapped("".join(f"{sentence}. " for sentence in sentences).strip())


def agreement_text(rankings: Sequence[Ranking], tolerances: Tolerances) -> str:
    """Return within what the readings of some unknowns agree with a compound.

    Parameters
    ----------
    rankings : sequence of Ranking
    tolerances : Tolerances
    """
    read = [one.deviations for ranking in rankings for one in ranking.candidates[:1]]
    words = {
        f"molar mass {tolerances.molar_mass:g} %": any(
            off.molar_mass_percent is not None for off in read
        ),
        f"each element {tolerances.percent:g} points": any(off.percent for off in read),
        f"boiling point {tolerances.boiling_point:g} °C": any(
            off.boiling_point_C is not None for off in read
        ),
    }
    for name, constant in LIQUID_CONSTANTS.items():
        width = f"{constant.words} {getattr(tolerances, name):g}{constant.unit_text}"
        words[width] = any(constant.deviation_key in off.further for off in read)
    return ", ".join(text for text, is_read in words.items() if is_read)
