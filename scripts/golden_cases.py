#!/usr/bin/env python3
"""Draw the cases of the golden answers: records, trial tables, stock tables, commands, bad input.

They are written to ``tests/golden/`` once, and stay as they are where a generator changes: draw
them anew only where cases are to be added, and see that `golden_answers.py` then shows new ones
only.

Usage: python scripts/golden_cases.py [KIND ...]
"""

from __future__ import annotations

import csv
import io
import json
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import chain

import numpy as np
from drawn_sections import LIQUIDS, Class, Drawn, Faults
from golden_answers import GOLDEN, Case, write_lines
from section_liquids import FLUIDS
from simulated_runs import NEAR_BOILING, ORDINARY, TINY_GAIN
from simulated_runs import Bench as SimulatedBench
from simulated_sections import Section, simulate
from slip_evaluation import KINDS, Drawing, Page, readable

from identify import Measurement, load_candidates, match
from identify.matching.evidence import Matcher

SEED = 19
JSON = ("--format", "json")
TOP = ("--top", "3")


# ---------------------------------------------------------------------------------- as text


def record_text(run: Measurement) -> str:
    """Return a run as a record in TOML."""
    lines = [f'label = "{run.label}"']
    card = _fields(run, ("boiling_point", "boiling_point_at", "molar_mass"))
    if run.percent:
        listed = ", ".join(f'{element} = "{share}"' for element, share in run.percent.items())
        card.append(f"percent = {{ {listed} }}")
    conditions = _fields(run.conditions, ("pressure", "room", "height", "humidity"))
    flask = _fields(run.flask, ("volume", "water_mass", "water_volume"))
    for name, part in (("[card]", card), ("[conditions]", conditions), ("[flask]", flask)):
        if part:
            lines += ["", name, *part]
    for trial in run.trials:
        lines += ["", "[[trial]]", *_fields(trial, ("empty", "condensed", "bath"))]
    return "\n".join(lines) + "\n"


def _fields(of: object, names: Sequence[str]) -> list[str]:
    values = {name: getattr(of, name) for name in names}
    return [f'{name} = "{value}"' for name, value in values.items() if value is not None]


def table_text(rows: Sequence[Mapping[str, str]]) -> str:
    """Return rows as CSV, with a column for every name in them."""
    columns = list(dict.fromkeys(chain.from_iterable(rows)))
    file = io.StringIO()
    writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return file.getvalue()


def trial_rows(runs: Sequence[Measurement]) -> list[dict[str, str]]:
    """Return a section's runs as rows of a trial table."""
    rows = []
    for run in runs:
        once = {
            "label": run.label,
            "student": run.student,
            "room_C": f"{run.conditions.room.value:.1f}",
            "pressure_mmHg": f"{run.conditions.pressure.value:.1f}",
            "volume_mL": f"{run.flask.volume.value:.1f}",
        }
        if run.boiling_point is not None:
            once["boiling_point_C"] = f"{run.boiling_point.value:.1f}"
        if run.boiling_point_at is not None:
            once["boiling_point_at_mmHg"] = f"{run.boiling_point_at.value:.1f}"
        for element, share in run.percent.items():
            once[f"percent_{element}"] = f"{share.value:.2f}"
        for trial in run.trials:
            own = {name: getattr(trial, name) for name in ("empty", "condensed", "bath")}
            columns = {"empty": "empty_g", "condensed": "condensed_g", "bath": "bath_C"}
            read = {columns[name]: f"{q.value:.4f}" for name, q in own.items() if q is not None}
            rows.append({**once, **dict(trial.circumstances), **read})
    return rows


def record(name: str, text: str, *options: str) -> Case:
    """Return the match of one run record."""
    return Case(name, [["match", f"{name}.toml", *TOP, *JSON, *options]], {f"{name}.toml": text})


# ----------------------------------------------------------------------------------- records


def slipped() -> Iterator[Case]:
    """Yield pages with one slip each: one that is named where there is one, and another."""
    table = load_candidates()
    judge = Matcher(table)
    random = np.random.default_rng(SEED)
    drawing = Drawing(table, judge, random)
    common = np.argsort(-table.number("prior"), kind="stable")
    common = [row for row in common if 40.0 < table.number("boiling_point_C")[row] < 92.0][:150]
    for kind in KINDS:
        name = "slip-" + kind.name.replace(",", "").replace("%", "").replace(" ", "-")
        pages: list[tuple[bool, Page]] = []
        for row in random.permutation(common):
            page = kind.spoil(drawing.page(int(row)), random)
            if page is None or not readable(page):
                continue
            codes = {slip.code for slip in match(page.measurement()).slips}
            pages.append((bool(codes & kind.codes), page))
            if (pages[-1][0] and len(pages) > 1) or len(pages) == 30:
                break
        for number, (_, page) in enumerate([*pages[:1], *pages[1:][-1:]], 1):
            yield record(f"{name}-{number}", record_text(page.measurement()))


def sound() -> Iterator[Case]:
    """Yield pages without a slip: drawn from the table, and from reference equations of state."""
    table = load_candidates()
    random = np.random.default_rng(SEED)
    drawing = Drawing(table, Matcher(table), random)
    rows = np.flatnonzero(table.number("boiling_point_C") < 95.0)
    for number, row in enumerate(random.choice(rows, 30, replace=False), 1):
        page = drawing.page(int(row), 1 + number % 3)
        yield record(f"sound-{number}", record_text(page.measurement()))
    bench = SimulatedBench(random, FLUIDS)
    setups = [*ORDINARY[::2], *TINY_GAIN, *NEAR_BOILING[::3]]
    for number in range(30):
        run = bench.run(setups[number % len(setups)], card=number % 5 > 0).written
        run = replace(run, label=f"E-{number + 1:02d}")
        yield record(f"simulated-{number + 1}", record_text(run))


# A sound page of methanol; the planted faults change one part of it.
_CARD = '[card]\nboiling_point = "64.5 C"\npercent = { C = 37.48, H = 12.58, O = 49.93 }\n'
_CONDITIONS = '[conditions]\npressure = "742.1 mmHg"\nroom = "22.4 C"\n'
_FLASK = '[flask]\nvolume = "287.4 mL"\n'
_TRIAL = '[[trial]]\nempty = "98.1132 g"\ncondensed = "98.3712 g"\nbath = "98.3 C"\n'


def page(
    card: str = _CARD, conditions: str = _CONDITIONS, flask: str = _FLASK, *trials: str
) -> str:
    """Return a record put together from its parts."""
    return "\n".join(['label = "P"\n', card, conditions, flask, *(trials or (_TRIAL,))])


def trial(empty: str, condensed: str, more: str = 'bath = "98.3 C"') -> str:
    return f'[[trial]]\nempty = "{empty}"\ncondensed = "{condensed}"\n{more}\n'


def card(text: str) -> str:
    return f"[card]\n{text}\n"


def conditions(text: str) -> str:
    return f"[conditions]\n{text}\n"


