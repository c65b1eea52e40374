"""The dictionary of headings: what stands over the columns of every kind of table.

To have a spelling known, add it to its line in `HEADINGS`: under ``read`` where it plainly means
the column, under ``asked`` where a person is asked ("did you mean bath_C?") and nothing is taken.
What is measured of a liquid brings its own from `identify.observables`.
"""

from __future__ import annotations

from dataclasses import dataclass

from identify.observables.catalog import OBSERVABLES
from identify.physics.constants import ELEMENTS
from identify.tables.entry import (
    BAROMETER,
    CIRCUMSTANCE_OF,
    CIRCUMSTANCES,
    FIELDS,
    NOTES,
    PERCENT,
)

TRIAL, STOCK, COLLECTION = "trial", "stock", "collection"
NOTE = "note"  # such a column is for persons alone


@dataclass(frozen=True)
class Heading:
    """What one column holds, and how it is headed.

    Parameters
    ----------
    field : str
        What it holds; itself a heading, with blanks, underscores, dots or hyphens between words.
    tables : str
        The kinds of table that have such a column, of ``trial``, ``stock`` and ``collection``. A
        word with two meanings stands in two lines, each with its kinds.
    read : str
        Further spellings, separated by commas, in small letters with a blank between words.
    asked : str
        Spellings that only seem to mean it, likewise; signs and brackets left out.
    dimension, unit : str
        Of a quantity, and the unit of its plain numbers; a unit may stand behind any heading of it.
        Both empty for words.

    Examples
    --------
    >>> bath = Heading("bath", "trial", asked="water bath", dimension="temperature", unit="C")
    >>> bath.shown(), bath.shown("K"), Heading("label", "trial").shown()
    ('bath_C', 'bath_K', 'label')
    """

    field: str
    tables: str
    read: str = ""
    asked: str = ""
    dimension: str = ""
    unit: str = ""

    @property
    def stands_alone(self) -> bool:
        """Whether nothing need stand behind it."""
        return self is not ALL_ELEMENTS

    def shown(self, unit: str = "") -> str:
        """Return the heading as advice writes it, with a unit where it takes one."""
        if not self.stands_alone:
            return f"{self.field}_u"
        is_plain = self.unit in ("", "1", "g/mol") or self.field.startswith(PERCENT)
        return self.field if is_plain else f"{self.field}_{unit or self.unit}"

    def spellings(self) -> list[str]:
        """Return what is read as this column, the field itself first."""
        return [self.field, *(self.read.split(", ") if self.read else [])]

    def asked_about(self) -> list[str]:
        """Return what is asked about."""
        return self.asked.split(", ") if self.asked else []


def _quantity(field: str, tables: str = TRIAL, read: str = "", asked: str = "") -> Heading:
    """Return the line of a quantity, with what notebook and observables say of it."""
    if field in OBSERVABLES:
        further = OBSERVABLES[field].headings.split(", ")
        asked = ", ".join(one for one in further if one not in read.split(", "))
    return Heading(field, tables, read, asked, FIELDS[field].dimension, FIELDS[field].unit)


_OTHER_WORDS = {told: said for said, told in CIRCUMSTANCE_OF.items() if said != told}
# The spellings are common practice: what stands over columns of notebooks and spreadsheets.
_WORDS = (
    Heading(
        "label",
        "trial stock",
        asked="bottle, bottle code, bottle label, bottle no, bottle number, code, id, no, number, "
        "sample, sample id, sample no, sample number, unknown, unknown code, unknown id, "
        "unknown no, unknown number, vial",
    ),
    Heading("student", TRIAL, asked="group, name, partner, partners, student name, students, team"),
    Heading("identity", STOCK),
    Heading("name", "stock collection", "compound, compound name, chemical name, substance"),
    Heading("cas", "stock collection", "cas number, cas no, casrn, cas rn, cas registry number"),
    Heading("smiles", "stock collection", "canonical smiles, isomeric smiles"),
    Heading("inchi", COLLECTION, "standard inchi"),
    Heading("formula", STOCK),
    Heading(BAROMETER, TRIAL),
    *(Heading(told, TRIAL, _OTHER_WORDS.get(told, "")) for told in CIRCUMSTANCES),
    Heading(NOTE, TRIAL, ", ".join(sorted(NOTES - {NOTE, *CIRCUMSTANCE_OF}))),
)
_QUANTITIES = (
    _quantity(
        "empty",
        asked="dry flask, empty flask, empty mass, flask and foil, flask and lid, flask, "
        "empty flask and foil, flask empty, m1, mass 1, mass before, mass empty, "
        "mass of empty flask, tare, before",
    ),
    _quantity(
        "condensed",
        asked="condensate, condensed mass, flask and condensate, flask and liquid, "
        "flask and vapor, full flask, m2, mass 2, mass after, mass condensed, after",
    ),
    _quantity(
        "bath",
        asked="bath t, bath temp, bath temperature, t bath, water bath, water bath temp, "
        "water bath temperature",
    ),
    _quantity(
        "room",
        asked="ambient, ambient temperature, lab temperature, room t, room temp, "
        "room temperature, t room",
    ),
    _quantity(
        "pressure",
        asked="air pressure, atmospheric pressure, barometric pressure, p, p atm, "
        "barometer reading",
    ),
    _quantity("humidity", asked="relative humidity, rh"),
    _quantity(
        "volume", asked="brim volume, flask volume, v, v flask, vol, volume flask, volume of flask"
    ),
    _quantity("molar_mass", "trial stock"),
    _quantity("boiling_point", "trial stock collection", "normal boiling point, bp"),
    _quantity("boiling_point_at", "trial stock collection"),
)
_LISTED = {heading.field for heading in _QUANTITIES}
# With ``_u`` behind it, the uncertainty of every element.
ALL_ELEMENTS = Heading("percent", TRIAL, dimension="percent", unit="%")
HEADINGS = (
    *_WORDS,
    *_QUANTITIES,
    *(_quantity(field) for field in FIELDS if field not in _LISTED),
    ALL_ELEMENTS,
    *(
        Heading(PERCENT + element, "trial stock", dimension="percent", unit="%")
        for element in ELEMENTS
    ),
)
