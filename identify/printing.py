"""Answers as plain text for a terminal: 80 columns or more, with or without color and UTF-8."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, TextIO

from identify.statistics import justified

if TYPE_CHECKING:
    from identify.findings import Finding
    from identify.matching.answer import MolarMass, RankedCandidate, Ranking
    from identify.matching.likelihood import Tolerances
    from identify.matching.slips import Slip

CAUTION = (
    "Caution: nearly all of these liquids are flammable and many are toxic. No flame; work in the "
    "hood and wear eye protection; never heat a sealed flask; hot glass looks like cold glass. A "
    "name printed here is no basis for handling, tasting or disposing of an unknown: the "
    "instructor, the safety data sheet and local rules decide."
)

# Characters that a terminal without UTF-8 lacks, and what stands in for them.
_PLAIN = {"±": "+/-", "…": "...", "–": "-", "—": "-", "−": "-", "°": " ", "·": "*", "×": "x"}
_PLAIN |= {"²": "2", "³": "3", "₂": "2", "µ": "u", "’": "'", "≥": ">=", "≤": "<=", "Δ": "d"}
_PLAIN |= {"½": "1/2", "→": "->", "“": '"', "”": '"', "ρ": "rho", "α": "alpha", "β": "beta"}
_PLAIN_TABLE = str.maketrans(_PLAIN)

_BOLD, _DIM, _RED, _YELLOW, _RESET = "\x1b[1m", "\x1b[2m", "\x1b[31m", "\x1b[33m", "\x1b[0m"
_SEVERITY_COLOR = {"error": _RED, "warning": _YELLOW, "note": _DIM}


@dataclass(frozen=True)
class Page:
    """What the text is laid out for.

    Parameters
    ----------
    width : int
        Columns.
    color : bool
        Whether emphasis may be used. Nothing is said by color alone.
    unicode : bool
        Whether characters outside ASCII can be shown.
    """

    width: int = 80
    color: bool = False
    unicode: bool = True

    @classmethod
    def of(cls, stream: TextIO | None = None) -> Page:
        """Return the page that a stream shows; standard output where none is given."""
        stream = sys.stdout if stream is None else stream
        encoding = (getattr(stream, "encoding", None) or "ascii").lower().replace("-", "")
        color = (
            stream.isatty()
            and not os.environ.get("NO_COLOR")
            and os.environ.get("TERM", "") != "dumb"
        )
        columns = shutil.get_terminal_size((80, 24)).columns
        return cls(max(60, min(columns, 120)), color, encoding.startswith("utf"))

    def text(self, text: str) -> str:
        """Return text with only characters that the page can show."""
        # Control characters from a file's label must not reach the terminal.
        shown = "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in text)
        if self.unicode:
            return shown
        return shown.translate(_PLAIN_TABLE).encode("ascii", "replace").decode("ascii")

    def emphasized(self, text: str, code: str = _BOLD) -> str:
        """Return text in bold or a color, where the page has it."""
        return f"{code}{text}{_RESET}" if self.color and text else text

    def wrapped(self, text: str, first: str = "", rest: str | None = None) -> list[str]:
        """Return text broken into lines that fit, after ``first`` and then ``rest``."""
        rest = " " * len(first) if rest is None else rest
        flat = " ".join(self.text(text).split())
        # A number and its unit stay on one line.
        flat = flat.replace(" %", "\u00a0%").replace(" °C", "\u00a0°C")
        lines = textwrap.wrap(
            flat, self.width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
        )
        return [line.replace("\u00a0", " ") for line in lines] or [first.rstrip()]


def elided(text: str, width: int, ellipsis: str = "…") -> str:
    """Return text that fits a width, its middle left out where it is too long.

    Examples
    --------
    >>> elided("2,2,3,4-tetramethylpentane", 15)
    '2,2,3,4…pentane'
    >>> elided("ethanol", 15)
    'ethanol'
    """
    if len(text) <= width:
        return text
    room = max(width - len(ellipsis), 0)
    tail = room // 2
    return (text[: room - tail] + ellipsis + text[len(text) - tail :])[:width]


def percent_text(probability: float) -> str:
    """Return a probability as percent, never rounded to certainty.

    Examples
    --------
    >>> [percent_text(p) for p in (0.974, 0.0312, 0.0004, 0.99996, 1.0, 0.0)]
    ['97 %', '3.1 %', '<0.1 %', '>99.9 %', '>99.9 %', '<0.1 %']
    """
    percent = 100.0 * probability
    if percent > 99.9:
        return ">99.9 %"
    if percent < 0.1:
        return "<0.1 %"
    digits = 1 if percent < 9.95 or percent >= 99.0 else 0
    return f"{percent:.{digits}f} %"


def with_uncertainty(value: float, uncertainty: float, unit: str) -> str:
    """Return a value with the digits that its standard uncertainty justifies.

    Examples
    --------
    >>> with_uncertainty(46.2183, 0.6321, "g/mol")
    '46.2 ± 0.6 g/mol'
    >>> with_uncertainty(46.2183, 0.1321, "g/mol")
    '46.22 ± 0.13 g/mol'
    """
    if not (isfinite(uncertainty) and uncertainty > 0.0):
        return f"{value:.4g} {unit}"
    return f"{justified(value, uncertainty)} {unit}"


def signed(value: float | None, digits: int) -> str:
    """Return a deviation with its sign, a dash where there is none."""
    if value is None or not isfinite(value):
        return "-"
    if abs(value) < 0.5 * 10.0**-digits:
        return f"{0.0:.{digits}f}"
    text = f"{value:+.{digits}f}"
    if len(text) > digits + 6:  # thousands and more: the digits no longer matter
        return f"{value:+.0e}"
    return text


def table_lines(
    rows: Sequence[Sequence[str]], headings: Sequence[str], left: Sequence[int]
) -> list[str]:
    """Return rows as lines under their headings.

    Parameters
    ----------
    rows : sequence of sequence of str
        The cells.
    headings : sequence of str
        One a column; a line break divides a heading over two lines.
    left : sequence of int
        Columns set flush left; the others are flush right.
    """
    tops, bottoms = zip(*((("\n" + heading).split("\n"))[-2:] for heading in headings), strict=True)
    grid = [*([tops] if any(tops) else []), bottoms, *rows]
    widths = [max(len(row[column]) for row in grid) for column in range(len(headings))]
    return [
        " ".join(
            cell.ljust(width) if column in left else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in grid
    ]


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
        from identify.matching.next_measurement import deciding_sentences

        is_surer = ranking.verdict == "single match"
        lines += ["", *page.wrapped(deciding_sentences(ranking.undecided, is_surer), "  ")]
    findings = [one for one in ranking.findings if not _told_as_slip(one, ranking.slips)]
    if findings:
        lines.append("")
        for finding in findings:
            lines += finding_lines(finding, page)
    return lines


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
    if slip is not None:
        return (
            f"No match as it is written. Once a slip is set right, the likeliest is {first.name} "
            f"({percent_text(first.probability)})."
        )
    alike = [candidate for candidate in ranking.candidates if candidate.plausible]
    named = [candidate.name for candidate in alike[:3]]
    more = len(alike) - len(named)
    if len(named) < 2:
        return (
            f"Several matches: likeliest is {first.name} ({percent_text(first.probability)}), but "
            "these readings do not rule the others out."
        )
    names = ", ".join(named[:-1]) + (f" and {named[-1]}" if not more else f", {named[-1]}")
    rest = f" and {more} more" if more else ""
    return (
        f"Several matches: these readings agree with {names}{rest}; the likeliest is "
        f"{first.name} ({percent_text(first.probability)})."
    )


def _told_as_slip(finding: Finding, slips: Sequence[Slip]) -> bool:
    """Say whether a slip tells the same as a finding, with the number that would be right."""
    told = {slip.code for slip in slips}
    return finding.code in told or (
        finding.code == "percent-sum-low" and "element-left-out" in told
    )


def slip_lines(slip: Slip, page: Page) -> list[str]:
    """Return one slip, wrapped: what went wrong, how sure that is, and what it changes."""
    word = "  slip    "
    text = f"{slip.message} Probability {percent_text(slip.probability)}. [{slip.code}]"
    lines = page.wrapped(text, word, " " * len(word))
    if page.color:
        lines[0] = page.emphasized(word, _YELLOW) + lines[0][len(word) :]
    if slip.candidates:
        then, now = (
            ", ".join(f"{name} ({percent_text(share)})" for name, share in named if share >= 0.05)
            for named in (slip.candidates, slip.without)
        )
        lines += page.wrapped(f"With it set right: {then}. As written: {now}.", " " * len(word))
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


def finding_lines(finding: Finding, page: Page) -> list[str]:
    """Return one finding, wrapped: severity, what was found, what to do, and its code."""
    word = f"  {finding.severity:<8}"
    text = f"{finding.message} {finding.advice} [{finding.code}]"
    lines = page.wrapped(text, word, " " * len(word))
    code = _SEVERITY_COLOR.get(finding.severity, "")
    if page.color and code:
        lines[0] = page.emphasized(word, code) + lines[0][len(word) :]
    return lines


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
        *(page.emphasized(line, _DIM) for line in lines[:2]),
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
    for name, further in _FURTHER.items():
        if any(name in off.further for off in offs):
            cells = [signed(off.further.get(name), further.digits) for off in offs]
            columns.append(_Column(further.heading, cells))
    if any(off.percent for off in offs):
        columns.append(_Column("worst\nelement", [_worst_element(off.percent) for off in offs]))
    columns.append(_Column("agrees", ["yes" if c.plausible else "no" for c in shown]))
    columns.append(_Column("prob-\nability", [percent_text(c.probability) for c in shown]))
    return columns


@dataclass(frozen=True)
class _Further:
    """How the deviations of a further reading are shown, and its tolerance."""

    heading: str
    digits: int
    tolerance: str
    words: str
    unit: str = ""


_FURTHER = {
    "refractive_index": _Further("index\noff", 4, "refractive_index", "refractive index"),
    "density": _Further("g/mL\noff", 3, "density", "density", " g/mL"),
    "melting_point_C": _Further("melts\noff °C", 1, "melting_point", "melting point", " °C"),
}


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


def footnote_lines(tolerances: Tolerances, page: Page, further: Collection[str] = ()) -> list[str]:
    """Return what the columns and marks of the tables mean.

    Parameters
    ----------
    tolerances : Tolerances
    page : Page
    further : collection of str
        Names of the further deviations that the tables show.
    """
    also = "".join(
        f", {kind.words} {getattr(tolerances, kind.tolerance):g}{kind.unit}"
        for name, kind in _FURTHER.items()
        if name in further
    )
    unknown = " -: the table has no such constant of it, which counts neither way." if also else ""
    return page.wrapped(
        "off: the reading minus what the compound would have given; worst element: the element "
        "that is farthest off, in percentage points. agrees: yes where every reading is within "
        f"tolerance (molar mass {tolerances.molar_mass:g} %, each element "
        f"{tolerances.percent:g} points, boiling point {tolerances.boiling_point:g} °C{also}). "
        f"?: a boiling point that may be off by more than {_UNCERTAIN_BOILING_POINT:g} °C, and is "
        f"allowed that much more.{unknown}"
    )


def caution_lines(page: Page) -> list[str]:
    """Return the caution that ends every printed answer."""
    return page.wrapped(CAUTION)