PLANTED: Mapping[str, str] = {
    "nothing-measured": 'label = "P"\n',
    "nothing-usable": page("", _CONDITIONS, _FLASK, trial("98.1132 g", "98.0012 g")),
    "only-boiling-point": page(card('boiling_point = "64.5 C"'), "", "", " "),
    "only-percent": page(card("percent = { C = 37.48, H = 12.58, O = 49.93 }"), "", "", " "),
    "only-molar-mass": page(card('molar_mass = "46.1 g/mol"'), "", "", " "),
    "only-weighings": page(""),
    "molar-mass-stated": page(card('molar_mass = "32.0(3) g/mol"'), "", "", " "),
    "weighings-unused": page(_CARD + 'molar_mass = "32.0 g/mol"\n'),
    "carbon-missing": page(card("percent = { H = 11.19, O = 88.81 }")),
    "not-plausible": page(card('boiling_point = "81.0 C"\npercent = { C = 20.0, H = 80.0 }')),
    "slightly-off": page(
        card('boiling_point = "66.8 C"\npercent = { C = 37.48, H = 12.58, O = 49.93 }')
    ),
    "isomer-not-listed": page(
        card(
            'boiling_point = "63.7 C"\npercent = { C = 68.1, H = 13.7, O = 18.2 }\n'
            'molar_mass = "88.2 g/mol"'
        ),
        "",
        "",
        " ",
    ),
    "boils-too-high": page(card('boiling_point = "250 C"'), "", "", " "),
    "another-card": page(
        card('boiling_point = "64.5 C"\npercent = { C = 62.04, H = 10.41, O = 27.55 }')
    ),
    "another-boiling-point": page(
        card('boiling_point = "118.0 C"\npercent = { C = 37.48, H = 12.58, O = 49.93 }')
    ),
    "percent-sum-high": page(card("percent = { C = 47.48, H = 12.58, O = 49.93 }")),
    "percent-sum-high-note": page(card("percent = { C = 37.68, H = 12.78, O = 50.13 }")),
    "percent-sum-low": page(card("percent = { C = 37.48, H = 12.58, O = 39.93 }")),
    "percent-sum-low-note": page(card("percent = { C = 37.28, H = 12.38, O = 49.73 }")),
    "percent-as-fraction": page(card("percent = { C = 0.3748, H = 0.1258, O = 0.4993 }")),
    "percent-partial": page(card("percent = { C = 37.48 }")),
    "percent-uncertain": page(card('percent = { C = "37.48(10)", H = "12.6(2)" }')),
    "composition-valence": page(card("percent = { C = 79.9, H = 23.0 }")),
    "composition-odd": page(card("percent = { C = 38.70, H = 9.74, O = 51.55 }")),
    "composition-no-formula": page(card("percent = { C = 2.0, H = 50.0, O = 48.0 }")),
    "formula-differs": 'label = "P"\n\n'
    + card(
        'formula = "CH4O"\npercent = { C = 52.1, H = 13.1, O = 34.7 }\nboiling_point = "78.2 C"'
    ),
    "reading-unused": 'label = "P"\n\n'
    + card(
        'molar_mass = "46.2 g/mol"\nvapor_density = 39\npercent = { C = 52.1, H = 13.1, O = 34.7 }'
    )
    + '\n[combustion]\nsample = "0.2000 g"\nco2 = "0.3822 g"\nh2o = "0.2346 g"\n',
    "oxygen-by-difference": 'label = "P"\n\n'
    + card('boiling_point = "78.2 C"')
    + '\n[combustion]\nsample = "0.2000 g"\nco2 = "0.3822 g"\nh2o = "0.2346 g"\n',
    "molar-mass-no-multiple": page(
        card('percent = { C = 85.63, H = 14.37 }\nmolar_mass = "36.0(2) g/mol"'), "", "", " "
    ),
    "mass-lost": page(_CARD, _CONDITIONS, _FLASK, trial("98.1132 g", "98.0012 g")),
    "mass-unchanged": page(_CARD, _CONDITIONS, _FLASK, trial("98.1132 g", "98.1132 g")),
    "mass-unchanged-once": page(
        _CARD, _CONDITIONS, _FLASK, _TRIAL, trial("98.1132 g", "98.1132 g")
    ),
    "gain-small": page(_CARD, _CONDITIONS, _FLASK, trial("98.11 g", "98.37 g")),
    "volume-nominal": page(_CARD, _CONDITIONS, '[flask]\nvolume = "250 mL"\n'),
    "volumes-disagree": page(
        _CARD, _CONDITIONS, '[flask]\nvolume = "287.4 mL"\nwater_mass = "250.3 g"\n'
    ),
    "water-mass": page(
        _CARD, _CONDITIONS, '[flask]\nwater_mass = "286.5 g"\nwater_temperature = "22.4 C"\n'
    ),
    "water-volume": page(_CARD, _CONDITIONS, '[flask]\nwater_volume = "100.0 + 100.0 + 87.4 mL"\n'),
    "weighing-implausible": page(_CARD, _CONDITIONS, _FLASK, trial("98.1132 g", "108.3712 g")),
    "trials-scatter": page(
        _CARD,
        _CONDITIONS,
        _FLASK,
        _TRIAL,
        trial("98.1130 g", "98.4512 g"),
        trial("98.113 g", "98.373 g"),
    ),
    "trials-of-two": page(_CARD, _CONDITIONS, _FLASK, _TRIAL, trial("98.1130 g", "98.4512 g")),
    "trials-of-four": page(
        _CARD, _CONDITIONS, _FLASK, _TRIAL, _TRIAL, _TRIAL, trial("98.1130 g", "98.3698 g")
    ),
    "bath-below": page(_CARD, _CONDITIONS, _FLASK, trial("98.1 g", "98.35 g", 'bath = "58.3 C"')),
    "bath-near": page(_CARD, _CONDITIONS, _FLASK, trial("98.113 g", "98.371 g", 'bath = "65.3 C"')),
    "bath-above-water": page(
        _CARD, _CONDITIONS, _FLASK, trial("98.113 g", "98.371 g", 'bath = "104.3 C"')
    ),
    "boils-in-room": page(card('boiling_point = "27.8 C"')),
    "bath-fahrenheit": page(
        _CARD, _CONDITIONS, _FLASK, trial("98.113 g", "98.371 g", 'bath = "209.3 C"')
    ),
    "pressure-kilopascal": page(_CARD, conditions('pressure = "98.9 mmHg"\nroom = "22.4 C"')),
    "pressure-inches": page(_CARD, conditions('pressure = "29.22 mmHg"\nroom = "22.4 C"')),
    "pressure-impossible": page(_CARD, conditions('pressure = "8888 mmHg"\nroom = "22.4 C"')),
    "pressure-at-sea": page(
        _CARD, conditions('pressure = "758.0 mmHg"\nroom = "22.4 C"\nheight = "1650 m"')
    ),
    "pressure-gauge": page(_CARD, conditions('pressure = "4.2 mmHg"\nroom = "22.4 C"')),
    "room-kelvin": page(_CARD, conditions('pressure = "742.1 mmHg"\nroom = "295.6 C"')),
    "room-impossible": page(_CARD, conditions('pressure = "742.1 mmHg"\nroom = "155 C"')),
    "humidity-fraction": page(_CARD, _CONDITIONS + 'humidity = "0.45 %"\n'),
    "humidity": page(_CARD, _CONDITIONS + 'humidity = "45 %"\n'),
    "humidity-impossible": page(_CARD, _CONDITIONS + 'humidity = "0.001 %"\n'),
    "barometer": page(_CARD, _CONDITIONS + 'barometer = "mercury"\nheight = "410 m"\n'),
    "volume-liters": page(_CARD, _CONDITIONS, '[flask]\nvolume = "0.2874 mL"\n'),
    "volume-impossible": page(_CARD, _CONDITIONS, '[flask]\nvolume = "2.9 mL"\n'),
    "water-mass-kilograms": page(_CARD, _CONDITIONS, '[flask]\nwater_mass = "0.2865 g"\n'),
    "water-mass-impossible": page(_CARD, _CONDITIONS, '[flask]\nwater_mass = "2.9 g"\n'),
    "masses-milligrams": page(_CARD, _CONDITIONS, _FLASK, trial("98113.2 g", "98371.2 g")),
    "masses-impossible": page(_CARD, _CONDITIONS, _FLASK, trial("0.0003 g", "0.0005 g")),
    "molar-mass-impossible": page(card('molar_mass = "3.2 g/mol"'), "", "", " "),
    "molar-mass-digits": page(
        card('molar_mass = "23.0 g/mol"\nboiling_point = "64.5 C"'), "", "", " "
    ),
    "boiling-point-fahrenheit": page(card('boiling_point = "148.1 C"')),
    "boiling-point-impossible": page(card('boiling_point = "-80 C"')),
    "boiling-point-at": page(_CARD.replace('"64.5 C"', '"58.1 C"\nboiling_point_at = "590 mmHg"')),
    "several-units": page(
        card('boiling_point = "64.5 C"'),
        conditions('pressure = "98.94 mmHg"\nroom = "295.5 C"'),
        '[flask]\nvolume = "0.2874 mL"\n',
        trial("98.1132 g", "98.3712 g", 'bath = "371.4 C"'),
    ),
    "several-units-trials": page(
        card('boiling_point = "64.5 C"'),
        conditions('pressure = "98.94 mmHg"\nroom = "72.3 C"'),
        _FLASK,
        trial("98.1132 g", "98.3712 g", 'bath = "209.0 C"'),
        trial("98.1130 g", "98.3705 g", 'bath = "208.6 C"'),
    ),
    "vapor-of-dimers": page(
        card('boiling_point = "72.1 C"'),
        conditions('pressure = "742.0 mmHg"\nroom = "22.0 C"'),
        '[flask]\nvolume = "280.0 mL"\n',
        trial("98.1132 g", "99.5745 g", 'bath = "98.9 C"'),
    ),
    "uncertain-boiling-point": page(
        card('boiling_point = "48.7 C"\nmolar_mass = "96.9 g/mol"'), "", "", " "
    ),
    "inseparable": page(
        card('boiling_point = "83.0 C"\npercent = { C = 60.0, H = 13.4 }'), "", "", " "
    ),
    "further-readings": page(
        card(
            'boiling_point = "77.1 C"\nrefractive_index = 1.3724\nrefractive_index_at = "20 C"\n'
            'density = "0.894 g/mL"\ndensity_at = "25 C"\nmelting_point = "-83.5 C"'
        ),
        "",
        "",
        " ",
    ),
    "further-readings-wrong": page(
        card(
            'boiling_point = "77.1 C"\nrefractive_index = 1.5724\ndensity = "1.894 g/mL"\n'
            'refractive_index_at = "293 C"\ndensity_at = "300 C"\nmelting_point = "83.5 C"'
        ),
        "",
        "",
        " ",
    ),
    "freezes": page(
        card('boiling_point = "80.7 C"\nmolar_mass = "84.2 g/mol"\nmelting_point = "6.5 C"'),
        "",
        "",
        " ",
    ),
    "by-difference": page(
        card('boiling_point = "61.2 C"\npercent = { C = 10.06, H = 0.84, O = 89.10 }')
    ),
    "wet": page(card('boiling_point = "78.2 C"\npercent = { C = 48.0, H = 12.9, O = 39.1 }')),
    "nothing-but-masses": page(_CARD, "", _FLASK),
    "no-room-no-pressure": page(card('boiling_point = "56.1 C"'), conditions('height = "1600 m"')),
    "height-feet": page(card('boiling_point = "56.1 C"'), conditions('height = "12000 m"')),
    "height-impossible": page(card('boiling_point = "56.1 C"'), conditions('height = "-1500 m"')),
    "size-and-gain": page(
        _CARD,
        conditions('bath = "boiling water"\nroom = "room temperature"'),
        '[flask]\nsize = "250 mL"\n',
        '\n[[trial]]\ngain = "0.2580 g"\n\n[[trial]]\ngain = "0.2571 g"\n',
    ),
    "gain-disagrees": page(
        _CARD, _CONDITIONS, _FLASK, trial("98.1132 g", "98.3712 g", 'gain = "0.2680 g"')
    ),
    "trial-incomplete": page(
        _CARD, _CONDITIONS, _FLASK, _TRIAL, '\n[[trial]]\nempty = "98.1130 g"\nbath = "98.3 C"\n'
    ),
    "weighed-in-ice": page(
        _CARD, _CONDITIONS, _FLASK, trial("98.1132 g", "98.4112 g", 'weighed_at = "ice bath"')
    ),
    "bath-unknown": page(
        card('boiling_point = "117.7 C"'),
        conditions('pressure = "742 mmHg"'),
        _FLASK,
        '\n[[trial]]\nempty = "98.1132 g"\ncondensed = "98.7301 g"\n',
    ),
    "trial-of-its-own": page(
        _CARD,
        _CONDITIONS,
        _FLASK,
        _TRIAL,
        trial(
            "98.1130 g",
            "98.3725 g",
            'bath = "98.0 C"\npressure = "744.0 mmHg"\nroom = "23.0 C"\nvolume = "288.0 mL"',
        ),
    ),
}


