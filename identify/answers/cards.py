"""Cards for the bottles of a stock table, and the key to them.

A card shows what a student may know: label, boiling point, percent composition. What draws cards is
given nothing else, so that nothing else can be on them.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from identify.compounds.identities import Compound
    from identify.stock.result import Hazards

HEADING = "Unknown liquid"
CARD_CAUTION = (
    "Treat it as flammable and toxic: no flame, work in the hood, wear eye protection. Do not "
    "taste or sniff it. Your instructor has its safety data sheet; local rules decide."
)
CARDS_TITLE = "Bottle cards"
KEY_FIRST_LINE = "For the instructor only"
KEY_TITLE = f"{KEY_FIRST_LINE}: key to the bottle cards"
KEY_NOTE = (
    "Composition in percent by mass, from the structure. Flash points and carcinogens as published "
    "lists have them: a dash says that those looked through have no entry, not that a liquid is "
    "safe. The safety data sheets and local rules decide."
)
KEY_HEADINGS = (
    "Label",
    "Name",
    "CAS number",
    "Formula",
    "Molar mass (g/mol)",
    "Boiling point (°C)",
    "Composition (%)",
    "Flash point (°C)",
    "Carcinogen lists",
)
ON_A_SHEET = 8
# Widths of the key's columns, beside one another.
KEY_WIDTHS = (12.0, 22.0, 13.0, 12.0, 11.0, 11.0, 20.0, 10.0, 28.0)
LONGEST_LABEL = 120  # characters; more would not be read on a card

T = TypeVar("T")

_DIGITS = re.compile(r"(\d+)")


class Paper(StrEnum):
    """What is printed on."""

    a4 = "a4"
    letter = "letter"

    @property
    def css(self) -> str:
        """Its name in a style sheet."""
        return self.value if self is Paper.letter else self.value.upper()


@dataclass(frozen=True)
class Sheet:
    """How cards come onto paper.

    Parameters
    ----------
    paper : Paper
    copies : int
        Of each card, one behind the other.

    Examples
    --------
    >>> [len(part) for part in Sheet(copies=3).parts("abc")]
    [8, 1]
    """

    paper: Paper = Paper.a4
    copies: int = 1

    def parts(self, cards: Sequence[T]) -> Iterator[list[T]]:
        """Yield what comes onto each sheet."""
        every = [card for card in cards for _ in range(self.copies)]
        for start in range(0, len(every), ON_A_SHEET):
            yield every[start : start + ON_A_SHEET]


@dataclass(frozen=True)
class Card:
    """What a bottle's card shows.

    Parameters
    ----------
    label : str
    boiling_point_C : float
        At the pressure of the deck.
    percent : mapping of str to float
        By mass, each element that it holds.
    """

    label: str
    boiling_point_C: float
    percent: Mapping[str, float]

    @property
    def boiling_point(self) -> str:
        """The boiling point as printed.

        Examples
        --------
        >>> Card("K-7", -0.04, {}).boiling_point
        '0.0 °C'
        """
        return f"{round(self.boiling_point_C, 1) + 0.0:.1f} °C".replace("-", "\N{MINUS SIGN}")

    @property
    def composition(self) -> tuple[tuple[str, str], ...]:
        """Each element with its percentage as printed."""
        return tuple((element, f"{share:.2f}") for element, share in self.percent.items())

    @property
    def rounding(self) -> str:
        """What the printed percentages add up to, where that is not 100.00.

        Examples
        --------
        >>> Card("K-7", 64.5, {"C": 37.484, "H": 12.583, "O": 49.933}).rounding
        '(each is rounded; they add up to 99.99)'
        >>> Card("K-8", 80.1, {"C": 92.258, "H": 7.742}).rounding
        ''
        """
        total = f"{sum(float(share) for _, share in self.composition):.2f}"
        return "" if total == "100.00" else f"(each is rounded; they add up to {total})"


@dataclass(frozen=True)
class KeyEntry:
    """A card, and the liquid behind it.

    Parameters
    ----------
    row : int
        Of the stock table.
    card : Card
    compound : Compound
    hazards : Hazards or None
    """

    row: int
    card: Card
    compound: Compound
    hazards: Hazards | None = None

    @property
    def cells(self) -> tuple[str, ...]:
        """The entry as the key prints it, under ``KEY_HEADINGS``."""
        known, composition = self.compound, self.card.composition
        flash = float("nan") if self.hazards is None else self.hazards.flash_point_C
        carcinogen = "" if self.hazards is None else self.hazards.carcinogen
        return (
            self.card.label,
            known.name,
            known.cas or "–",
            known.formula,
            f"{known.molar_mass:.2f}",
            self.card.boiling_point.removesuffix(" °C"),
            # An element and its number stay on one line.
            ", ".join(f"{element}\N{NO-BREAK SPACE}{share}" for element, share in composition),
            f"{flash:.0f}".replace("-", "\N{MINUS SIGN}") if isfinite(flash) else "–",
            carcinogen or "–",
        )


@dataclass(frozen=True)
class Deck:
    """The cards of a stock table.

    Parameters
    ----------
    pressure : str
        At which the boiling points are given.
    entries : tuple of KeyEntry
        By label.
    refused : tuple of str
        Rows without a card, one line each.
    remarks : tuple of str
        What the instructor should know of rows with one.
    """

    pressure: str
    entries: tuple[KeyEntry, ...]
    refused: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def cards(self) -> tuple[Card, ...]:
        """The cards, without what is behind them."""
        return tuple(entry.card for entry in self.entries)


def natural_order(label: str) -> tuple[tuple[int, int, str], ...]:
    """Return what labels are sorted by: numbers in them by size.

    Examples
    --------
    >>> sorted(["K-10", "k-2", "K-1", "A", "7"], key=natural_order)
    ['7', 'A', 'K-1', 'k-2', 'K-10']
    """
    parts = _DIGITS.split(label.casefold())
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts if part)


def spelled(label: str) -> str:
    """Return a label with what has no shape of its own spelled out.

    Examples
    --------
    >>> spelled("K\u202e7")
    'K[U+202E]7'
    """
    return "".join(
        c if c.isprintable() or c == "\N{NO-BREAK SPACE}" else f"[U+{ord(c):04X}]" for c in label
    )


def spelled_out(
    entries: Sequence[KeyEntry], spell: Callable[[str], str] = spelled
) -> Iterator[tuple[int, str]]:
    """Yield the row and the printed label of each entry whose label is not printed as it is.

    Parameters
    ----------
    entries : sequence of KeyEntry
    spell : callable
        What is made of a label: `spelled`, or what a font cannot set spelled out too.
    """
    for entry in entries:
        label = unicodedata.normalize("NFC", entry.card.label)
        if (printed := spell(label)) != label:
            yield entry.row, printed
