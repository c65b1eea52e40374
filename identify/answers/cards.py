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
from typing import TYPE_CHECKING, Any, TypeVar

from identify.answers.text.page import elided
from identify.notebook.printable import printable
from identify.notebook.shown import Shown

if TYPE_CHECKING:
    from identify.compounds.naming.meaning import Compound
    from identify.stock.result import Hazards

CARDS_TITLE = "Bottle cards"
KEY_FIRST_LINE = "For the instructor only"
KEY_TITLE = f"{KEY_FIRST_LINE}: key to the bottle cards"
LONGEST_LABEL = 120  # characters; more would not be read on a card

_T = TypeVar("_T")

_DIGITS = re.compile(r"(\d+)")


@dataclass(frozen=True)
class _CardLayout:
    """How cards lie on a sheet, and what they look like: the same in a browser and on paper.

    Parameters
    ----------
    width, height : float
        Of a card [mm]; two by four fit on A4 and on Letter, with margins that any printer can
        leave.
    inset : float
        Of the words from the card's left and right edges [mm].
    across, down : int
        Cards on a sheet.
    parts_a_line : int
        Elements of the composition beside one another.
    ink, faint, cut : str
        Colors of the words, of the small words, and of the lines to cut along.
    """

    width: float = 92.0
    height: float = 63.0
    inset: float = 6.0
    across: int = 2
    down: int = 4
    parts_a_line: int = 4
    ink: str = "#16212b"
    faint: str = "#4a5763"
    cut: str = "#8b97a2"

    @property
    def on_a_sheet(self) -> int:
        """Cards on a sheet."""
        return self.across * self.down


LAYOUT = _CardLayout()


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

    def parts(self, cards: Sequence[_T]) -> Iterator[list[_T]]:
        """Yield what comes onto each sheet."""
        every = [card for card in cards for _ in range(self.copies)]
        for start in range(0, len(every), LAYOUT.on_a_sheet):
            yield every[start : start + LAYOUT.on_a_sheet]


@dataclass(frozen=True)
class PrintedCard:
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
        >>> PrintedCard("K-7", -0.04, {}).boiling_point
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
        >>> PrintedCard("K-7", 64.5, {"C": 37.484, "H": 12.583, "O": 49.933}).rounding
        '(each is rounded; they add up to 99.99)'
        >>> PrintedCard("K-8", 80.1, {"C": 92.258, "H": 7.742}).rounding
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
    card : PrintedCard
    compound : Compound
    hazards : Hazards or None
    """

    row: int
    card: PrintedCard
    compound: Compound
    hazards: Hazards | None = None


@dataclass(frozen=True, repr=False)
class Deck(Shown):
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

    main_table = "cards"

    @property
    def headline(self) -> str:
        """The deck in a few words."""
        return f"{len(self.entries)} cards, {len(self.refused)} rows without one"

    @property
    def cards(self) -> tuple[PrintedCard, ...]:
        """The cards, without what is behind them."""
        return tuple(entry.card for entry in self.entries)

    def to_dict(self) -> dict[str, Any]:
        """Return the cards as plain data: nothing that a student may not see."""
        return {
            "cards": [
                {
                    "label": card.label,
                    "boiling_point_C": round(card.boiling_point_C, 1),
                    "pressure": self.pressure,
                    "percent": {element: float(share) for element, share in card.composition},
                }
                for card in self.cards
            ],
            "refused": list(self.refused),
            "remarks": list(self.remarks),
        }


@dataclass(frozen=True)
class CardFace:
    """The words on a card, from top to bottom.

    Parameters
    ----------
    label : str
        With what cannot be printed spelled out.
    boiling_point, at : str
        With its unit, and the pressure that it belongs to.
    percent_heading : str
    parts : tuple of (str, str)
        Each element with its percentage.
    """

    label: str
    boiling_point: str
    at: str
    percent_heading: str
    parts: tuple[tuple[str, str], ...]
    heading: str = "Unknown liquid"
    boiling_point_heading: str = "Boiling point"
    caution: str = (
        "Treat it as flammable and toxic: no flame, work in the hood, wear eye protection. Do not "
        "taste or sniff it. Your instructor has its safety data sheet; local rules decide."
    )

    @classmethod
    def of(cls, card: PrintedCard, pressure: str, spell: Callable[[str], str]) -> CardFace:
        """Return what is printed of a card.

        Parameters
        ----------
        card : PrintedCard
        pressure : str
            At which the boiling point is given.
        spell : callable
            See `spelled_out`.
        """
        return cls(
            spell(elided(card.label, LONGEST_LABEL)),
            card.boiling_point,
            f"at {pressure}",
            f"Percent by mass {card.rounding}".rstrip(),
            card.composition,
        )


@dataclass(frozen=True)
class _KeyColumn:
    """A column of the key: its heading, its width beside the others, and its cells."""

    heading: str
    width: float
    of: Callable[[KeyEntry], str]

    @property
    def share(self) -> float:
        """Of the width of all columns."""
        return self.width / sum(column.width for column in KEY_COLUMNS)


def _composition(entry: KeyEntry) -> str:
    # An element and its number stay on one line.
    parts = (f"{element}\N{NO-BREAK SPACE}{share}" for element, share in entry.card.composition)
    return ", ".join(parts)


def _flash_point(entry: KeyEntry) -> str:
    ends = () if entry.hazards is None else entry.hazards.flash_points_C
    return " to ".join(f"{end:d}".replace("-", "\N{MINUS SIGN}") for end in ends) or _NONE


_NONE = "\N{EN DASH}"
KEY_COLUMNS = (
    _KeyColumn("Label", 12.0, lambda entry: elided(entry.card.label, LONGEST_LABEL)),
    _KeyColumn("Name", 22.0, lambda entry: entry.compound.name),
    _KeyColumn("CAS number", 13.0, lambda entry: entry.compound.cas or _NONE),
    _KeyColumn("Formula", 12.0, lambda entry: entry.compound.formula),
    _KeyColumn("Molar mass (g/mol)", 11.0, lambda entry: f"{entry.compound.molar_mass:.2f}"),
    _KeyColumn(
        "Boiling point (°C)", 11.0, lambda entry: entry.card.boiling_point.removesuffix(" °C")
    ),
    _KeyColumn("Composition (%)", 20.0, _composition),
    _KeyColumn("Flash point (°C)", 10.0, _flash_point),
    _KeyColumn(
        "Carcinogen lists", 28.0, lambda entry: getattr(entry.hazards, "carcinogen", "") or _NONE
    ),
)


def key_notes(deck: Deck) -> tuple[str, str]:
    """Return what stands above the key."""
    return (
        f"Key to the bottle cards. Boiling points at {deck.pressure}, as on the cards.",
        "Composition in percent by mass, from the structure. Flash points and carcinogens as "
        "published lists have them: a dash says that those looked through have no entry, not that "
        "a liquid is safe. The safety data sheets and local rules decide.",
    )


def key_cells(deck: Deck, spell: Callable[[str], str]) -> list[list[str]]:
    """Return the rows of the key, a cell a column of `KEY_COLUMNS`."""
    return [[spell(column.of(entry)) for column in KEY_COLUMNS] for entry in deck.entries]


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
    return printable(label, lambda one: f"[U+{ord(one):04X}]")


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
