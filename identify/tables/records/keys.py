"""The keys of a run record: where each is understood, and which one is meant by another word."""

from __future__ import annotations

import difflib
from collections.abc import Mapping

from identify.notebook.composition.percentages import ELEMENT_OF
from identify.notebook.quantity.quantities import QuantityError
from identify.tables.entry import (
    BAROMETER,
    CARD_FIELDS,
    CIRCUMSTANCE_OF,
    COMBUSTION_FIELDS,
    CONDITION_FIELDS,
    FLASK_FIELDS,
    NAMES,
    NOTES,
    TRIAL_FIELDS,
)
from identify.tables.headings.dictionary import TRIAL_HEADINGS

CARD, CONDITIONS, FLASK, TRIAL = "card", "conditions", "flask", "trial"
COMBUSTION, VAPOR, PERCENT = "combustion", "vapor", "percent"
# Sections whose keys mean the same wherever they stand, and those with keys of their own.
_ALIKE = ("", CARD, CONDITIONS, FLASK, TRIAL)
SECTIONS = (CARD, CONDITIONS, FLASK, TRIAL, COMBUSTION, VAPOR)
# A liquid that was weighed and vaporized in a syringe, in the words of a trial.
VAPOR_FIELDS = {
    "mass": "gain",
    "volume": "volume",
    "temperature": "bath",
    "pressure": "pressure",
}
_ANYWHERE = (
    *CARD_FIELDS,
    PERCENT,
    *CONDITION_FIELDS,
    BAROMETER,
    *FLASK_FIELDS,
    *TRIAL_FIELDS,
)
# As advice lists them.
_OF_SECTION: Mapping[str, tuple[str, ...]] = {
    "": (*NAMES, *SECTIONS),
    CARD: (*CARD_FIELDS, PERCENT),
    CONDITIONS: (*CONDITION_FIELDS, BAROMETER, *CIRCUMSTANCE_OF),
    FLASK: FLASK_FIELDS,
    TRIAL: (*TRIAL_FIELDS, *CONDITION_FIELDS, *FLASK_FIELDS, *CIRCUMSTANCE_OF),
    COMBUSTION: COMBUSTION_FIELDS,
    VAPOR: (*VAPOR_FIELDS, "density"),
}
# What people write where no likeness of letters tells what they mean; common practice.
_MEANT = {
    said: key
    for key, words in {
        "boiling_point": "boiling_temperature boils boils_at bp b_p t_b tb",
        "molar_mass": "formula_weight fw molecular_mass molecular_weight molecularweight mr mw",
        PERCENT: "analysis composition elements percentages percents",
        "vapor_density": "relative_density vapour_density vd",
        "pressure": "air_pressure atm atmosphere atmospheric_pressure barometric "
        "barometric_pressure bp_lab p p_atm",
        "room": "air air_temperature ambient lab_temperature room_temp t_lab t_room",
        "humidity": "relative_humidity rh",
        "height": "altitude elevation",
        "volume": "brim brim_volume capacity flask_volume v vol volume_of_flask",
        "size": "flask_size nominal nominal_volume printed",
        "water_mass": "mass_of_water mass_water water",
        "empty": "before empty_flask flask_and_foil flask_empty flask_mass m1 mass_empty "
        "mass_flask mass_of_flask tare",
        "condensed": "after condensate_mass final_mass flask_and_condensate flask_and_liquid full "
        "full_flask m2 mass_after mass_condensed mass_full",
        "gain": "condensate delta_m difference liquid m mass mass_difference mass_gas mass_liquid "
        "mass_of_condensate mass_of_gas mass_of_liquid mass_of_vapor mass_vapor vapor_mass",
        "bath": "bath_temp hot_water t_bath water_bath",
        "label": "bottle code id name number sample unknown",
        "student": "group partner team",
        CARD: "bottle_card constants label_card liquid_card",
        CONDITIONS: "lab laboratory",
        TRIAL: "experiment experiments measurement measurements run runs trials weighing weighings",
        COMBUSTION: "burned combustion_analysis",
        VAPOR: "gas syringe",
    }.items()
    for said in words.split()
}
_TEMPERATURES = ("t", "temp", "temperature")
_TEMPERATURE_OF = {
    CARD: "boiling_point",
    CONDITIONS: "room",
    FLASK: "water_temperature",
    TRIAL: "bath",
}


def plain_key(key: str) -> str:
    """Return a key as keys are compared.

    Examples
    --------
    >>> plain_key("Boiling point"), plain_key("CO2")
    ('boiling_point', 'co2')
    """
    return key.strip().casefold().replace("-", "_").replace(" ", "_")


def known_key(key: str, section: str) -> str:
    """Return the key that a section understands, empty where it does not.

    Examples
    --------
    >>> known_key("Room", "conditions"), known_key("room", "card"), known_key("temp", "card")
    ('room', 'room', '')
    """
    plain = plain_key(key)
    is_own = plain in _OF_SECTION.get(section, ())
    is_alike = section in _ALIKE and plain in (*_ANYWHERE, *NAMES)
    return plain if is_own or is_alike or (section == VAPOR and plain in _ANYWHERE) else ""


def is_note(key: str) -> bool:
    """Say whether a key is for persons alone."""
    return plain_key(key) in NOTES


def key_meant(key: str, section: str) -> str:
    """Return the key that another word seems to mean, empty where none is near.

    Examples
    --------
    >>> key_meant("temperature", "conditions"), key_meant("barometric_pressure", "")
    ('room', 'pressure')
    >>> key_meant("room_temperature", "conditions"), key_meant("bath temperature", "trial")
    ('room', 'bath')
    >>> key_meant("baht", "trial"), key_meant("color", "card")
    ('bath', '')
    """
    plain = plain_key(key[:60])
    if plain in _TEMPERATURES:
        return _TEMPERATURE_OF.get(section, "")
    if meant := _MEANT.get(plain, ""):
        return meant
    known = [*_OF_SECTION.get(section, ()), *(_ANYWHERE if section in _ALIKE else ())]
    # A word that has a meaning, before one that is spelled like another.
    if (headed := _headed(plain)) in known:
        return headed
    near = difflib.get_close_matches(plain, known, n=1)
    return near[0] if near else headed


def _headed(plain: str) -> str:
    """Return the field that the word would head in a table."""
    if plain in ELEMENT_OF:
        return PERCENT
    try:
        column = TRIAL_HEADINGS.meaning(plain)
    except QuantityError as error:
        field = error.field
    else:
        field = column.field if column else ""
    field = PERCENT if field.startswith(PERCENT) else field
    return field if field in _ANYWHERE or field in NAMES else ""


def advice_on(key: str, section: str) -> str:
    """Say which key may be meant by one that is not known."""
    if meant := key_meant(key, section):
        return f"did you mean {meant}?"
    return f"use {', '.join(_OF_SECTION[section])}, or note"
