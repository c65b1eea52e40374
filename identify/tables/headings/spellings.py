"""The dictionary of headings: what stands over the columns of every kind of table.

To have a heading known, add a phrase to its line in `HEADINGS`: under ``read`` where it plainly
means the column, under ``asked`` where a person is asked ("did you mean bath_C?") and nothing is
taken; one that could mean two columns is asked about in both lines. `phrases` says how a phrase is
written, `wording` which words count as one. What is measured of a liquid brings its own phrases
from `identify.observables`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from identify.observables.catalog import OBSERVABLES
from identify.physics.constants import ELEMENTS
from identify.tables.entry import (
    BAROMETER,
    FIELDS,
    PERCENT,
)
from identify.tables.headings.phrases import Phrase, phrases

TRIAL, STOCK, COLLECTION = "trial", "stock", "collection"
NOTE = "note"  # such a column is for persons alone
FIRST_NAME = "first_name"  # goes before what else says who measured
# Known, and not a reading: whom to ask, which trial comes first, what the student made of it.
REPORTED = ("answer", "reported_molar_mass")
ASIDE = (FIRST_NAME, "trial", *REPORTED)


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
        Phrases that plainly mean it, separated by commas, without units.
    asked : str
        Phrases that only seem to mean it, or could mean another column too.
    dimension, unit : str
        Of a quantity, and the unit of its plain numbers; a unit may stand beside any heading of it.
        Both empty for words.
    further : str
        What may stand in each of its phrases besides.

    Examples
    --------
    >>> bath = Heading("bath", "trial", dimension="temperature", unit="C")
    >>> bath.shown(), bath.shown("K"), Heading("label", "trial").shown()
    ('bath_C', 'bath_K', 'label')
    """

    field: str
    tables: str
    read: str = ""
    asked: str = ""
    dimension: str = ""
    unit: str = ""
    further: str = ""

    @property
    def stands_alone(self) -> bool:
        """Whether nothing need stand behind it."""
        return self is not ALL_ELEMENTS

    @property
    def needs_unit(self) -> bool:
        """Whether the word alone means something else: a liquid is what is in a bottle."""
        return self.field == "liquid"

    def shown(self, unit: str = "") -> str:
        """Return the heading as advice writes it, with a unit where it takes one."""
        if not self.stands_alone:
            return f"{self.field}_u"
        is_plain = self.unit in ("", "1", "g/mol") or self.field.startswith(PERCENT)
        return self.field if is_plain else f"{self.field}_{unit or self.unit}"

    @cached_property
    def phrases(self) -> tuple[Phrase, ...]:
        """What is read as this column."""
        return phrases(self.read, self.further)

    @cached_property
    def questions(self) -> tuple[Phrase, ...]:
        """What is asked about."""
        return phrases(self.asked, self.further)


# What people add to the name of something measured of the liquid.
_OF_THE_LIQUID = "unknown? liquid? sample? compound? substance? pure? experimental? card?"
# In a table of known liquids, what is published is what is meant.
_PUBLISHED = f"{_OF_THE_LIQUID} literature? calculated? theoretical?"
_LIQUID = "liquid/vapor/condensate/condensed/unknown/sample/content/compound"
_MORE = "foil? plus? boiling? chip? cooled? volatile? residual? remaining? rest?"
_IN_FLASK = f"{_MORE} final? after? liquid? vapor? condensate? condensed? unknown? sample?"


def _quantity(
    field: str, tables: str = TRIAL, read: str = "", asked: str = "", further: str = ""
) -> Heading:
    """Return the line of a quantity, with what notebook and observables say of it."""
    if field in OBSERVABLES:
        read = ", ".join(filter(None, (OBSERVABLES[field].headings, read)))
        further = further or _OF_THE_LIQUID
    return Heading(field, tables, read, asked, FIELDS[field].dimension, FIELDS[field].unit, further)


def _constant_at(field: str) -> Heading:
    """Return the line of the temperature at which a constant of the liquid was read."""
    constant = OBSERVABLES[field.removesuffix("_at")].words
    return _quantity(field, read=f"{constant} at temperature?, {constant} temperature")


