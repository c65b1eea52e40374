"""CAS numbers: their check digit, and which number was meant where it is wrong."""

from __future__ import annotations

import re
from collections.abc import Iterator

_CAS_NUMBER = re.compile(r"\d{2,7}-\d{2}-\d")
_WRITTEN = re.compile(
    r"(?P<prefix>(?:n[°o]\.? ?)?(?:cas|chemical abstracts)(?:[\s-]*(?:registry|reg\.?))?"
    r"(?:[\s-]*(?:number|nummer|num\.?|no\.?|nr\.?|rn|#))?|casrn|rn)?[\s.:#=_]*"
    r"[(\[]?\s*0*(\d{2,7})(\s*-\s*|\s+|[./]|)(\d{2})(\s*-\s*|\s+|[./]|)(\d)\s*[)\]]?\.?",
    re.IGNORECASE,
)
# "1975-09-02" is what a spreadsheet makes of 75-09-2.
_DATE = re.compile(r"(?:19|20)(\d\d)-(\d\d)-0(\d)")


def _is_cas_number(text: str) -> bool:
    """Whether a text has the form of a CAS number, whatever its check digit.

    Examples
    --------
    >>> _is_cas_number("64-17-9"), _is_cas_number("ethanol")
    (True, False)
    """
    return _CAS_NUMBER.fullmatch(text) is not None


def written_number(text: str) -> str | None:
    """Return the CAS number that a text is, as people write it; None where it is not one.

    A number without hyphens and without a prefix is one where its check digit is right.

    Parameters
    ----------
    text : str
        With plain hyphens.

    Examples
    --------
    >>> written_number("CAS No. 64-17-5"), written_number("64175"), written_number("67 64 1")
    ('64-17-5', '64-17-5', '67-64-1')
    >>> written_number("CAS RN: 64-17-9"), written_number("64179")
    ('64-17-9', None)
    """
    found = _WRITTEN.fullmatch(text.strip())
    if found is None:
        return None
    prefix, first, joint, second, other_joint, last = found.groups()
    number = f"{first}-{second}-{last}"
    has_hyphens = "-" in joint and "-" in other_joint
    return number if prefix or has_hyphens or has_right_check_digit(number) else None


def has_right_check_digit(text: str) -> bool:
    """Whether a text is a CAS number whose last digit is the check digit of the others."""
    return _is_cas_number(text) and text == with_check_digit(text)


def with_check_digit(text: str) -> str:
    """Return the number with the check digit that belongs to its other digits.

    The digits before the last are counted from the right; each is multiplied by its position, and
    the sum modulo ten is the check digit. Common practice: CAS numbers are made so.

    Examples
    --------
    Of 64-17-5: 7 x 1 + 1 x 2 + 4 x 3 + 6 x 4 = 45.

    >>> with_check_digit("64-17-9")
    '64-17-5'
    """
    digits = reversed(text[:-1].replace("-", ""))
    total = sum(position * int(digit) for position, digit in enumerate(digits, start=1))
    return f"{text[:-1]}{total % 10}"


def slips_of_the_pen(text: str) -> Iterator[str]:
    """Yield the valid numbers that differ by one digit, or by two neighbors exchanged.

    The check digit catches every such slip, so that one of these was meant where only one was made.

    Examples
    --------
    >>> "67-64-1" in list(slips_of_the_pen("76-64-1"))
    True
    """
    digits = text.replace("-", "")
    written = set()
    for place, digit in enumerate(digits):
        for other in "0123456789":
            if other != digit:
                written.add(digits[:place] + other + digits[place + 1 :])
        pair = digits[place : place + 2]
        written.add(digits[:place] + pair[::-1] + digits[place + 2 :])
    for changed in sorted(written - {digits}):
        number = f"{changed[:-3]}-{changed[-3:-1]}-{changed[-1]}"
        if changed[0] != "0" and has_right_check_digit(number):
            yield number


def number_behind_date(text: str) -> str:
    """Return the CAS number that a spreadsheet turned into a date, empty where there is none.

    Examples
    --------
    >>> number_behind_date("1975-09-02"), number_behind_date("2024-11-30")
    ('75-09-2', '')
    """
    found = _DATE.fullmatch(text)
    number = f"{found[1]}-{found[2]}-{found[3]}" if found else ""
    return number if has_right_check_digit(number) else ""
