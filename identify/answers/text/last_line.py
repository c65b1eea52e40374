"""How every printed answer ends: what its marks mean, the caution, and the answer in one line.

A terminal shows the end of what is printed. There the answer stands once more, short enough for a
line of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from identify.answers.text.numbers import (
    counted,
    listed_up_to,
    with_chance,
    with_uncertainty,
)
from identify.answers.text.page import DIM, TERMINAL_CAUTION, Page
from identify.notebook.findings import any_error

if TYPE_CHECKING:
    from identify.calculations.molar_mass import MolarMassResult
    from identify.matching.answer import Ranking
    from identify.planning.result import Plan
    from identify.section.result import SectionResult
    from identify.stock.result import StockCheck

_MAX_FORMULAS = 3


def ending_lines(page: Page, answer: str, legend: str = "", caution: bool = True) -> list[str]:
    """Return the end of a printed answer.

    Parameters
    ----------
    page : Page
    answer : str
        In one line, as far as the page has room for it.
    legend : str
        What columns and marks mean.
    caution : bool, default=True
        Whether the answer is about a liquid that somebody handles.
    """
    parts = [page.wrapped(legend) if legend else [], page.wrapped(TERMINAL_CAUTION)]
    if not caution:
        parts.pop()
    lines: list[str] = []
    for part in parts:
        lines += [*(page.emphasized(line, DIM) for line in part), *([""] if part else [])]
    return [*lines, *(page.emphasized(line) for line in page.wrapped(answer))]


def _fitting(page: Page, answers: Sequence[str]) -> str:
    """Return the first of some answers that fits a line of the page, else the last."""
    return next((one for one in answers if len(page.text(one)) <= page.width), answers[-1])


def match_answer(rankings: Sequence[Ranking], page: Page) -> str:
    """Return what one unknown is, or some are."""
    if len(rankings) == 1:
        return f"{rankings[0].label}: {_found(rankings[0])}."
    named = "; ".join(f"{one.label}: {_first(one)}" for one in rankings)
    verdicts = [one.verdict for one in rankings]
    counts = ", ".join(f"{one} {verdicts.count(one)}" for one in dict.fromkeys(verdicts))
    return _fitting(page, [f"{named}.", f"{counted(len(rankings), 'unknown')}: {counts}."])


def _found(ranking: Ranking) -> str:
    if not ranking.candidates:
        return "no match: no compound agrees with every reading"
    first = with_chance(ranking.candidates[0].name, ranking.candidates[0].probability)
    if ranking.verdict == "no match":
        return f"no match with every reading; nearest is {first}"
    once = ", once a slip is set right" if ranking.slip else ""
    return f"{first}{once}" if ranking.verdict == "single match" else f"undecided; first {first}"


def _first(ranking: Ranking) -> str:
    if ranking.verdict == "no match" or not ranking.candidates:
        return "no match"
    mark = "" if ranking.verdict == "single match" else "perhaps "
    return f"{mark}{ranking.candidates[0].name}"


def section_answer(section: SectionResult) -> str:
    """Return what many share, how many students need a look, and how many are named right."""
    judged = [one.named_right for one in section.students if one.named_right is not None]
    look = sum(one.is_doubtful for one in section.students)
    shared = counted(len(section.causes), "shared cause") if section.causes else "no shared cause"
    parts = [
        f"{counted(len(section.students), 'result')}: {shared}",
        f"{look} {'needs' if look == 1 else 'need'} a look",
        *([f"{sum(judged)} of {len(judged)} named right"] if judged else []),
    ]
    return f"{', '.join(parts)}."


def stock_answer(check: StockCheck) -> str:
    """Return how many rows are wrong, and how many bottles cannot be told apart."""
    wrong = sum(row.is_wrong for row in check.rows)
    alike = sum(len(group.labels) for group in check.groups)
    parts = [
        f"{counted(wrong, 'row')} {'is' if wrong == 1 else 'are'} wrong" if wrong else "",
        "the table itself is wrong" if any_error(check.findings) else "",
        f"{alike} cannot be told apart" if alike else "",
    ]
    said = ", ".join(filter(None, parts)) or "nothing is wrong, and all can be told apart"
    return f"{counted(len(check.rows), 'bottle')}: {said}."


def plan_answer(plan: Plan) -> str:
    """Return how well the class will name these liquids."""
    return (
        f"{len(plan.liquids)} liquids: {100.0 * plan.success:.1f} % of runs name theirs; the "
        f"worst, {min(plan.liquids, key=lambda one: one.success).name}, "
        f"{100.0 * min(one.success for one in plan.liquids):.0f} %."
    )


def molar_mass_answer(found: Sequence[MolarMassResult], page: Page) -> str:
    """Return the molar mass of one unknown, or of some."""
    each = [
        f"{one.label}: {with_uncertainty(one.value, one.standard_uncertainty, 'g/mol')}"
        for one in found
    ]
    if len(found) == 1 and found[0].assumed_identity:
        return _fitting(page, [f"{each[0]}, as {found[0].assumed_identity}.", f"{each[0]}."])
    return _fitting(page, [f"{'; '.join(each)}.", f"{len(found)} molar masses worked out."])


def composition_answer(percent: Mapping[str, Any], page: Page) -> str:
    """Return a composition, without uncertainties where there is no room for them."""
    exact = ", ".join(f"{element} {share}" for element, share in percent.items())
    rounded = ", ".join(f"{element} {share.value:.2f} %" for element, share in percent.items())
    return _fitting(page, [f"{exact}.", f"{rounded}."])


def formula_answer(data: Mapping[str, Any]) -> str:
    """Return the formulas that fit, the molecular ones where there are any.

    Examples
    --------
    >>> formula_answer({"empirical": [{"formula": "CH2"}], "molecular": [{"formula": "C6H12"}]})
    'Molecular formula C6H12.'
    >>> formula_answer({"empirical": [], "molecular": []})
    'No formula fits.'
    """
    for kind in ("molecular", "empirical"):
        if formulas := [one["formula"] for one in data[kind]]:
            return f"{kind.capitalize()} formula {listed_up_to(_MAX_FORMULAS, formulas)}."
    return "No formula fits."


def cards_answer(cards: int, files: Sequence[str], refused: int) -> str:
    """Return how many cards there are, and of how many rows there is none."""
    if not files:
        return "No cards were written."
    none = f"; no card of {counted(refused, 'row')}" if refused else ""
    return f"{counted(cards, 'card')} in {listed_up_to(len(files), files)}{none}."


def found_answer(count: int, shown: int) -> str:
    """Return how many compounds were found, and how many of them are shown.

    Examples
    --------
    >>> found_answer(22, 10), found_answer(1, 1)
    ('22 compounds, 10 of them shown.', '1 compound.')
    """
    more = f", {shown} of them shown" if shown < count else ""
    return f"{counted(count, 'compound')}{more}."
