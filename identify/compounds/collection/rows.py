"""Records to rows of a candidate table, a chunk at a time."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import isfinite, isnan, nan
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from identify.compounds.collection.identity import (
    IdentifiedRecord,
    RecordIdentities,
    RefusedError,
    checked_cas,
)
from identify.compounds.published.likeness import Likeness
from identify.compounds.table import ESTIMATED, NUMBER_COLUMNS, TEXT_COLUMNS, CandidateTable
from identify.notebook.quantities import QuantityError, excerpt, read_quantity
from identify.notebook.usual import CARD_BOILING_POINT
from identify.physics.constants import ELEMENTS, ICE_POINT
from identify.tables.stated import doubt_of_published
from identify.tables.structures.source import REMARK, UNREADABLE, Chunk, SetAside

Array = NDArray[np.float64]

OUT_OF_DOMAIN = "no boiling point"
_COLDEST, _HOTTEST = -273.0, 2000.0  # degrees Celsius, as the table of candidates bounds it
_LONGEST_NAME = 500  # characters
_IN_KELVIN = {"C": (1.0, 0.0), "K": (1.0, -ICE_POINT), "F": (5.0 / 9.0, -160.0 / 9.0)}


class Estimates(Protocol):
    """Boiling points from structure, arrays of shape (n,)."""

    @property
    def value_C(self) -> Array:
        """In degrees Celsius."""

    @property
    def standard_uncertainty_K(self) -> Array:
        """In kelvins."""

    @property
    def in_domain(self) -> NDArray[np.bool_]:
        """Where there is an estimate."""

    @property
    def reason(self) -> Sequence[str]:
        """Why there is none."""


Estimator = Callable[[Sequence[str]], Estimates]


@dataclass
class Part:
    """The rows of one chunk.

    Parameters
    ----------
    text : dict of str to list of str
        The columns of ``TEXT_COLUMNS``.
    numbers : dict of str to array
        The columns of ``NUMBER_COLUMNS`` but the prior, which needs the whole table.
    keys : array of uint64, shape (n, 2)
        What rows of the same compound share.
    stated : array of bool, shape (n,)
        Whether the boiling point is the file's.
    source : int
    record_numbers : array of int64, shape (n,)
    set_aside : list of SetAside
        By record.
    """

    text: dict[str, list[str]]
    numbers: dict[str, Array]
    keys: NDArray[np.uint64]
    stated: NDArray[np.bool_]
    source: int
    record_numbers: NDArray[np.int64]
    set_aside: list[SetAside] = field(default_factory=list)

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
        See `RecordIdentities`; also leaves functional groups and log P out.
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
        self._by_cas = dict(zip(table.text("cas"), table.text("name"), strict=True))
        self._estimator = estimator

    def part(self, chunk: Chunk) -> Part:
        """Return the rows of a chunk, and what of it is set aside."""
        set_aside = list(chunk.set_aside)
        compounds = []
        for record in chunk.records:
            try:
                compound = self._identities.compound(record)
                compound.celsius = _celsius(record.boiling_point, chunk.unit)
            except RefusedError as refused:
                set_aside.append(_set_aside(chunk.source, record.number, refused))
            else:
                compounds.append(compound)
        known = [one for one in compounds if one.place >= 0]
        stated = [one for one in compounds if one.place < 0 and not isnan(one.celsius)]
        others = [one for one in compounds if one.place < 0 and isnan(one.celsius)]
        estimated, uncertainty = self._estimated(others, chunk.source, set_aside)
        file = self._files[chunk.source]
        pieces = [
            self._known_rows(known, file),
            self._new_rows(stated, np.full(len(stated), CARD_BOILING_POINT), f"given in {file}"),
            self._new_rows(estimated, uncertainty, ESTIMATED),
        ]
        rows = [*known, *stated, *estimated]
        for one in rows:
            if one.remark:
                remark = SetAside(
                    chunk.source, one.record.number, one.smiles, REMARK, f"{one.remark} (row kept)"
                )
                set_aside.append(remark)
        return _joined(pieces, rows, chunk.source, set_aside)

    def _estimated(
        self, compounds: list[IdentifiedRecord], source: int, set_aside: list[SetAside]
    ) -> tuple[list[IdentifiedRecord], Array]:
        """Estimate boiling points; what is outside the estimate's domain is set aside."""
        if not compounds:
            return [], np.zeros(0)
        if self._estimator is None:
            reasons = ["no boiling point is given, and none is known"] * len(compounds)
            kept: list[int] = []
            uncertainty = np.zeros(0)
        else:
            found = self._estimator([one.smiles for one in compounds])
            values = np.asarray(found.value_C, dtype=np.float64)
            sound = np.asarray(found.in_domain) & (values > _COLDEST) & (values < _HOTTEST)
            reasons = list(found.reason)
            kept = np.flatnonzero(sound).tolist()
            # More digits would say nothing, and compounds that share them share work in a match.
            uncertainty = _two_digits(np.asarray(found.standard_uncertainty_K)[kept])
            for place in kept:
                compounds[place].celsius = round(float(values[place]), 1)
        for place in sorted(set(range(len(compounds))) - set(kept)):
            one = compounds[place]
            reason = f"{reasons[place] or 'cannot be estimated'}; give a boiling point"
            set_aside.append(SetAside(source, one.record.number, one.smiles, OUT_OF_DOMAIN, reason))
        return [compounds[place] for place in kept], uncertainty

    def _known_rows(self, compounds: list[IdentifiedRecord], file: str) -> _Piece:
        """Return rows with the constants of the built-in table; a boiling point given stands."""
        table = self._table
        places = np.array([one.place for one in compounds], dtype=np.int64)
        numbers = {column: table.number(column)[places] for column in NUMBER_COLUMNS}
        text = {
            column: [table.text(column)[place] for place in places.tolist()]
            for column in TEXT_COLUMNS
        }
        for row, one in enumerate(compounds):
            text["name"][row] = _name(one, text["name"][row])
            text["cas"][row] = checked_cas(one, text["cas"][row], self._by_cas)
            if isnan(one.celsius):
                continue
            published = numbers["boiling_point_C"][row], numbers["boiling_point_u"][row]
            if doubt := doubt_of_published(*published, one.celsius, file):
                text["set_aside"][row] = doubt
            text["boiling_point_source"][row] = f"given in {file}"
            numbers["boiling_point_C"][row] = one.celsius
            numbers["boiling_point_u"][row] = CARD_BOILING_POINT
            numbers["boiling_point_published"][row] = 1.0
        return _Piece(text, numbers)

    def _new_rows(
        self, compounds: list[IdentifiedRecord], uncertainty: Array, source: str
    ) -> _Piece:
        """Return rows of compounds that the built-in table lacks."""
        size = len(compounds)
        numbers = {column: np.full(size, nan) for column in NUMBER_COLUMNS}
        text = {column: [""] * size for column in TEXT_COLUMNS}
        if not size:
            return _Piece(text, numbers)
        percent = np.array([one.composition.percent for one in compounds])
        molar_mass = np.array([one.composition.molar_mass for one in compounds])
        boiling_point = np.array([one.celsius for one in compounds])
        constants = self._likeness.constants(boiling_point, molar_mass, percent)
        numbers |= constants.columns()
        numbers |= {f"percent_{e}": p for e, p in zip(ELEMENTS, percent.T, strict=True)}
        numbers["molar_mass"] = molar_mass
        numbers["boiling_point_C"] = boiling_point
        numbers["boiling_point_u"] = uncertainty
        numbers["boiling_point_published"] = np.full(size, float(source != ESTIMATED))
        text |= constants.sources()
        text["boiling_point_source"] = [source] * size
        text["name"] = [_name(one, one.smiles) for one in compounds]
        text["cas"] = [checked_cas(one, "", self._by_cas) for one in compounds]
        text["smiles"] = [one.smiles for one in compounds]
        text["inchikey"] = [one.inchikey for one in compounds]
        text["formula"] = [one.composition.formula for one in compounds]
        numbers["inventories"] = np.array([_inventories(cas) for cas in text["cas"]])
        if not self._identities.quick:
            text["groups"], numbers["log_p"] = _described(compounds)
            text["log_p_source"] = [ESTIMATED] * size
        return _Piece(text, numbers)


