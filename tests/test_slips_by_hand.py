"""The probabilities of slips against what is enumerated, integrated or searched through by hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from math import exp, pi, prod, sqrt

import numpy as np
import pytest
from evaluation import rows_to_draw
from slip_evaluation import KINDS, Drawing, readable

from identify import Conditions, Flask, Measurement, Trial
from identify.bench.bench import Bench
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher
from identify.matching.posterior import Posterior
from identify.matching.slips import Search, search
from identify.matching.slips.catalog import SLIPS
from identify.matching.slips.mechanism import groups
from identify.matching.slips.mechanism.case import Case
from identify.matching.slips.mechanism.digits import misreadings
from identify.matching.slips.mechanism.rewriting import hypotheses
from identify.observables.error.technique import AS_CLASSES_WORK
from identify.observables.weighing import MOLAR_MASS

FIVE = ("acetone", "methanol", "ethanol", "hexane", "toluene")


@pytest.fixture(scope="module")
def few(table: CandidateTable) -> Matcher:
    return Matcher(table.take([table.find(name)[0] for name in FIVE]))


def searched(matcher: Matcher, run: Measurement) -> Search:
    return search(run, Posterior.of(matcher.evidence(Bench.of(run))))


# ------------------------------------------------------------------- one observable, enumerated


def bell(off: float, sigma: float) -> float:
    return exp(-0.5 * (off / sigma) ** 2) / (sigma * sqrt(2.0 * pi))


def with_tails(off: float, scale: float) -> float:
    """Student's t with two degrees of freedom."""
    return 1.0 / (scale * (2.0 + (off / scale) ** 2) ** 1.5)


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
    for place, (one, other) in enumerate(pairwise(written)):
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
    else:
        yield float(written[:whole]), 0.0003 / whole, 10.0
    for move, share in ((10.0, 0.4), (0.1, 0.4), (100.0, 0.1), (0.01, 0.1)):
        yield float(written) * move, 0.0006 * share, move


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("133.0", "boiling-point-unit"),
        ("86.7", None),
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
    monkeypatch.setattr(groups, "MIN_SLIP_ODDS", 0.0)
    run = Measurement("H", boiling_point=f"{written} C")
    before = Posterior.of(few.evidence(Bench.of(run)))
    found = search(run, before)
    kelvin = float(written) + 273.15
    slips = [((float(written) - 32.0) / 1.8 + 273.15, 0.002, 1.0 / 1.8), (float(written), 0.002, 1)]
    # Of 24 pages 15 have such a number in whole degrees, 8 in tenths, as here, 1 in hundredths.
    often = {10.0: 15 / 8, 1.0: 1.0, 0.1: 1 / 8}
    slips += [
        (value + 273.15, chance, width * often.get(width, 0.5 / 8))
        for value, chance, width in digits_by_hand(written)
    ]
    sound = prod(1.0 - chance for _, chance, _ in slips)
    # Where two happened, the rarer is what the reading shows.
    slipped = [
        chance * prod(1.0 - rarer for _, rarer, _ in slips if rarer < 0.999 * chance)
        for _, chance, _ in slips
    ]
    weights = []
    for row in range(len(FIVE)):
        expected = few.expectation.normal_boiling_point[row]
        own = few.expectation.boiling_point_u[row]
        sigma = sqrt(1.0 + own**2)
        off = kelvin - expected
        # Superheating and threads are the tails of what cards say. Of the gross errors, 2 in 100,
        # all but 15 % are slips that are known.
        card = 0.82 * bell(off, sigma) + 0.18 * with_tails(off, sqrt(4.0**2 + own**2))
        density = 0.98 * card + 0.02 * 0.15 * exp(-abs(off) / 25.0) / 50.0
        density *= sound
        for (value, _, width), share in zip(slips, slipped, strict=True):
            density += share * width * bell(value - expected, sigma)
        weights.append(before.base[row] * density)
    none = before.none_of_these * before.marginal_likelihood * sound
    total = sum(weights) + none
    assert found.posterior.probability == pytest.approx(np.array(weights) / total, rel=1e-6)
    assert found.posterior.none_of_these == pytest.approx(none / total, rel=1e-6)
    if code is not None:
        assert code in {slip.code for slip in found.slips}


