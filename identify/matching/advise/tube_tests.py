"""Tests in a test tube that a functional group decides, and what a candidate would show in them.

Reactions, and what goes wrong with them: Shriner, R. L. et al. The Systematic Identification of
Organic Compounds, from memory; common practice in organic laboratories.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import log10

import numpy as np
from numpy.typing import NDArray

from identify.physics.arrays import Array

# A student's test shows what it should not, by an impurity, a dirty tube or impatience, in a few
# cases of a hundred. Common practice.
WRONG = 0.03


@dataclass(frozen=True)
class TubeTest:
    """One test.

    Parameters
    ----------
    code : str
    what : str
        As it stands in a sentence after "do".
    outcomes : tuple of str
        What is seen; the last is what a compound without any of the groups shows.
    shows : mapping of str to int or None
        For groups of the table, the place in ``outcomes``; None where it may go either way. Of a
        compound's groups the first in this order decides.
    others : int or None
        The same for a compound without any of these groups.
    """

    code: str
    what: str
    outcomes: tuple[str, ...]
    shows: Mapping[str, int | None]
    others: int | None = -1

    def expected(self, groups: str) -> int | None:
        """Return the place of the outcome of a compound, None where it may go either way."""
        held = groups.split("; ")
        place = next((self.shows[group] for group in self.shows if group in held), self.others)
        return None if place is None else place % len(self.outcomes)

    def chances(self, groups: str) -> tuple[float, ...]:
        """Return the chance of each outcome; NaN where the groups are not known.

        Parameters
        ----------
        groups : str
            As the table has them; empty where not known.
        """
        count = len(self.outcomes)
        if not groups:
            return (float("nan"),) * count
        expected = self.expected(groups)
        if expected is None:
            return (1.0 / count,) * count
        wrong = WRONG / (count - 1)
        return tuple(1.0 - WRONG if place == expected else wrong for place in range(count))

    def seen(self, groups: str) -> str:
        """Return what a compound would show, in words."""
        if not groups:
            return "not known"
        expected = self.expected(groups)
        return "may go either way" if expected is None else self.outcomes[expected]


_ANY_ALCOHOL = tuple(
    f"{kind} alcohol" for kind in ("primary", "allylic or benzylic", "secondary", "tertiary")
)
_HALIDES = ("organic chlorine", "organic bromine", "organic iodine")

TUBE_TESTS = (
    TubeTest(
        "tollens",
        "Tollens' test",
        ("a silver mirror", "no mirror"),
        {"aldehyde": 0, "formate": None},
    ),
    TubeTest(
        "dinitrophenylhydrazine",
        "the test with 2,4-dinitrophenylhydrazine",
        ("a yellow to red precipitate", "no precipitate"),
        {"aldehyde": 0, "ketone": 0},
    ),
    TubeTest(
        "iodoform",
        "the iodoform test",
        ("a yellow precipitate", "no precipitate"),
        {"iodoform group": 0},
    ),
    TubeTest(
        "bromine-water",
        "the test with bromine water",
        ("its color goes", "its color stays"),
        # Acetylated or halogenated double bonds are slow; amines and aldehydes use bromine up.
        {
            "alkene": 0,
            "alkyne": 0,
            "phenol": 0,
            "thiol": 0,
            "aromatic amine": 0,
            "electron-poor alkene": None,
            "aldehyde": None,
            "aliphatic amine": None,
            "weak base": None,
            "formate": None,
            "furan or thiophene ring": None,
        },
    ),
    TubeTest(
        "ceric-nitrate",
        "the test with ceric ammonium nitrate",
        ("red", "stays yellow"),
        {**dict.fromkeys(_ANY_ALCOHOL, 0), "phenol": None, "aromatic amine": None},
    ),
    TubeTest(
        "lucas",
        "the Lucas test",
        ("cloudy at once", "cloudy within ten minutes", "stays clear"),
        {
            "tertiary alcohol": 0,
            "allylic or benzylic alcohol": 0,
            "secondary alcohol": 1,
            "primary alcohol": 2,
        },
        # Other liquids may not dissolve in the reagent, which then is cloudy as well.
        others=None,
    ),
    TubeTest(
        "bicarbonate",
        "the test with sodium bicarbonate solution",
        ("bubbles", "no bubbles"),
        {"carboxylic acid": 0, "acid chloride or anhydride": None},
    ),
    TubeTest(
        "litmus",
        "the test with moist red litmus paper",
        ("turns blue", "stays red"),
        {"aliphatic amine": 0, "weak base": None},
    ),
    TubeTest(
        "hydroxamate",
        "the hydroxamate test for esters",
        ("red to purple", "stays yellow"),
        {"ester": 0, "acid chloride or anhydride": 0, "phenol": None},
    ),
    TubeTest(
        "silver-nitrate",
        "the test with silver nitrate in ethanol",
        ("a precipitate at once", "a precipitate on warming", "no precipitate"),
        {"acid chloride or anhydride": None, "reactive halide": 0, "alkyl halide": 1},
    ),
    TubeTest(
        "copper-wire",
        "the copper wire test for halogens (a flame: the instructor does it, in the hood)",
        ("a green flame", "no green flame"),
        dict.fromkeys(_HALIDES, 0),
    ),
    TubeTest(
        "aluminum-chloride",
        "the color test with aluminum chloride and chloroform",
        ("orange to red", "no color"),
        {"aromatic ring": 0, "furan or thiophene ring": None},
    ),
)
"""All that are offered; where two tell as much, the earlier one is named."""


@lru_cache(maxsize=4096)
def _chances(place: int, groups: str) -> tuple[float, ...]:
    return TUBE_TESTS[place].chances(groups)


def tube_test_chances(place: int, groups: tuple[str, ...]) -> Array:
    """Return each candidate's chance of each outcome of a test, shape (k, outcomes)."""
    return np.array([_chances(place, held) for held in groups])


