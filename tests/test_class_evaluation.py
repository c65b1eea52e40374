"""Pages as classes make them: that they are drawn as stated, and that the yardsticks measure."""

from __future__ import annotations

import class_evaluation
import numpy as np
import pytest
from class_evaluation import answered
from class_pages import (
    NO_ROOM,
    ClassRoom,
    Liquids,
    Oracle,
    PageKind,
    exercise_page,
    shortcut_page,
    true_page,
)
from class_slips import (
    FULL,
    HEIGHT_GIVEN,
    SPECIAL_PAGES,
    CodeTally,
    SlipPage,
    WrittenPage,
    kinds,
    mixed_set,
    tallied,
    written_page,
)

from identify.bench.bench import Bench
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher
from identify.matching.slips import Slip
from identify.observables.error.technique import AS_CLASSES_WORK, BIAS, CAREFUL, SCATTER


@pytest.fixture(scope="module")
def liquids(table: CandidateTable) -> Liquids:
    return Liquids.handed_out(table)


def room(table: CandidateTable, liquids: Liquids, seed: int = 5) -> ClassRoom:
    return ClassRoom(table, liquids, np.random.default_rng(seed))


# ---------------------------------------------------------------------------------------- the draws


def test_usual_liquids_boil_off_in_a_bath(table: CandidateTable, liquids: Liquids) -> None:
    handed_out = np.flatnonzero(liquids.share)
    assert 20 < len(handed_out) < 60
    assert table.number("boiling_point_C")[handed_out].max() < 98.5
    names = [table.text("name")[row] for row in liquids.most_usual(4)]
    assert {"acetone", "ethanol"} <= set(names)


def test_technique_is_drawn_as_the_mixture_has_it(table: CandidateTable, liquids: Liquids) -> None:
    one = room(table, liquids)
    drawn = [one.technique(AS_CLASSES_WORK, 1) for _ in range(6000)]
    rough = np.array([log for _, log in drawn])
    factors = np.array([float(each[0]) for each, _ in drawn])
    up, down = AS_CLASSES_WORK.too_much, AS_CLASSES_WORK.too_little
    assert np.mean(rough != 0.0) == pytest.approx(AS_CLASSES_WORK.rough, abs=0.02)
    high = rough[rough > 0.0]
    assert len(high) / np.sum(rough != 0.0) == pytest.approx(up / (up + down), abs=0.04)
    # Hardly more is left than was poured in, so that the largest are cut short.
    assert 0.8 * up < high.mean() < up
    assert np.median(high) == pytest.approx(up * np.log(2.0), rel=0.1)
    assert -rough[rough < 0.0].mean() == pytest.approx(down, rel=0.15)
    variance = sum(w * s * s for w, s in AS_CLASSES_WORK.parts) / (1.0 - AS_CLASSES_WORK.rough)
    assert factors[rough == 0.0].std() == pytest.approx(np.sqrt(variance), rel=0.06)


def test_trials_share_a_bias(table: CandidateTable, liquids: Liquids) -> None:
    one = room(table, liquids)
    drawn = [one.technique(CAREFUL, 2) for _ in range(4000)]
    pairs = np.array([factors for factors, rough in drawn if not rough])
    middle, apart = pairs.mean(axis=1) - 1.0, np.abs(pairs[:, 0] - pairs[:, 1])
    # Normal deviations of a scatter that is known to two degrees of freedom: half of Student's t
    # with these is within 0.816.
    assert np.median(apart) == pytest.approx(0.816 * np.sqrt(2.0) * SCATTER * 0.025, rel=0.08)
    shared = np.hypot(BIAS, SCATTER / np.sqrt(2.0)) * 0.025
    assert middle[apart < 0.01].std() == pytest.approx(shared, rel=0.15)


