"""How a heading is worded: its words in one form each, the unit beside them, and the condition.

People write `B.P. (°C)`, `bp / °C`, `Boiling pt, deg C` and `boilingPoint_C` over the same column.
Case, accents, marks, the order of words and small words like "of" say nothing. A word that has
several spellings goes by one of them. Where the unit stands can only be guessed, so that a heading
has several wordings, the likeliest first.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from identify.notebook.composition.percentages import ELEMENT_OF
from identify.notebook.quantity.units import is_unit_spelling, plain_characters

_SPELLED = {
    # Substances and things.
    "flask": "erlenmeyer container vessel dumas",
    "chip": "stone",
    "partner": "member",
    "foil": "lid cap cover stopper aluminum aluminium al tinfoil closure seal septum rubber band",
    "vapor": "vapour gas gaseous",
    "unknown": "unk unkn",
    "plus": "and with incl including containing",
    "full": "filled fill filling",
    "bottle": "vial jar btl",
    "barometric": "barometer baro bar",
    "atmospheric": "atm atmosphere atmos",
    "room": "ambient surrounding",
    "lab": "laboratory",
    "compound": "cmpd cpd",
    "water": "wtr",
    # What is measured.
    "temperature": "temp temper tmp t",
    "pressure": "press pres",
    "volume": "vol v",
    "mass": "masse weight wt wgt m",
    "molar": "molecular molec molecule mol mole",
    "point": "pt pnt",
    "boiling": "boil",
    "melting": "melt mlt",
    "freezing": "freeze",
    "refractive": "refraction refr refract ref",
    "humidity": "humid hum",
    "density": "dens rho",
    "elevation": "altitude height",
    "relative": "rel",
    "analysis": "anal",
    "registry": "reg rn",
    "canonical": "can",
    "isomeric": "iso",
    "standard": "std",
    "chemical": "chem",
    "theoretical": "theory theo theor",
    "percent": "pct percentage perc",
    "size": "nominal",
    # What is said of it.
    "empty": "dry clean evacuated",
    "condensed": "cond",
    "liquid": "liq",
    "difference": "diff delta increase change gained net",
    "experimental": "exp expt exptl found obtained determined obs meas",
    "calculated": "calc calcd computed",
    "literature": "lit published tabulated handbook reference crc",
    "uncertainty": "unc uncert error err sd stdev",
    "weighing": "weighed weigh",
    # Who and which.
    "number": "no nr num nos id identifier code letter nbr",
    "name": "nam",
    "last": "surname family",
    "first": "given forename",
    "team": "group grp pair",
    "student": "stu pupil",
    "identity": "identification ident",
    "trial": "run replicate rep repetition determination attempt",
    "note": "comment remark observation",
    "kind": "type",
    "p": "phosphorous",
    "s": "sulphur",
}
# Written as one word, or as an initialism.
_JOINED = {
    "bp": "boiling point",
    "bpt": "boiling point",
    "nbp": "normal boiling point",
    "isosmiles": "isomeric smiles",
    "cansmiles": "canonical smiles",
    "stdinchi": "standard inchi",
    "tb": "boiling point",
    "tbp": "boiling point",
    "tboil": "boiling point",
    "boilingpoint": "boiling point",
    "boilingpt": "boiling point",
    "mp": "melting point",
    "mpt": "melting point",
    "meltingpoint": "melting point",
    "mw": "molar mass",
    "mwt": "molar mass",
    "molwt": "molar mass",
    "molarmass": "molar mass",
    "molmass": "molar mass",
    "molecularweight": "molar mass",
    "molecularmass": "molar mass",
    "molweight": "molar mass",
    "fw": "formula mass",
    "gfw": "formula mass",
    "mf": "molar formula",
    "ri": "refractive index",
    "nd": "refractive index",
    "rmm": "relative molar mass",
    "rh": "relative humidity",
    "patm": "p atmospheric",
    "pbar": "p barometric",
    "tbath": "temperature bath",
    "bathtemp": "temperature bath",
    "troom": "temperature room",
    "roomtemp": "temperature room",
    "tamb": "temperature room",
    "vflask": "volume flask",
    "mflask": "mass flask",
    "mempty": "mass empty",
    "casrn": "cas registry",
    "casno": "cas number",
    "casnumber": "cas number",
    "casnr": "cas number",
    "compoundname": "compound name",
    "chemicalname": "chemical name",
    "commonname": "common name",
    "iupacname": "iupac name",
    "studentname": "student name",
    "studentid": "student number",
    "bottleno": "bottle number",
    "unknownno": "unknown number",
    "flaskvolume": "volume flask",
    "pctc": "percent c",
    "pcth": "percent h",
    "pctn": "percent n",
    "pcto": "percent o",
}
# Say nothing; `and` and `with` do, see `plus`.
_SMALL_WORDS = (
    "of the a an in is are was were for from your my our its it on to this that which value "
    "reading read by as measured observed recorded own per each unit used"
)
_SMALL = frozenset(_SMALL_WORDS.split())
WORD_OF = {name: symbol.lower() for name, symbol in ELEMENT_OF.items()} | {
    spelling: word for word, all_of in _SPELLED.items() for spelling in all_of.split()
}
LEXICON = frozenset({*_SPELLED, *WORD_OF, *_JOINED, *_SMALL})
_KEPT = frozenset({"smiles", "cas", "celsius", "this", *_SPELLED})  # no plurals

_BRACKET = re.compile(r"[(\[{]([^()\[\]{}]*)(?:[)\]}]|$)")
_MARK = re.compile(r"[,/:;|]|\bin\b")  # a unit may stand behind
_GAP = re.compile(r"[\s_]+|(?<=[a-z])-(?=[a-z])", re.IGNORECASE)
_CAMEL = re.compile(r"(?<=[a-z]{2})(?=[A-Z])")
_DOTTED = re.compile(r"(?<![A-Za-z])([A-Za-z])\.\s?(?=[A-Za-z](?![A-Za-z]))")
_NAMES = re.compile(r"[a-z]+|[0-9]+")
_CONDITION = re.compile(
    r"(?:\bat\s*|@\s*)?(?<![\w.])([0-9]+(?:[.,][0-9]+)?)\s*"
    r"((?:°|deg\.?)\s?[CFK]|[CFK]|mm\s?-?Hg|in\s?Hg|torr|[kh]?Pa|m?bar|atm)(?![A-Za-z])",
    re.IGNORECASE,
)
# The sodium line: n20/D, nD20, n_D; and a density relative to water, d20/4.
_IN_LIST = re.compile(r"^\s*(?:[0-9]{1,2}|[a-z])[.)]\s+")
_GOOD_TO = re.compile(r"(?:±|\+/-)\s*[0-9]+(?:[.,][0-9]+)?")
_DEGREES_BEHIND = re.compile(r"(?<![A-Za-z])([CF])\s?°")
_WHOSE = ("atm", "bar")  # behind a lone p rather whose pressure it is
_SODIUM = re.compile(
    r"(?<![A-Za-z])n[\s_^]*(?:([0-9]{2})[\s/_°C]*)?[\s_(]*D(?![A-Za-z])\)?"
    r"[\s_^(]*(?:([0-9]{2})\s*(?:°?\s*C)?\)?)?",
    re.IGNORECASE,
)
_RELATIVE = re.compile(r"\s*d[\s_^]*20(?:\s*/\s*4)?(?![0-9])", re.IGNORECASE)
# From a piece and its place to the rest and the unit, each way to split it.
_Split: TypeAlias = Callable[[str, int], Iterator[tuple[str, str]]]
_SIGNS = {
    "%": " percent ",
    "#": " number ",
    "&": " plus ",
    "+": " plus ",
    "@": " at ",
    "±": " uncertainty ",
    "δ": " difference ",
    "∆": " difference ",
    "ρ": " density ",
    "°": " ",
}


@dataclass(frozen=True)
class Wording:
    """One way to understand how a heading is worded.

    Parameters
    ----------
    words : frozenset of str
        In their usual forms, small words left out. Numbers are words.
    unit : str
        What seems to be the unit, as it stands there; may be empty.
    is_marked : bool
        Whether brackets or another mark set the unit off.
    at : str
        The temperature or pressure that the heading states, such as "25 °C"; may be empty.
    """

    words: frozenset[str]
    unit: str = ""
    is_marked: bool = False
    at: str = ""


def wordings(heading: str) -> Iterator[Wording]:
    """Yield the ways to understand a heading, the likeliest first.

    Examples
    --------
    >>> next(wordings("Temp. of water-bath (°C)"))
    Wording(words=frozenset({...}), unit='°C', is_marked=True, at='')
    >>> [sorted(next(wordings(text)).words) for text in ("B.P.", "Mass of flask + foil", "n20/D")]
    [['boiling', 'point'], ['flask', 'foil', 'mass', 'plus'], ['index', 'refractive']]
    >>> next(wordings("Density at 25 C")).at
    '25 C'
    """
    text, at = _without_condition(_tidied(plain_characters(heading)))
    within = [found.strip(" ,;:") for found in _BRACKET.findall(text)]
    pieces = [_BRACKET.sub(" ", text), *filter(None, within)]
    yield from _with_unit(pieces, _in_brackets, at)
    yield from _with_unit(pieces, _behind_mark, at)
    unmarked = [replace(one, is_marked=False) for one in _with_unit(pieces, _at_an_end, at)]
    # Behind a pressure they are its unit, before it they say whose it is.
    yield from (one for one in unmarked if one.unit in _WHOSE and text.strip().endswith(one.unit))
    yield Wording(words_of(" ".join(pieces)), at=at)
    yield from unmarked
    for chunk in pieces[1:]:  # which may be a unit that is seldom seen
        others = [piece for piece in pieces if piece is not chunk]
        yield Wording(words_of(" ".join(others)), chunk, True, at)


def _tidied(text: str) -> str:
    """Return a heading without its number in a list, and what an instrument is good to.

    Examples
    --------
    >>> _tidied("2) Bath temp (±0.5 C°)"), _tidied("Bath.temp..C."), _tidied("Name(s)")
    ('Bath temp ( °C)', 'Bath temp C ', 'Names')
    """
    text = _IN_LIST.sub("", _GOOD_TO.sub("", text)).replace("(s)", "s")
    text = _DEGREES_BEHIND.sub(r"°\1", text)
    # A program put dots where blanks and brackets were.
    is_dotted = not re.search(r"\s", text) and re.search(r"[A-Za-z]{2}\.", text)
    return re.sub(r"\.+", " ", text) if is_dotted else text


def _with_unit(pieces: Sequence[str], split: _Split, at: str) -> Iterator[Wording]:
    """Yield the wordings in which a piece holds the unit, as a function splits it off."""
    for place, piece in enumerate(pieces):
        for rest, unit in split(piece, place):
            others = [*pieces[:place], rest, *pieces[place + 1 :]]
            yield Wording(words_of(" ".join(others)), _spelt_unit(unit), True, at)


def _in_brackets(piece: str, place: int) -> Iterator[tuple[str, str]]:
    if place > 0 and is_unit(piece):
        yield "", piece


def _without_condition(text: str) -> tuple[str, str]:
    """Take the temperature or pressure out of a heading that states one."""
    at = ""
    if found := _SODIUM.search(text):
        degrees = found[1] or found[2]
        at = f"{degrees} °C" if degrees else ""
        text = f"{text[: found.start()]} nd {text[found.end() :]}"
    if found := _RELATIVE.match(text):
        text, at = f"d {text[found.end() :]}", "20 °C"
    if found := _CONDITION.search(text):
        at = f"{found[1]} {found[2]}"
        text = f"{text[: found.start()]} {text[found.end() :]}"
    return text, at


def _behind_mark(piece: str, place: int) -> Iterator[tuple[str, str]]:
    for mark in _MARK.finditer(piece):
        if is_unit(piece[mark.end() :]):
            yield piece[: mark.start()], piece[mark.end() :]


def _at_an_end(piece: str, place: int) -> Iterator[tuple[str, str]]:
    piece = piece.strip(" _")
    gaps = list(_GAP.finditer(piece))
    for gap in gaps[-3:]:
        rest, unit = piece[: gap.start()], piece[gap.end() :]
        if is_unit(unit) and not (len(rest) == 1 and unit in _WHOSE):
            yield rest, unit
    for gap in reversed(gaps[:2]):
        if is_unit(piece[: gap.start()]):
            yield piece[gap.end() :], piece[: gap.start()]


def is_unit(text: str) -> bool:
    """Tell whether a text is a unit in one of its everyday spellings.

    Examples
    --------
    >>> is_unit("mm Hg"), is_unit(" deg. C"), is_unit("wt. %"), is_unit("g_mol"), is_unit("foil")
    (True, True, True, True, False)
    """
    return bool(_spelt_unit(text))


def _spelt_unit(text: str) -> str:
    """Return a unit as a cell would have it, empty where it is none.

    Examples
    --------
    >>> _spelt_unit("g_mol"), _spelt_unit("deg_C")
    ('g/mol', 'deg C')
    """
    words = text.replace("_", " ").strip(" -").split()
    ways = (" ".join(words), "/".join(words))
    return next((way for way in ways if is_unit_spelling(way)), "")


def words_of(text: str) -> frozenset[str]:
    """Return the words of a text in their usual forms, small ones left out.

    Examples
    --------
    >>> sorted(words_of("Student's Weights of the Flasks & lids"))
    ['flask', 'foil', 'mass', 'plus', 'student']
    """
    text = _DOTTED.sub(r"\1", _CAMEL.sub(" ", plain_characters(text)))
    letters = unicodedata.normalize("NFKD", text.casefold())
    text = "".join(letter for letter in letters if not unicodedata.combining(letter))
    text = re.sub(r"['’]s?\b", "", text)
    text = re.sub(r"\bw/(?![wo])", " with ", re.sub(r"\bh2o\b", "water", text))
    for sign, word in _SIGNS.items():
        text = text.replace(sign, word)
    found: list[str] = []
    for name in _joined_initials(_NAMES.findall(text)):
        found += _JOINED.get(name, "").split() or [_usual(name)]
    return frozenset(found) - _SMALL


def _joined_initials(names: list[str]) -> Iterator[str]:
    """Yield the names, with "b p" as one."""
    place = 0
    while place < len(names):
        both = "".join(names[place : place + 2])
        is_initialism = both in (*_JOINED, "id") and len(names[place]) == 1
        yield both if is_initialism else names[place]
        place += 2 if is_initialism else 1


def _usual(name: str) -> str:
    """Return the usual form of a word: of a plural that of the singular."""
    is_plural = len(name) > 3 and name.endswith("s") and not name.endswith("ss")
    singular = name[:-1] if is_plural else name
    return WORD_OF.get(name) or WORD_OF.get(singular) or (name if name in _KEPT else singular)