def planted() -> Iterator[Case]:
    """Yield pages written by hand, with one fault each."""
    for name, text in PLANTED.items():
        yield record(f"planted-{name}", text)
    for name, options in {
        "tolerances": ("--tolerance", "molar-mass=2", "--tolerance", "boiling-point=0.5"),
        "uniform": ("--prior", "uniform"),
        "strict": ("--strict",),
        "explained": ("--explain", "acetone"),
    }.items():
        yield record(f"planted-{name}", PLANTED["slightly-off"], *options)


def by_python() -> Iterator[Case]:
    """Yield what no command answers: a match of nothing."""
    yield Case("python-nothing", [["python", json.dumps({"label": "P"})]])


def of_another_bottle() -> Iterator[Case]:
    """Yield pages of a stock table whose card is in part that of another bottle."""
    drawn = Drawn(SEED)
    liquids = {f"B-{n}": LIQUIDS[label] for n, label in enumerate(LIQUIDS, 1) if n <= 6}
    (run,) = drawn.section(Class(students=1, trials=1, liquids={"B-4": "hexane"}))
    run = replace(run, trials=[replace(one, circumstances=()) for one in run.trials])
    stock = [{"label": label, "identity": name} for label, name in liquids.items()]
    for name, other in (("boiling_point", "ethyl acetate"), ("percent", "acetone")):
        text = record_text(replace(run, **{name: drawn.card(other)[name]}))
        file = f"{name.replace('_', '-')}-of-another.toml"
        command = ["match", file, "--candidates", "stock.csv", *TOP, *JSON]
        yield Case(
            file.removesuffix(".toml"), [command], {file: text, "stock.csv": table_text(stock)}
        )


