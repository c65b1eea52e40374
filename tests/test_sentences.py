"""Sentences that an answer is told in: which is chosen, its counts and its words."""

from __future__ import annotations

import warnings
from types import SimpleNamespace as Stub
from typing import Any

import numpy as np
import pytest

from identify.answers.pictures import strips
from identify.answers.text import Page
from identify.answers.text.last_line import match_answer
from identify.answers.text.plan import _amount, _apart, _condition_sentence, _confusion_lines
from identify.answers.text.plan import _needed as needed
from identify.answers.text.pouring import poured_sentence
from identify.answers.text.precision import precision_sentence
from identify.answers.text.ranking import verdict_sentence
from identify.answers.text.section import _by_the_key
from identify.checks import unread
from identify.matching.slips.catalog.units import _several_units
from identify.matching.slips.mechanism.wording import of_trials
from identify.notebook.findings import Finding
from identify.notebook.quantity.quantities import read_quantity
from identify.observables.catalog import LIQUID_CONSTANTS, plausible_readings
from identify.observables.error.technique import Technique
from identify.planning.class_results import ClassResults
from identify.planning.remarks import _room_to_spare
from identify.planning.requirements import _rounded_down
from identify.planning.result import PlanError
from identify.section import alike
from identify.section.bottles.findings import _card_sentence
from identify.section.returned import writing
from identify.section.returned.grades import grade_sentences
from identify.section.returned.remarks import _Told
from identify.section.returned.shared import _size
from identify.section.returned.writing import feedback_of_rows
from identify.section.students.findings import _wrong_bottle
from identify.section.students.unread import _no_row_usable, file_findings
from identify.tables.faults import Fault, HeadingsRead, Runs, TableError, warn_of

MOST_HEADINGS, MOST_GROUPS, MOST_AT_EDGE = 40, 6, 3
PAGE = Page(width=200, unicode=True)


def ranking(verdict: str, *candidates: tuple[str, float, bool], slip: Any = None) -> Any:
    """Return what a sentence needs of an answer: names, probabilities, and whether all agrees."""
    ranked = [
        Stub(name=name, probability=chance, plausible=agrees) for name, chance, agrees in candidates
    ]
    return Stub(label="U-1", verdict=verdict, candidates=ranked, slip=slip, findings=())


ETHANOL, ACETONE = ("ethanol", 0.60, True), ("acetone", 0.31, True)
SLIP = Stub(code="digit-dropped")


@pytest.mark.parametrize(
    ("answer", "sentence"),
    [
        (ranking("no match"), "No match: no compound in the table agrees with every reading."),
        (
            ranking("no match", ("ethanol", 0.899, False)),
            "No match: no compound in the table agrees with every reading. Nearest is ethanol "
            "(90 %).",
        ),
        (
            ranking("no match", ("ethanol", 0.9, False), ACETONE),
            "No match with every reading: ethanol (90 %) if one reading is wrong, see below.",
        ),
        (ranking("single match", ETHANOL), "One match: ethanol, probability 60 %."),
        (
            ranking("single match", ETHANOL, slip=SLIP),
            "One match, once a slip is set right: ethanol, probability 60 %.",
        ),
        (
            ranking("several matches", ("ethanol", 0.6, True), ("acetone", 0.3, False)),
            "Several matches: likeliest is ethanol (60 %), but these readings do not rule the "
            "others out.",
        ),
        (
            ranking("several matches", ETHANOL, ACETONE),
            "Several matches: these readings agree with ethanol and acetone; the likeliest is "
            "ethanol (60 %).",
        ),
        (
            ranking("several matches", *((name, 0.2, True) for name in "abcde")),
            "Several matches: these readings agree with a, b, c and 2 more; the first 5 are about "
            "equally likely (20 %).",
        ),
        (
            ranking("several matches", ("a", 0.200, True), ("b", 0.1901, True), ("c", 0.19, True)),
            "Several matches: these readings agree with a, b and c; the first 2 are about equally "
            "likely (20 %).",
        ),
        (
            ranking("several matches", ("ethanol", 0.6, False), slip=SLIP),
            "No match as it is written. Once a slip is set right, the likeliest is ethanol "
            "(60 %).",
        ),
        (
            ranking("several matches", ETHANOL, slip=SLIP),
            "Several matches: as it is written, ethanol agrees with every reading; once a slip is "
            "set right, the likeliest is ethanol (60 %).",
        ),
        (
            ranking("several matches", ETHANOL, ACETONE, ("water", 0.05, True), slip=SLIP),
            "Several matches: as it is written, ethanol and 2 more agree with every reading; once "
            "a slip is set right, the likeliest is ethanol (60 %).",
        ),
    ],
)  # fmt: skip
def test_verdict(answer: Any, sentence: str) -> None:
    assert verdict_sentence(answer) == sentence


