"""Results as plain data, ready for JSON: what a key is called and how a number is rounded."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields
from math import isfinite
from typing import Any

OMITTED = {"omitted": True}
"""Metadata of a field that is not part of the plain data."""


class Serializable:
    """A dataclass whose fields are its plain data, each under its own name.

    A field's metadata says otherwise: `serialized`, `decimals` or `OMITTED`.

    Examples
    --------
    >>> from dataclasses import dataclass, field
    >>> @dataclass
    ... class Weighing(Serializable):
    ...     mass: float = field(metadata=decimals(4, "mass_g"))
    ...     notes: tuple[str, ...] = ()
    ...     drift: float = float("nan")
    >>> Weighing(98.113249).to_dict()
    {'mass_g': 98.1132, 'notes': [], 'drift': None}
    """

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain data, ready for JSON."""
        described: Any = self  # a dataclass, which a type cannot say
        return {
            one.metadata.get("key") or one.name: one.metadata.get("made", plain)(
                getattr(self, one.name)
            )
            for one in fields(described)
            if not one.metadata.get("omitted")
        }


def serialized(made: Callable[[Any], Any], key: str = "") -> Mapping[str, Any]:
    """Return the metadata of a field that becomes data in a way of its own.

    Parameters
    ----------
    made : callable
        From the field's value to plain data.
    key : str
        Under which it stands; the field's name where empty.
    """
    return {"key": key, "made": made}


def decimals(count: int, key: str = "") -> Mapping[str, Any]:
    """Return the metadata of a field whose numbers are rounded to so many decimals."""
    return serialized(lambda value: rounded(value, count), key)


def digits(count: int, key: str = "") -> Mapping[str, Any]:
    """Return the metadata of a field whose number has so many significant digits."""
    return serialized(lambda value: significant(value, count), key)


def plain(value: Any) -> Any:
    """Return a result, or what results are made of, as plain data, ready for JSON.

    Examples
    --------
    >>> plain({"values": (1.0, float("inf")), 2: None})
    {'values': [1.0, None], '2': None}
    """
    if isinstance(value, float):
        return value if isfinite(value) else None
    if hasattr(value, "to_dict"):
        return value.to_dict()
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if hasattr(value, "tolist"):  # an array
        return plain(value.tolist())
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    return value


def rounded(value: Any, digits: int) -> Any:
    """Return plain data with its numbers rounded to so many decimals.

    Examples
    --------
    >>> rounded({"C": -0.00001, "H": (12.58333,), "O": float("nan")}, 4)
    {'C': 0.0, 'H': [12.5833], 'O': None}
    """
    data = plain(value)
    if isinstance(data, dict):
        return {key: rounded(one, digits) for key, one in data.items()}
    if isinstance(data, list):
        return [rounded(one, digits) for one in data]
    # Plus zero: what rounds to -0 is 0.
    return round(data, digits) + 0.0 if isinstance(data, float) else data


def significant(value: float | None, digits: int) -> float | None:
    """Return a number rounded to so many significant digits; None where it is not finite.

    Examples
    --------
    >>> significant(0.000123456, 3), significant(float("inf"), 3)
    (0.000123, None)
    """
    return None if value is None or not isfinite(value) else float(f"{value:.{digits}g}")