# ---------------------------------------------------------------------------------- sections

_KEY = table_text([{"label": label, "identity": name} for label, name in LIQUIDS.items()])
_FOUR = {label: LIQUIDS[label] for label in ("D-01", "D-02", "D-04", "D-07")}


def section(
    name: str, table: str, key: str | None = None, *options: str, is_quick: bool = False
) -> Case:
    """Return the check of a section; a quick one is compared with the liquids of the key alone."""
    files = {f"{name}.csv": table} | ({f"{name}-key.csv": key} if key else {})
    with_key = ["--key", f"{name}-key.csv"] if key else []
    candidates = ["--candidates", f"{name}-key.csv"] if is_quick else []
    command = ["section", f"{name}.csv", *with_key, *candidates, "--top", "1", *JSON, *options]
    return Case(name, [command], files)


Change = Callable[[list[Measurement]], list[Measurement]]


def _with(number: int, **parts: object) -> Change:
    def change(runs: list[Measurement]) -> list[Measurement]:
        return [*runs[: number - 1], replace(runs[number - 1], **parts), *runs[number:]]

    return change


def _heavier(number: int, grams: float) -> Change:
    def change(runs: list[Measurement]) -> list[Measurement]:
        trials = [
            replace(one, condensed=f"{one.condensed.value + grams:.4f} g")
            for one in runs[number - 1].trials
        ]
        return _with(number, trials=trials)(runs)

    return change


def _copied(one: int, other: int) -> Change:
    def change(runs: list[Measurement]) -> list[Measurement]:
        source = runs[one - 1]
        return _with(other, trials=source.trials, flask=source.flask)(runs)

    return change


def _words(**words: Callable[[Mapping[str, str]], str]) -> Change:
    """Return a change of what is written down of each trial's circumstances."""

    def change(runs: list[Measurement]) -> list[Measurement]:
        changed = []
        for run in runs:
            own = dict(run.trials[0].circumstances)
            new = tuple(sorted((name, of(own)) for name, of in words.items()))
            changed.append(
                replace(run, trials=[replace(one, circumstances=new) for one in run.trials])
            )
        return changed

    return change


_SMALL = Class(students=28, days=4, balances=3, thermometers=3, liquids=_FOUR)
_LARGER = replace(_SMALL, students=48)
_BOTTLES = replace(_SMALL, students=32, liquids=dict(list(LIQUIDS.items())[:8]))
_MEASURED = replace(_SMALL, measured=True)

# Compared with the whole table, as a class does; the others with the key's liquids, which is quick.
_BESIDE_ALL = {"sound", "contents", "miscopied", "slips", "copied"}

DRAWN: Mapping[str, tuple[Class, Faults, Sequence[Change], bool]] = {
    "sound": (_SMALL, Faults(), (), True),
    "sound-without-key": (_SMALL, Faults(), (), False),
    "sound-measured": (_MEASURED, Faults(), (), True),
    "contents": (_SMALL, Faults(contents={"D-04": "chloroform"}), (), True),
    "contents-without-key": (_SMALL, Faults(contents={"D-04": "chloroform"}), (), False),
    "contents-and-card": (
        _SMALL,
        Faults(contents={"D-04": "chloroform"}, cards={"D-04": "chloroform"}),
        (),
        True,
    ),
    "card": (_SMALL, Faults(cards={"D-04": "ethyl acetate"}), (), True),
    "card-without-key": (_SMALL, Faults(cards={"D-04": "methanol"}), (), False),
    "exchanged": (_SMALL, Faults(contents={"D-01": "acetone", "D-02": "methanol"}), (), True),
    "exchanged-measured": (
        _MEASURED,
        Faults(contents={"D-01": "acetone", "D-02": "methanol"}),
        (),
        True,
    ),
    "barometer-day": (_LARGER, Faults(pressure={"3": 1.06}), (), True),
    "barometer-by-reading": (
        _LARGER,
        Faults(pressure={"3": 1.06}),
        (_words(balance=lambda own: own["balance"]),),
        True,
    ),
    "shared-barometer": (
        _LARGER,
        Faults(balance={"2": 0.95}),
        (_words(barometer_name=lambda own: "B" + own["balance"]),),
        True,
    ),
    "shared-balance": (_LARGER, Faults(balance={"2": 1.05}), (), True),
    "shared-flask": (
        _LARGER,
        Faults(balance={"2": 1.05}),
        (_words(flask=lambda own: "F" + own["balance"]),),
        True,
    ),
    "shared-bench": (
        _LARGER,
        Faults(balance={"2": 1.05}),
        (_words(bench=lambda own: "seat " + own["balance"]),),
        True,
    ),
    "shared-bath": (
        _LARGER,
        Faults(balance={"2": 1.05}),
        (_words(thermometer=lambda own: "T" + own["balance"]),),
        True,
    ),
    "shared-day": (_LARGER, Faults(pressure={"3": 0.8}), (), True),
    "shared-thermometer": (
        replace(_LARGER, measured=True),
        Faults(thermometer={"2": 6.0}),
        (),
        True,
    ),
    "everything": (_BOTTLES, Faults(everything=1.06), (), True),
    "slips": (_SMALL, Faults(slips=0.1), (), True),
    "far": (_SMALL, Faults(), (_heavier(8, 0.1),), True),
    "copied": (_SMALL, Faults(), (_copied(5, 17),), True),
    "wrong-bottle": (_SMALL, Faults(), (_with(7, label="D-01"),), True),
    "miscopied": (
        _SMALL,
        Faults(),
        (
            _with(5, boiling_point="75.4 C"),
            _with(9, percent={"C": 73.49, "H": 12.58, "O": 49.93}),
            _with(13, percent={"C": 37.49, "H": 12.58, "O": 49.93, "Cl": 3.0}),
        ),
        True,
    ),
    "few": (replace(_SMALL, students=8), Faults(contents={"D-04": "chloroform"}), (), True),
    "one-student": (replace(_SMALL, students=1), Faults(), (), True),
    "wide": (replace(_SMALL, between=0.08), Faults(), (), True),
}


