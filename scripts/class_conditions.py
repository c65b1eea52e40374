"""Where pages are drawn under any conditions that the match thinks a bench may have.

The classes of `class_pages` work near 1 atm, in boiling water, with two sizes of flask. What a slip
may have made of a reading is weighed against how such readings go anywhere, and so the pages that
this is tried on are drawn as it takes them to go: most around a value, the others within limits.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from class_pages import (
    NO_BATH,
    NO_PRESSURE,
    SIZE_ONLY,
    ClassPage,
    ClassRoom,
    Liquids,
    PageKind,
)

from identify.bench.bench import Bench
from identify.matching.evidence import Matcher
from identify.notebook.usual import SPREADS
from identify.physics.vapor import Weighing

MARGIN = 0.01  # of the whole range


class AnyRoom(ClassRoom):
    """Draws pages of a matcher's liquids, as it takes them to be handed out.

    Parameters
    ----------
    matcher : Matcher
    random : numpy.random.Generator
    """

    def __init__(self, matcher: Matcher, random: np.random.Generator) -> None:
        super().__init__(matcher.table, Liquids(matcher.prior / matcher.prior.sum()), random)
        self.matcher = matcher
        self._lacking: dict[float, bool] = {}

    def page(self, kind: PageKind, truth: int | None = None) -> ClassPage:
        """Draw one page, of a liquid that boiled off in its bath."""
        while True:
            self._lacking.clear()
            page = super().page(kind, truth)
            bench = Bench.of(page.run)
            assert bench.weighing is not None
            bath, rows = float(bench.weighing.bath.mean()), np.array([page.truth])
            if self.random.random() < self.matcher.vaporized(bench, bath, rows)[0]:
                return page

    def _lacks(self, share: float, kind: PageKind) -> bool:
        # What a page lacks is decided before it is written: nobody guesses far-off conditions.
        return self._lacking.setdefault(share, super()._lacks(share, kind))

    def _conditions(self, kind: PageKind, trials: int) -> Weighing:
        if not kind.pressure and not self._lacks(NO_PRESSURE, kind):
            kind = replace(kind, pressure=self._read("pressure"))
        true, each = super()._conditions(kind, trials), np.ones(trials)
        if not self._lacks(NO_BATH, kind):
            true = replace(true, bath=self._read("bath") * each)
        if not self._lacks(SIZE_ONLY, kind):
            true = replace(true, volume=self._read("volume") * each)
        return true

    def _read(self, field: str) -> float:
        """Draw what a bench reads, within what it can read however it is rounded [SI units]."""
        spread, random = SPREADS[field], self.random
        low, high = spread.lowest, spread.highest
        margin = MARGIN * (high - low)
        while True:
            around = random.normal(spread.value, spread.spread)
            anywhere = random.uniform(low, high)
            value = around if random.random() < spread.share else anywhere
            if low + margin < value < high - margin:
                return float(value)
