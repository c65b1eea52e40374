"""A boiling point that a file or a bottle's card states, beside the published one."""

from __future__ import annotations

_DOUBT = 5.0  # K between what is stated and the table that the row mentions


def doubt_of_published(published: float, uncertainty: float, stated: float, whose: str) -> str:
    """Return what a row says where the stated boiling point is another, else empty text.

    Parameters
    ----------
    published, uncertainty : float
        The built-in table's [degrees Celsius], and its standard uncertainty [K].
    stated : float
        In degrees Celsius.
    whose : str
        What states it.

    Examples
    --------
    >>> doubt_of_published(78.4, 0.1, 64.7, "stock table")
    "78.4 C (built-in table): 14 K above the stock table's"
    >>> doubt_of_published(78.4, 0.1, 78.0, "stock table")
    ''
    """
    off = stated - published
    if abs(off) <= max(_DOUBT, 2.0 * uncertainty):
        return ""
    side = "below" if off > 0 else "above"
    owner = f"the {whose}'s" if whose == "stock table" else f"what {whose} gives"
    return f"{published:.1f} C (built-in table): {abs(off):.0f} K {side} {owner}"