def sections() -> Iterator[Case]:
    """Yield trial tables of whole sections."""
    for name, (of, faults, changes, has_key) in DRAWN.items():
        runs = Drawn(SEED).section(of, faults)
        for change in changes:
            runs = change(runs)
        table, key = table_text(trial_rows(runs)), _KEY if has_key else None
        yield section(f"drawn-{name}", table, key, is_quick=has_key and name not in _BESIDE_ALL)
    yield section(
        "drawn-key-small",
        table_text(trial_rows(_small_runs())),
        "label,identity\nD-01,methanol\nX-9,ethanol\n",
    )
    yield section(
        "drawn-key-faulty",
        table_text(trial_rows(_small_runs())),
        "label,identity\nD-01,methanol\nD-02,nobody knows\nD-01,acetone\nD-04,C1CCCCCCC1(C)C\n",
    )
    yield section("drawn-two-liquids", table_text(trial_rows(_two_liquids())), _KEY)
    yield section("drawn-weighings-off", table_text(trial_rows(_slightly_off())), _KEY)
    yield section("drawn-boiling-points-off", table_text(_boiling_points_off()), _KEY)
    yield section(
        "drawn-thousandths",
        table_text(trial_rows(_small_runs())),
        _KEY,
        "--tolerance",
        "molar-mass=2",
    )
    fluids = FLUIDS[:5]
    for name, like in {
        "slips": Section(rows=60, slips=0.3, mislabeled=0, barometer_off=0.0),
        "mislabeled": Section(rows=60, slips=0.0, mislabeled=1, barometer_off=0.0),
        "wrong-card": Section(rows=60, slips=0.0, mislabeled=0, wrong_cards=1, barometer_off=0.0),
        "barometer": Section(rows=80, slips=0.0, mislabeled=0, days=3, barometer_off=40.0),
        "unreadable": Section(rows=60, slips=0.0, mislabeled=0, barometer_off=0.0, unreadable=0.2),
        "measured": Section(rows=60, mislabeled=0, barometer_off=0.0, boiling_point="measured"),
    }.items():
        simulated = simulate(replace(like, fluids=fluids), SEED)
        yield section(
            f"simulated-{name}",
            table_text(simulated.table),
            table_text(simulated.key),
            is_quick=name not in ("mislabeled", "unreadable"),
        )


def _small_runs() -> list[Measurement]:
    return Drawn(SEED).section(replace(_SMALL, students=12))


def _two_liquids() -> list[Measurement]:
    of = replace(_SMALL, students=24, liquids={"D-01": "methanol", "D-02": "acetone"})
    runs = Drawn(SEED).section(of)
    others = Drawn(SEED).section(of, Faults(contents={"D-01": "hexane"}))
    return [
        other if place % 4 == 0 else run
        for place, (run, other) in enumerate(zip(runs, others, strict=True))
    ]


def _slightly_off() -> list[Measurement]:
    runs = Drawn(SEED).section(_LARGER)
    return [
        _heavier(1, 0.032 * float(run.trials[0].condensed.value - run.trials[0].empty.value))(
            [run]
        )[0]
        if run.label == "D-04"
        else run
        for run in runs
    ]


def _boiling_points_off() -> list[dict[str, str]]:
    rows = trial_rows(Drawn(SEED).section(_BOTTLES))
    return [row | {"boiling_point_C": f"{float(row['boiling_point_C']) - 5.0:.1f}"} for row in rows]


# ------------------------------------------------------------------------------------- stocks

_STATED = (
    "identity",
    "formula",
    "molar_mass",
    "boiling_point_C",
    "percent_C",
    "percent_H",
    "percent_O",
)
_ETHANOL = ("ethanol", "C2H6O", "46.07", "78.3", "52.14", "13.13", "34.73")


def _ethanol(**cells: str) -> str:
    return table_text([{"label": "A", **dict(zip(_STATED, _ETHANOL, strict=True)), **cells}])


def _column(*identities: str) -> str:
    """Return a stock table of identities alone."""
    return table_text(
        [{"label": f"A-{place}", "identity": one} for place, one in enumerate(identities, 1)]
    )


STOCKS: Mapping[str, str] = {
    "sound": _ethanol(),
    "identities": _column(
        *("acetone", "2-propanone", "67-64-1", "CC(=O)C", "CSCPPACGZOOCGX-UHFFFAOYSA-N"),
        *("InChIKey=CSCPPACGZOOCGY-UHFFFAOYSA-N", "CO", "THF", "IPA", "butylamine"),
    ),
    "ambiguous": _column(*("C3H6O", "CHCl3", "xylene", "methyl crotonate", "butyl chloride")),
    "unknown": _column("ethonal", "bottle seven", "1975-09-02", "C99H3O", ""),
    "unsuitable": _column(
        *("water", "7732-18-5", "bromine", "H2O", "sodium chloride", "CC(=O)[O-].[Na+]"),
        *("[13CH3]O", "C[Hg]C", "petroleum ether", "glucose"),
    ),
    "disagree": "label,name,smiles,cas\nA,acetone,CCO,64-17-5\nB,acetone,CCO,\n"
    'C,shelf nine,,67-56-1\nD,"1,2-dichloroethene",,156-59-2\nE,xylene,,95-47-6\n',
    "check-digit": "label,name,cas,formula\nA,acetone,67-64-2,\nB,acetone,76-64-1,\n"
    "C,ethanol,67-64-2,\nD,,67-64-2,\nE,,67-46-1,C3H6O\n",
    "cas-column": "label,cas\nA,1975-09-02\nB,ethanol\nC,9999999-99-5\n",
    "smiles-column": "label,smiles\nA,ethanol\nB,O\nC,CC[C@H](C)O\n",
    "formula-wrong": _ethanol(formula="C2H6"),
    "formula-unreadable": _ethanol(formula="alcohol"),
    "molar-mass-wrong": _ethanol(molar_mass="46.70"),
    "molar-mass-rounded": _ethanol(molar_mass="46.0"),
    "molar-mass-unreadable": _ethanol(molar_mass="heavy"),
    "percent-wrong": _ethanol(percent_C="52.41"),
    "percent-rounded": _ethanol(percent_C="52.17", percent_H="13.04", percent_O="34.78"),
    "percent-exchanged": _ethanol(percent_C="34.73", percent_O="52.14"),
    "percent-of-another": _ethanol(percent_C="62.04", percent_H="10.41", percent_O="27.55"),
    "percent-fractions": _ethanol(percent_C="0.5214", percent_H="0.1313", percent_O="0.3473"),
    "percent-unreadable": _ethanol(percent_C="much"),
    "percent-sum": _ethanol(percent_C="52.18", percent_H="13.17", percent_O="34.77"),
    "boiling-point-wrong": _ethanol(boiling_point_C="82.0"),
    "boiling-point-doubtful": _ethanol(boiling_point_C="80.3"),
    "boiling-point-fahrenheit": _ethanol(boiling_point_C="173.1"),
    "boiling-point-kelvin": _ethanol(boiling_point_C="351.5"),
    "boiling-point-pressure": "label,identity,boiling_point_C,boiling_point_at_mmHg\n"
    "A,ethanol,78.4,640\nB,methanol,58.1,590\n",
    "boiling-point-isomer": "label,identity,boiling_point_C\nA,1-propanol,82.3\n"
    "B,2-methylpentane,49.7\n",
    "boiling-point-uncertain": 'label,name,boiling_point_C\nA,"1,2-dichloroethylene",48.7\n',
    "boiling-point-unknown": "label,smiles,boiling_point_C\nA,CC(F)(Cl)C(C)(Cl)CCC#CCN,\n"
    "B,CC(F)(Cl)C(C)(Cl)CC,96.0\n",
    "another-compound": "label,identity,formula,molar_mass,boiling_point_C\n"
    "A,ethanol,C3H8O,60.10,82.3\nB,ethanol,C2H6,46.70,\n",
    "duplicates": "label,identity,boiling_point_C\nA,acetone,56.1\na,ethanol,\nA,water,\n"
    "B,2-propanone,56.1\nC,hexane,68.7\nC,hexane,68.7\n,cyclohexane,\nD,hexane,68.8\n",
    "without-labels": "identity\nacetone\nethanol\n",
    "rows": "label,identity,bolling_point_C\n\nA,acetone,56.1\n,,\nB,ethonal,\n"
    'C,hexane,68,7\nD,"ethanol\nE,water,\n',
    "cards-exchanged": "label,identity,boiling_point_C,percent_C,percent_H,percent_O\n"
    "A,acetone,78.3,52.14,13.13,34.73\nB,ethanol,56.1,62.04,10.41,27.55\n",
    "card-of-another": "label,identity,boiling_point_C,percent_C,percent_H,percent_O\n"
    "A,acetone,78.3,52.14,13.13,34.73\nB,ethanol,78.3,52.14,13.13,34.73\n",
    "method": "label,identity\nA,toluene\nB,1-propanol\nC,acetaldehyde\nD,pentane\n"
    "E,diethyl ether\nF,tert-butanol\nG,dimethyl carbonate\n",
    "hazards": "label,identity\nA,benzene\nB,chloroform\nC,tetrahydrofuran\nD,acrolein\n"
    "E,1-hexyne\nF,diisopropyl ether\nG,carbon tetrachloride\nH,acrylonitrile\n",
    "inseparable": "label,identity\nA,2-methylpentane\nB,3-methylpentane\nC,2-butanone\n"
    "D,tetrahydrofuran\nE,butyraldehyde\nF,cyclohexane\nG,benzene\n",
    "dimers": "label,identity\nA,trifluoroacetic acid\nB,acetone\nC,formic acid\nD,pyruvic acid\n",
    "semicolons": "label;identity;boiling_point_C\nA;acetone;56,1\nB;ethanol;78,3\n",
    "empty": "",
    "header-only": "label,identity\n",
    "no-identity": "bottle,shelf\nA,acetone\n",
    "column-twice": "name,name\nacetone,acetone\n",
}


