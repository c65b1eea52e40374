"""How many inputs are drawn: few and the same each time, or as many as a long run is given."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from hypothesis import HealthCheck, Phase, settings

_SHORT, _LONG = 40, 10_000


def share(part: float) -> Callable[[Any], Any]:
    """Draw this part of the inputs of a run: of what takes long, fewer."""
    count = max(1, round(part * (settings.default.max_examples if is_long() else _SHORT)))
    return settings(
        max_examples=count,
        phases=[Phase.explicit, Phase.generate],  # a smaller failure would take minutes to find
        deadline=None,
        suppress_health_check=list(HealthCheck),
        print_blob=True,
    )


@cache
def is_long() -> bool:
    """Say whether many inputs are asked for.

    Asked first where `share` is, before any test: within one, the settings are that test's own.
    """
    return settings.default.max_examples >= _LONG
