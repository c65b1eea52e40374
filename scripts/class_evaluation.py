"""How well pages as classes make them are answered: ranks, calibration, intervals, outsiders.

Usage: python scripts/evaluate --class [--pages 2000] [--seed 21] [--only SET] [--prior PRIOR]

Sets are named below; each prints a line or a table for every figure that the guide states, beside
the best that an oracle reaches which knows how the pages were drawn (`class_pages.py`).
"""

from __future__ import annotations

import argparse
import itertools
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from class_conditions import AnyRoom
from class_pages import (
    MMHG,
    ClassPage,
    ClassRoom,
    Liquids,
    Oracle,
    PageKind,
    exercise_page,
    shortcut_page,
    true_page,
)
from class_slips import SlipPage, mixed_set, print_tallies, tallied
from evaluation import Outcome, outcome, report, score
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.matching.answer import Ranking
from identify.matching.evidence import Matcher, Prior
from identify.matching.posterior import Posterior
from identify.matching.ranked import ranking_of
from identify.matching.slips import Slip, search
from identify.observables.error.technique import CAREFUL
from identify.physics.constants import ICE_POINT

Array = NDArray[np.float64]

NEARLY_SURE = 0.999
HIGH_PRESSURE_MMHG, COLD_C = 625.0, 5.0
FEW_PAGES = 400  # where shares are large


@dataclass(frozen=True)
class Answered:
    """One page, and what the match made of it."""

    page: ClassPage
    ranking: Ranking
    outcome: Outcome
    best: Outcome | None = None

    @property
    def is_right(self) -> bool:
        """Whether the first name is the liquid's."""
        return self.outcome.place == 1

    @property
    def leader(self) -> float:
        """Probability of the first name."""
        return self.ranking.candidates[0].probability

    @property
    def codes(self) -> set[str]:
        """Codes of the slips that are named."""
        return {slip.code for slip in self.ranking.slips}

    @property
    def is_single(self) -> bool:
        """Whether the answer is one name."""
        return self.ranking.verdict == "single match"


def answer(matcher: Matcher, page: ClassPage) -> Ranking:
    """Return the whole answer to a page."""
    return ranking_of(page.run, Posterior.of(matcher.evidence(Bench.of(page.run))))


def answered(matcher: Matcher, page: ClassPage, oracle: Oracle | None = None) -> Answered:
    """Answer a page, and say where its liquid is."""
    ranking = answer(matcher, page)
    shown = {one.index: one for one in ranking.candidates}
    own = shown.get(page.truth)
    place = len(shown) + 1 if own is None else own.rank
    best = None
    if oracle is not None:
        best = outcome(oracle.posterior(page), page.truth, matcher.order)
    return Answered(page, ranking, Outcome(place, ranking.candidates[0].probability), best)


@dataclass(frozen=True)
class ClassStudy:
    """Pages to draw and a matcher to answer them.

    Parameters
    ----------
    table : CandidateTable
    matcher : Matcher
    pages : int
        Of each set.
    seed : int
    prior : Prior
        Of the matcher, and of those whose tables lack a liquid.
    """

    table: CandidateTable
    matcher: Matcher
    pages: int
    seed: int
    prior: Prior = "classroom"

    def room(self, liquids: Liquids) -> ClassRoom:
        """Return where pages of liquids are drawn, the same for the same seed."""
        return ClassRoom(self.table, liquids, np.random.default_rng(self.seed))

    def run(self, kind: PageKind, liquids: Liquids, oracle: bool = True) -> list[Answered]:
        """Draw pages of a kind, and answer them."""
        room = self.room(liquids)
        knows = Oracle(room, kind) if oracle else None
        return [answered(self.matcher, room.page(kind), knows) for _ in range(self.pages)]


def print_set(title: str, table: CandidateTable, every: Sequence[Answered]) -> None:
    """Print ranks, calibration table, wrong names and intervals of a set."""
    weights = np.ones(len(every))
    found = score([one.outcome for one in every], weights)
    best = score([one.best or one.outcome for one in every], weights)
    report(title, found, best)
    wrong = [one for one in every if not one.is_right]
    sure = sum(one.leader > NEARLY_SURE for one in wrong)
    single = sum(one.is_single for one in wrong)
    none = np.mean([one.ranking.none_of_these for one in every])
    print(
        f"  wrong names above {NEARLY_SURE:.1%}: {sure} of {len(every)}; wrong single matches: "
        f"{single} ({single / len(every):.1%}); stated none of these {none:.2%}"
    )
    print_intervals(table, every)


def print_intervals(table: CandidateTable, every: Sequence[Answered]) -> None:
    """Print how often the answer's interval holds the true molar mass, by number of trials."""
    held: dict[int, list[bool]] = {}
    for one in every:
        interval = getattr(one.ranking.molar_mass, "interval_95", None)
        if interval is not None:
            true = float(table.number("molar_mass")[one.page.truth])
            trials = len(one.page.run.trials)
            held.setdefault(trials, []).append(interval[0] <= true <= interval[1])
    for trials, inside in sorted(held.items()):
        print(
            f"  interval_95, {trials or 'no'} trials: holds {np.mean(inside):.1%} of {len(inside)}"
        )


