"""The dictionary of headings: what stands over the columns of every kind of table.

To have a spelling known, add it to its line in `HEADINGS`: under ``read`` where it plainly means
the column, under ``asked`` where a person is asked ("did you mean bath_C?") and nothing is taken.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from identify.physics.constants import ELEMENTS
from identify.tables.entry import CIRCUMSTANCE_OF, FIELDS, NOTES, PERCENT

TRIAL, STOCK, COLLECTION = "trial", "stock", "collection"
NOTE = "note"  # what such a column holds is for persons


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
    dimension, unit : str
        Of a quantity, and the unit of its plain numbers; a unit may stand behind any heading of it.
        Both empty for words.
    read : str
        Further spellings, separated by commas, in small letters with a blank between words.
    asked : str
        Spellings that only seem to mean it, likewise; signs and brackets left out.

    Examples
    --------
    >>> Heading("bath", "trial", "temperature", "C").shown(), Heading("label", "trial").shown()
    ('bath_C', 'label')
    """

    field: str
    tables: str
    dimension: str = ""
    unit: str = ""
    read: str = ""
    asked: str = ""

    def shown(self, unit: str = "") -> str:
        """Return the heading as advice writes it, with a unit where it takes one."""
        is_plain = not self.unit or self.unit in ("1", "g/mol") or self.field.startswith("percent")
        return self.field if is_plain else f"{self.field}_{unit or self.unit}"

    def spellings(self) -> Iterator[str]:
        """Yield what is read as this column, the field itself first."""
        yield self.field
        yield from _listed(self.read)

    def asked_about(self) -> Iterator[str]:
        """Yield what is asked about."""
        yield from _listed(self.asked)


def _listed(spellings: str) -> list[str]:
    return spellings.split(", ") if spellings else []


def _quantity(field: str, tables: str = TRIAL, read: str = "", asked: str = "") -> Heading:
    """Return the line of a quantity, with dimension and unit from the notebook."""
    return Heading(field, tables, FIELDS[field].dimension, FIELDS[field].unit, read, asked)


# The spellings are common practice: what stands over columns of notebooks and spreadsheets.
_WORDS = (
    Heading(
        "label",
        "trial stock",
        asked="bottle, bottle code, bottle label, bottle no, bottle number, code, id, no, number, "
        "sample, sample id, sample no, sample number, unknown, unknown code, unknown id, "
        "unknown no, unknown number, vial",
    ),
    Heading(
        "student",
        TRIAL,
        asked="group, name, partner, partners, student name, students, team",
    ),
    Heading("identity", STOCK),
    Heading(
        "name",
        "stock collection",
        read="compound, compound name, chemical name, substance",
    ),
    Heading(
        "cas",
        "stock collection",
        read="cas number, cas no, casrn, cas rn, cas registry number",
    ),
    Heading("smiles", "stock collection", read="canonical smiles, isomeric smiles"),
    Heading("inchi", COLLECTION, read="standard inchi"),
    Heading("formula", STOCK),
    Heading("barometer", TRIAL),
    *(
        Heading(field, TRIAL, read=", ".join(said for said in names if said != field))
        for field in dict.fromkeys(CIRCUMSTANCE_OF.values())
        if (names := [name for name, told in CIRCUMSTANCE_OF.items() if told == field])
    ),
    Heading(NOTE, TRIAL, read=", ".join(sorted(NOTES - {NOTE} - CIRCUMSTANCE_OF.keys()))),
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
    _quantity("latitude"),
    _quantity("height"),
    _quantity(
        "volume",
        asked="brim volume, flask volume, v, v flask, vol, volume flask, volume of flask",
    ),
    _quantity("water_mass"),
    _quantity("water_temperature"),
    _quantity("water_volume"),
    _quantity(
        "molar_mass",
        "trial stock",
        asked="m w, mol weight, molar weight, molecular mass, molecular weight, mr, mw",
    ),
    _quantity(
        "boiling_point",
        "trial stock collection",
        read="normal boiling point, bp",
        asked="b p, boiling, boiling point t, boiling pt, boiling t, boiling temp, "
        "boiling temperature, t boil",
    ),
    _quantity("boiling_point_at", "trial stock collection"),
    _quantity("refractive_index", asked="n d, n20 d, n20d, nd, refraction, ri"),
    _quantity("refractive_index_at"),
    _quantity("density", asked="rho, specific gravity"),
    _quantity("density_at"),
    _quantity("melting_point", asked="freezing point, m p, melting pt, melting temperature, mp"),
)
# With ``_u`` behind it, the uncertainty of every element.
ALL_ELEMENTS = Heading("percent", TRIAL, "percent", "%")
HEADINGS = (
    *_WORDS,
    *_QUANTITIES,
    ALL_ELEMENTS,
    *(Heading(PERCENT + element, "trial stock", "percent", "%") for element in ELEMENTS),
)
ELEMENT_NAMES = {
    "carbon": "C",
    "hydrogen": "H",
    "nitrogen": "N",
    "oxygen": "O",
    "sulfur": "S",
    "phosphorus": "P",
    "fluorine": "F",
    "chlorine": "Cl",
    "bromine": "Br",
    "iodine": "I",
    "silicon": "Si",
    "boron": "B",
}