def stocks() -> Iterator[Case]:
    """Yield stock tables, and what check-stock makes of them and of the class."""
    for name, text in STOCKS.items():
        file = f"{name}.csv"
        yield Case(f"stock-{name}", [["check-stock", file, *JSON]], {file: text})
    mountain = ["--pressure", "640 mmHg", "--room", "15 C"]
    for name in ("method", "boiling-point-pressure", "cards-exchanged", "sound"):
        file = f"{name}.csv"
        command = ["check-stock", file, *mountain, *JSON]
        yield Case(f"stock-{name}-mountain", [command], {file: STOCKS[name]})
    for name in ("percent-wrong", "check-digit", "duplicates"):
        command = ["check-stock", f"{name}.csv", "--fix", "fixed.csv", *JSON]
        yield Case(f"stock-{name}-fix", [command], {f"{name}.csv": STOCKS[name]}, ["fixed.csv"])


# ------------------------------------------------------------------- the demo, and calculations


def demo() -> Iterator[Case]:
    """Yield the commands of the demo and the README."""
    stock, table = "data/demo/stock.csv", "data/demo/section.csv"
    for label in ("C-08", "C-14", "C-23", "C-31", "C-52", "C-77"):
        file = f"data/demo/{label}.toml"
        yield Case(f"match-{label}", [["match", file, *JSON]])
        yield Case(f"match-{label}-csv", [["match", file, "--format", "csv"]])
        yield Case(f"explain-{label}", [["match", file, "--explain", "acetone", *TOP, *JSON]])
        if label != "C-77":
            yield Case(f"molar-mass-{label}", [["molar-mass", file, *JSON]])
    yield Case("match-section", [["match", table, *TOP, *JSON]])
    yield Case(
        "match-all",
        [
            [
                "match",
                *(f"data/demo/{one}" for one in ("C-14.toml", "section.csv")),
                "--format",
                "csv",
            ]
        ],
    )
    yield Case(
        "match-typed",
        [
            [
                "match",
                "--molar-mass",
                "46.1",
                "--boiling-point",
                "78.4 C",
                "--percent",
                "C=52.1 H=13.1",
                *JSON,
            ]
        ],
    )
    yield Case(
        "check-stock", [["check-stock", stock, *JSON], ["check-stock", stock, "--format", "csv"]]
    )
    yield Case(
        "check-stock-mountain",
        [["check-stock", stock, "--pressure", "742 mmHg", "--room", "23 C", *JSON]],
    )
    yield Case(
        "check-stock-fix",
        [
            ["check-stock", stock, "--fix", "corrected.csv", *JSON],
            ["cards", "corrected.csv", "--html", "cards.html", "--pressure", "742 mmHg", *JSON],
            [
                "cards",
                "corrected.csv",
                "--html",
                "cards.html",
                "--anyway",
                "--key",
                "key.html",
                *JSON,
            ],
            ["plan", "corrected.csv", "--liquids", "4", *JSON],
        ],
        {},
        ["corrected.csv", "cards.html", "key.html"],
    )
    yield Case(
        "cards",
        [["cards", stock, "--html", "all.html", "--anyway", *JSON], ["cards", stock, *JSON]],
    )
    yield Case(
        "section",
        [
            ["section", table, "--key", stock, *JSON],
            ["section", table, *JSON],
            ["section", table, "--key", stock, "--format", "csv"],
        ],
    )
    yield Case("plan", [["plan", stock, "--liquids", "6", *JSON]])
    yield Case("plan-table", [["plan", "--liquids", "8", "--flash-point-above", "-20 C", *JSON]])
    yield Case(
        "plan-must-have",
        [
            [
                "plan",
                "--liquids",
                "5",
                "--must-have",
                "benzene",
                "--without",
                "acetone",
                "--elements",
                "C H O",
                "--percent",
                "none",
                "--balance",
                "0.01g",
                *JSON,
            ]
        ],
    )
    yield Case(
        "plan-hard",
        [
            [
                *("plan", "--liquids", "9", "--elements", "C H", "--percent", "none"),
                *(
                    "--technique",
                    "8 %",
                    "--boiling-point",
                    "4 C",
                    "--success",
                    "99",
                    "--runs",
                    "100",
                    *JSON,
                ),
            ]
        ],
    )
    yield Case("molar-mass-as", [["molar-mass", "data/demo/C-23.toml", "--as", "acetone", *JSON]])
    burned = ["--sample", "0.4310 g", "--co2", "0.8235 g", "--h2o", "0.5057 g"]
    yield Case("composition", [["composition", *burned, *JSON]])
    yield Case(
        "formula", [["formula", "C=59.9", "H=13.4", "O=26.7", "--molar-mass", "60.1", *JSON]]
    )
    yield Case(
        "boiling-point",
        [["boiling-point", "--observed", "77.7 C", "--at", "742 mmHg", "--as", "ethanol", *JSON]],
    )
    yield Case(
        "candidates",
        [["candidates", "ethanol", *JSON], ["candidates", "ethanol", "67-64-1", "C1CCCCC1", *JSON]],
    )
    yield Case(
        "candidates-find",
        [["candidates", "find", "--formula", "C4H8O", "--boiling-between", "60 C", "70 C", *JSON]],
    )