# ------------------------------------------------------------------------------------------- sets

Figures = Callable[[ClassStudy], None]
SETS: dict[str, Figures] = {}


def figures(name: str) -> Callable[[Figures], Figures]:
    """Put a set into the list."""

    def put(made: Figures) -> Figures:
        SETS[name] = made
        return made

    return put


USUAL_KINDS = {
    "molar mass and boiling point": PageKind("given"),
    "shortcut and boiling point": PageKind("shortcut"),
    "weighed and boiling point": PageKind("weighed"),
    "full pages": PageKind("weighed", percent=True),
    "boiling point alone": PageKind(""),
    "molar mass and own boiling point": PageKind("given", "own"),
    "molar mass alone": PageKind("given", ""),
}


@figures("usual")
def usual_liquids(study: ClassStudy) -> None:
    """Liquids as courses hand them out."""
    liquids = Liquids.handed_out(study.table)
    for name, kind in USUAL_KINDS.items():
        known = kind.molar_mass != "shortcut"
        print_set(f"usual liquids, {name}", study.table, study.run(kind, liquids, known))


@figures("drawn")
def as_the_prior_has_it(study: ClassStudy) -> None:
    """Liquids drawn as the match takes them to be handed out: the oracle's case."""
    liquids = Liquids.in_a_bath(study.table, study.matcher.prior)
    for name in ("molar mass and boiling point", "weighed and boiling point", "full pages"):
        print_set(
            f"as the prior has it, {name}", study.table, study.run(USUAL_KINDS[name], liquids)
        )


@figures("any")
def any_liquid(study: ClassStudy) -> None:
    """Any liquid that boils in the bath, matched as what is in commerce."""
    matcher = Matcher(study.table, prior="commerce")
    study = replace(study, matcher=matcher, prior="commerce")
    liquids = Liquids.in_a_bath(study.table, study.table.number("prior"))
    for name in ("full pages", "molar mass and boiling point", "weighed and boiling point"):
        print_set(f"any liquid, {name}", study.table, study.run(USUAL_KINDS[name], liquids))
    careful = PageKind("weighed", percent=True, complete=True, technique=CAREFUL)
    print_set(
        "any liquid, complete pages of a careful class", study.table, study.run(careful, liquids)
    )


@figures("high")
def high_laboratories(study: ClassStudy) -> None:
    """Laboratories at 625 mmHg whose boiling point is read there, which the page does not say."""
    print(
        f"\n{'625 mmHg, read there':<32} first   wrong single matches   wrong above 90 %   "
        "thread accused"
    )
    for name, technique in (("careful", CAREFUL), ("as classes work", PageKind().technique)):
        for percent in (False, True):
            kind = PageKind(
                percent=percent,
                complete=True,
                technique=technique,
                pressure=HIGH_PRESSURE_MMHG * MMHG,
                at_laboratory=1.0,
            )
            every = few(study).run(kind, Liquids.handed_out(study.table), oracle=False)
            wrong = [one for one in every if not one.is_right]
            counts = (
                len(every) - len(wrong),
                sum(one.is_single for one in wrong),
                sum(one.leader > 0.9 for one in wrong),
                sum("thread-uncorrected" in one.codes for one in every),
            )
            first, single, above, accused = (count / len(every) for count in counts)
            title = f"{name}{', with elements' if percent else ''}"
            print(
                f"  {title:<30} {first:>6.1%}  {single:>20.1%}   {above:>16.1%}   {accused:>14.1%}"
            )


@figures("cold")
def cold_flasks(study: ClassStudy) -> None:
    """Dry flasks weighed while still cold from an ice bath, which the page does not say."""
    kind = PageKind(percent=True, complete=True, technique=CAREFUL, cooled=COLD_C + ICE_POINT)
    every = few(study).run(kind, Liquids.handed_out(study.table), oracle=False)
    dry = [one for one in every if not one.page.rough]
    accused = np.mean(["mass-in-excess" in one.codes for one in dry])
    named = Counter(code for one in dry for code in one.codes)
    first = np.mean([one.is_right for one in dry])
    print(
        f"\ndry flasks weighed at {COLD_C:g} C: first {first:.1%}, "
        f"accused of left liquid {accused:.1%} of {len(dry)}; named: {dict(named)}"
    )


def few(study: ClassStudy) -> ClassStudy:
    """Return a study of fewer pages."""
    return replace(study, pages=min(study.pages, FEW_PAGES))


MADE = {"true molar mass": true_page, "shortcut": shortcut_page, "exercise": exercise_page}


@figures("made")
def made_pages(study: ClassStudy) -> None:
    """Shortcut's and exercise's numbers of the twenty liquids that are handed out most."""
    rows = Liquids.handed_out(study.table).most_usual(20)
    print("\ntwenty usual liquids    first   mean probability   no match")
    for name, make in MADE.items():
        every = [answered(study.matcher, make(study.matcher, int(row))) for row in rows]
        own = [
            next((c.probability for c in one.ranking.candidates if c.index == one.page.truth), 0.0)
            for one in every
        ]
        missed = [study.table.text("name")[one.page.truth] for one in every if not one.is_right]
        none = sum(one.ranking.verdict == "no match" for one in every)
        first = sum(one.is_right for one in every)
        print(
            f"  {name:<20} {first:>6}   {np.mean(own):>16.2f}   {none:>8}"
            f"   not first: {', '.join(missed) or 'none'}"
        )


