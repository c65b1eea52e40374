"""One unknown's readings as options: the same as the keys of a record."""

from __future__ import annotations

import pytest

from identify.cli.options.options import Readings
from identify.cli.options.typed import typed_run

WEIGHED = {"volume": "287", "bath": ["99"], "room": "22", "pressure": "742"}


def told(**options: object) -> dict[str, str]:
    """Say what is read of some options, of all parts of the run and of its first trial."""
    faults: list[object] = []
    run = typed_run(Readings(**options), faults.append)
    assert faults == []
    assert run is not None
    parts = [run, run.conditions, run.flask]
    if run.trials:
        trial = run.trials[0]
        parts += [run.trial_conditions(trial), run.trial_flask(trial), trial]
    found = {name: str(value) for part in parts for name, value in vars(part).items() if value}
    return found | {element: str(value) for element, value in run.percent.items()}


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        ({"gain": ["0.3703"]}, {"gain": "0.3703 g"}),
        ({"gain": ["0.3703"], "weighed_at": ["ice bath"]}, {"weighed_at": "2 °C"}),
        ({"gain": ["0.3703"], "closed": "hot"}, {"closed": "hot"}),
        ({"gain": ["0.3703"], "volume": None, "size": "250"}, {"size": "250 mL"}),
        ({"gain": ["0.3703"], "height": "1600 m"}, {"height": "1600 m"}),
        ({"empty": ["78.64 + 0.241"], "condensed": ["79.4"]}, {"empty": "78.881 g"}),
        ({"formula": "C2H6O"}, {"formula": "C2H6O", "C": "52.144 %"}),
        ({"vapor_density": "37"}, {"molar_mass": "74.592 g/mol"}),
        ({"vapor_density": "2.55 (air)"}, {"vapor_density": "2.55 relative to air"}),
        ({"molar_mass": "46", "molar_mass_by": "ideal gas"}, {"molar_mass_by": "ideal gas"}),
        ({"boiling_point": "77-79", "boiling_point_by": "own"}, {"boiling_point_by": "own"}),
        ({"percent": ["92.3% C"]}, {"C": "92.3 %"}),
        ({"percent": ["C 92.3 H 7.7"]}, {"C": "92.3 %", "H": "7.7 %"}),
        (
            {"sample": "0.4310", "co2": "0.8235", "h2o": "0.5057"},
            {"C": "52.146 %", "H": "13.13 %", "O": "34.723 %"},
        ),
        (
            {"vapor_mass": "0.152", "vapor_volume": "61", "vapor_temperature": "97"},
            {"gain": "0.152 g", "volume": "61 mL", "bath": "97 °C", "vaporized_in": "syringe"},
        ),
        (
            {"vapor_mass": "0.152", "vapor_volume": "61", "vapor_pressure": "1.01 bar"}
            | {"vapor_temperature": "97"},
            {"pressure": "1.01 bar", "vaporized_in": "syringe"},
        ),
    ],
)
def test_options(options, expected):
    weighed = WEIGHED if "gain" in options or "empty" in options else {}
    assert expected.items() <= told(**{**weighed, **options}).items()


@pytest.mark.parametrize(
    ("options", "line"),
    [
        ({"formula": "ethanol"}, '--formula: "ethanol" has "e" where an element should be'),
        ({"vapor_density": "2.43 g/L"}, '--vapor-density: "2.43 g/L" is a density, not a vapor d'),
        (
            {"gain": ["0.3"], "closed": "tight"},
            '--closed: "tight" is not one of the words for this',
        ),
        ({"boiling_point": "78", "boiling_point_by": "x"}, '--boiling-point-by: "x" is not one of'),
        ({"sample": "0", "co2": "1"}, '--sample: "0 g" has no mass; weigh it'),
        ({"vapor_mass": "0.1"}, "--vapor-volume: is missing; give the volume of the vapor"),
        ({"vapor_mass": "x", "vapor_volume": "61"}, '--vapor-mass: "x" does not start with a n'),
        ({"boiling_point": "78", "room": "200 C"}, '--room: "200 C" cannot be the temperature of'),
        ({"gain": ["1", "2"], "bath": ["1", "2", "3"]}, "--gain: "),
    ],
)
def test_an_option_that_cannot_be_used(options, line):
    faults: list[object] = []
    assert typed_run(Readings(**options), faults.append) is None
    assert len(faults) == 1
    assert str(faults[0]).startswith(f"command line, {line}")
