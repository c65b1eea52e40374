"""Whether a liquid boils off in the bath: one judgment, wherever it is asked."""

from __future__ import annotations

from math import nan

import pytest

from identify import Measurement
from identify.bench.bath_margin import BathMargin
from identify.bench.laboratory import Laboratory
from identify.checks import check
from identify.compounds.naming.meaning import Compound
from identify.compounds.table import CandidateTable
from identify.notebook.measurement import Conditions, Flask, Trial
from identify.observables.tolerances import Tolerances
from identify.planning.pool.conditions import LiquidConditions
from identify.planning.pool.liquid_pool import NamedLiquids, pool_of
from identify.planning.result import PlanError
from identify.stock.class_use.method import suitabilities
from identify.stock.class_use.shelf import Shelf
from identify.stock.result import StockRow


@pytest.mark.parametrize(
    ("margin", "boiling_point_u", "severity"),
    [
        (20.0, 0.1, None),
        (5.0, 0.1, None),
        (4.96, 0.1, None),  # as it is read, to a tenth
        (4.9, 0.1, "warning"),
        (0.0, 0.1, "warning"),
        (-0.9, 0.0, "warning"),  # the bath may be read 1 K too low
        (-1.1, 0.0, "error"),
        (-1.3, 0.5, "warning"),  # and the card may be off by as much
        (-1.5, 0.5, "error"),
        (-12.0, 8.0, "warning"),
        (-17.0, 8.0, "error"),
        (nan, 0.5, None),  # nothing is known: nothing is said
    ],
)
def test_severity(margin: float, boiling_point_u: float, severity: str | None) -> None:
    assert BathMargin(margin, boiling_point_u).severity == severity


# 1-Propanol boils at 97.2 °C (CRC Handbook, from memory).
@pytest.mark.parametrize(
    ("bath", "severity"), [(103.0, None), (99.0, "warning"), (96.6, "warning"), (94.0, "error")]
)
def test_students_stock_and_plan_judge_alike(
    table: CandidateTable, bath: float, severity: str | None
) -> None:
    run = Measurement(
        "A",
        boiling_point=97.2,
        conditions=Conditions(pressure=760.0, room=22.0),
        flask=Flask(volume=287.4),
        trials=[Trial(empty=98.1132, condensed=98.6, bath=bath)],
    )
    of_run = {one.code: one.severity for one in check(run)}
    told = of_run.get("bath-below-boiling-point") or of_run.get("bath-near-boiling-point")
    assert told == severity
    laboratory = Laboratory.of(bath=bath)
    place = table.find("1-propanol")[0]
    row = StockRow(2, "K-2", "1-propanol", Compound.of_place(table, place))
    (liquid,) = suitabilities(Shelf.of([row]), laboratory, Tolerances())
    assert [one.severity for one in liquid.findings()] == ([severity] if severity else [])
    named = NamedLiquids(must_have=("1-propanol",))
    if severity == "error":
        with pytest.raises(PlanError, match="does not boil off"):
            pool_of(table, LiquidConditions(), laboratory, 2, named)
    else:
        assert pool_of(table, LiquidConditions(), laboratory, 2, named).must_have
