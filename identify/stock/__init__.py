"""The check of a stock table: whether it is right, and whether a class can use its bottles.

The rows of the file, each with its identity and what else it states (`rows`) -> how the class fares
with the bottles: told apart, boiling off, hazards (`class_use`) -> a `StockCheck` (`checking`) -> a
corrected copy of the file (`corrections`).

The function is loaded when first used: other rooms take the types of `result` without its cost.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from identify.stock.checking import check_stock

__all__ = ["check_stock"]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from identify.stock import checking

    return getattr(checking, name)
