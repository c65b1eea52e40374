"""The probabilities of slips against what is enumerated, integrated or searched through by hand."""

from __future__ import annotations

import importlib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import exp, pi, sqrt

import numpy as np
import pytest
from evaluation import rows_to_draw
from slip_evaluation import KINDS, Drawing, readable

from identify import Conditions, Flask, Measurement, Trial, load_candidates
from identify.candidates.table import CandidateTable
from identify.matching.bench import Bench
from identify.matching.posterior import Matcher
from identify.matching.slips import Search, search
from identify.matching.slips.digits import misreadings
from identify.matching.slips.hypothesis import Case
from identify.matching.slips.record import weighing_slips
from identify.matching.slips.technique import technique_slips

searching = importlib.import_module("identify.matching.slips.search")

FIVE = ("acetone", "methanol", "ethanol", "hexane", "toluene")


@pytest.fixture(scope="module")
def table() -> CandidateTable:
    return load_candidates()


@pytest.fixture(scope="module")
def judge(table: CandidateTable) -> Matcher:
    return Matcher(table)


@pytest.fixture(scope="module")
def few(table: CandidateTable) -> Matcher:
    return Matcher(table.take([table.find(name)[0] for name in FIVE]))


def searched(judge: Matcher, run: Measurement) -> Search:
    bench = Bench.of(run)
    return search(run, bench, judge.posterior(bench), judge)


# ------------------------------------------------------------------- one observable, enumerated


def bell(off: float, sigma: float) -> float:
    return exp(-0.5 * (off / sigma) ** 2) / (sigma * sqrt(2.0 * pi))


def never_near_zero(size: float, scale: float) -> float:
    return size / scale**2 * exp(-size / scale) if size > 0.0 else 0.0


def without_one_digit(text: str) -> Counter[str]:
    """What is left of a number after each of its digits is forgotten, and in how many ways."""
    return Counter(
        text[:place] + text[place + 1 :] for place in range(len(text)) if text[place] != "."
    )