def test_verdict_of_a_compound_with_isomers_that_are_not_listed() -> None:
    answer = ranking("single match", ETHANOL)
    answer.findings = (Stub(code="isomer-not-listed"),)
    assert verdict_sentence(answer) == (
        "One match: ethanol, probability 60 %, or an isomer that is not in the table."
    )


@pytest.mark.parametrize(
    ("answers", "line"),
    [
        ([ranking("no match")], "U-1: no match: no compound agrees with every reading."),
        (
            [ranking("no match", ETHANOL)],
            "U-1: no match with every reading; nearest is ethanol (60 %).",
        ),
        ([ranking("single match", ETHANOL)], "U-1: ethanol (60 %)."),
        (
            [ranking("single match", ETHANOL, slip=SLIP)],
            "U-1: ethanol (60 %), once a slip is set right.",
        ),
        ([ranking("several matches", ETHANOL)], "U-1: undecided; first ethanol (60 %)."),
        (
            [
                ranking("single match", ETHANOL),
                ranking("several matches", ACETONE),
                ranking("no match", ACETONE),
                ranking("no match"),
            ],
            "U-1: ethanol; U-1: perhaps acetone; U-1: no match; U-1: no match.",
        ),
        (
            [ranking("single match", ETHANOL)] * 9 + [ranking("no match")] * 2,
            "11 unknowns: single match 9, no match 2.",
        ),
    ],
)
def test_last_line(answers: list[Any], line: str) -> None:
    assert match_answer(answers, Page(width=100, unicode=True)) == line


# ------------------------------------------------------------------------------ the stock, a plan

POURED = Stub(
    waste_mL=12.4, halogenated_waste_mL=0.0, unknown=(), flask_mL=125.0, fills=3.0, students=24,
    students_a_bottle=2, trials=3, liquid_mL=37.6, vapor_mL=25.2,
)  # fmt: skip


@pytest.mark.parametrize(
    ("given", "ending"),
    [
        ({}, "In all 38 mL: 12 mL are left in the flasks, for the waste container, and 25 mL go "
         "off as vapor, into the hood."),
        ({"halogenated_waste_mL": 3.6}, "In all 38 mL: 12 mL of liquids without halogens and 4 mL "
         "with are left in the flasks, for the waste container, and 25 mL go off as vapor, into "
         "the hood."),
        ({"unknown": ("A", "B")}, "into the hood. The density of A and B is not known: weigh the "
         "amount out."),
    ],
)  # fmt: skip
def test_what_a_class_pours(given: dict[str, Any], ending: str) -> None:
    said = poured_sentence(Stub(**vars(POURED) | given))
    assert said.startswith(
        "fills it: that fills a flask of 125 mL with vapor; less can give no molar mass. pour in: "
        "3 times that, to drive out the air. the class: 24 students, 2 to a bottle, 3 trials each. "
    )
    assert said.endswith(ending)


@pytest.mark.parametrize(
    ("now", "given", "is_open", "words"),
    [
        (0.5, None, False, "no value will do"),
        (np.inf, 0.5, True, "need not be measured"),
        (0.5, 1.25, True, "1.25 °C and coarser"),
        (0.5, 0.25, False, "0.25 °C (better)"),
        (0.5, 0.5, False, "0.5 °C"),
        (0.5, 0.75, False, "0.75 °C"),
        (np.inf, 0.25, False, "0.25 °C"),
    ],
)
def test_what_an_instrument_must_be(
    now: float, given: float | None, is_open: bool, words: str
) -> None:
    one: Any = Stub(now=now, needed=given, is_open=is_open, unit="°C")
    assert needed(one) == words