# "Soluble": 0.2 mL of the liquid go into 3 to 5 mL of water, some 40 g/L. Common practice.
_SOLUBLE = 40.0  # g/L
# Solubility of a liquid [mol/L]: log S = 0.5 - log P. Ran, Y.; Yalkowsky, S. H. J. Chem. Inf.
# Comput. Sci. 2001, 41, 354, from memory. It errs by half a decade; a log P that is estimated
# from structure by 0.6 more, see data/SOURCES.md.
_SOLUBILITY_SD, _ESTIMATED_SD = 0.5, 0.6
_LOGISTIC = 1.702  # the logistic curve that is within 0.01 of the normal distribution's


def soluble(log_p: Array, molar_mass: Array, is_estimated: NDArray[np.bool_]) -> Array:
    """Return the chance that a liquid is seen to dissolve in water.

    Parameters
    ----------
    log_p : array, shape (k,)
        Logarithm of the octanol-water partition coefficient; NaN where not known.
    molar_mass : array, shape (k,)
        In g/mol.
    is_estimated : array of bool, shape (k,)
        Whether ``log_p`` is estimated from structure.

    Returns
    -------
    array, shape (k,)

    Examples
    --------
    Ethanol, 1-butanol, hexane:

    >>> log_p, molar_mass = np.array([-0.31, 0.84, 4.0]), np.array([46.1, 74.1, 86.2])
    >>> soluble(log_p, molar_mass, np.zeros(3, bool)).round(2)
    array([0.92, 0.44, 0.03])
    """
    decades = 0.5 - log_p - (log10(_SOLUBLE) - np.log10(molar_mass))
    spread = np.hypot(_SOLUBILITY_SD, np.where(is_estimated, _ESTIMATED_SD, 0.0))
    sure = 1.0 / (1.0 + np.exp(np.clip(-_LOGISTIC * decades / spread, -50.0, 50.0)))
    return np.asarray(WRONG + (1.0 - 2.0 * WRONG) * sure)
