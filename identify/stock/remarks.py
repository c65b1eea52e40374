"""What holds for many bottles of a stock table, said once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from identify.notebook.findings import Finding, listed, worst_first
from identify.stock.result import BottleRemark, StockRow

# From so many bottles on, a remark is made once for all of them.
_MIN_BOTTLES_SAID_ONCE = 3


@dataclass(frozen=True)
class _Collective:
    """How the findings of one code are said of many bottles.

    Parameters
    ----------
    what : str
        What they have in common.
    detail : callable
        What is each bottle's own, behind its compound; may be empty.
    advice : callable
        To the instructor, from the findings.
    """

    what: str
    detail: Callable[[StockRow, Finding], str] = lambda row, finding: ""
    advice: Callable[[Sequence[Finding]], str] = lambda findings: findings[0].advice


def _boils(row: StockRow, finding: Finding) -> str:
    return "" if row.standing is None else f"{row.standing.boils_C:.1f} °C"


def _hotter_bath(findings: Sequence[Finding]) -> str:
    hottest = max(finding.numbers["bath_needed_C"] for finding in findings)
    before = findings[0].advice.rpartition(" takes one of ")[0].removesuffix(": it")
    return f"{before}: all of them together take one of {hottest:.0f} °C at least."


_COLLECTIVES: Mapping[str, _Collective] = MappingProxyType(
    {
        "carcinogen": _Collective(
            "Named on a list of carcinogens",
            lambda row, finding: "" if row.hazards is None else row.hazards.carcinogen,
        ),
        "exposure-limit-low": _Collective(
            "Exposure limits (eight hours' average, Ontario) below what one flask boiled off "
            "outside the hood gives",
            lambda row, finding: f"{finding.numbers['exposure_limit_ppm']:.3g} ppm",
        ),
        "compound-again": _Collective("In an earlier row too"),
        "bath-margin": _Collective("Boil close to the bath, or a little above it", _boils),
        "not-boiled-off": _Collective(
            "Boil above the bath, which does not drive the air out of the flask",
            _boils,
            _hotter_bath,
        ),
        "vapor-pressure-high": _Collective("Lose vapor before the second weighing", _boils),
        "boiling-point-uncertain": _Collective(
            "Boiling points that vary by source, or are estimated from the structure",
            lambda row, finding: (
                f"{finding.numbers['boiling_point_C']:.1f} ± "
                f"{finding.numbers['standard_uncertainty_K']:.1f} °C"
            ),
        ),
        "boiling-point-unknown": _Collective(
            "No boiling point is known here or stated, so that the method was not checked"
        ),
    }
)


def remarks_of(rows: Sequence[StockRow]) -> tuple[BottleRemark, ...]:
    """Return what is found of many bottles alike, the worst first.

    Parameters
    ----------
    rows : sequence of StockRow

    Examples
    --------
    >>> label = Finding("label-missing", "warning", "label: is empty.", "Label it.")
    >>> rows = [StockRow(row, "", "acetone", None, (label,)) for row in (2, 3, 5)]
    >>> [(one.message, one.rows) for one in remarks_of(rows)]
    [('label: is empty (row 2, row 3 and row 5).', (2, 3, 5))]
    """
    alike: dict[tuple[str, ...], list[tuple[StockRow, Finding]]] = defaultdict(list)
    for row in rows:
        for finding in row.findings:
            alike[_key(finding)].append((row, finding))
    many = [found for found in alike.values() if len(found) >= _MIN_BOTTLES_SAID_ONCE]
    by_severity = worst_first([found[0][1] for found in many])
    order = {id(finding): place for place, finding in enumerate(by_severity)}
    return tuple(_remark(found) for found in sorted(many, key=lambda one: order[id(one[0][1])]))


def _key(finding: Finding) -> tuple[str, ...]:
    """Return what findings must share to be said once."""
    if finding.code in _COLLECTIVES:
        return finding.code, finding.severity
    return finding.code, finding.severity, finding.message, finding.advice


def _remark(found: Sequence[tuple[StockRow, Finding]]) -> BottleRemark:
    rows, findings = [row for row, _ in found], [finding for _, finding in found]
    first = findings[0]
    collective = _COLLECTIVES.get(first.code)
    if collective is None:
        collective = _Collective(first.message.removesuffix("."))
        message = f"{collective.what} ({listed([row.title for row in rows])})."
    else:
        message = f"{collective.what}: {'; '.join(_by_compound(found, collective))}."
    return BottleRemark(
        code=first.code,
        severity=first.severity,
        message=message,
        advice=collective.advice(findings),
        labels=tuple(row.title for row in rows),
        rows=tuple(row.row for row in rows),
    )


def _by_compound(
    found: Sequence[tuple[StockRow, Finding]], collective: _Collective
) -> Iterator[str]:
    """Yield each compound with its bottles, and what is said of it alone."""
    bottles: dict[tuple[str, str], list[str]] = defaultdict(list)
    for row, finding in found:
        name = row.written if row.compound is None else row.compound.name
        bottles[name, collective.detail(row, finding)].append(row.title)
    for (name, detail), titles in bottles.items():
        yield f"{' '.join(filter(None, (name, detail)))} ({', '.join(titles)})"


def told_once(row: StockRow, remarks: Sequence[BottleRemark]) -> StockRow:
    """Return a row without the findings that are said of many bottles at once."""
    codes = {(one.code, one.severity) for one in remarks if row.row in one.rows}
    kept = tuple(one for one in row.findings if (one.code, one.severity) not in codes)
    return replace(row, findings=kept)
