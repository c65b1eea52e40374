"""Records to rows of a candidate table, a chunk at a time."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isfinite, isnan, nan
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from identify.compounds.collection.identity import (
    IdentifiedRecord,
    RecordIdentities,
    RefusedError,
)
from identify.compounds.columns import TableColumns
from identify.compounds.published.classroom import COMMERCE_SHARE
from identify.compounds.published.likeness import Likeness
from identify.compounds.published.vapor.dimers import dimer_cells
from identify.compounds.stated import doubt_of_published
from identify.compounds.table import ESTIMATED, CandidateTable
from identify.notebook.quantity.quantities import QuantityError, excerpt, read_quantity
from identify.notebook.usual import CARD_BOILING_POINT
from identify.physics.arrays import Array
from identify.physics.constants import ICE_POINT
from identify.tables.structures.source import REMARK, UNREADABLE, Chunk, RecordSetAside

if TYPE_CHECKING:
    from identify.compounds.boiling.model import EstimatedBoilingPoints


Estimator: TypeAlias = "Callable[[Sequence[str]], EstimatedBoilingPoints]"
"""Boiling points for SMILES."""

NO_BOILING_POINT = "no boiling point"
_COLDEST, _HOTTEST = -273.0, 2000.0  # degrees Celsius, as the table of candidates bounds it
_MAX_NAME_LENGTH = 500  # characters
_IN_KELVIN = {"C": (1.0, 0.0), "K": (1.0, -ICE_POINT), "F": (5.0 / 9.0, -160.0 / 9.0)}


@dataclass
class Part:
    """The rows of one chunk.

    Parameters
    ----------
    columns : TableColumns
        All but the prior, which needs the whole table; ``classroom`` without the share of what is
        in commerce.
    keys : array of uint64, shape (n, 2)
        What rows of the same compound share.
    stated : array of bool, shape (n,)
        Whether the boiling point is the file's.
    source : int
    record_numbers : array of int64, shape (n,)
    set_aside : list of RecordSetAside
        By record.
    """

    columns: TableColumns
    keys: NDArray[np.uint64]
    stated: NDArray[np.bool_]
    source: int
    record_numbers: NDArray[np.int64]
    set_aside: list[RecordSetAside]

    def __len__(self) -> int:
        return len(self.record_numbers)


class RowMaker:
    """Makes rows of records.

    Parameters
    ----------
    table : CandidateTable
        The built-in one, whose published constants are taken over.
    files : sequence of str
        What the inputs are called, for the source of a boiling point.
    quick : bool
        See `RecordIdentities`; also leaves functional groups, log P and dimers of the vapor out.
    estimator : callable, optional
        Boiling points for SMILES; without it, compounds that have none are set aside.
    """

    def __init__(
        self,
        table: CandidateTable,
        files: Sequence[str],
        quick: bool = False,
        estimator: Estimator | None = None,
    ) -> None:
        self._table = table
        self._files = list(files)
        self._identities = RecordIdentities(table, quick)
        self._likeness = Likeness(table)
        in_commerce = COMMERCE_SHARE * table.weights("commerce")
        self._handed_out = np.maximum(table.weights("classroom") - in_commerce, 0.0)
        self._by_cas = dict(zip(table.text("cas"), table.text("name"), strict=True))
        self._estimator = estimator

    def part(self, chunk: Chunk) -> Part:
        """Return the rows of a chunk, and what of it is set aside."""
        set_aside = list(chunk.set_aside)
        known, stated, others = self._identified(chunk, set_aside)
        estimated, uncertainty = self._estimated(others, chunk.source, set_aside)
        file = self._files[chunk.source]
        pieces = [
            self._known_rows(known, file),
            self._new_rows(stated, np.full(len(stated), CARD_BOILING_POINT), f"given in {file}"),
            self._new_rows(estimated, uncertainty, ESTIMATED),
        ]
        rows = [*known, *stated, *estimated]
        set_aside += [
            RecordSetAside(
                chunk.source, one.record.number, one.smiles, REMARK, f"{one.remark} (row kept)"
            )
            for one in rows
            if one.remark
        ]
        return _joined(pieces, rows, chunk.source, set_aside)

    def _identified(
        self, chunk: Chunk, set_aside: list[RecordSetAside]
    ) -> list[list[IdentifiedRecord]]:
        """Return the compounds of the built-in table, with a boiling point given, and others."""
        kinds: list[list[IdentifiedRecord]] = [[], [], []]
        for record in chunk.records:
            try:
                found = self._identities.identified(record)
                found.celsius = _celsius(record.boiling_point, chunk.unit)
            except RefusedError as refused:
                read = excerpt(refused.read)
                set_aside.append(
                    RecordSetAside(chunk.source, record.number, read, refused.kind, refused.reason)
                )
            else:
                kinds[0 if found.row is not None else 1 + isnan(found.celsius)].append(found)
        return kinds

    def _estimated(
        self, compounds: list[IdentifiedRecord], source: int, set_aside: list[RecordSetAside]
    ) -> tuple[list[IdentifiedRecord], Array]:
        """Estimate boiling points; what is outside the estimate's domain is set aside."""
        if not compounds:
            return [], np.zeros(0)
        reasons: Sequence[str] = ["no boiling point is given, and none is known"] * len(compounds)
        kept, uncertainty = np.zeros(len(compounds), dtype=bool), np.zeros(0)
        if self._estimator is not None:
            found = self._estimator([one.smiles for one in compounds])
            values = np.asarray(found.value_C, dtype=np.float64)
            kept = np.asarray(found.in_domain) & (values > _COLDEST) & (values < _HOTTEST)
            reasons = found.reason
            # More digits would say nothing, and compounds that share them share work in a match.
            uncertainty = _two_digits(np.asarray(found.standard_uncertainty_K)[kept])
            for place in np.flatnonzero(kept).tolist():
                compounds[place].celsius = round(float(values[place]), 1)
        for place in np.flatnonzero(~kept).tolist():
            one, reason = compounds[place], reasons[place] or "cannot be estimated"
            reason = f"{reason}; give a boiling point"
            set_aside.append(
                RecordSetAside(source, one.record.number, one.smiles, NO_BOILING_POINT, reason)
            )
        return [compounds[place] for place in np.flatnonzero(kept).tolist()], uncertainty

    def _known_rows(self, compounds: list[IdentifiedRecord], file: str) -> TableColumns:
        """Return rows with the constants of the built-in table; a boiling point given stands."""
        places = [one.row for one in compounds if one.row is not None]
        rows = TableColumns.of(self._table, places)
        text, numbers = rows.text, rows.numbers
        numbers["classroom"] = self._handed_out[places]
        text["not_bottled"] = [""] * len(places)  # who lists a compound may well hold it
        for place, one in enumerate(compounds):
            text["name"][place] = _name(one, text["name"][place])
            text["cas"][place] = one.checked_cas(text["cas"][place], self._by_cas)
            if isnan(one.celsius):
                continue
            published = numbers["boiling_point_C"][place], numbers["boiling_point_u"][place]
            if doubt := doubt_of_published(*published, one.celsius, file):
                text["set_aside"][place] = doubt
            text["boiling_point_source"][place] = f"given in {file}"
            numbers["boiling_point_C"][place] = one.celsius
            numbers["boiling_point_u"][place] = CARD_BOILING_POINT
            numbers["boiling_point_published"][place] = 1.0
        return rows

    def _new_rows(
        self, compounds: list[IdentifiedRecord], uncertainty: Array, source: str
    ) -> TableColumns:
        """Return rows of compounds that the built-in table lacks."""
        rows = self._likeness.columns(
            np.array([one.celsius for one in compounds]),
            np.array([one.facts.molar_mass for one in compounds]),
            np.array([one.facts.percent for one in compounds]),
        )
        rows.numbers |= {"boiling_point_u": uncertainty, "classroom": np.zeros(len(compounds))}
        for row, one in enumerate(compounds):
            cas = one.checked_cas("", self._by_cas)
            cells: dict[str, str | float] = {
                "name": _name(one, one.smiles),
                "cas": cas,
                "smiles": one.smiles,
                "inchikey": one.inchikey,
                "formula": one.facts.formula,
                "boiling_point_published": float(source != ESTIMATED),
                "boiling_point_source": source,
                "inventories": _inventories(cas),
            }
            rows.fill(row, cells if self._identities.quick else cells | _described(one.mol))
        return rows


