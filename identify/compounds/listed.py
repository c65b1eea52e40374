"""What public lists say of a compound by its CAS number: inventories of commerce, and hazards.

The lists are kept in one file that is made with the built-in table, and know many compounds that
the table lacks: solids, gases, and what a stock table or a collection holds besides.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from math import nan
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from identify.compounds.parquet import shipped
from identify.notebook.saving import written_beside

_LISTED_FILE = "listed.parquet"
_NUMBERS = "cas_number"  # without hyphens, by which the rows are sorted


@dataclass(frozen=True)
class Listing:
    """What the lists say of one compound.

    Parameters
    ----------
    inventories : int
        Of the six regulatory inventories, how many list it.
    carcinogen : str
        What lists of carcinogens say; empty where none lists it.
    exposure_limit_ppm : float
        Over eight hours; NaN where none is published.
    flash_points : mapping of str to float
        In K, by collection.
    """

    inventories: int = 0
    carcinogen: str = ""
    exposure_limit_ppm: float = nan
    flash_points: Mapping[str, float] = field(default_factory=dict)


def listing_of(cas: str) -> Listing:
    """Return what the lists say of a CAS number, nothing where none has it.

    Examples
    --------
    >>> found = listing_of("67-56-1")
    >>> found.inventories, found.exposure_limit_ppm, found.flash_points["WIKIDATA"]
    (6, 200.0, 284.26111)
    >>> listing_of("0-00-0").inventories
    0
    """
    numbers, columns = _lists(shipped(_LISTED_FILE))
    number = _cas_number(cas)
    place = int(np.searchsorted(numbers, number))
    if place == len(numbers) or numbers[place] != number:
        return Listing()
    found = {name: column[place].as_py() for name, column in columns.items()}
    found["flash_points"] = dict(found["flash_points"] or ())
    return Listing(**{name: value for name, value in found.items() if value is not None})


def _cas_number(cas: str) -> int:
    """Return a CAS number without its hyphens."""
    return int(cas.replace("-", ""))


def save_lists(listings: Mapping[int, Listing], folder: Path) -> None:
    """Write listings, by CAS number without hyphens, into a folder."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    numbers = sorted(listings)
    kept = [listings[number] for number in numbers]
    table = pa.table(
        {
            _NUMBERS: pa.array(numbers, pa.int64()),
            "inventories": pa.array([one.inventories for one in kept], pa.int8()),
            "carcinogen": _blank_as_null([one.carcinogen for one in kept], pa.string()),
            "exposure_limit_ppm": pa.array(
                [one.exposure_limit_ppm for one in kept], pa.float64(), from_pandas=True
            ),
            "flash_points": _blank_as_null(
                [list(one.flash_points.items()) for one in kept],
                pa.map_(pa.string(), pa.float64()),
            ),
        }
    )
    with written_beside(folder / _LISTED_FILE) as beside:
        pq.write_table(
            table,
            beside,
            compression="zstd",
            compression_level=19,
            use_dictionary=["carcinogen"],
            column_encoding={_NUMBERS: "DELTA_BINARY_PACKED"},
        )


def _blank_as_null(values: Sequence[Any], kind: Any) -> Any:
    import pyarrow as pa

    return pa.array([value or None for value in values], kind)


@lru_cache(maxsize=1)
def _lists(path: Path) -> tuple[NDArray[np.int64], dict[str, Any]]:
    """Return the CAS numbers, and the other columns by name."""
    import pyarrow.parquet as pq

    # Not read_table: that imports the datasets, and with them pandas.
    table = pq.ParquetFile(path).read().combine_chunks()
    columns = {name: table.column(name).chunk(0) for name in table.schema.names}
    return np.from_dlpack(columns.pop(_NUMBERS)).astype(np.int64), columns