def test_amounts_and_distances_of_a_plan() -> None:
    assert [_amount(value, "g") for value in (0.0012345, np.inf)] == ["0.00123 g", "not measured"]
    assert [_apart(value) for value in (99.94, 99.96)] == ["99.9", "100"]


@pytest.mark.parametrize(
    ("given", "is_first", "sentence"),
    [
        ({}, True, "1,200 common liquids."),
        ({}, False, "1,200 of these common liquids; out: benzene, phenol and 1,297 more."),
        ({"removed": 2}, False, "1,200 of these common liquids; out: benzene and phenol."),
        ({"removed": 3}, False, "1,200 of these common liquids; out: benzene, phenol and 1 more."),
        ({"removed": 0, "unknown": 7}, False,
         "1,200 of these common liquids (not known of 7, which stay)."),
        ({"removed": 0, "unknown": 7, "option": "--flash-point-above"}, False,
         "1,200 of these common liquids (not known of 7)."),
    ],
)  # fmt: skip
def test_what_a_condition_leaves(given: dict[str, Any], is_first: bool, sentence: str) -> None:
    usual = {
        "left": 1200, "removed": 1299, "unknown": 0, "option": "--carcinogens",
        "examples": ("benzene", "phenol"), "text": "common liquids",
    }  # fmt: skip
    one: Any = Stub(**usual | given)
    assert _condition_sentence(one, is_first) == sentence


@pytest.mark.parametrize(
    ("confusion", "against", "lines"),
    [
        ([[0.9996, 0.0004], [0.0, 1.0]], "plan",
         ["What is taken for what", "  No liquid is taken for another."]),
        ([[0.9, 0.1], [0.0, 0.9]], "table",
         ["What is taken for what, % of the runs", "  ethanol: acetone 10.0",
          "  acetone: a compound outside of the plan 10.0"]),
        ([[0.9, 0.1], [0.0, 1.0]], "plan",
         ["What is named (columns) for what is in the bottle (rows), % of the runs",
          "               1     2", "  1 ethanol 90.0  10.0", "  2 acetone    . 100.0"]),
    ],
)  # fmt: skip
def test_what_is_taken_for_what(
    confusion: list[list[float]], against: str, lines: list[str]
) -> None:
    liquids = [Stub(name="ethanol"), Stub(name="acetone")]
    plan: Any = Stub(liquids=liquids, confusion=np.array(confusion), against=against)
    assert [line.rstrip() for line in _confusion_lines(plan, PAGE)] == lines


# ------------------------------------------------------------------------------------- a section


def precision(**given: Any) -> Any:
    usual = {"results": 30, "spread_percent": 2.5, "bias_percent": -1.25, "bias_u_percent": 0.46,
             "spoiled_percent": 10.0}  # fmt: skip
    return Stub(spread=Stub(**usual | given), within={5: 60.4, 10: 88.0}, groups=())


@pytest.mark.parametrize(
    ("given", "part"),
    [
        ({}, "The molar masses of 30 results spread by 2.5 % (a careful class: 2.5 %) around "),
        ({"spread_percent": 5.24}, "(a careful class: 2.5 %)"),
        ({"spread_percent": 5.26}, "(a class of usual technique: 8 %)"),
        ({}, " ± 0.5 %, what many share set right; 10 % of the runs are spoiled, by liquid left, "),
        ({"results": 20}, "; 10 % of the runs are spoiled"),
        ({"results": 19}, "; 2 of the runs are probably spoiled"),
        ({"results": 12}, "; 1 of the runs is probably spoiled"),
        ({"results": 4}, "; none of the runs are probably spoiled"),
        ({}, " 60 % within 5 %, 88 % within 10 %; of published results "),
    ],
)
def test_how_a_class_weighs(given: dict[str, Any], part: str) -> None:
    assert part in precision_sentence(precision(**given))


def test_what_many_share_without_a_size() -> None:
    of_molar_mass: Any = Stub(size=-3.14, unit="%")
    assert _size(of_molar_mass).endswith(" 3.1 % low")
    for size, unit in ((None, "%"), (3.0, "furlongs")):
        cause: Any = Stub(size=size, unit=unit)
        assert _size(cause) == ""