@dataclass
class _Piece:
    """Rows of one kind."""

    text: dict[str, list[str]]
    numbers: dict[str, Array]


def _joined(
    pieces: list[_Piece], compounds: list[IdentifiedRecord], source: int, set_aside: list[SetAside]
) -> Part:
    """Put the kinds of rows together again, by record."""
    record_numbers = np.array([one.record.number for one in compounds], dtype=np.int64)
    order = np.argsort(record_numbers, kind="stable")
    places = order.tolist()
    text = {}
    for column in TEXT_COLUMNS:
        cells = [cell for piece in pieces for cell in piece.text[column]]
        is_same = cells and cells.count(cells[0]) == len(cells)
        text[column] = cells if is_same else [cells[place] for place in places]
    numbers = {
        column: np.concatenate([piece.numbers[column] for piece in pieces])[order]
        for column in NUMBER_COLUMNS
        if column != "prior"
    }
    shared = [key or smiles for key, smiles in zip(text["inchikey"], text["smiles"], strict=True)]
    stated = np.array([bool(one.record.boiling_point) for one in compounds], dtype=bool)
    return Part(
        text,
        numbers,
        _keys(shared),
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
        raise RefusedError(UNREADABLE, text, "is no boiling point of a liquid; check its unit")
    return value


def _name(compound: IdentifiedRecord, otherwise: str) -> str:
    name = " ".join(compound.record.name.split())
    if len(name) > _LONGEST_NAME:
        compound.remark = f"its name of {len(name)} characters is left out"
        return otherwise
    return name or otherwise


def _inventories(cas: str) -> float:
    """Return how many regulatory inventories list a compound, 0 where its number is not known."""
    if not cas:
        return 0.0
    from identify.compounds.published.literature import inventories_listing

    return float(inventories_listing(cas))


def _described(compounds: Sequence[IdentifiedRecord]) -> tuple[list[str], Array]:
    """Return functional groups and log P of compounds."""
    from rdkit.Chem import rdMolDescriptors

    from identify.chemistry.groups import functional_groups

    mols: list[Any] = [one.mol for one in compounds]
    log_p = [float(rdMolDescriptors.CalcCrippenDescriptors(mol)[0]) for mol in mols]
    return [functional_groups(mol) for mol in mols], np.array(log_p)


def _set_aside(source: int, number: int, refused: RefusedError) -> SetAside:
    return SetAside(source, number, excerpt(refused.read), refused.kind, refused.reason)
