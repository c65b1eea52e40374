"""The lines of a form: what to write down, in which unit, and what is lost without it.

Record, sheet for the bench, tables and questions all take their lines from here. Keys, units and
what is usual are those of the notebook; only the words are here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from identify.notebook import usual
from identify.notebook.quantity.units import shown_unit
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE
from identify.tables.entry import BAROMETER, RECORD_FIELDS
from identify.tables.entry import PERCENT as ONE_PERCENT
from identify.tables.records.keys import (
    CARD,
    COMBUSTION,
    CONDITIONS,
    FLASK,
    PERCENT,
    TRIAL,
    VAPOR,
    VAPOR_FIELDS,
)

TRIALS = "trials"  # how many; is not written into a record
FORM_ELEMENTS = ("C", "H", "N", "O", "Cl", "Br")  # that a form has room for; others can be added

BENCH_CAUTIONS = (
    "Flammable, and its vapor travels: no flame and no spark; heat on a hot plate, in the hood.",
    "Toxic until you know better: eye protection and gloves all the time; do not sniff or taste.",
    "Never heat a sealed flask: the lid has a pinhole, and it stays open.",
    "Hot glass looks like cold glass: use a clamp or tongs, and let it cool before you weigh.",
    "A name from this program is not a basis for handling, tasting or disposing of the liquid: "
    "the instructor, the safety data sheet and local rules decide.",
)


@dataclass(frozen=True)
class FormLine:
    """One thing to write down.

    Parameters
    ----------
    key : str
        Of the record; in tables the field of a column.
    section : str
        Of the record, empty for what stands above all sections.
    words : str
        What it is.
    without : str
        What is lost, or taken: where it is not measured; goes on behind a colon.
    example : str
        As a person writes it, without its unit.
    needs : str
        Another key, without which there is no point in this one.
    instead : tuple of str
        Keys any of which makes this one needless.
    is_rare : bool
        Whether few pages have it: it stands in a form to be taken where it is wanted.
    """

    key: str
    section: str
    words: str
    without: str = ""
    example: str = ""
    needs: str = ""
    instead: tuple[str, ...] = ()
    is_rare: bool = False

    @property
    def unit(self) -> str:
        """The unit of a plain number, empty for words and numbers without unit."""
        if self.key.startswith(ONE_PERCENT):
            return "%"
        field = VAPOR_FIELDS[self.key] if self.section == VAPOR else self.key
        unit = RECORD_FIELDS[field].unit if field in RECORD_FIELDS else ""
        return "" if unit == "1" else unit

    @property
    def unit_text(self) -> str:
        """The unit as a person reads it."""
        return shown_unit(self.unit).strip() if self.unit else ""


def _constants() -> Iterator[FormLine]:
    """Yield the lines of what else can be read of the liquid."""
    for name, constant in LIQUID_CONSTANTS.items():
        yield FormLine(name, CARD, f"{constant.words} of the liquid", is_rare=True)
        if constant.has_temperature:
            at = "temperature of that reading; 20 °C where nothing is written"
            yield FormLine(f"{name}_at", CARD, at, needs=name, is_rare=True)


_ROOM = f"{usual.ROOM - ICE_POINT:.0f} ± {usual.ROOM_SPREAD:.0f} °C"
_BRIM = f"{100 * usual.BRIM_RATIO_SD / usual.BRIM_RATIO:.0f} %"
_PRESSURE = f"{100 * usual.PRESSURE_SPREAD / STANDARD_PRESSURE:.0f} %"

_HEAD = (
    FormLine("label", "", "what stands on the bottle", example="C-14"),
    FormLine("student", "", "your name or group", example="Robin"),
)
_CARD = (
    FormLine(
        "boiling_point",
        CARD,
        "boiling point, from the card or your own",
        "compounds of one formula can hardly be told apart.",
        "64.6",
    ),
    FormLine(
        "boiling_point_at",
        CARD,
        "its pressure, 760 mmHg where the card says nothing",
        "760 mmHg are taken; 20 mmHg more or less are nearly 1 °C.",
        "760",
        needs="boiling_point",
    ),
    FormLine(
        "boiling_point_by",
        CARD,
        "own where you read it yourself, card where the card says it",
        "the card's is taken, which is trusted more.",
        needs="boiling_point",
    ),
    FormLine(
        PERCENT,
        CARD,
        "percent by mass of each element, such as C 37.5 H 12.6 O 49.9",
        "compounds that weigh and boil alike can hardly be told apart.",
        "C 37.48 H 12.58 O 49.93",
    ),
    FormLine(
        "formula",
        CARD,
        "or the formula, such as C2H6O",
        "compounds that weigh and boil alike can hardly be told apart.",
        instead=(PERCENT,),
    ),
    *_constants(),
)
_COMBUSTION = tuple(
    FormLine(key, COMBUSTION, words, is_rare=True)
    for key, words in (
        ("sample", "what was burned"),
        ("co2", "carbon dioxide from it"),
        ("h2o", "water from it; likewise n2, so2, agcl, agbr, agi"),
    )
)
_WORKED_OUT = (
    FormLine(
        "molar_mass",
        CARD,
        "or, in place of weighings, a molar mass worked out already",
        "the card alone leaves many compounds.",
        "32.4",
        instead=(TRIALS,),
    ),
    FormLine(
        "molar_mass_by",
        CARD,
        "ideal gas, if that molar mass is m R T / (P V)",
        "both are weighed: that it is, and that it was corrected.",
        needs="molar_mass",
    ),
    FormLine(
        "vapor_density",
        CARD,
        "vapor density; to air as in 2.55 (air)",
        is_rare=True,
    ),
)
_TRIALS = FormLine(
    TRIALS, "", "how many times the flask was weighed with condensed liquid; 0: not at all"
)
_CONDITIONS = (
    FormLine(
        "pressure",
        CONDITIONS,
        "what the barometer reads there, not reduced to sea level",
        f"a usual one is taken, and the molar mass is uncertain by {_PRESSURE} more.",
        "742.0",
        needs=TRIALS,
    ),
    FormLine(
        "height",
        CONDITIONS,
        "height above the sea, where no barometer was read",
        "the pressure is that of some place below 500 m.",
        "1600",
        needs=TRIALS,
        instead=("pressure",),
    ),
    FormLine(
        "room",
        CONDITIONS,
        "temperature of the room",
        # The change of the molar mass of cyclohexane, hexane, acetone and diethyl ether.
        f"{_ROOM} are taken: 1 to 3 % of the molar mass, most for a liquid that boils low.",
        "22.5",
        needs=TRIALS,
    ),
    FormLine("humidity", CONDITIONS, "relative humidity; hardly matters", is_rare=True),
    FormLine(
        BAROMETER, CONDITIONS, "mercury, aneroid or digital; mercury is corrected", is_rare=True
    ),
    FormLine(
        "weighed_at",
        CONDITIONS,
        "of the flask at the second weighing, where not the room's",
        is_rare=True,
    ),
    FormLine(
        "liquid",
        CONDITIONS,
        "how much was poured into the flask; only checked to be enough",
        is_rare=True,
    ),
    FormLine("latitude", CONDITIONS, "for gravity at a mercury barometer", is_rare=True),
)
_FLASK = (
    FormLine(
        "volume",
        FLASK,
        "what the flask holds to the brim, not what is printed on it",
        f"what is printed on it leaves {_BRIM} of the molar mass open.",
        "287.4",
        needs=TRIALS,
    ),
    FormLine(
        "water_mass",
        FLASK,
        "or the mass of the water that fills it to the brim",
        "",
        "286.6",
        needs=TRIALS,
        instead=("volume",),
    ),
    FormLine(
        "water_temperature",
        FLASK,
        "the temperature of that water",
        "that of the room is taken: 0.1 % of the volume.",
        "21.5",
        needs="water_mass",
    ),
    FormLine(
        "water_volume",
        FLASK,
        "or that water measured out; fills add up: 100.0 + 100.0 + 87.4",
        "",
        "100.0 + 100.0 + 87.4",
        needs=TRIALS,
        instead=("volume", "water_mass"),
    ),
    FormLine(
        "size",
        FLASK,
        "or what is printed on it",
        "the weighings say next to nothing.",
        "250",
        needs=TRIALS,
        instead=("volume", "water_mass", "water_volume"),
    ),
    FormLine("closed", FLASK, "hot, if it was stoppered while hot: no air came back", is_rare=True),
)
_TRIAL = (
    FormLine(
        "empty",
        TRIAL,
        "flask with its lid, empty and dry",
        "the difference of the two weighings will do.",
        "98.1132",
    ),
    FormLine(
        "condensed",
        TRIAL,
        "the same with the condensed liquid, cool and dry outside",
        "the trial says nothing.",
        "98.3721",
        needs="empty",
    ),
    FormLine(
        "gain",
        TRIAL,
        "or the two weighings as their difference",
        "the trial says nothing.",
        "0.2589",
        instead=("empty",),
    ),
    FormLine(
        "bath",
        TRIAL,
        "temperature of the bath while the last liquid vaporized",
        f"nearly boiling water is taken, ± {usual.BATH_SPREAD:.0f} °C: 0.6 % of the molar mass.",
        "98.9",
    ),
)


LINES = (
    *_HEAD,
    *_CARD,
    *_COMBUSTION,
    _TRIALS,
    *_WORKED_OUT,
    *_CONDITIONS,
    *_FLASK,
    *_TRIAL,
)
"""In the order in which a page is filled in."""

_VAPOR_LINES = tuple(
    FormLine(key, VAPOR, words, is_rare=True)
    for key, words in (
        ("mass", "of the liquid that was injected"),
        ("volume", "of its vapor"),
        ("temperature", "of its vapor"),
        ("pressure", "of the laboratory"),
    )
)
"""In place of flask and trials: a weighed liquid vaporized in a syringe."""

LINE_OF: Mapping[str, FormLine] = MappingProxyType({line.key: line for line in LINES})


def section_lines(section: str) -> list[FormLine]:
    """Return the lines of a section of the record, in their order."""
    lines = _VAPOR_LINES if section == VAPOR else LINES
    return [line for line in lines if line.section == section and line.key != TRIALS]