def test_pages_lack_what_published_pages_lack(table: CandidateTable, liquids: Liquids) -> None:
    one = room(table, liquids)
    pages = [one.page(PageKind("weighed")) for _ in range(600)]
    without = np.mean([page.run.conditions.room is None for page in pages])
    assert without == pytest.approx(NO_ROOM, abs=0.06)
    assert {len(page.run.trials) for page in pages} == {1, 2, 3}
    complete = [one.page(PageKind("weighed", complete=True)) for _ in range(40)]
    for page in complete:
        assert page.run.conditions.room is not None
        assert page.run.conditions.pressure is not None
        assert page.run.flask.volume is not None


def test_a_complete_careful_page_gives_the_molar_mass_back(table: CandidateTable) -> None:
    matcher = Matcher(table)
    (row,) = table.find("67-64-1")
    one = room(table, Liquids.handed_out(table))
    kind = PageKind("weighed", complete=True, trials=3, technique=CAREFUL)
    found = []
    for _ in range(150):
        page = one.page(kind, row)
        if not page.rough:
            observed = matcher.evidence(Bench.of(page.run)).observed_molar_mass
            assert observed is not None
            found.append(observed[row])
    assert np.mean(found) == pytest.approx(58.08, rel=0.01)
    assert np.std(found) == pytest.approx(0.025 * 58.08, rel=0.3)


def test_numbers_that_are_not_drawn(table: CandidateTable) -> None:
    matcher = Matcher(table)
    (row,) = table.find("67-64-1")
    true, shortcut = true_page(matcher, row), shortcut_page(matcher, row)
    assert true.run.molar_mass is not None
    assert shortcut.run.molar_mass is not None
    assert true.run.molar_mass.value == pytest.approx(58.1)
    # Volatile liquids read low by the shortcut: acetone by 15 %.
    assert shortcut.run.molar_mass.value == pytest.approx(0.85 * 58.1, rel=0.04)
    exercise = Bench.of(exercise_page(matcher, row).run)
    assert exercise.ideal_molar_mass() == pytest.approx(58.08, rel=0.005)


# ------------------------------------------------------------------------------------- the oracle

KINDS = {
    "molar mass and card": PageKind("given"),
    "molar mass and own reading": PageKind("given", "own"),
    "weighed": PageKind("weighed"),
    "full": PageKind("weighed", percent=True),
}


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_nothing_beats_the_oracle_on_average(
    table: CandidateTable, liquids: Liquids, kind: PageKind
) -> None:
    matcher, one = Matcher(table), room(table, liquids)
    oracle = Oracle(one, kind)
    every = [answered(matcher, one.page(kind), oracle) for _ in range(40)]
    best = [page.best.place == 1 for page in every if page.best]
    assert len(best) == 40
    assert np.mean(best) >= np.mean([page.is_right for page in every]) - 0.05
    known = oracle.posterior(every[0].page)
    assert known.sum() == pytest.approx(1.0)
    assert set(np.flatnonzero(known)) <= set(np.flatnonzero(liquids.share))


def test_the_oracle_is_calibrated(table: CandidateTable, liquids: Liquids) -> None:
    kind, one = PageKind("given"), room(table, liquids)
    oracle = Oracle(one, kind)
    stated, right = [], []
    for _ in range(600):
        page = one.page(kind)
        known = oracle.posterior(page)
        stated.append(known.max())
        right.append(int(known.argmax()) == page.truth)
    assert np.mean(stated) == pytest.approx(np.mean(right), abs=0.05)


# -------------------------------------------------------------------------------------- slips


def test_a_page_as_texts_is_the_page(table: CandidateTable, liquids: Liquids) -> None:
    one = room(table, liquids)
    for _ in range(12):
        page = WrittenPage.of(one.page(FULL), 0.1)
        assert page.page is not None
        again, run = Bench.of(page.measurement()), Bench.of(page.page.run)
        assert again.weighing is not None
        assert run.weighing is not None
        assert again.weighing.gain == pytest.approx(run.weighing.gain)
        assert again.boiling_point == run.boiling_point
        heavier = Bench.of(page.heavier(0.1).measurement())
        assert heavier.weighing is not None
        assert heavier.weighing.gain == pytest.approx(run.weighing.gain + 1e-4, abs=2e-6)