_LABEL_OR_ANSWER = (
    "compound number? unknown?, chemical number? unknown?, substance unknown?, liquid, "
    "name compound/chemical/substance/liquid"
)
_FURTHER_NAMES = (
    "~~name common/iupac/systematic/trivial/generic/preferred compound? chemical? preferred? "
    "iupac?, ~~iupac"
)
# The phrases are common practice: what stands over columns of notebooks and spreadsheets.
_WORDS = (
    Heading(
        "label",
        TRIAL,
        "unknown/sample number? label? liquid? bottle? sample? unknown? assigned?, "
        "bottle number? label?, label number?, "
        "test tube number, liquid number",
        asked=f"number, name unknown, {_LABEL_OR_ANSWER}",
    ),
    Heading(
        "label",
        STOCK,
        "unknown/sample number? label? liquid? bottle? sample? unknown? assigned?, "
        "bottle number? label?, label number?, "
        "test tube number, flask number/label, ~number, ~stock number",
        asked="name unknown/bottle/sample",
    ),
    Heading(
        "student",
        TRIAL,
        "student name?, student name? last first?, name last? full?, last first?, name first last, "
        "analyst name?, experimenter name?, person name?, ~~student number, "
        "~~~team/partner lab? number? name? student?, ~~~student partner plus? name?",
        asked="number, name unknown",
    ),
    Heading(FIRST_NAME, TRIAL, "first name? student?"),
    Heading("trial", TRIAL, "trial number?, measurement number?", "number"),
    Heading(
        "answer",
        TRIAL,
        "answer student? final?, identity unknown? proposed? suspected? possible? student?, "
        "identified compound? liquid? unknown?, name/compound/liquid/substance proposed/suspected, "
        "conclusion, guess",
        asked=f"name unknown, {_LABEL_OR_ANSWER}",
    ),
    Heading(
        "identity",
        STOCK,
        "identity name? compound? chemical? liquid? unknown? true? actual? correct? bottle?, "
        "answer correct?",
    ),
    Heading(
        "name",
        STOCK,
        "name compound?, chemical name, compound chemical?, substance name?, ~chemical bottle?, "
        "~name liquid/solvent/reagent/material, ~liquid bottle?, ~solvent, ~reagent, ~material, "
        f"~content bottle?, {_FURTHER_NAMES}, ~~name full/product",
        asked="name unknown/bottle/sample",
    ),
    Heading(
        "name",
        COLLECTION,
        "name compound?, chemical name, compound chemical?, substance name?, ~chemical, "
        f"~name liquid/solvent/material/molar/structure, {_FURTHER_NAMES}",
    ),
    Heading("cas", "stock collection", "cas number? registry?, registry number"),
    Heading(
        "smiles",
        "stock collection",
        "smiles string? number? structure? notation? molar? compound?, smiles canonical/isomeric, "
        "~smiles unique/canonical/isomeric string? notation? number?, smi",
    ),
    Heading("inchi", COLLECTION, "inchi standard? string? number? structure?"),
    Heading("formula", STOCK, "formula molar? chemical? compound? sum?"),
    Heading(BAROMETER, TRIAL, "barometric kind"),
    Heading("balance", TRIAL, "balance number? name? label?"),
    Heading("barometer_name", TRIAL, "barometric number/name/label"),
    Heading("bench", TRIAL, "bench lab? number?, workplace number?"),
    Heading("day", TRIAL, "date experiment? lab?, day experiment? lab? number?"),
    Heading("flask", TRIAL, "flask number/name/label"),
    Heading("thermometer", TRIAL, "thermometer number? name? label?"),
    Heading(NOTE, TRIAL, "note lab? student?"),
)
_QUANTITIES = (
    _quantity(
        "empty",
        read="flask empty mass? foil? plus? before? initial? boiling? chip?, "
        "flask foil mass? plus? initial? boiling? chip?, flask mass air foil? plus? full?, "
        "mass empty foil? plus?, tare mass? flask? foil? plus?, ~flask mass, ~flask *",
        asked="mass, mass 1, mass before/initial/first, "
        "flask mass before/initial/first foil? plus? chip? boiling?, before",
    ),
    _quantity(
        "condensed",
        read=f"flask {_LIQUID} plus/foil/full mass {_IN_FLASK}, "
        f"flask {_LIQUID} plus/foil/full * {_IN_FLASK}, "
        f"flask mass after/final heating? cooling? {_MORE}",
        asked="mass, mass 2, mass after/final/second, after, condensed mass, "
        f"full flask mass? {_MORE}, flask mass heating/cooling/second {_MORE}, "
        f"flask {_LIQUID} mass, flask {_LIQUID} *",
    ),
    _quantity(
        "gain",
        read="gain mass?, mass condensate/vapor liquid? condensed? unknown? volatile? sample? "
        "compound?, mass condensed liquid/unknown/sample/compound/substance volatile?, "
        "mass difference flask?, condensate *, difference *, "
        "~mass liquid unknown? volatile?, ~mass unknown/compound/substance volatile?",
        asked="mass, condensed mass, mass sample volatile?, "
        f"flask {_LIQUID} mass, flask {_LIQUID} *",
    ),
    _quantity(
        "bath",
        read="bath water? hot? boiling? heating? oil? temperature?, temperature water boiling/hot, "
        "temperature vapor flask? unknown? sample?, boiling water *",
        asked="temperature, temperature water plus?, temperature flask",
    ),
    _quantity(
        "room",
        read="room/lab temperature, room lab temperature, temperature air room? lab?, room/lab *",
        asked="temperature",
    ),
    _quantity(
        "liquid",
        read="volume liquid/unknown/sample/compound poured/added volatile?, "
        "liquid/unknown/sample poured/added in? *, "
        "amount liquid/unknown/sample/compound poured? added? *, liquid poured/added",
    ),
    _quantity(
        "weighed_at",
        read="temperature weighing second? final? flask? content? condensed? at?, "
        "weighing at second? *",
        asked="temperature flask, temperature flask cooled/after/final",
    ),
    _quantity(
        "pressure",
        read="pressure barometric/atmospheric/air/room/lab/local/station p? lab?, "
        "pressure p?, p *, barometric/atmospheric lab? *, p barometric/atmospheric/air/room/lab *",
        asked="p, p barometric/atmospheric",
    ),
    _quantity("height", read="elevation lab? station? room? above? sea? level?"),
    _quantity("humidity", read="humidity relative? room? lab? air? percent?"),
    _quantity(
        "volume",
        read="volume flask? brim? true? actual? exact? internal? total? full?, "
        "capacity flask? brim? true? actual? exact?, volume vapor flask?",
    ),
    _quantity("size", read="size flask? volume?, size printed/marked flask?"),
    _quantity("water_mass", read="mass water flask? full?", asked="mass water flask plus full?"),
    _quantity("water_volume", read="volume water flask? full? brim?"),
    _quantity(
        "water_temperature",
        read="temperature water flask full? plus?, temperature water full",
        asked="temperature water plus?",
    ),
    _quantity("molar_mass", further="unknown? liquid? sample? compound? substance? vapor? card?"),
    _quantity("molar_mass", STOCK, further=_PUBLISHED),
    _quantity("boiling_point"),
    _quantity("boiling_point", "stock collection", further=_PUBLISHED),
    _quantity("density", asked="specific gravity"),
    _quantity("vapor_density", read="vapor density relative/hydrogen", asked="vapor density"),
    _quantity(
        "boiling_point_at",
        "trial stock collection",
        read="boiling point at/pressure p?, boiling point at pressure",
    ),
)
_LISTED = {heading.field for heading in _QUANTITIES}
# With ``_u`` behind it, the uncertainty of every element.
ALL_ELEMENTS = Heading("percent", TRIAL, dimension="percent", unit="%")


def _element(element: str, tables: str, further: str) -> Heading:
    e = element.lower()
    read = f"percent {e} mass? w? content? composition? elemental? element? analysis? card?"
    return Heading(PERCENT + element, tables, read, e, "percent", "%", further)


HEADINGS = (
    *_WORDS,
    *_QUANTITIES,
    Heading(
        "reported_molar_mass",
        TRIAL,
        "molar mass reported/calculated/experimental/student/result/final student?, "
        "formula mass reported/calculated/experimental",
        dimension="molar mass",
        unit="g/mol",
        further="unknown? vapor?",
    ),
    *(
        _constant_at(field) if field.endswith("_at") else _quantity(field)
        for field in FIELDS
        if field not in _LISTED and (field in OBSERVABLES or field.endswith("_at"))
    ),
    *(
        _quantity(field)
        for field in FIELDS
        if field not in _LISTED and field not in OBSERVABLES and not field.endswith("_at")
    ),
    ALL_ELEMENTS,
    *(_element(element, TRIAL, _OF_THE_LIQUID) for element in ELEMENTS),
    *(_element(element, STOCK, _PUBLISHED) for element in ELEMENTS),
)