def _joined(
    pieces: list[TableColumns],
    compounds: list[IdentifiedRecord],
    source: int,
    set_aside: list[RecordSetAside],
) -> Part:
    """Put the kinds of rows together again, by record."""
    record_numbers = np.array([one.record.number for one in compounds], dtype=np.int64)
    stated = np.array([bool(one.record.boiling_point) for one in compounds], dtype=bool)
    order = np.argsort(record_numbers, kind="stable")
    rows = TableColumns.joined(pieces, order)
    same = zip(rows.text["inchikey"], rows.text["smiles"], strict=True)
    return Part(
        rows,
        _keys([inchikey or smiles for inchikey, smiles in same]),
        stated[order],
        source,
        record_numbers[order],
        sorted(set_aside, key=lambda one: one.number),
    )


def _two_digits(values: Array) -> Array:
    """Return numbers above zero with two digits.

    Examples
    --------
    >>> _two_digits(np.array([3.14159, 27.1828])).tolist()
    [3.1, 27.0]
    """
    unit = 10.0 ** (np.floor(np.log10(values)) - 1.0)
    return np.asarray(np.round(np.round(values / unit) * unit, 6))


def _keys(texts: Sequence[str]) -> NDArray[np.uint64]:
    """Return 128 bits of a hash of each text: none of a billion share them by chance."""
    digests = b"".join(hashlib.blake2b(one.encode(), digest_size=16).digest() for one in texts)
    return np.frombuffer(digests, dtype="<u8").reshape(-1, 2).astype(np.uint64)


