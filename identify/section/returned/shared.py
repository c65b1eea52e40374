"""What many students share, told to one of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from identify.section.result import Cause
from identify.section.wording import high_or_low

# What a cause lies in, by its code.
_LIES_IN = {
    "barometer-day": "the barometer of that day",
    "shared-pressure": "the pressure that was written down",
    "shared-barometer": "the barometer",
    "shared-balance": "the balance",
    "shared-thermometer": "the thermometer",
    "shared-flask": "the flask",
    "shared-bench": "something at that bench",
    "shared-day": "something on that day",
    "section-off": "something that all share, such as the barometer",
    "boiling-points-off": "the pressure that the boiling points belong to",
}
_SHARED = "something that many share"
_UNITS = {"%": "molar mass", "K": "boiling point"}
_NOT_YOURS = "That is not your doing, and it was set right before your result was judged."
_BOTTLE = (
    "The bottle, its card or its label is in doubt, for all who worked on it. That is not your "
    "doing; ask your instructor what the result counts for."
)


def shared_sentences(causes: Sequence[Cause]) -> Iterator[str]:
    """Yield what is shared, without who else it concerns and what is in a bottle.

    Parameters
    ----------
    causes : sequence of Cause
        Of one student.
    """
    if any(one.is_of_bottle for one in causes):
        yield _BOTTLE
    for one in causes:
        if not one.is_of_bottle:
            lies_in = _LIES_IN.get(one.code, _SHARED)
            yield f"Many results are off by the same cause: {lies_in}{_size(one)}. {_NOT_YOURS}"


def _size(cause: Cause) -> str:
    if cause.size is None or cause.unit not in _UNITS:
        return ""
    size = f"{abs(cause.size):.1f} {cause.unit}"
    return f", which puts the {_UNITS[cause.unit]} {size} {high_or_low(cause.size)}"
