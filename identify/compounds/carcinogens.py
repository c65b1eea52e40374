"""What the lists of carcinogens say of a compound, and of which use of it they say so."""

from __future__ import annotations

AS_DRUNK = "as drunk in alcoholic beverages"
"""The scope of an entry that is about drinking, not about the liquid in a laboratory.

"Ethanol in alcoholic beverages", "acetaldehyde associated with consumption of alcoholic beverages":
IARC Monographs 96 (2010) and 100E (2012), as its own list of classifications words them.
"""

# What the lists are called in the table, and in a sentence.
_SHORT = {
    "International Agency for Research on Cancer": "IARC",
    "National Toxicology Program 13th Report on Carcinogens": "NTP",
}
# Entries that deserve a warning: known and probable. IARC's "possibly" (2B) alone rests on limited
# evidence, tetrahydrofuran and 4-methyl-2-pentanone among them, and is a note; what NTP reasonably
# anticipates rests on sufficient evidence in animals. IARC, Preamble to the Monographs; from
# memory.
_GRAVE = ("Carcinogenic to humans (1)", "Probably carcinogenic to humans (2A)", "NTP:")
_BETWEEN = "; "


def short_lists(lists: str) -> str:
    """Return the table's words with the names of the lists as people say them.

    Examples
    --------
    >>> short_lists("International Agency for Research on Cancer: Carcinogenic to humans (1)")
    'IARC: Carcinogenic to humans (1)'
    """
    for name, short in _SHORT.items():
        lists = lists.replace(name, short)
    return lists


def of_the_liquid(lists: str) -> str:
    """Return the entries that are about the liquid itself, empty where there are none.

    Examples
    --------
    >>> of_the_liquid("IARC: Carcinogenic to humans (1), as drunk in alcoholic beverages")
    ''
    """
    entries = lists.split(_BETWEEN)
    return _BETWEEN.join(entry for entry in entries if not entry.endswith(AS_DRUNK))


def is_grave(lists: str) -> bool:
    """Say whether a list calls the liquid itself a known or probable carcinogen."""
    about = short_lists(of_the_liquid(lists))
    return any(words in about for words in _GRAVE)