_WEIGHED = (
    "--empty",
    "98.1132",
    "--condensed",
    "98.3712",
    "--bath",
    "98.3 C",
    "--room",
    "22.4 C",
    "--pressure",
    "742.1 mmHg",
    "--volume",
    "287.4 mL",
)


_OF_DIMERS = ["--gain", "1.4613", "--bath", "98.9 C", "--room", "22.0 C"]
_OF_DIMERS += ["--pressure", "742.0 mmHg", "--volume", "280.0 mL"]


def calculations() -> Iterator[Case]:
    """Yield what the calculations say, with their findings."""
    three = [*_WEIGHED, "--condensed", "98.3731", "--condensed", "98.3702"]
    for name, arguments in {
        "liquid": [*three, "--as", "methanol"],
        "contradicted": [*_WEIGHED, "--as", "chloroform"],
        "single": [*_WEIGHED, "--as", "methanol"],
        "open": [*three],
        "open-with-card": [
            *three,
            "--percent",
            "C=37.5 H=12.6 O=49.9",
            "--boiling-point",
            "64.5 C",
        ],
        "dimers": [*_OF_DIMERS, "--as", "trifluoroacetic acid"],
        "outlier": [*three, "--condensed", "98.4931", "--as", "methanol"],
        "outlier-within": [
            *_WEIGHED,
            "--condensed",
            "98.3712",
            "--condensed",
            "98.3712",
            "--condensed",
            "98.3714",
            "--as",
            "methanol",
        ],
        "constants": [
            *three,
            "--vapor-pressure",
            "100 mmHg",
            "--second-virial",
            "-600 cm3/mol",
            "--density",
            "0.79 g/mL",
        ],
        "constants-left-out": [*three, "--density", "0.79 g/mL"],
        "constants-unusual": [
            *three,
            "--vapor-pressure",
            "700 mmHg",
            "--second-virial",
            "600 cm3/mol",
            "--density",
            "9 g/mL",
        ],
        "below-any": [*three, "--density", "1 kg/m3"],
        "impossible": [*_WEIGHED[:2], "--condensed", "123.4", *_WEIGHED[4:], "--as", "methanol"],
        "not-linear": [
            "--empty",
            "98.11",
            "--condensed",
            "98.13",
            *_WEIGHED[4:],
            "--as",
            "methanol",
        ],
        "bath-near": [*_WEIGHED[:4], "--bath", "64.3 C", *_WEIGHED[6:], "--as", "methanol"],
        "bath-below": [*_WEIGHED[:4], "--bath", "54.3 C", *_WEIGHED[6:], "--as", "methanol"],
        "volatile": [*_WEIGHED, "--as", "pentane"],
        "nothing-plausible": [*three, "--percent", "C=80.0 H=20.0", "--boiling-point", "20 C"],
        "mercury": [
            *three,
            "--as",
            "methanol",
            "--barometer",
            "mercury",
            "--latitude",
            "47",
            "--height",
            "400 m",
            "--humidity",
            "40 %",
        ],
        "water": [
            *_WEIGHED[:-2],
            "--water-mass",
            "286.5 g",
            "--water-temperature",
            "22 C",
            "--as",
            "methanol",
        ],
        "cylinder": [
            *_WEIGHED[:-2],
            "--water-volume",
            "100.0 + 100.0 + 87.4 mL",
            "--as",
            "methanol",
        ],
    }.items():
        yield Case(f"molar-mass-{name}", [["molar-mass", *arguments, *JSON]])
    for name, arguments in {
        "no-oxygen": [
            "--sample",
            "0.2000 g",
            "--co2",
            "0.6275 g",
            "--h2o",
            "0.2569 g",
            "--no-oxygen",
        ],
        "above": ["--sample", "0.2000 g", "--co2", "0.7275 g", "--h2o", "0.2569 g"],
        "above-by-chance": ["--sample", "0.2000 g", "--co2", "0.6280 g", "--h2o", "0.2575 g"],
        "within-errors": ["--sample", "0.2000 g", "--co2", "0.6270 g", "--h2o", "0.2566 g"],
        "below": ["--sample", "0.4310 g", "--co2", "0.8235 g", "--h2o", "0.5057 g", "--no-oxygen"],
        "nitrogen": [
            "--sample",
            "0.3000 g",
            "--co2",
            "0.6000 g",
            "--h2o",
            "0.3000 g",
            "--n2",
            "0.0500 g",
        ],
        "chloride": ["--sample", "0.3000 g", "--co2", "0.1106 g", "--agcl", "1.0803 g"],
        "only-water": ["--sample", "0.4310 g", "--h2o", "0.5057 g"],
        "uncertain": ["--sample", "0.4310(2) g", "--co2", "0.8235(5) g", "--h2o", "0.5057(5) g"],
    }.items():
        yield Case(f"composition-{name}", [["composition", *arguments, *JSON]])
    for name, arguments in {
        "nearest": ["C=59.9", "H=23.4", "O=16.7"],
        "element": ["C=100"],
        "chlorine": ["Cl=100"],
        "valence": ["C=38.70", "H=9.74", "O=51.55"],
        "none": ["C=2", "H=50", "O=48"],
        "high": ["C=79.9", "H=33.4", "O=26.7"],
        "low": ["C=39.9", "H=6.7", "O=26.7"],
        "fractions": ["C=0.599", "H=0.134", "O=0.267"],
        "no-multiple": ["C=85.63", "H=14.37", "--molar-mass", "36(1)"],
        "tolerance": ["C=52", "H=13", "O=35", "--tolerance", "1"],
        "halogen": ["C=10.06", "H=0.84", "Cl=89.09", "--molar-mass", "119.4"],
    }.items():
        yield Case(f"formula-{name}", [["formula", *arguments, *JSON]])
    for name, arguments in {
        "associated": ["--observed", "77.7 C", "--at", "742 mmHg", "--liquid", "associated"],
        "unassociated": ["--observed", "55.2 C", "--at", "98.9 kPa", "--to", "640 mmHg"],
        "stem": ["--observed", "77.7 C", "--at", "742 mmHg", "--exposed", "60", "--stem", "35 C"],
        "spirit": [
            "--observed",
            "77.7 C",
            "--at",
            "742 mmHg",
            "--exposed",
            "60",
            "--stem",
            "35 C",
            "--thread",
            "spirit",
        ],
        "far": ["--observed", "30 C", "--at", "20 mmHg", "--as", "toluene"],
    }.items():
        yield Case(f"boiling-point-{name}", [["boiling-point", *arguments, *JSON]])
    for name, arguments in {
        "between": ["--boiling-between", "60 C", "62 C", "--commonly-sold"],
        "molar-mass": ["--molar-mass-between", "71", "73"],
    }.items():
        yield Case(
            f"find-{name}",
            [
                ["candidates", "find", *arguments, *JSON],
                ["candidates", "find", *arguments, "--format", "csv"],
            ],
        )


# ------------------------------------------------------------------------ bad input, and print