@pytest.mark.parametrize(
    ("by_card", "disagreements", "sentence"),
    [
        (None, [], "No card says which of the two is right."),
        ("card", [], "The card agrees with the key: another liquid is in the bottle."),
        (
            "card",
            [Stub(words="boiling point", is_copied=False), Stub(words="density", is_copied=False)],
            "The boiling point and density that they measured speaks against the key too.",
        ),
    ],
)
def test_whom_the_card_agrees_with(by_card: Any, disagreements: list[Any], sentence: str) -> None:
    bottle: Any = Stub(pooled=Stub(by_card=by_card, same_liquid=0.1))
    assert _card_sentence(bottle, disagreements) == sentence


def test_a_student_of_whom_no_row_could_be_used() -> None:
    rows: Any = [Stub(row=7, reason='bath_C: "hot" does not start with a number')]
    given = feedback_of_rows(rows)
    assert given.set_aside == ('Row 7: bath_C: "hot" does not start with a number.',)
    assert len(given.next_time) == 1


@pytest.mark.parametrize(("count", "more"), [(20, 0), (21, 1), (30, 10)])
def test_faults_of_a_file_are_counted_after_the_first_few(count: int, more: int) -> None:
    told = tuple(Fault("a.csv", None, f"column {n}", "", "is not known") for n in range(count))
    found = list(file_findings(Runs((), told)))
    counts = [one.message for one in found if "more things" in one.message]
    assert len(found) == min(count, 20) + bool(more)
    assert counts == [f"{more} more things in the file could not be used."] * bool(more)


# --------------------------------------------------------------------------------------- slips


def other_unit(key: str, meant: str, *numbers: int) -> Any:
    """Return a number that was read in another unit, as a sentence needs it."""
    written = Stub(key=key, name=f"the {key}", numbers=numbers)
    dimension, usual = {"pressure": ("pressure", "mmHg"), "bath": ("temperature", "C")}[key]
    read = read_quantity(meant, dimension)
    return Stub(written=written, meant=read, kind=Stub(usual=usual))


def test_numbers_in_other_units() -> None:
    pressure, bath = other_unit("pressure", "98.9 kPa"), other_unit("bath", "98.5 C", 1)
    told = _several_units([pressure, bath])
    assert told.message == (
        "Several numbers were perhaps read in other units: the pressure 98.9 kPa (741.8 mmHg) and "
        "the bath 98.5 °C."
    )
    assert told.repaired == {"pressure": "98.9 kPa", "bath": "98.5 °C"}


@pytest.mark.parametrize(("trials", "more"), [(5, ""), (6, " and 1 more"), (9, " and 4 more")])
def test_numbers_of_trials_in_other_units(trials: int, more: str) -> None:
    told = _several_units([other_unit("bath", f"9{n}.5 C", n) for n in range(1, trials + 1)])
    assert told.message.endswith(f"{more}.")
    assert told.repaired == {f"trial {n} bath": f"9{n}.5 °C" for n in range(1, trials + 1)}
    assert "the bath 91.5 °C in trial 1, the bath 92.5 °C in trial 2" in told.message


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ([3], " in trial 3"),
        ([1, 3], " in trials 1 and 3"),
        ([1, 2, 3, 4, 6], " in trials 1, 2, 3, 4 and 6"),
        ([1, 2, 3, 4, 5, 6], " in 6 trials"),
    ],
)
def test_trials_that_a_slip_is_in(numbers: list[int], words: str) -> None:
    assert of_trials(numbers) == words


@pytest.mark.parametrize(
    ("written", "words"),
    [
        (None, "technique as classes work, from good to rough"),
        ("careful", "careful technique"),
        (" Usual ", "usual technique"),
        ("5 %", "technique good to 5 %"),
        ("2,5%", "technique good to 2.5 %"),
    ],
)
def test_technique_in_words(written: str | None, words: str) -> None:
    assert Technique.of(written).words == words


