"""What the Python interface refuses, in one line that says what to give instead."""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable
from typing import Any

import pandas as pd
import pytest

from identify import (
    Measurement,
    Tolerances,
    Trial,
    UnknownClassifier,
    check_section,
    load_candidates,
    match,
    match_many,
    score,
)

RUN = Measurement("X", boiling_point=78.4)
CANDIDATES = "a table of candidates; give a frame, a list of names or SMILES, a path, or a table"


@pytest.mark.parametrize(
    ("call", "error", "message"),
    [
        (lambda: match([RUN]), TypeError, "a list is not a Measurement; read it with read_runs"),
        (lambda: match(RUN, 5), TypeError, f"a int is not {CANDIDATES} that was loaded"),
        (lambda: match(RUN, tolerances={"percent": 1}), TypeError,
         "tolerances: {'percent': 1} is not a Tolerances; make one of it"),
        (lambda: match(RUN, prior="mine"), ValueError,
         'prior: "mine" is not one of classroom, commerce, uniform'),
        (lambda: match(RUN, outside=1.5), ValueError,
         'outside: "1.5" is not a share of liquids from 0 up to below 100 %; write it like 5 %, '
         "or 0.05"),
        (lambda: match(RUN, technique=5.0), TypeError,
         "technique: 5.0 is neither a word nor a Technique"),
        (lambda: match_many(5), TypeError,
         "a int is not a list of Measurement; match takes a single one"),
        (lambda: match_many([RUN, "x"]), TypeError,
         "a str is not a Measurement; read it with read_runs"),
        (lambda: score(RUN, 5), TypeError, f"a int is not {CANDIDATES} that was loaded"),
        (lambda: score(RUN, []), ValueError, "candidates: there is no row"),
        (lambda: score(RUN, ["unobtainium"]), ValueError,
         'candidates, row 1, identity: "unobtainium" is not a compound known here; write its full '
         "name with all locants, its CAS number or its SMILES"),
        (lambda: score(RUN, pd.DataFrame({"color": ["red"]})), ValueError,
         "candidates: no column says which compound a row is; name one smiles, cas, name, formula "
         "or molar_mass (there are: color)"),
        (lambda: load_candidates(5), TypeError,
         "a int is not a frame, nor a list of names or SMILES"),
        (lambda: load_candidates("nowhere.parquet"), ValueError,
         "nowhere.parquet: there is no such file"),
        (lambda: check_section(5), TypeError,
         "a int is neither a path nor a frame with named columns"),
        (lambda: Measurement("X", boiling_point="hot"), ValueError,
         'boiling_point: "hot" does not start with a number; write it like 22.5 °C'),
        (lambda: Measurement("X", percent={"Q": 5}), ValueError,
         'percent: "Q" is not an element known here; use C, H, N, O, S, P, F, Cl, Br, I, Si, B'),
        (lambda: Measurement("X", percent="C 50 C 50"), ValueError, "names an element twice; give "
         "each element once"),
        (lambda: Measurement("X", molar_mass=32, molar_mass_by="me"), ValueError,
         'molar_mass_by: "me" is not one of the words for this; write ideal gas where it is '
         "m R T / (P V)"),
        (lambda: Trial(gain=1, vaporized_in="bucket"), ValueError,
         "vaporized_in: bucket is not a place"),
        (lambda: Tolerances(percent=0), ValueError,
         "tolerance percent: 0 is not a number from 0.001 to 1000"),
        (lambda: Tolerances(molar_mass=1001), ValueError,
         "tolerance molar_mass: 1001 is not a number from 0.001 to 1000"),
        (lambda: UnknownClassifier(identifier="x").fit(pd.DataFrame({"molar_mass": [46.0]})),
         ValueError, 'identifier: "x" is not one of inchikey, name, cas'),
        (lambda: UnknownClassifier().fit(pd.DataFrame({"color": [46.0]})), ValueError,
         "X, color: is not a known column; leave it out, or name it note (this column is not "
         "read) (and 1 more)"),
        (lambda: UnknownClassifier().fit(pd.DataFrame({"molar_mass": []})), ValueError,
         "X has no rows; a minimum of 1 is required"),
    ],
)  # fmt: skip
def test_it_is_refused(call: Callable[[], Any], error: type[Exception], message: str) -> None:
    with pytest.raises(error, match=f"{re.escape(message)}$"):
        call()


@pytest.mark.parametrize(
    ("candidates", "faults"),
    [
        (["ethanol", "unobtainium"],
         ['candidates, row 2, identity: "unobtainium" is not a compound known here; write its full '
          "name with all locants, its CAS number or its SMILES"]),
        ({"formula": ["C2H6O", "C2H6Zr", "", "C2("], "molar_mass": [46.1, None, None, None]},
         ['candidates, row 2, formula: "C2H6Zr" has Zr, which is not an element known here; there '
          "are C, H, N, O, S, P, F, Cl, Br, I, Si, B",
          "candidates, row 3, identity: is empty; give a name, a CAS number or a SMILES",
          'candidates, row 4, formula: "C2(" opens a bracket that is not closed; add it']),
        ({"molar_mass": [46.1, -3, "x"]},
         ['candidates, row 2, molar_mass: "-3" is negative, which no molar mass is; check the sign',
          'candidates, row 3, molar_mass: "x" does not start with a number; write it like 46.1 '
          "g/mol"]),
        ({"smiles": ["CCO", "CCC", "CC"], "boiling_point_C": ["78", "hot", "-500"]},
         ['candidates, row 2, boiling_point_C: "hot" does not start with a number; write it like '
          "22.5 °C",
          'candidates, row 3, boiling_point_C: "-500" is not above absolute zero; check the sign '
          "and the unit (C, K or F)"]),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_scored_costs_itself_alone(candidates: Any, faults: list[str]) -> None:
    given = pd.DataFrame(candidates) if isinstance(candidates, dict) else candidates
    more = f" (and {len(faults) - 1} more, see .attrs['faults'])" if len(faults) > 1 else ""
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        frame = score(RUN, given)
    assert [str(one.message) for one in told] == [f"{faults[0]}{more}"]
    assert frame.attrs["faults"] == faults
    assert len(frame) == len(given)
    assert frame["probability"].notna().iloc[0]
