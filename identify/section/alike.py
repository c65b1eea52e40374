"""Names and labels that are written differently and may mean one student, or one bottle."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Collection, Hashable, Iterable, Iterator, Mapping, Sequence

from identify.notebook.findings import Finding, listed
from identify.notebook.quantity.quantities import excerpt
from identify.section.key import folded_label
from identify.section.wording import students

_MAX_GROUPS_IN_SENTENCE = 6
_APOSTROPHES = re.compile(r"['’`´]")
_WORD = re.compile(r"[^\W_]+")
# Letters that stand for a digit behind or before one, but not as the first of a label.
_FOR_A_DIGIT = re.compile(r"(?<=\d)[oil|]+|(?<=[\W_])[oil|]+(?=\d)|(?<=[^\W\d_])[oil|]+(?=\d)")
_DIGITS = str.maketrans("oil|", "0111")
_RUN = re.compile(r"\d+|[^\W\d_]+")


def names_alike(names: Mapping[str, Collection[str]]) -> Iterator[Finding]:
    """Yield a finding of the names that may mean one student.

    Parameters
    ----------
    names : mapping of str to collection of str
        The labels that stand beside each name.
    """
    groups = _groups(names, _words_of)
    if not groups:
        return
    told = [
        " and ".join(f'"{excerpt(one)}" ({", ".join(names[one])})' for one in group)
        for group in groups
    ]
    yield Finding(
        "names-alike",
        "warning",
        "These names differ only by order, case, accents or commas, so that each may be one "
        f"student: {_joined(told)}.",
        "They are judged apart. Write the name in one way where it is one student, and check "
        "again.",
        {"names": float(sum(map(len, groups)))},
    )


def labels_alike(counts: Mapping[str, int], in_key: Collection[str] = ()) -> Iterator[Finding]:
    """Yield a finding of the labels that may mean one bottle, with the one that was meant.

    Parameters
    ----------
    counts : mapping of str to int
        How many students wrote each label.
    in_key : collection of str
        Labels of the key, as `folded_label` writes them. Those that it tells apart are not alike.
    """
    told: list[str] = []
    labels = 0
    for group in _groups(counts, _sign_of):
        known = [one for one in group if folded_label(one) in in_key]
        if len(known) < len(group):
            labels += len(group)
            told.append(_meant(group, known, counts))
    if not told:
        return
    yield Finding(
        "labels-alike",
        "warning",
        "These labels differ only by a hyphen, a zero, or a letter that looks like a digit: "
        f"{_joined(told)}.",
        "They are taken for bottles of their own. Correct those that are miswritten, and check "
        "again.",
        {"labels": float(labels)},
    )


def _meant(group: Sequence[str], known: Sequence[str], counts: Mapping[str, int]) -> str:
    """Say which of some labels was probably meant: the key's, else that of most students."""
    named = {one: f'"{excerpt(one)}" ({students(counts[one])})' for one in group}
    most = max(counts[one] for one in group)
    likely = known or [one for one in group if counts[one] == most]
    if len(likely) != 1:
        return f"{listed(list(named.values()))} may be one bottle"
    others = [text for one, text in named.items() if one != likely[0]]
    is_or_are = "is" if len(others) == 1 else "are"
    return f"{listed(others)} {is_or_are} probably {named[likely[0]]}"


def _joined(told: Sequence[str]) -> str:
    more = len(told) - _MAX_GROUPS_IN_SENTENCE
    cut = [f"and {more} more"] if more > 0 else []
    return "; ".join([*told[:_MAX_GROUPS_IN_SENTENCE], *cut])


def _groups(names: Iterable[str], folded: Callable[[str], Hashable]) -> list[list[str]]:
    """Return the names that are the same once folded, in the order of their first."""
    found: dict[Hashable, list[str]] = {}
    for name in names:
        if key := folded(name):
            found.setdefault(key, []).append(name)
    return [group for group in found.values() if len(group) > 1]


def _words_of(name: str) -> Hashable:
    """Return the words of a name without case and accents, whatever their order.

    Examples
    --------
    >>> _words_of("Ng, Ada") == _words_of("ada ng") == _words_of("Áda NG")
    True
    """
    plain = unicodedata.normalize("NFKD", _APOSTROPHES.sub("", name)).casefold()
    letters = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return frozenset(Counter(_WORD.findall(letters)).items())


def _sign_of(label: str) -> Hashable:
    """Return a label without what is easily written in two ways.

    Examples
    --------
    >>> len({_sign_of(one) for one in ("C-14", "C14", "C-014", "c_14", "C-l4")})
    1
    >>> len({_sign_of(one) for one in ("C-14", "C-1-4", "C-140", "D-14", "C-41")})
    5
    """
    plain = unicodedata.normalize("NFKC", label).casefold()
    while (read := _FOR_A_DIGIT.sub(lambda run: run[0].translate(_DIGITS), plain)) != plain:
        plain = read
    # Two numbers that follow each other are two, and not one of more digits.
    sign: list[str | int] = []
    for run in _RUN.findall(plain):
        if not run.isdecimal() and sign and isinstance(sign[-1], str):
            sign[-1] += run
        else:
            sign.append(int(run) if run.isdecimal() else run)
    return tuple(sign)