@pytest.mark.parametrize(
    ("written", "reason"),
    [
        ("tidy", '"tidy" is not careful, usual, rough, none, or a percentage as in "5 %"'),
        ("0.009 %", '"0.009 %" is not from 0.01 to 50 %'),
        ("50.1 %", '"50.1 %" is not from 0.01 to 50 %'),
    ],
)
def test_what_is_no_technique(written: str, reason: str) -> None:
    with pytest.raises(ValueError, match="technique: ") as error:
        Technique.of(written)
    assert reason in str(error.value)
    with pytest.raises(TypeError, match=r"technique: 5\.0 is neither a word nor a Technique"):
        Technique.of(5.0)


# ------------------------------------------------------------------- what a student is given back


def graded(**given: Any) -> Any:
    usual = {
        "answer": "ethanol", "answer_grade": "right", "reported_molar_mass": None,
        "percent_error": None, "is_molar_mass_right": None, "is_explained": False,
        "molar_mass_grade": "",
    }  # fmt: skip
    return Stub(**usual | given)


@pytest.mark.parametrize(
    ("grade", "words"),
    [
        ("right", 'Your answer, "ethanol", is right.'),
        ("right formula", 'Your answer, "ethanol", has the right formula, and is not the liquid.'),
        ("wrong", 'Your answer, "ethanol", is not the liquid that was in the bottle.'),
        ("not clear", 'Your answer, "ethanol", does not name one compound; give the full name '
         "with its numbers, or a CAS number."),
        ("", 'Your answer, "ethanol", is not graded, for it is not certain what was in the '
         "bottle."),
    ],
)  # fmt: skip
def test_how_a_name_is_graded(grade: str, words: str) -> None:
    assert list(grade_sentences(graded(answer_grade=grade), True)) == [words]
    without_key = list(grade_sentences(graded(answer_grade=grade), False))
    assert without_key == [
        'Your answer, "ethanol", is not graded, for it is not certain what was in the bottle.'
    ]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, ["cannot be held against weighings: none can be used."]),
        ({"is_molar_mass_right": True}, ["follows from your own weighings."]),
        ({"is_molar_mass_right": False},
         ["does not follow from your own weighings: go through the working below."]),
        ({"is_molar_mass_right": False, "is_explained": True, "molar_mass_grade": "no kelvin"},
         ["does not follow from your own weighings; one slip explains it: no kelvin."]),
        ({"is_molar_mass_right": True, "percent_error": 1.25},
         ["follows from your own weighings.", "It is 1.2 % above that of the liquid."]),
        ({"is_molar_mass_right": True, "percent_error": -1.35, "answer_grade": "right formula"},
         ["follows from your own weighings.", "It is 1.4 % below that of the liquid."]),
        ({"is_molar_mass_right": True, "percent_error": -1.3, "answer_grade": "wrong"},
         ["follows from your own weighings."]),
    ],
)  # fmt: skip
def test_how_a_molar_mass_is_graded(given: dict[str, Any], words: list[str]) -> None:
    one = graded(answer="", reported_molar_mass=46.5, **given)
    first, *others = words
    subject = "The molar mass that you worked out, 46.5 g/mol,"
    assert list(grade_sentences(one, True)) == [f"{subject} {first}", *others]


def test_nothing_is_graded_where_nothing_was_handed_in() -> None:
    assert list(grade_sentences(None, True)) == []


STUDENT: Any = Stub(
    label="K-1",
    key=Stub(name="acetone"),
    ranking=Stub(findings=(), candidates=[Stub(name="ethanol")]),
)


@pytest.mark.parametrize(
    ("code", "message", "told"),
    [
        ("digit-dropped", "A digit is missing.", "A digit is missing."),
        ("digit-dropped", "It would be Ethanol.", "One number is perhaps not what was read."),
        ("digit-dropped", "It would be acetone.", "One number is perhaps not what was read."),
        ("boiling-point-of-another", "That of ethanol.",
         "The boiling point may be from the card of another bottle."),
        ("composition-of-another", "That of ethanol.",
         "The percentages may be from the card of another bottle."),
        ("ideal-gas-numbers", "They fit.",
         "These are perhaps the numbers of an exercise: they follow the ideal gas."),
    ],
)  # fmt: skip
def test_a_slip_is_told_without_the_liquid(code: str, message: str, told: str) -> None:
    slip: Any = Stub(code=code, message=message)
    assert _Told(STUDENT).of_slip(slip).message == told