BAD: Mapping[str, str] = {
    "unit.toml": page(_CARD, conditions('pressure = "742.1 furlongs"\nroom = "22.4 C"')),
    "field.toml": page(_CARD, conditions('presure = "742.1 mmHg"\nroom = "22.4 C"')),
    "number.toml": page(card('boiling_point = "warm"')),
    "element.toml": page(card("percent = { C = 37.48, Xx = 12.58 }")),
    "negative.toml": page(_CARD, _CONDITIONS, '[flask]\nvolume = "-287.4 mL"\n'),
    "trial.toml": page(_CARD, _CONDITIONS, _FLASK, '[[trial]]\nempty = "98.1132 g"\n', _TRIAL),
    "syntax.toml": 'label = "P"\n[card\n',
    "label.toml": _CARD,
    "cells.csv": "label,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL\n"
    "A,98.1132,98.3712,hot,22.4,742.1,287.4\nB,,98.3712,98.3,22.4,742.1,287.4\n"
    ",98.1132,98.3712,98.3,22.4,742.1,287.4\nC,98.1132,98.3712,98.3,-300,742.1,0\n"
    "D,98.1132,98.3712,98.3,22.4,742.1,287.4\n",
    "columns.csv": "label,emtpy_g,condensed_g,bath_F,pressure_bananas,student\nA,1,2,3,4,5\n",
    "ragged.csv": "label,boiling_point_C\nA,64,5\nB,56.1\n",
    "empty.csv": "",
    "semicolons.csv": "label;boiling_point_C;percent_C\nA;64,5;37,5\n",
}


def faults() -> Iterator[Case]:
    """Yield bad input: faults with file, row and column, one a line."""
    for name, text in BAD.items():
        stem = name.replace(".", "-")
        commands = [["match", name, *TOP, *JSON]]
        if name.endswith("toml"):
            commands.append(["molar-mass", name, *JSON])
        else:
            commands.append(["section", name, *JSON])
        yield Case(f"bad-{stem}", commands, {name: text})
    yield Case(
        "bad-usage",
        [
            ["match"],
            ["match", "nowhere.toml"],
            ["match", "--nonsense"],
            ["match", "--pressure", "742 cows"],
            ["match", "--tolerance", "molar-mass=-1", "--molar-mass", "46"],
            ["match", "--molar-mass", "46", "--explain", "nobody knows"],
            ["molar-mass", "--empty", "98.1"],
            ["composition", "--sample", "0"],
            ["composition"],
            ["formula", "C=x"],
            ["formula"],
            ["boiling-point", "--observed", "hot"],
            ["candidates", "nobody knows"],
            ["candidates", "find", "--formula", "C4H8O9X"],
            ["candidates", "build", "nowhere.csv", "--out", "x.csv"],
            ["check-stock", "nowhere.csv"],
            ["cards", "data/demo/stock.csv"],
            ["section", "nowhere.csv"],
            ["section", "data/demo/section.csv", "--key", "nowhere.csv"],
            ["plan", "--liquids", "1"],
            ["plan", "--must-have", "nobody knows"],
            ["nonsense"],
        ],
    )
    yield Case(
        "bad-key",
        [["section", "data/demo/section.csv", "--key", "key.csv", *JSON]],
        {"key.csv": "label,identity\nD-02,nobody knows\n"},
    )


def printed() -> Iterator[Case]:
    """Yield answers as they are printed, 80 columns wide."""
    stock, table = "data/demo/stock.csv", "data/demo/section.csv"
    for label in ("C-08", "C-14", "C-23", "C-31", "C-52", "C-77"):
        yield Case(f"match-{label}", [["match", f"data/demo/{label}.toml"]])
    yield Case(
        "match-several",
        [["match", "data/demo/C-14.toml", "data/demo/C-31.toml", table, "--top", "4"]],
    )
    yield Case(
        "explain",
        [
            ["match", "data/demo/C-31.toml", "--explain", "cyclohexane"],
            ["match", "data/demo/C-52.toml", "--explain", "acetone", "--top", "3"],
        ],
    )
    for name in (
        "trials-scatter",
        "several-units",
        "further-readings",
        "composition-valence",
        "nothing-measured",
    ):
        file = f"{name}.toml"
        yield Case(
            f"match-{name}",
            [["match", file, "--top", "3"], ["match", file, "--explain", "methanol", "--top", "2"]],
            {file: PLANTED[name]},
        )
    yield Case(
        "molar-mass",
        [
            ["molar-mass", "data/demo/C-23.toml", "--as", "acetone"],
            ["molar-mass", "data/demo/C-23.toml", "--no-show-work"],
            ["molar-mass", "data/demo/C-14.toml"],
        ],
    )
    yield Case(
        "composition",
        [["composition", "--sample", "0.4310 g", "--co2", "0.8235 g", "--h2o", "0.5057 g"]],
    )
    yield Case(
        "formula",
        [
            ["formula", "C=59.9", "H=13.4", "O=26.7", "--molar-mass", "60.1"],
            ["formula", "C=59.9", "H=23.4", "O=16.7"],
        ],
    )
    yield Case(
        "boiling-point",
        [
            ["boiling-point", "--observed", "77.7 C", "--at", "742 mmHg", "--as", "ethanol"],
            ["boiling-point", "--observed", "77.7 C", "--at", "742 mmHg"],
        ],
    )
    yield Case(
        "candidates",
        [
            ["candidates", "ethanol"],
            ["candidates", "find", "--formula", "C4H8O", "--boiling-between", "60 C", "70 C"],
        ],
    )
    yield Case(
        "check-stock", [["check-stock", stock], ["check-stock", stock, "--pressure", "640 mmHg"]]
    )
    yield Case("cards", [["cards", stock, "--html", "cards.html", "--anyway"], ["cards", stock]])
    yield Case("section", [["section", table, "--key", stock], ["section", table, "--all"]])
    runs = Drawn(SEED).section(_SMALL, Faults(contents={"D-04": "chloroform"}))
    yield Case(
        "section-drawn",
        [["section", "drawn.csv", "--key", "key.csv"]],
        {"drawn.csv": table_text(trial_rows(runs)), "key.csv": _KEY},
    )
    yield Case("plan", [["plan", stock, "--liquids", "6"]])
    commands = (
        "match",
        "molar-mass",
        "composition",
        "formula",
        "boiling-point",
        "check-stock",
        "cards",
        "section",
        "plan",
    )
    yield Case(
        "help",
        [
            ["--help"],
            *([one, "--help"] for one in commands),
            *(["candidates", one, "--help"] for one in ("show", "find", "build", "index")),
        ],
    )


CASES: Mapping[str, Callable[[], Iterator[Case]]] = {
    "calculations": calculations,
    "demo": demo,
    "faults": faults,
    "planted": lambda: chain(planted(), of_another_bottle(), by_python()),
    "printed": printed,
    "sections": sections,
    "slips": slipped,
    "sound": sound,
    "stocks": stocks,
}


def main(arguments: Sequence[str] | None = None) -> int:
    GOLDEN.mkdir(parents=True, exist_ok=True)
    given = sys.argv[1:] if arguments is None else arguments
    for kind in given or CASES:
        drawn = [
            {"name": one.name, "commands": one.commands}
            | ({"files": one.files} if one.files else {})
            | ({"written": one.written} if one.written else {})
            for one in CASES[kind]()
        ]
        write_lines(GOLDEN / f"{kind}.cases.jsonl", drawn)
        print(f"{kind}: {len(drawn)} cases")
    return 0


if __name__ == "__main__":
    sys.exit(main())
