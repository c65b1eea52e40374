"""One unknown's readings as they were typed, made into a measurement."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from identify.cli.options import Readings
from identify.measurement import Conditions, Flask, Measurement, Source, Trial
from identify.quantities import Quantity, QuantityError, read_quantity

Complain = Callable[[object], None]

# Dimension and unit of a plain number, for each option that is one quantity or a list of them.
_KINDS = {
    "molar_mass": ("molar mass", "g/mol"),
    "boiling_point": ("temperature", "C"),
    "boiling_point_at": ("pressure", "mmHg"),
    "empty": ("mass", "g"),
    "condensed": ("mass", "g"),
    "bath": ("temperature", "C"),
    "room": ("temperature", "C"),
    "pressure": ("pressure", "mmHg"),
    "humidity": ("percent", "%"),
    "volume": ("volume", "mL"),
    "water_mass": ("mass", "g"),
    "water_temperature": ("temperature", "C"),
    "water_volume": ("volume", "mL"),
}
# "C=52.1 H=13.1", also separated by commas or semicolons, also with decimal commas.
_ELEMENT = re.compile(r"(?:^|[\s,;]+)([A-Za-z]{1,2})\s*=\s*")
UNLABELED = "unknown"


def typed_run(readings: Readings, complain: Complain) -> Measurement | None:
    """Make a measurement of the options that were typed.

    Parameters
    ----------
    readings : Readings
        The options.
    complain : callable
        Called with one line for each option that cannot be used.

    Returns
    -------
    Measurement or None
        None where any option cannot be used: an answer from the others would not be the one
        that was asked for.
    """
    faults: list[str] = []

    def read(option: str, text: str) -> Quantity | None:
        try:
            return read_quantity(text, *_KINDS[option])
        except QuantityError as error:
            faults.append(f"--{option.replace('_', '-')}: {error}")
            return None

    def one(option: str) -> Quantity | None:
        text = getattr(readings, option)
        return None if text is None else read(option, text)

    percent = _percent(readings.percent or (), faults)
    trials = _trials(readings, read, faults)
    conditions = Conditions(pressure=one("pressure"), room=one("room"), humidity=one("humidity"))
    flask = Flask(
        volume=one("volume"),
        water_mass=one("water_mass"),
        water_temperature=one("water_temperature"),
        water_volume=one("water_volume"),
    )
    card = {name: one(name) for name in ("molar_mass", "boiling_point", "boiling_point_at")}
    if not faults:
        try:
            return Measurement(
                label=readings.label or UNLABELED,
                percent=percent,
                conditions=conditions,
                flask=flask,
                trials=tuple(trials),
                source=Source(),
                **card,
            )
        except ValueError as error:
            faults.append(str(error))
    for fault in faults:
        complain(fault)
    return None


def _percent(texts: Sequence[str], faults: list[str]) -> dict[str, Quantity]:
    percent: dict[str, Quantity] = {}
    for text in texts:
        before, *pairs = _ELEMENT.split(text)
        if before.strip() or not pairs:
            faults.append(f'--percent: "{text}" is not an element and its percent; write it C=52.1')
            continue
        for symbol, number in zip(pairs[::2], pairs[1::2], strict=True):
            symbol = symbol.capitalize()
            if symbol in percent:
                faults.append(f"--percent: {symbol} is given twice; give it once")
                continue
            try:
                percent[symbol] = read_quantity(number, "percent", "%")
            except QuantityError as error:
                faults.append(f"--percent {symbol}: {error}")
    return percent


def _trials(
    readings: Readings, read: Callable[[str, str], Quantity | None], faults: list[str]
) -> list[Trial]:
    columns = {name: getattr(readings, name) or () for name in ("empty", "condensed", "bath")}
    # One trial a condensed weighing; the empty flask and the bath may be read once for all.
    count = max((len(texts) for texts in columns.values()), default=0)
    for name, texts in columns.items():
        if len(texts) not in (0, 1, count):
            faults.append(
                f"--{name}: given {len(texts)} times, and there are {count} trials; "
                "give it once, or once a trial"
            )
            return []
    quantities = {name: [read(name, text) for text in texts] for name, texts in columns.items()}
    return [
        Trial(**{name: _of_trial(column, trial) for name, column in quantities.items()})
        for trial in range(count)
    ]


def _of_trial(column: Sequence[Quantity | None], trial: int) -> Quantity | None:
    if not column:
        return None
    return column[trial] if len(column) > 1 else column[0]