@pytest.mark.parametrize(
    ("code", "numbers", "told"),
    [
        ("nothing-plausible", {},
         "No liquid of the table agrees with all of these readings together."),
        ("molar-mass-high", {"relative": 0.124},
         "The molar mass is 12 % above what your other readings speak for. Classes are off by as "
         "much now and then: mostly liquid that was left in the flask, or water on the foil."),
        ("molar-mass-low", {"relative": -0.124},
         "The molar mass is 12 % below what your other readings speak for. Classes are off by as "
         "much now and then: mostly vapor that did not fill the flask, or that was lost before it "
         "cooled."),
        ("wrong-bottle", {}, "What is written here is not what bottle K-1 has."),
    ],
)  # fmt: skip
def test_a_finding_is_told_without_the_liquid(
    code: str, numbers: dict[str, float], told: str
) -> None:
    remark = _Told(STUDENT).of_finding(Finding(code, "warning", "Ethanol.", "Look.", numbers))
    assert remark is not None
    assert remark.message == told
    other = Finding("students-disagree", "warning", "Of all.", "Ask them.")
    assert _Told(STUDENT).of_finding(other) is None


@pytest.mark.parametrize(
    ("card", "near", "severity", "message", "advice"),
    [
        ("B", ["B", "C"], "warning",
         "Card and weighings are those of bottle B, and not of bottle A, which is written here.",
         "Judge this run as one of bottle B, once the student has confirmed it."),
        ("B", ["C"], "warning",
         "Boiling point and percentages are those on the card of bottle B, and not of bottle A, "
         "which is written here; the weighings do not fit bottle B.",
         "Ask which bottle it was, and copy its card again."),
        (None, ["C"], "note",
         "The weighings would fit bottle C, and do not fit A; a weighing that is wrong for another "
         "reason may do so by chance.",
         "Ask which bottle it was."),
    ],
)  # fmt: skip
def test_whose_readings_these_are(
    card: str | None, near: list[str], severity: str, message: str, advice: str
) -> None:
    run: Any = Stub(measurement=Stub(label="A"))
    (finding,) = _wrong_bottle(run, card, near)
    told = (finding.code, finding.severity, finding.message, finding.advice)
    assert told == ("wrong-bottle", severity, message, advice)
    assert list(_wrong_bottle(run, None, [])) == []


@pytest.mark.parametrize(
    ("nearest", "times"), [(2.0, None), (13.1, None), (13.2, "4"), (90.0, "27")]
)
def test_room_to_spare(nearest: float, times: str | None) -> None:
    apart: Any = Stub(nearest=(None, np.array([nearest, 400.0])))
    found = [finding.message for finding in _room_to_spare(apart)]
    if times is None:
        assert found == []
    else:
        assert found == [
            f"Even the nearest two are {times} times as far apart as it takes to tell them apart."
        ]


# ---------------------------------------------------------------------------- and so many more


@pytest.mark.parametrize("count", [1, 39, 40, 41, 53])
def test_headings_are_counted_after_the_first_few(count: int) -> None:
    read = HeadingsRead((), tuple("abc"), tuple(f"h{place}" for place in range(count)))
    named = ", ".join(f'"h{place}"' for place in range(min(count, MOST_HEADINGS)))
    more = f" and {count - MOST_HEADINGS} more" if count > MOST_HEADINGS else ""
    assert str(read) == f"not read: {named}{more}"
    assert read.line("a.csv") == f"a.csv: not read: {named}{more}"
    assert HeadingsRead((), ("a",)).line("a.csv") == ""


@pytest.mark.parametrize(
    ("lines", "said"),
    [([], []), (["a"], ["a"]), (["a", "b"], ["a (and 1 more, see here)"]),
     (list("abcd"), ["a (and 3 more, see here)"])],
)  # fmt: skip
def test_faults_that_are_warned_of(lines: list[str], said: list[str]) -> None:
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        assert warn_of(lines, "here", 2) == lines
    assert [str(one.message) for one in told] == said