OUTSIDE_SHARES = (0.01, 0.05, 0.20)
OUTSIDE_PAGES = 200  # with a liquid that is missing; as many others
_STATED = (0.0, 0.01, 0.05, 0.20, 1.0)


@figures("outside")
def outside_the_table(study: ClassStudy) -> None:
    """Liquids that the table lacks, at the shares that are assumed for them.

    A liquid that is missing is any that boils in the bath; the others are as the match takes them
    to be handed out. Each page counts with the share of its kind. Of the liquids that courses are
    known to hand out alone, less is stated: three in ten are taken to be others.
    """
    rare = Liquids.in_a_bath(study.table, study.table.number("prior"))
    usual = Liquids.in_a_bath(study.table, study.matcher.prior)
    pages = min(study.pages, OUTSIDE_PAGES)
    print(
        f"\n{'not in the table':<32}assumed  stated   missing: above 99.9 %, single   "
        "stated and true: up to 1 %, 5 %, 20 %, above"
    )
    for name in ("molar mass and boiling point", "weighed and boiling point", "full pages"):
        kind = USUAL_KINDS[name]
        strange, known = study.room(rare), study.room(usual)
        missing = [strange.page(kind) for _ in range(pages)]
        present = [known.page(kind) for _ in range(pages)]
        for share in OUTSIDE_SHARES:
            print(f"  {name:<30}{share:>7.0%}  {outside_line(study, missing, present, share)}")


def outside_line(
    study: ClassStudy, missing: Sequence[ClassPage], present: Sequence[ClassPage], share: float
) -> str:
    """Return what is stated of liquids that are missing and of those that are not."""
    whole = Matcher(study.table, prior=study.prior, outside=share)
    lacking = [answer(without_row(study, page.truth, share), page) for page in missing]
    others = [answer(whole, page) for page in present]
    stated = np.array([one.none_of_these for one in (*lacking, *others)])
    is_missing = np.arange(len(stated)) < len(lacking)
    weights = np.where(is_missing, share / len(lacking), (1.0 - share) / len(others))
    sure = np.mean([one.candidates[0].probability > NEARLY_SURE for one in lacking])
    single = np.mean([one.verdict == "single match" for one in lacking])
    return f"{weights @ stated:>6.2%}   {sure:>18.1%}  {single:>6.1%}   " + "  ".join(
        _reliability(stated, is_missing, weights)
    )


def _reliability(stated: Array, is_missing: Array, weights: Array) -> Iterator[str]:
    """Yield the mean of what was stated and how often it was true, bin by bin."""
    for low, high in itertools.pairwise(_STATED):
        inside = (stated >= low) & (stated < high)
        total = weights[inside].sum()
        if total > 0.0:
            mean, true = (weights[inside] @ one[inside] / total for one in (stated, is_missing))
            yield f"{mean:.3f} {true:.3f}"
        else:
            yield "-"


def without_row(study: ClassStudy, row: int, outside: float) -> Matcher:
    """Return a matcher whose table lacks a row."""
    kept = np.delete(np.arange(len(study.table)), row)
    return Matcher(study.table.take(kept), prior=study.prior, outside=outside)


@figures("slips")
def slips(study: ClassStudy) -> None:
    """Slips at the rates of the match: what is stated for them, and how often they are there."""
    room = AnyRoom(study.matcher, np.random.default_rng(study.seed))

    def answers() -> Iterator[tuple[SlipPage, tuple[Slip, ...]]]:
        for one in mixed_set(room, study.pages):
            run = one.page.measurement()
            yield one, search(run, Posterior.of(study.matcher.evidence(Bench.of(run)))).slips

    print_tallies(tallied(answers()))


def chosen(only: str | None) -> Iterator[Figures]:
    """Yield the sets that were asked for."""
    for name, made in SETS.items():
        if only is None or name in only.split(","):
            yield made


def main(arguments: Sequence[str] | None = None) -> int:
    """Draw, answer and print."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--pages", type=int, default=2000, help="of a set")
    parser.add_argument("--seed", type=int, default=21)
    parser.add_argument("--prior", default="classroom", help="of the match")
    parser.add_argument("--only", help=f"sets, comma between: {', '.join(SETS)}")
    parser.add_argument("--candidates", help="another table than the built-in one")
    options = parser.parse_args(arguments)
    table = load_candidates(options.candidates)
    prior: Prior = options.prior
    study = ClassStudy(table, Matcher(table, prior=prior), options.pages, options.seed, prior)
    print(
        f"{options.pages} pages a set against {len(table)} compounds, prior {prior}; "
        f"seed {options.seed}"
    )
    for made in chosen(options.only):
        began = time.perf_counter()
        made(study)
        print(f"  ({time.perf_counter() - began:.0f} s)")
    return 0
