"""What several checks against the outside share."""

from __future__ import annotations

import pytest
from build_candidates import rows_without_reference_equations
from CoolProp.CoolProp import FluidsList, get_fluid_param_string

from identify.candidates.table import CandidateTable


@pytest.fixture(scope="session")
def independent_table() -> CandidateTable:
    """Return rows that owe nothing to the equations of state; the build takes 90 seconds."""
    numbers = [get_fluid_param_string(name, "CAS") for name in FluidsList()]
    return rows_without_reference_equations(numbers)
