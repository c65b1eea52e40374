"""What the tool has to say about a run: one finding, with its code, numbers and advice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, get_args

from identify.notebook.serializing import Serializable

Severity = Literal["error", "warning", "note"]


@dataclass(frozen=True)
class Finding(Serializable):
    """One thing that does not hold together, or that the reader should know.

    Parameters
    ----------
    code : str
        Stable name in lower case with hyphens, such as ``percent-sum-low``.
    severity : {"error", "warning", "note"}
        ``error``: a number cannot be right. ``warning``: a number is doubtful, or the answer
        leans on something doubtful. ``note``: worth knowing, nothing wrong.
    message : str
        One or two sentences for the person at the bench, with the numbers in them.
    advice : str
        What to do about it.
    numbers : mapping of str to float
        The numbers that raised the finding, each name ending in its unit where it has one.
    """

    code: str
    severity: Severity
    message: str
    advice: str
    numbers: Mapping[str, float] = field(default_factory=dict)


def worst_first(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings by severity, those of one severity in the order given.

    Examples
    --------
    >>> note, error = (Finding("percent-sum-low", one, "", "") for one in ("note", "error"))
    >>> [finding.severity for finding in worst_first([note, error])]
    ['error', 'note']
    """
    return sorted(findings, key=lambda finding: get_args(Severity).index(finding.severity))


def any_error(findings: Iterable[Finding]) -> bool:
    """Whether one of the findings says that a number cannot be right."""
    return any(finding.severity == "error" for finding in findings)


def listed(words: Sequence[str], most: int | None = None, conjunction: str = "and") -> str:
    """Join words as they stand in a sentence, a list longer than ``most`` cut short.

    Examples
    --------
    >>> listed(["1", "2", "4"]), listed(["2"]), listed(["1", "2", "3", "4"], 2)
    ('1, 2 and 4', '2', '1, 2 and 2 more')
    """
    if most is not None and len(words) > most:
        words = [*words[:most], f"{len(words) - most} more"]
    return f" {conjunction} ".join(filter(None, (", ".join(words[:-1]), words[-1])))
