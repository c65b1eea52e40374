"""Findings on the pressure of a boiling point: one that was hardly meant as a vacuum."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from identify.checks.facts import Facts
from identify.notebook.findings import Finding
from identify.notebook.plausible import PLAUSIBLE
from identify.notebook.quantity.notation import PLAIN_NUMBER
from identify.notebook.quantity.quantities import Quantity


def _laboratory_meant(written: Quantity) -> Quantity | None:
    """Return what a pressure of a boiling point is in a laboratory, None where it is as it stands.

    A vacuum that is written with its unit is one. A number without a unit, or with a comma that may
    be one of thousands, is asked about where a laboratory may have read it.

    Examples
    --------
    >>> from identify.notebook.quantity.quantities import read_quantity
    >>> for text in ("98.9", "1,013 hPa", "15 mmHg", "742"):
    ...     print(_laboratory_meant(read_quantity(text, "pressure", "mmHg")))
    98.9 kPa
    1013 hPa
    None
    None
    """
    laboratory = PLAUSIBLE["pressure"]
    if laboratory.holds(written) or not PLAUSIBLE["boiling_point_at"].holds(written):
        return None
    meant = laboratory.meant(written)
    is_plain = PLAIN_NUMBER.fullmatch(written.text) is not None
    return meant if meant is not None and (is_plain or meant.unit == written.unit) else None


def pressure_findings(written: Quantity | None) -> Iterator[Finding]:
    """Yield a finding where the pressure of a boiling point may be a laboratory's."""
    meant = None if written is None else _laboratory_meant(written)
    if written is None or meant is None:
        return
    shown = f"{meant.value:.10g} {meant.unit}"
    yield Finding(
        "boiling-point-pressure",
        "warning",
        f"The pressure of the boiling point is written as {written.text or written} and was taken "
        f"as {written}, {_compared(written)}; {shown} would be a laboratory's.",
        f"Did you mean {shown}? Write it with its unit and without a comma for thousands. If the "
        "liquid boiled at the pressure that was taken, leave it.",
        {"read_hPa": written.to("hPa").value, "meant_hPa": meant.to("hPa").value},
    )


def _compared(written: Quantity) -> str:
    low, _ = PLAUSIBLE["pressure"].limits
    return "a vacuum" if written.to("Pa").value < low else "more than any weather"


def _pressure(facts: Facts) -> Iterator[Finding]:
    return pressure_findings(facts.run.boiling_point_at)


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (_pressure,)
