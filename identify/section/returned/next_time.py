"""What to do better: one habit of the bench for the slips and findings that it prevents.

Common practice, all of it.
"""

from __future__ import annotations

_READ_BACK = "Read each number back, digit by digit, once it is written down."
_WITH_UNIT = "Write each number down with the unit that the instrument shows."
_HABITS = {
    _READ_BACK: (
        "digits-exchanged",
        "digit-dropped",
        "digit-doubled",
        "point-moved",
        "mass-implausible",
        "pressure-implausible",
        "volume-implausible",
        "temperature-implausible",
        "weighing-implausible",
        "molar-mass-implausible",
        "gain-disagrees",
        "volumes-disagree",
        "mass-lost",
    ),
    _WITH_UNIT: (
        "pressure-unit",
        "temperature-unit",
        "volume-unit",
        "boiling-point-unit",
        "several-units",
        "mass-in-mg",
        "mass-unit",
        "humidity-unit",
        "height-unit",
    ),
    "Read the barometer in the laboratory, and write down the pressure itself.": (
        "pressure-gauge",
        "pressure-at-sea",
    ),
    "Write each mass down, and what is on the pan, before you take it off the balance.": (
        "masses-exchanged",
        "mass-copied",
        "mass-unchanged",
    ),
    "Dry the flask and its foil outside, and leave it in the bath until no liquid is left.": (
        "mass-in-excess",
        "molar-mass-high",
    ),
    "Take enough liquid, leave the flask in the bath until none is left, and let it cool fully "
    "before you weigh it.": (
        "mass-missing",
        "molar-mass-low",
    ),
    "Let the dried flask warm up to the room before you weigh it.": ("weighed-cold",),
    "Weigh the same parts both times: flask, lid, and nothing besides.": (
        "mass-added",
        "lid-left-off",
    ),
    "Weigh once more where two trials disagree, before the flask is emptied.": (
        "one-trial-off",
        "trials-scatter",
    ),
    "Fill the flask to the brim with water, and measure or weigh that water.": ("volume-nominal",),
    "Write down what the balance shows, not what the ideal gas would give.": ("ideal-gas-numbers",),
    "Write the pressure beside the boiling point.": ("boiling-point-at-laboratory",),
    "Keep the thermometer's thread in the vapor, or correct for what stands out of it.": (
        "thread-uncorrected",
    ),
    "Put in a boiling stone while the liquid is cold, and heat gently.": ("superheated",),
    "Copy the card element by element, and add the percentages up.": (
        "percentages-exchanged",
        "percent-by-difference",
        "percent-as-fraction",
        "element-left-out",
        "percent-sum-high",
        "percent-sum-low",
        "card-miscopied",
        "formula-differs",
        "composition-valence",
        "composition-no-formula",
    ),
    "Choose a bath well above the boiling point, as your instructor allows.": (
        "bath-below-boiling-point",
        "bath-near-boiling-point",
    ),
    "Write every reading down before the flask is emptied.": (
        "weighings-unused",
        "nothing-measured",
    ),
    "Weigh on a balance that reads further, or fill a larger flask with vapor.": ("gain-small",),
    "Write down pressure, room and humidity each time, even where they seem not to matter.": (
        "condition-assumed",
    ),
    "Keep water away from the liquid: dry glass, and a closed bottle.": ("wet-liquid",),
    "Read the label of the bottle before you copy its card.": (
        "boiling-point-of-another",
        "composition-of-another",
        "wrong-bottle",
    ),
}
HABITS = {code: habit for habit, codes in _HABITS.items() for code in codes}
"""By the code of a slip or finding."""