def digits_by_hand(written: str) -> Iterator[tuple[float, float, float]]:
    """Yield what a number with one decimal may have been: value, chance, width of its last digit.

    Every number of one digit more, and of one digit less, is gone through.
    """
    whole = len(written) - 2
    for decimals in (1, 2):
        length = whole + 2 - decimals if decimals == 2 else whole + 1
        for number in range(10 ** (length + decimals - 1), 10 ** (length + decimals)):
            digits = str(number)
            text = f"{digits[:length]}.{digits[length:]}"
            ways = without_one_digit(text)[written]
            if ways:
                yield float(text), 0.0006 * ways / len(digits), 0.1 ** (decimals - 1)
    for place, (one, other) in enumerate(zip(written, written[1:], strict=False)):
        if "." not in (one, other) and one != other:
            text = written[:place] + other + one + written[place + 2 :]
            yield float(text), 0.0010 / (len(written) - 2), 1.0
        if one == other:
            yield float(written[:place] + written[place + 1 :]), 0.0003 / (len(written) - 2), 1.0
    before, behind = written[whole - 1], written[-1]
    # The point between two others: one from each side changed places with it.
    swapped = f"{written[: whole - 1]}{behind}.{before}"
    if before != behind:
        yield float(swapped), 0.0010 / whole, 1.0
    for move in (10.0, 0.1, 100.0, 0.01):
        yield float(written) * move, 0.0006 / 4, move


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("133.0", "boiling-point-unit"),
        ("87.2", "digits-exchanged"),
        ("332.4", None),
        ("556.1", None),
        ("70.4", None),
        ("79.9", None),
        ("560.5", None),
    ],
)
def test_one_boiling_point_beside_five_compounds(
    written: str, code: str | None, few: Matcher, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Compound by compound and slip by slip, as the mixture is described, in plain arithmetic."""
    monkeypatch.setattr(searching, "_WORTH_WHILE", 0.0)
    run = Measurement("H", boiling_point=f"{written} C")
    bench = Bench.of(run)
    before = few.posterior(bench)
    found = search(run, bench, before, few)
    kelvin = float(written) + 273.15
    slips = [((float(written) - 32.0) / 1.8 + 273.15, 0.002, 1.0 / 1.8), (float(written), 0.002, 1)]
    slips += [(value + 273.15, chance, width) for value, chance, width in digits_by_hand(written)]
    chances = 0.005 + 0.003 + sum(chance * width for _, chance, width in slips)
    sound = 1.0 - chances
    assert before.base is not None
    weights = []
    for row, name in enumerate(few.table.text("name")):
        expected = few.expectation.normal_boiling_point[row]
        own = few.expectation.boiling_point_u[row]
        sigma = sqrt(1.0 + own**2)
        off = kelvin - expected
        # Of the gross errors, 2 in 100, all but 15 % are slips that are known.
        density = 0.98 * bell(off, sigma) + 0.02 * 0.15 * exp(-abs(off) / 25.0) / 50.0
        density *= sound
        density += sum(chance * width * bell(v - expected, sigma) for v, chance, width in slips)
        if own < 1.5:
            density += 0.005 * never_near_zero(-off, 1.5) + 0.003 * never_near_zero(off, 2.0)
        assert name in FIVE
        weights.append(before.base[row] * density)
    none = before.none_of_these * before.evidence * sound
    total = sum(weights) + none
    assert found.posterior.probability == pytest.approx(np.array(weights) / total, rel=1e-6)
    assert found.posterior.none_of_these == pytest.approx(none / total, rel=1e-6)
    if code is not None:
        assert code in {slip.code for slip in found.slips}


@pytest.mark.parametrize("written", ["133.0", "56.1", "77.71", "98.1132", "742", "0.95"])
def test_dropped_and_doubled_digits_are_all_that_one_digit_makes(written: str) -> None:
    found = {
        one.text: one.chance for one in misreadings(written) if one.kind == "digit-dropped"
    }
    assert found
    for text, chance in found.items():
        digits = sum(letter.isdigit() for letter in text)
        ways = without_one_digit(text)
        left = sum(count for key, count in ways.items() if key.rstrip(".") == written)
        assert chance == pytest.approx(0.0006 * left / digits)


# ------------------------------------------------------------- densities, integrated over the gain

NEAR = np.arange(0.2, 1.2, 0.002)  # g: what a flask gains, finer than the error of a molar mass
FAR = np.geomspace(0.01, 12.0, 150)
GAINS = np.unique(np.concatenate([-FAR, [0.0], NEAR, FAR]).round(4))


def weighed(grams: float, volume: str, pressure: str) -> Measurement:
    return Measurement(
        "H",
        conditions=Conditions(pressure=pressure, room="22.0 C"),
        flask=Flask(volume=volume),
        trials=[Trial("90.0000 g", f"{90.0 + grams:.4f} g", "99.0 C")],
    )


@pytest.mark.parametrize("name", ["acetone", "hexane"])
@pytest.mark.parametrize(
    ("code", "volume", "pressure"),
    [
        ("mass-in-excess", "283.7 mL", "748.6 mmHg"),
        ("mass-missing", "283.7 mL", "748.6 mmHg"),
        ("mass-added", "283.7 mL", "748.6 mmHg"),
        ("lid-left-off", "283.7 mL", "748.6 mmHg"),
        ("pressure-at-sea", "283.7 mL", "748.6 mmHg"),
        ("volume-nominal", "250 mL", "748.6 mmHg"),
        ("pressure-unit", "283.7 mL", "99.8 mmHg"),
        ("pressure-unit", "283.7 mL", "14.5 mmHg"),
        ("volume-unit", "0.2837 mL", "748.6 mmHg"),
    ],
)
def test_over_all_gains_the_density_of_a_slip_adds_up_to_one(
    name: str, code: str, volume: str, pressure: str, few: Matcher
) -> None:
    rows = np.array([FIVE.index(name)])
    kind = weighing_slips if code.endswith("unit") else technique_slips
    nothing = few.posterior(Bench())
    observed, densities = [], []
    for grams in GAINS:
        run = weighed(float(grams), volume, pressure)
        bench = Bench.of(run)
        assert bench.weighing is not None
        slips = kind(Case(run, bench, nothing, few, rows))
        densities.append(sum(float(one.density[0]) for one in slips if one.code == code))
        each = few.expectation.implied_molar_mass(bench.weighing)
        observed.append(float(each[0, rows[0]]))
    widths, heights = np.diff(observed), np.array(densities)
    assert (widths > 0.0).all()
    total = float(widths @ (heights[1:] + heights[:-1])) / 2.0
    assert total == pytest.approx(1.0, rel=0.02)