@pytest.mark.parametrize("written", ["133.0", "56.1", "77.71", "98.1132", "742", "0.95"])
def test_dropped_and_doubled_digits_are_all_that_one_digit_makes(written: str) -> None:
    found = {one.text: one.chance for one in misreadings(written) if one.kind == "digit-dropped"}
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
    files = ("units",) if code.endswith("unit") else ("technique", "pressure")
    kinds = [kind for kind in SLIPS["weighings"] if kind.__module__.endswith(files)]
    observed, densities = [], []
    for grams in GAINS:
        run = weighed(float(grams), volume, pressure)
        bench = Bench.of(run)
        assert bench.weighing is not None
        slips = hypotheses(Case(run, Posterior.of(few.evidence(bench)), rows), kinds)
        each = [pair for one in slips for pair in zip(one.kinds, one.densities, strict=True)]
        densities.append(sum(float(density[0]) for (kind, _), density in each if kind == code))
        implied = few.expectation.implied_molar_mass(bench.weighing)
        observed.append(float(implied[0, rows[0]]))
    widths, heights = np.diff(observed), np.array(densities)
    assert (widths > 0.0).all()
    total = float(widths @ (heights[1:] + heights[:-1])) / 2.0
    # Of what classes weigh, so much is rough, and too much or too little.
    rough, up, down = (getattr(AS_CLASSES_WORK, one) for one in ("rough", "too_much", "too_little"))
    rough *= 1.0 - MOLAR_MASS.gross
    parts = {
        "mass-in-excess": rough * up / (up + down),
        "mass-missing": rough * down / (up + down),
    }
    if code.endswith("unit"):
        # Vapor is nearer to ideal at the pressure as written, by up to 4 %, and what is rough
        # besides, and far off, is not looked at.
        assert 0.85 < total < 1.04
    else:
        # The upper tail is cut short where more liquid would be left than is poured in.
        expected = parts.get(code, 1.0)
        assert total == pytest.approx(expected, rel=0.03 if code in parts else 0.01)


# ------------------------------------------------- what the whole table says, looked at in full


@pytest.fixture(scope="module")
def pages(table: CandidateTable, matcher: Matcher) -> list[Measurement]:
    """Draw pages of common and rare liquids: three in ten sound, the others with some slip."""
    random = np.random.default_rng(7)
    drawing, rows = Drawing(table, matcher, random), rows_to_draw(table)
    drawn: list[Measurement] = []
    while len(drawn) < 300:
        page = drawing.page(int(random.choice(rows)))
        if random.random() < 0.7:
            spoiled = KINDS[int(random.integers(len(KINDS)))].spoil(page, random)
            if spoiled is None or not readable(spoiled):
                continue
            page = spoiled
        drawn.append(page.measurement())
    return drawn


@pytest.fixture(scope="module")
def found_of(pages: Sequence[Measurement], matcher: Matcher) -> list[Search]:
    """Return what is found on each page as it is."""
    return [searched(matcher, run) for run in pages]


def codes(found: Search) -> set[str]:
    return {slip.code for slip in found.slips}


