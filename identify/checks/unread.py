"""What was written of the liquid and could not be read, or was not used: the answer says so."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from identify.checks.facts import Facts
from identify.notebook.findings import Finding, listed
from identify.notebook.measurement import Combustion, Conditions, Flask, Trial, readings, words
from identify.observables.tolerances import Tolerances

# Of the bench: a finding of the weighings says what comes of these.
_AT_THE_BENCH = frozenset(
    name for part in (Conditions, Flask, Trial) for name in (*readings(part), *words(part))
)
_OF_A_COMBUSTION = frozenset(readings(Combustion))


def _unread(facts: Facts) -> Iterator[Finding]:
    fields = [name for name in facts.run.unread if name not in _AT_THE_BENCH]
    names = list(dict.fromkeys(map(_name, fields)))
    if names:
        are = "are" if len(names) > 1 else "is"
        yield Finding(
            "reading-unread",
            "warning",
            f"The {listed(names)} {are} on the page and could not be read.",
            "Nothing is taken in the place of what was written. Put it right as the fault of the "
            "file says.",
            {},
        )


def _other_molar_mass(facts: Facts) -> Iterator[Finding]:
    """Tell of a vapor density beside a molar mass."""
    used, density = facts.run.molar_mass, facts.run.vapor_density
    if used is None or density is None:
        return
    other, value = density.to("g/mol").value, used.to("g/mol").value
    if other != value:
        yield _unused(
            f"A molar mass is given, {used}, and was used; the vapor density beside it, {density}, "
            f"which makes {other:.4g} g/mol, was not.",
            0.01 * Tolerances.molar_mass * value < abs(other - value),
        )


def _other_composition(facts: Facts) -> Iterator[Finding]:
    """Tell of a combustion beside percentages."""
    burned = facts.run.combustion
    if burned is None or facts.run.is_burned:
        return
    other = {element: share.value for element, share in burned.percent().items()}
    read = {element: share.to("%").value for element, share in facts.run.percent.items()}
    off = [abs(other[element] - read[element]) for element in other.keys() & read.keys()]
    gives = " + ".join(f"{element} {share:.2f}" for element, share in other.items())
    yield _unused(
        f"Percentages are given and were used; the combustion beside them{_which(gives)} was not.",
        max(off, default=0.0) > facts.percent_tolerance,
    )


def _which(gives: str) -> str:
    return f", which gives {gives}," if gives else ""


def _unused(message: str, differs: bool) -> Finding:
    advice = "Leave out the one that is not to be used."
    if differs:
        advice = f"They differ: one of them is wrong, or belongs to another bottle. {advice}"
    return Finding("reading-unused", "warning" if differs else "note", message, advice, {})


def _name(field: str) -> str:
    if field in _OF_A_COMBUSTION:
        return "combustion"
    return "composition" if field == "percent" else field.replace("_", " ")


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (
    _unread,
    _other_molar_mass,
    _other_composition,
)