def test_a_table_error_counts_its_reasons() -> None:
    said = [str(TableError(*reasons)) for reasons in ("", "a", "ab", "abcd")]
    assert said == ["", "a", "a (and 1 more)", "a (and 3 more)"]


@pytest.mark.parametrize("groups", [1, MOST_GROUPS, MOST_GROUPS + 1, MOST_GROUPS + 7])
def test_labels_that_are_alike_are_counted(groups: int) -> None:
    more = groups - MOST_GROUPS
    told = [f"g{place}" for place in range(groups)]
    ending = [f"and {more} more"] if more > 0 else []
    assert alike._joined(told) == "; ".join([*told[:MOST_GROUPS], *ending])


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (1, "row 2: bad"),
        (3, "row 2: bad; row 3: bad; row 4: bad"),
        (4, "row 2: bad; row 3: bad; row 4: bad; and 1 more rows"),
        (9, "row 2: bad; row 3: bad; row 4: bad; and 6 more rows"),
    ],
)
def test_rows_of_a_student_are_counted(rows: int, told: str) -> None:
    aside: Any = [Stub(row=place, reason="bad") for place in range(2, 2 + rows)]
    assert _no_row_usable(aside).message == f"No row of this student could be used; {told}."


@pytest.mark.parametrize(
    ("students", "faulty", "said"),
    [
        ([], [], ""),
        ([("A", None)], [], ""),
        ([("A", True), ("A", False), ("B", True)], [], "By the key, 2 of 3 are named right."),
        ([("A", True), ("A", False), ("B", True)], ["B"],
         "By the key, 1 of 2 are named right; 1 more had a bottle that is in doubt."),
        ([("A", True), ("A", None), ("B", True), ("B", False)], ["B"],
         "By the key, 1 of 1 are named right; 2 more had a bottle that is in doubt."),
    ],
)  # fmt: skip
def test_how_many_are_named_right(
    students: list[tuple[str, bool | None]], faulty: list[str], said: str
) -> None:
    given: Any = [Stub(label=label, named_right=right) for label, right in students]
    assert _by_the_key(given, faulty) == said


@pytest.mark.parametrize(
    ("values", "text"),
    [([46.04], "46.0"), ([51.0, 46.0], "46.0, 51.0"), ([3.0] * MOST_AT_EDGE, None),
     ([3.0] * (MOST_AT_EDGE + 1), f"{MOST_AT_EDGE + 1} more")],
)  # fmt: skip
def test_what_lies_beyond_the_edge_of_a_picture(values: list[float], text: str | None) -> None:
    expected = ", ".join(["3.0"] * MOST_AT_EDGE) if text is None else text
    assert strips._edge_text(np.array(values)) == expected


def test_a_section_that_says_nothing_of_its_class() -> None:
    section: Any = Stub(precision=None)
    with pytest.raises(PlanError, match=r"^too few of this section's students weighed a known "):
        ClassResults.of(section)


@pytest.mark.parametrize(
    ("field", "words"),
    [
        ("sample", "combustion"),
        ("co2", "combustion"),
        ("percent", "composition"),
        ("boiling_point", "boiling point"),
        ("water_mass", "water mass"),
    ],
)
def test_what_a_field_is_called(field: str, words: str) -> None:
    assert unread._name(field) == words


@pytest.mark.parametrize(
    ("value", "rounded"),
    [(0.0, 0.0), (-1.0, 0.0), (0.0129, 0.012), (0.012, 0.012), (1.999, 1.9), (9.99, 9.9),
     (10.0, 10.0), (129.9, 120.0)],
)  # fmt: skip
def test_what_an_instrument_must_be_is_rounded_to_the_safe_side(
    value: float, rounded: float
) -> None:
    assert _rounded_down(value) == rounded


def test_every_constant_says_what_is_plausible() -> None:
    known = {name for name, one in LIQUID_CONSTANTS.items() if one.plausible is not None}
    assert known <= plausible_readings().keys()
    for name in known:
        assert plausible_readings()[name] is LIQUID_CONSTANTS[name].plausible


def test_what_everybody_is_told_to_do_next_time() -> None:
    assert writing._LOOK_THROUGH == "Look through your numbers while you are still at the bench."
