"""Headings that people write over the columns of a trial table, and the names that are read.

Nothing is read under such a heading: what it seems to mean is asked, never taken.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from identify.physics.constants import ELEMENTS

# Common practice: what stands over columns of notebooks and spreadsheets.
_MEANT: Mapping[str, str] = MappingProxyType(
    {
        heading: name
        for name, headings in {
            "label": "bottle, bottle code, bottle label, bottle no, bottle number, code, id, no, "
            "number, sample, sample id, sample no, sample number, unknown, unknown code, "
            "unknown id, unknown no, unknown number, vial",
            "student": "group, partner, partners, student name, students, team",
            "empty": "dry flask, empty flask, empty mass, flask and foil, flask and lid, flask, "
            "empty flask and foil, flask empty, m1, mass 1, mass before, mass empty, "
            "mass of empty flask, tare, before",
            "condensed": "condensate, condensed mass, flask and condensate, flask and liquid, "
            "flask and vapor, full flask, m2, mass 2, mass after, mass condensed, after",
            "bath": "bath t, bath temp, bath temperature, t bath, water bath, water bath temp, "
            "water bath temperature",
            "room": "ambient, ambient temperature, lab temperature, room t, room temp, "
            "room temperature, t room",
            "pressure": "air pressure, atmospheric pressure, barometric pressure, p, p atm, "
            "barometer reading",
            "volume": "brim volume, flask volume, v, v flask, vol, volume flask, volume of flask",
            "boiling_point": "b p, boiling, boiling point t, boiling pt, boiling t, boiling temp, "
            "boiling temperature, bp, t boil",
            "molar_mass": "m w, mol weight, molar weight, molecular mass, molecular weight, mr, mw",
            "refractive_index": "n d, n20 d, n20d, nd, refraction, ri",
            "density": "rho, specific gravity",
            "melting_point": "freezing point, m p, melting pt, melting temperature, mp",
            "humidity": "relative humidity, rh",
        }.items()
        for heading in headings.split(", ")
    }
)
_ELEMENT_NAMES = {
    "C": "carbon",
    "H": "hydrogen",
    "N": "nitrogen",
    "O": "oxygen",
    "S": "sulfur",
    "P": "phosphorus",
    "F": "fluorine",
    "Cl": "chlorine",
    "Br": "bromine",
    "I": "iodine",
    "Si": "silicon",
    "B": "boron",
}
_ELEMENT: Mapping[str, str] = MappingProxyType(
    {
        **{element.lower(): element for element in ELEMENTS},
        **{_ELEMENT_NAMES[element]: element for element in ELEMENTS},
    }
)
_PERCENT = re.compile(r"%|\b(?:percent|pct|wt|mass|weight|by|of)\b")


def meant_by(heading: str) -> tuple[str, str]:
    """Say which reading a heading seems to mean.

    Parameters
    ----------
    heading : str
        As written, with ordinary letters for degree signs and such.

    Returns
    -------
    (str, str)
        Name of the reading, and the unit that the heading states; both empty where nothing is
        recognized, the unit where none is stated.

    Examples
    --------
    >>> meant_by("bp (K)"), meant_by("% C"), meant_by("Bottle")
    (('boiling_point', 'K'), ('percent_C', ''), ('label', ''))
    >>> meant_by("percent yield")
    ('', '')
    """
    bracket = re.search(r"[(\[](.*?)[)\]]", heading)
    outside = heading.replace(bracket[0], " ") if bracket else heading
    words = " ".join(re.findall(r"[a-z0-9%]+", outside.lower()))
    first, _, last = outside.replace("_", " ").strip().rpartition(" ")
    for text, unit in ((words, bracket[1] if bracket else ""), (first.lower(), last)):
        if name := _MEANT.get(" ".join(re.findall(r"[a-z0-9%]+", text))):
            return name, unit
    if "%" in heading or _PERCENT.match(words):
        rest = " ".join(_PERCENT.sub(" ", words).split())
        if element := _ELEMENT.get(rest):
            return f"percent_{element}", ""
    return "", ""
