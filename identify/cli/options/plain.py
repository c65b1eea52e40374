"""Values of options that are made of a text as it is typed: texts, paths, counts and names."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import EnumType
from functools import partial
from math import inf
from pathlib import Path
from types import MappingProxyType, NoneType
from typing import Annotated, Any, get_args, get_origin


def take_plain_values(command: Any, annotations: Mapping[str, Any] = MappingProxyType({})) -> Any:
    """Let a command take plain values without typer's help, and what was not typed as it is.

    Newer versions of typer convert each value, given or not, by models of another library, which
    takes as long to import and to build as the whole match.

    Parameters
    ----------
    command : typer's command
    annotations : mapping of str to type
        Of its options, by name.

    Returns
    -------
    typer's command
        The same.
    """
    for one in command.get_params(command.context_class(command)):  # with --help
        if not one.required:
            made_of = _Plain.of(annotations.get(one.name))
            one.process_value = partial(_processed, one, made_of, one.process_value)
    return command


@dataclass(frozen=True)
class _Plain:
    """What makes a value of a text.

    Parameters
    ----------
    kind : callable
        `str`, `Path`, `int`, or the names that an option chooses from.
    lowest, highest : float
        Of a number.
    """

    kind: Callable[[str], Any]
    lowest: float
    highest: float

    @classmethod
    def of(cls, annotation: Any) -> _Plain | None:
        """Take it from an option's annotation, also that of a list; None where it is none such."""
        kinds, (option, *_) = [annotation], (*get_args(annotation)[1:], None)
        while get_args(kinds[0]):
            several = get_origin(kinds[0]) is not Annotated
            kinds = [
                one for one in get_args(kinds[0])[: None if several else 1] if one is not NoneType
            ]
        (kind, *others) = kinds
        if others or not (kind in (str, Path, int) or isinstance(kind, EnumType)):
            return None
        lowest, highest = (getattr(option, name, None) for name in ("min", "max"))
        return cls(kind, -inf if lowest is None else lowest, inf if highest is None else highest)

    def __call__(self, text: Any) -> Any:
        """Return the value.

        Raises
        ------
        ValueError
            If there is none, or it is not a plain text; typer says why.
        """
        if not isinstance(text, str) or (self.kind is int and not text.isdecimal()):
            raise ValueError(text)
        value = self.kind(text)
        if self.kind is int and not self.lowest <= value <= self.highest:
            raise ValueError(text)
        return value


def _processed(
    one: Any,
    made_of: _Plain | None,
    processed: Callable[[Any, Any], Any],
    context: Any,
    value: Any,
) -> Any:
    several = one.multiple or one.nargs == -1
    taken = value
    if value is None:
        taken = () if several else None
    elif value is not one.default:
        if made_of is None:
            return processed(context, value)
        try:
            taken = tuple(map(made_of, value)) if several else made_of(value)
        except ValueError:
            return processed(context, value)
    return taken if one.callback is None else one.callback(context, one, taken)
