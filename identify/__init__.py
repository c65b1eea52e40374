"""Names unknown volatile liquids from vapor-density weighings, composition and boiling point.

The public face; nothing is defined here. Names are looked up when first used, so that
``import identify`` costs next to nothing.

Examples
--------
>>> import identify
>>> run = identify.Measurement(
...     label="C-14", molar_mass=32.4, percent={"C": 37.5, "H": 12.6, "O": 49.9}, boiling_point=64.6
... )
>>> ranking = identify.match(run)
>>> print(ranking.verdict, "-", ranking.candidates[0].name)
single match - methanol
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from identify.answers.card_files import cards
    from identify.bench.laboratory import Laboratory
    from identify.calculations.boiling_point import boiling_point
    from identify.calculations.composition import composition
    from identify.calculations.formulas import formulas
    from identify.calculations.molar_mass import molar_mass
    from identify.checks import check
    from identify.compounds.loading import load_candidates
    from identify.matching.answer import Ranking
    from identify.matching.classifier import UnknownClassifier
    from identify.matching.explain.explanation import Explanation, explain
    from identify.matching.ranking import match, match_many
    from identify.matching.scoring import score
    from identify.notebook.errors import UnusableInput
    from identify.notebook.findings import Finding
    from identify.notebook.measurement import Combustion, Conditions, Flask, Measurement, Trial
    from identify.notebook.quantity.quantities import Quantity
    from identify.observables.tolerances import Tolerances
    from identify.planning.asked import plan
    from identify.section import check_section
    from identify.stock import check_stock
    from identify.tables import read_runs

_HOMES = {
    "Combustion": "identify.notebook.measurement",
    "Conditions": "identify.notebook.measurement",
    "Explanation": "identify.matching.explain.explanation",
    "Finding": "identify.notebook.findings",
    "Flask": "identify.notebook.measurement",
    "Laboratory": "identify.bench.laboratory",
    "Measurement": "identify.notebook.measurement",
    "Quantity": "identify.notebook.quantity.quantities",
    "Ranking": "identify.matching.answer",
    "Tolerances": "identify.observables.tolerances",
    "Trial": "identify.notebook.measurement",
    "UnusableInput": "identify.notebook.errors",
    "UnknownClassifier": "identify.matching.classifier",
    "boiling_point": "identify.calculations.boiling_point",
    "cards": "identify.answers.card_files",
    "check": "identify.checks",
    "check_section": "identify.section",
    "check_stock": "identify.stock",
    "composition": "identify.calculations.composition",
    "explain": "identify.matching.explain.explanation",
    "formulas": "identify.calculations.formulas",
    "load_candidates": "identify.compounds.loading",
    "match": "identify.matching.ranking",
    "match_many": "identify.matching.ranking",
    "molar_mass": "identify.calculations.molar_mass",
    "plan": "identify.planning.asked",
    "read_runs": "identify.tables",
    "score": "identify.matching.scoring",
}

__all__ = [
    "Combustion",
    "Conditions",
    "Explanation",
    "Finding",
    "Flask",
    "Laboratory",
    "Measurement",
    "Quantity",
    "Ranking",
    "Tolerances",
    "Trial",
    "UnknownClassifier",
    "UnusableInput",
    "boiling_point",
    "cards",
    "check",
    "check_section",
    "check_stock",
    "composition",
    "explain",
    "formulas",
    "load_candidates",
    "match",
    "match_many",
    "molar_mass",
    "plan",
    "read_runs",
    "score",
]


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version("identify-unknown")
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
