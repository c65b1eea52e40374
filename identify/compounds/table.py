"""The table of candidate compounds: columns, loading, saving, validation."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from identify.compounds.name_index import NameIndex
from identify.notebook.saving import written_beside
from identify.physics.constants import ELEMENTS
from identify.physics.dimers import dimerization
from identify.tables.faults import TableError

if TYPE_CHECKING:
    import pandas as pd

TEXT_COLUMNS = (
    "name",
    "cas",
    "smiles",
    "inchikey",
    "formula",
    "boiling_point_source",
    "set_aside",
    "vapor_curve_source",
    "critical_source",
    "virial_source",
    "dimer_source",
    "liquid_density_source",
    "liquid_density_set_aside",
    "refractive_index_source",
    "refractive_index_set_aside",
    "melting_point_source",
    "flash_point_source",
    "flash_point_set_aside",
    "exposure_limit_source",
    "carcinogen",
    "stereo",
    "groups",
    "log_p_source",
    "not_bottled",
    "label",
)

# Each number column with its unit and the decimals it is shown with.
NUMBER_COLUMNS: Mapping[str, tuple[str, int]] = {
    "molar_mass": ("g/mol", 4),
    "boiling_point_C": ("degC at 101325 Pa", 2),
    "boiling_point_u": ("K, standard uncertainty", 3),
    "boiling_point_published": ("1 from published values, 0 estimated from structure", 0),
    "prior": ("in commerce, sums to 1", 12),
    "classroom": ("in a classroom, sums to 1", 12),
    **{f"percent_{element}": ("percent by mass", 4) for element in ELEMENTS},
    "critical_temperature_K": ("K", 2),
    "critical_pressure_Pa": ("Pa", 0),
    "acentric_factor": ("-", 4),
    "vapor_curve_a": ("-", 6),
    "vapor_curve_b": ("-", 6),
    "vapor_curve_c": ("-", 6),
    **{f"virial_{order}": ("m3/mol", 10) for order in range(4)},
    "dimer_enthalpy": ("J/mol, of two molecules of the vapor that make one", 0),
    "dimer_entropy": ("J/(mol K) at 1 bar", 1),
    "dimer_u": ("relative standard uncertainty of that constant", 2),
    "liquid_density_20C": ("kg/m3", 1),
    "liquid_density_25C": ("kg/m3", 1),
    "liquid_density_u": ("kg/m3, standard uncertainty", 1),
    "refractive_index": ("sodium D line, 20 degC", 4),
    "melting_point_C": ("degC", 2),
    "flash_point_C": ("degC, closed cup where known, the lowest of those published", 1),
    "flash_point_highest_C": ("degC, the highest of those published that can be right", 1),
    "exposure_limit_ppm": ("ppm, 8 h time-weighted", 3),
    "inventories": ("regulatory inventories that list it", 0),
    "log_p": ("-, decadic logarithm of the octanol-water partition coefficient", 2),
}

# The column that names the source of each constant.
SOURCE_COLUMNS: Mapping[str, str] = {
    "boiling_point_C": "boiling_point_source",
    "vapor_curve_a": "vapor_curve_source",
    "critical_temperature_K": "critical_source",
    "critical_pressure_Pa": "critical_source",
    "virial_0": "virial_source",
    "dimer_enthalpy": "dimer_source",
    "liquid_density_20C": "liquid_density_source",
    "liquid_density_25C": "liquid_density_source",
    "refractive_index": "refractive_index_source",
    "melting_point_C": "melting_point_source",
    "flash_point_C": "flash_point_source",
    "exposure_limit_ppm": "exposure_limit_source",
    "log_p": "log_p_source",
}

# The source of a constant that is not published.
ESTIMATED = "estimated from structure"

_Column = TypeVar("_Column")


class OnDemand(Mapping[str, _Column]):
    """Columns that are read when first asked for."""

    def __init__(self, names: Sequence[str], read: Callable[[str], _Column]) -> None:
        self._names, self._read = tuple(names), read
        self._kept: dict[str, _Column] = {}

    def __getitem__(self, name: str) -> _Column:
        if name not in self._kept:
            if name not in self._names:
                raise KeyError(name)
            self._kept[name] = self._read(name)
        return self._kept[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


# Columns that the match reads: a table with unknown values there cannot be used. And bounds that no
# constant of a compound exceeds; beyond them probabilities would overflow.
REQUIRED: dict[str, tuple[float, float]] = {
    "molar_mass": (1.0, 1e4),
    "boiling_point_C": (-273.0, 2000.0),
    "boiling_point_u": (0.0, 1e4),
    "prior": (0.0, 1.0),
    **{f"percent_{element}": (0.0, 100.1) for element in ELEMENTS},
    **{f"vapor_curve_{letter}": (-1e4, 1e4) for letter in "abc"},
    **{f"virial_{order}": (-1e3, 1e3) for order in range(4)},
}


# Of these, what a program's own candidates may lack; it then tells nothing for or against them.
_MAY_BE_UNKNOWN = frozenset(
    {"boiling_point_C", "boiling_point_u"} | {f"percent_{element}" for element in ELEMENTS}
)


class CandidateTable:
    """Candidate compounds as columns.

    Parameters
    ----------
    text : mapping of str to sequence of str
        The columns of ``TEXT_COLUMNS``; an absent one is filled with empty text.
    numbers : mapping of str to array of float, shape (n,)
        The columns of ``NUMBER_COLUMNS``, units there; unknown values are NaN.
    faults : sequence of str
        What could not be used where the table was read, one line each.
    told : str
        What its headings were taken for, in one line; empty where there is nothing to say.
    is_incomplete : bool
        Whether boiling point or composition of a row may be unknown (NaN).

    Raises
    ------
    TableError
        Where columns differ in length, or a column that the match needs is not complete.

    Examples
    --------
    >>> from identify.compounds.loading import load_candidates
    >>> table = load_candidates()
    >>> row = table.find("64-17-5")[0]
    >>> table.text("formula")[row]
    'C2H6O'
    """

    is_incomplete = False

    def __init__(
        self,
        text: Mapping[str, Sequence[str]],
        numbers: Mapping[str, NDArray[np.float64]],
        faults: Sequence[str] = (),
        told: str = "",
        is_incomplete: bool = False,
    ) -> None:
        self.faults = tuple(faults)
        self.is_incomplete = is_incomplete
        self.told = told
        if "name" not in text or "molar_mass" not in numbers:
            raise TableError("a candidate table needs at least the columns name and molar_mass")
        size = len(text["name"])
        self._text: Mapping[str, list[str]] = {
            column: list(text[column]) if column in text else [""] * size for column in TEXT_COLUMNS
        }
        self._numbers: Mapping[str, NDArray[np.float64]] = {
            column: np.asarray(numbers[column], dtype=np.float64)
            if column in numbers
            else np.full(size, np.nan)
            for column in NUMBER_COLUMNS
        }
        self._validate(size)

    def __len__(self) -> int:
        return len(self._text["name"])

    def __repr__(self) -> str:
        return f"<{len(self)} compounds>"

    def __deepcopy__(self, memo: dict[int, Any]) -> CandidateTable:
        # Nothing changes a table, and a copy of millions of rows would only take time.
        return self

    def text(self, column: str) -> list[str]:
        """Return a text column."""
        return self._text[column]

    def number(self, column: str) -> NDArray[np.float64]:
        """Return a number column, shape (n,), NaN where unknown."""
        return self._numbers[column]

    def weights(self, prior: str) -> NDArray[np.float64]:
        """Return what each row weighs before anything is read, shape (n,).

        Parameters
        ----------
        prior : {"classroom", "commerce", "uniform"}
            The column of that name; a row without ``classroom`` keeps its ``prior``. Or all alike.
        """
        if prior == "uniform":
            return np.ones(len(self))
        in_commerce = self.number("prior")
        if prior == "commerce":
            return in_commerce
        in_classroom = self.number("classroom")
        return np.where(np.isfinite(in_classroom), in_classroom, in_commerce)

    @cached_property
    def percent(self) -> NDArray[np.float64]:
        """Percent composition by mass, shape (n, 12), in the order of ``ELEMENTS``."""
        return np.column_stack([self._numbers[f"percent_{element}"] for element in ELEMENTS])

    @cached_property
    def vapor_curve(self) -> NDArray[np.float64]:
        """Coefficients of the vapor-pressure curve, shape (n, 3)."""
        return np.column_stack([self._numbers[f"vapor_curve_{letter}"] for letter in "abc"])

    @cached_property
    def virial(self) -> NDArray[np.float64]:
        """Coefficients of the second virial coefficient, shape (n, 4) [m3/mol]."""
        return np.column_stack([self._numbers[f"virial_{order}"] for order in range(4)])

    @cached_property
    def dimers(self) -> NDArray[np.float64]:
        """Coefficients of the dimerization constant of the vapor, shape (n, 2)."""
        return dimerization(self._numbers["dimer_enthalpy"], self._numbers["dimer_entropy"])

    @cached_property
    def frame(self) -> pd.DataFrame:
        """The whole table as a pandas frame, numbers rounded to decimals that mean something."""
        import pandas as pd

        columns: dict[str, Any] = {"name": self._text["name"], "cas": self._text["cas"]}
        columns |= {name: self._text[name] for name in ("smiles", "inchikey", "formula")}
        for column, (_, decimals) in NUMBER_COLUMNS.items():
            columns[column] = np.round(self._numbers[column], decimals)
            if column in SOURCE_COLUMNS:
                columns[SOURCE_COLUMNS[column]] = self._text[SOURCE_COLUMNS[column]]
        columns |= {name: self._text[name] for name in TEXT_COLUMNS if name not in columns}
        return pd.DataFrame(columns)

    @cached_property
    def index(self) -> NameIndex:
        """The rows by name, formula and structure."""
        return NameIndex(self._text)

    def find(self, name: str) -> list[int]:
        """Return the rows whose name, CAS number, SMILES, InChIKey or formula is ``name``."""
        return self.index.find(name)

    def by_compound(self) -> NDArray[np.int64]:
        """Return each row's place when sorted by InChIKey and name, shape (n,)."""
        names = list(zip(self._text["inchikey"], self._text["name"], strict=True))
        order = np.empty(len(self), dtype=np.int64)
        order[sorted(range(len(self)), key=names.__getitem__)] = np.arange(len(self))
        return order

    def some(self, rows: NDArray[np.int64]) -> CandidateTable:
        """Return a table of the given rows, in that order, their priors as they are."""
        numbers = {column: values[rows] for column, values in self._numbers.items()}
        text = {column: [values[row] for row in rows] for column, values in self._text.items()}
        return CandidateTable(text, numbers, is_incomplete=self.is_incomplete)

    def take(self, rows: Sequence[int] | NDArray[np.int64]) -> CandidateTable:
        """Return a table of the given rows, in that order, priors scaled to sum to one."""
        table = self.some(np.asarray(rows, dtype=np.int64))
        numbers = dict(table._numbers)
        numbers["classroom"] = table.weights("classroom")
        for column in ("prior", "classroom"):
            numbers[column] = numbers[column] / numbers[column].sum()
        return CandidateTable(table._text, numbers, is_incomplete=self.is_incomplete)

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the table as Parquet: to a temporary neighbor first, then renamed."""
        import pyarrow as pa
        import pyarrow.parquet as pq

        columns: dict[str, Any] = {name: pa.array(values) for name, values in self._text.items()}
        # Single precision: 6e-8 of the value, far below what any of these constants is known to.
        columns |= {
            name: pa.array(values.astype(np.float32)) for name, values in self._numbers.items()
        }
        with written_beside(Path(path)) as beside:
            pq.write_table(pa.table(columns), beside, compression="zstd", compression_level=19)

    def _validate(self, size: int) -> None:
        lengths = {column: len(values) for column, values in self._text.items()}
        lengths |= {column: len(values) for column, values in self._numbers.items()}
        for column, length in lengths.items():
            if length != size:
                raise TableError(f"column {column} has {length} rows, name has {size}")
        if size == 0:
            raise TableError("the candidate table has no rows")
        self.validate_numbers()
        self.validate_priors()

    def validate_priors(self) -> None:
        """Refuse a table in which no compound has a chance."""
        for column, prior in (("prior", "commerce"), ("classroom", "classroom")):
            if not self.weights(prior).sum() > 0.0:
                raise TableError(
                    f"column {column}: all are zero; give at least one compound a chance"
                )

    def validate_numbers(self, above: int = 0) -> None:
        """Refuse numbers that a match cannot use.

        Parameters
        ----------
        above : int
            Rows of a larger table that come before these.

        Raises
        ------
        TableError
            With column, row, and what is wrong there.
        """
        for column, (lowest, highest) in (REQUIRED | {"classroom": REQUIRED["prior"]}).items():
            values = self._numbers[column]
            bad = np.flatnonzero(~np.isfinite(values))
            may_be_unknown = self.is_incomplete and column in _MAY_BE_UNKNOWN
            if len(bad) and column in REQUIRED and not may_be_unknown:
                reason = "no number there, and the match needs one"
                raise self._refused(column, bad[0], above, reason)
            if len(bad := np.flatnonzero((values < lowest) | (values > highest))):
                reason = f"{values[bad[0]]:g} is not between {lowest:g} and {highest:g}"
                raise self._refused(column, bad[0], above, reason)

    def _refused(self, column: str, row: int, above: int, reason: str) -> TableError:
        name = str(self._text["name"][row])[:40]
        return TableError(f"column {column}, row {above + row + 1} ({name}): {reason}")
