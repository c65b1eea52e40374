"""What was written of the liquid and could not be read: it is not known, and the answer says so."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from identify.checks.facts import Facts
from identify.notebook.findings import Finding, listed
from identify.notebook.measurement import Combustion, Conditions, Flask, Trial, readings, words

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


def _name(field: str) -> str:
    if field in _OF_A_COMBUSTION:
        return "combustion"
    return "composition" if field == "percent" else field.replace("_", " ")


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (_unread,)
