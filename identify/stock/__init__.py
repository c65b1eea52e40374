"""The check of a stock table: what stands in it, and whether a class can use it.

Looked up when first used: the other rooms take the results' types from here at no cost.
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