def test_an_exercise_is_the_molar_mass_by_the_shortcut(
    table: CandidateTable, liquids: Liquids
) -> None:
    one = room(table, liquids)
    for _ in range(5):
        page = written_page(one)
        assert page.page is not None
        found = Bench.of(page.worked_out().measurement()).ideal_molar_mass()
        assert found == pytest.approx(page.page.molar_mass, rel=0.01)


def test_a_mixed_set_weighs_as_much_as_one_page(table: CandidateTable, liquids: Liquids) -> None:
    assert 0.0 < sum(kind.rate for kind in kinds()) < 0.6
    pages = mixed_set(room(table, liquids), 20)
    cold = [next(pages) for _ in range(SPECIAL_PAGES)]
    assert all("weighed-cold" in one.codes for one in cold)
    with_height = [next(pages) for _ in range(SPECIAL_PAGES)]
    assert all("height" in one.page.fields for one in with_height)
    assert sum(one.weight for one in with_height) == pytest.approx(HEIGHT_GIVEN, rel=0.1)
    sound = [next(pages) for _ in range(20)]
    assert {one.weight for one in sound} == {sound[0].weight}
    drawn = {
        "boiling-point-at-laboratory",
        "mass-in-excess",
        "mass-missing",
        "superheated",
        "thread-uncorrected",
    }
    assert all(one.codes <= drawn | {"element-left-out"} for one in sound)
    assert next(pages).codes & {"digits-exchanged"}


def test_codes_are_tallied_by_weight() -> None:
    blank = WrittenPage(0, {}, {}, 1, 0.1)

    def page(weight: float, *codes: str) -> SlipPage:
        return SlipPage(blank, frozenset(codes), weight)

    def named(probability: float) -> tuple[Slip, ...]:
        return (Slip("superheated", "", probability, {}),)

    tallies = tallied(
        iter(
            [
                (page(3.0, "superheated"), named(0.8)),
                (page(1.0), named(0.6)),
                (page(2.0, "superheated"), ()),
            ]
        )
    )
    tally = tallies["superheated"]
    assert (tally.pages, tally.happened, tally.found) == (2, 5.0, 3.0)
    assert "0.75" in tally.line("superheated")  # stated, and true
    assert tally.line("superheated").endswith("60%")
    assert CodeTally(pages=1, happened=1.0).line("a").endswith("0%")


def test_a_slip_is_only_true_of_its_reading() -> None:
    page = WrittenPage(0, {}, {}, 2, 0.1, reading="trial 1 empty")
    codes = frozenset({"digit-dropped", "mass-in-excess"})
    one = SlipPage(page, codes, 1.0)
    assert one.is_true(Slip("digit-dropped", "", 0.9, {"trial 1 empty": "81.1 g"}))
    assert not one.is_true(Slip("digit-dropped", "", 0.9, {"trial 2 empty": "81.1 g"}))
    assert one.is_true(Slip("mass-in-excess", "", 0.9, {"excess_mass": "51 mg"}))


# ------------------------------------------------------------------------------------ as a command


def test_the_report_reproduces(capsys: pytest.CaptureFixture[str]) -> None:
    def printed(seed: int) -> list[str]:
        assert class_evaluation.main(["--pages", "6", "--seed", str(seed), "--only", "usual"]) == 0
        lines = capsys.readouterr().out.splitlines()
        return [line for line in lines if not line.endswith(" s)")]

    once = printed(21)
    assert once == printed(21)
    assert once[1:] != printed(22)[1:]
    assert sum("first name right" in line for line in once) == len(class_evaluation.USUAL_KINDS)