def test_a_search_is_spared_only_where_it_would_name_nothing(
    pages: Sequence[Measurement],
    found_of: Sequence[Search],
    matcher: Matcher,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(groups, "MIN_SLIP_ODDS", 0.0)
    for run, before in zip(pages, found_of, strict=True):
        after = searched(matcher, run)
        assert codes(after) == codes(before), run
        moved = np.abs(after.posterior.probability - before.posterior.probability).sum() / 2.0
        assert moved < 0.03, run


@pytest.mark.parametrize("missing", ["", "percent", "boiling_point"])
def test_the_leading_compounds_are_enough(
    missing: str,
    pages: Sequence[Measurement],
    found_of: Sequence[Search],
    matcher: Matcher,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Of three observables or of two, the other compounds change next to nothing."""
    some = [replace(run, **{missing: None}) if missing else run for run in pages[::6]]
    as_is = [searched(matcher, run) for run in some] if missing else found_of[::6]
    everything = np.arange(len(matcher.table))
    monkeypatch.setattr("identify.matching.slips.searching.rows_to_search", lambda *of: everything)
    for run, before in zip(some, as_is, strict=True):
        after = searched(matcher, run)
        assert codes(after) == codes(before), run
        moved = np.abs(after.posterior.probability - before.posterior.probability).sum() / 2.0
        assert moved < 0.03, run


def test_the_order_of_the_table_has_no_say(
    pages: Sequence[Measurement], found_of: Sequence[Search], table: CandidateTable
) -> None:
    order = np.random.default_rng(3).permutation(len(table))
    shuffled = Matcher(table.take(order))
    for run, one in zip(pages[:60], found_of, strict=False):
        other = searched(shuffled, run)
        assert codes(one) == codes(other)
        assert other.posterior.probability == pytest.approx(
            one.posterior.probability[order], abs=1e-3
        )
        for first, second in zip(one.slips, other.slips, strict=True):
            assert first.probability == pytest.approx(second.probability, rel=1e-3)
            assert first.repaired == second.repaired


def test_the_order_of_the_trials_has_no_say(
    pages: Sequence[Measurement], found_of: Sequence[Search], matcher: Matcher
) -> None:
    several = [both for both in zip(pages, found_of, strict=True) if len(both[0].trials) > 1]
    assert len(several) > 100
    for run, one in several[:60]:
        other = searched(matcher, replace(run, trials=run.trials[::-1]))
        assert codes(one) == codes(other)
        assert other.posterior.probability == pytest.approx(one.posterior.probability, abs=1e-9)


def test_all_that_is_said_adds_up(found_of: Sequence[Search]) -> None:
    for found in found_of[:100]:
        after = found.posterior
        assert after.probability.sum() + after.none_of_these == pytest.approx(1.0, abs=1e-9)
        assert (after.probability >= 0.0).all()
        # Of one observable, only one slip can be what happened.
        by_code = Counter(slip.code for slip in found.slips)
        assert all(0.5 < slip.probability <= 1.0 for slip in found.slips)
        assert all(count <= 3 for count in by_code.values())


# ---------------------------------------------------------------------- what was stated counts


@pytest.mark.parametrize("uncertainty", ["3", "2"])
def test_what_an_uncertainty_explains_is_no_slip(uncertainty: str, matcher: Matcher) -> None:
    card = {"C": "37.48", "H": "12.58", "O": "49.93"}
    # Methanol boils at 64.6 degrees Celsius.
    sure = Measurement("H", molar_mass=32.1, percent=card, boiling_point="59.6 ± 0.3 C")
    unsure = replace(sure, boiling_point=f"59.6 ± {uncertainty} C")
    assert codes(searched(matcher, sure)) == {"thread-uncorrected"}
    assert codes(searched(matcher, unsure)) == set()


def test_an_uncertainty_of_the_balance_counts(matcher: Matcher) -> None:
    row = matcher.table.find("acetone")[0]
    card = {"C": "62.04", "H": "10.41", "O": "27.55"}
    boils = f"{matcher.table.number('boiling_point_C')[row]:.1f} C"
    for uncertainty, expected in (("", {"mass-in-excess"}), (" ± 0.08", set())):
        trial = Trial(f"91.0000{uncertainty} g", f"91.6000{uncertainty} g", "99.0 C")
        run = Measurement(
            "H",
            boiling_point=boils,
            percent=card,
            conditions=Conditions(pressure="748.6 mmHg", room="22.4 C"),
            flask=Flask(volume="283.7 mL"),
            trials=[trial],
        )
        assert codes(searched(matcher, run)) == expected


@pytest.mark.parametrize(
    "changed",
    [
        {"volume": "0.2837 mL"},
        {"pressure": "14.475 mmHg"},
        {"empty": "91347.2 g", "condensed": "91780.2 g"},
    ],
)
def test_the_balance_is_as_good_in_any_unit(changed: dict[str, str], matcher: Matcher) -> None:
    """A number in another unit leaves the weighing as sharp as it is in its own."""
    sound = {"empty": "91.3472 g", "condensed": "91.7802 g"}
    sound |= {"volume": "283.7 mL", "pressure": "748.6 mmHg"}

    def leaders(fields: dict[str, str]) -> np.ndarray:
        run = Measurement(
            "H",
            boiling_point="56.1 C",
            conditions=Conditions(pressure=fields["pressure"], room="22.4 C"),
            flask=Flask(volume=fields["volume"]),
            trials=[Trial(fields["empty"], fields["condensed"], "99.1 C")],
        )
        found = searched(matcher, run)
        assert len(found.slips) == (fields is not sound)
        return found.posterior.probability

    off = np.abs(leaders(sound) - leaders(sound | changed)).sum() / 2.0
    assert off < 0.15