def _celsius(text: str, unit: str) -> float:
    """Return a boiling point [degrees Celsius], NaN where none is given.

    Raises
    ------
    RefusedError
        If what stands there is none.
    """
    if not text:
        return nan
    try:
        slope, offset = _IN_KELVIN[unit]
        value = slope * float(text.replace("_", " ")) + offset  # no 1_0, which Python takes for 10
    except (KeyError, ValueError):
        try:
            value = read_quantity(text, "temperature", unit).to("C").value
        except QuantityError as error:
            raise RefusedError(UNREADABLE, text, f"as a boiling point: {error}") from None
    if not (isfinite(value) and _COLDEST < value < _HOTTEST):
        raise RefusedError(UNREADABLE, text, "is not a boiling point of a liquid; check its unit")
    return value


def _name(compound: IdentifiedRecord, otherwise: str) -> str:
    name = " ".join(compound.record.name.split())
    if len(name) > _MAX_NAME_LENGTH:
        compound.remark = f"its name of {len(name)} characters is left out"
        return otherwise
    return name or otherwise


def _inventories(cas: str) -> float:
    """Return how many regulatory inventories list a compound, 0 where its number is not known."""
    if not cas:
        return 0.0
    from identify.compounds.listed import listing_of

    return float(listing_of(cas).inventories)


def _described(mol: Any) -> dict[str, str | float]:
    """Return functional groups, log P and the dimers of the vapor of a compound."""
    from rdkit.Chem import rdMolDescriptors

    from identify.chemistry.groups import functional_groups

    log_p, _ = rdMolDescriptors.CalcCrippenDescriptors(mol)
    return {
        "groups": functional_groups(mol),
        "log_p": float(log_p),
        "log_p_source": ESTIMATED,
        **dimer_cells(mol),
    }
