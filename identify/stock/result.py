"""The result of the check of a stock table: its rows, and the groups that cannot be told apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

from identify.bench.laboratory import Laboratory
from identify.compounds.naming.meaning import Compound
from identify.matching.advise.separation import Narrowed
from identify.notebook.findings import Finding, Severity, any_error
from identify.notebook.serializing import OMITTED, Serializable, plain
from identify.notebook.shown import Shown
from identify.observables.tolerances import Tolerances
from identify.tables.faults import HeadingsRead


@dataclass(frozen=True)
class Change(Serializable):
    """One cell that the corrected copy writes differently.

    Parameters
    ----------
    row : int
        As a spreadsheet counts, the header is 1.
    column, read, written : str
        The column as the file calls it, what stands there, and what the copy has.
    reason : str
    """

    row: int
    column: str
    read: str
    written: str
    reason: str


@dataclass(frozen=True)
class Hazards(Serializable):
    """What published lists say of a liquid: for the instructor, who reads the safety data sheet.

    Parameters
    ----------
    flash_point_C : float
        The lowest of those published; NaN where not known.
    carcinogen : str
        The lists' words; empty where on none.
    exposure_limit_ppm : float
        Eight hours' average; NaN where none is known.
    flash_point_highest_C : float
        The highest of the flash points published; NaN where not known.
    """

    flash_point_C: float = float("nan")
    carcinogen: str = ""
    exposure_limit_ppm: float = float("nan")
    flash_point_highest_C: float = float("nan")

    @property
    def flash_points_C(self) -> tuple[float, ...]:
        """Lowest and highest published flash point, one where they agree, none where unknown."""
        ends = (self.flash_point_C, self.flash_point_highest_C)
        return tuple(dict.fromkeys(round(end) for end in ends if isfinite(end)))


@dataclass(frozen=True)
class Standing(Serializable):
    """How a bottle does in this laboratory, beside the others of its table.

    Parameters
    ----------
    boils_C : float
        At the laboratory's pressure [degrees Celsius].
    margin_K : float
        Of the bath over that.
    nearest : str
        The bottle with another compound that is hardest to tell from it; empty where there is none.
    separation : float
        From that bottle [standard uncertainties of the class's readings].
    """

    boils_C: float
    margin_K: float
    nearest: str = ""
    separation: float = float("nan")


@dataclass(frozen=True)
class Portion(Serializable):
    """How much of one liquid is poured in and used up.

    Parameters
    ----------
    least_g, least_mL : float
        That fills the flask with vapor; NaN mL where the density is not known.
    pour_mL : float
        For one trial: the usual multiple, to half a milliliter.
    class_mL : float
        For all students who are given this bottle.
    is_halogenated : bool
    """

    least_g: float
    least_mL: float
    pour_mL: float
    class_mL: float
    is_halogenated: bool = False


@dataclass(frozen=True)
class PouredInAll(Serializable):
    """What a class pours in all, and what becomes of it.

    Parameters
    ----------
    flask_mL, fills : float
        Of one trial.
    students, trials, students_a_bottle : int
    liquid_mL : float
        Needed of all bottles together.
    waste_mL, halogenated_waste_mL : float
        Condensed in the flasks after the weighing: into the waste container, and that of liquids
        with halogens into one of its own.
    vapor_mL : float
        Driven off into the hood, as liquid.
    unknown : tuple of str
        Bottles whose liquid's density is not known, which are left out of the sums.
    """

    flask_mL: float
    fills: float
    students: int
    trials: int
    students_a_bottle: int
    liquid_mL: float
    waste_mL: float
    halogenated_waste_mL: float
    vapor_mL: float
    unknown: tuple[str, ...] = field(default=(), metadata=OMITTED)


@dataclass(frozen=True)
class StockRow:
    """One bottle of a stock table.

    Parameters
    ----------
    row : int
    label : str
    written : str
        The identity as the file has it.
    compound : Compound or None
        None where the identity means no compound, or several.
    findings : tuple of Finding
    changes : tuple of Change
        What a corrected copy would write.
    hazards : Hazards or None
    standing : Standing or None
        None where the identity means no compound, or nobody knows where it boils.
    not_checked : tuple of str
        What the row does not state, so that nobody could check it.
    portion : Portion or None
        How much of it is poured in; None where the method does not work for it.
    """

    row: int
    label: str
    written: str
    compound: Compound | None
    findings: tuple[Finding, ...] = ()
    changes: tuple[Change, ...] = ()
    hazards: Hazards | None = None
    standing: Standing | None = None
    not_checked: tuple[str, ...] = ()
    portion: Portion | None = None

    @property
    def title(self) -> str:
        """Its label, or the row where it has none."""
        return self.label or f"row {self.row}"

    @property
    def is_wrong(self) -> bool:
        """Whether something in it cannot be right."""
        return any_error(self.findings)

    def to_dict(self) -> dict[str, Any]:
        """Return the row as plain data."""
        known = self.compound
        identity = {
            name: "" if known is None else getattr(known, name)
            for name in ("name", "cas", "smiles", "formula")
        }
        data = {
            "row": self.row,
            "label": self.label,
            "written": self.written,
            "identity": identity,
            "boiling_point_C": None if known is None else known.boiling_point_C,
            "hazards": self.hazards,
            "standing": self.standing,
            "findings": self.findings,
            "changes": self.changes,
            "not_checked": self.not_checked,
            "portion": self.portion,
        }
        return {key: plain(value) for key, value in data.items()}


@dataclass(frozen=True)
class BottleRemark(Serializable):
    """What is found of many bottles alike, said once.

    Parameters
    ----------
    code, severity, message, advice : str
        As of a `Finding`.
    labels : tuple of str
    rows : tuple of int
        Of the file.
    """

    code: str
    severity: Severity
    message: str
    advice: str
    labels: tuple[str, ...]
    rows: tuple[int, ...]

    @property
    def finding(self) -> Finding:
        """The same as a finding."""
        return Finding(self.code, self.severity, self.message, self.advice)


@dataclass(frozen=True)
class BottleGroup(Serializable):
    """Bottles that the class cannot tell apart by what it measures.

    Parameters
    ----------
    labels : tuple of str
        A bottle without a label goes by "row 7".
    rows : tuple of int
        Of the file.
    nearest : float
        Smallest separation of two of them [standard uncertainties].
    confusion : float
        Probability that a reading of one of these two is nearer to the other.
    separated_by : Narrowed or None
        The tolerance at which all of them can be told apart; None where no reading that the class
        makes can do it.
    other_reading : str
        A further measurement that would tell them apart, in words with its numbers; may be empty.
    """

    labels: tuple[str, ...]
    rows: tuple[int, ...]
    nearest: float
    confusion: float
    separated_by: Narrowed | None
    other_reading: str = ""


@dataclass(frozen=True, repr=False)
class StockCheck(Serializable, Shown):
    """The check of a stock table.

    Parameters
    ----------
    file : str
    rows : tuple of StockRow
        Every row of the file that holds anything, in its order.
    groups : tuple of BottleGroup
    findings : tuple of Finding
        Of the table as a whole.
    columns : HeadingsRead
        What its headings were taken for.
    laboratory : Laboratory
    tolerances : Tolerances
    remarks : tuple of BottleRemark
        What is found of many rows alike; it is among their findings too.
    poured : PouredInAll or None
        What a class needs of all bottles, and what waste it makes.
    """

    file: str
    rows: tuple[StockRow, ...]
    groups: tuple[BottleGroup, ...] = ()
    findings: tuple[Finding, ...] = ()
    columns: HeadingsRead = field(default_factory=HeadingsRead)
    laboratory: Laboratory = field(default_factory=Laboratory, metadata=OMITTED)
    tolerances: Tolerances = field(default_factory=Tolerances, metadata=OMITTED)
    remarks: tuple[BottleRemark, ...] = ()
    poured: PouredInAll | None = None

    main_table = "rows"

    @property
    def headline(self) -> str:
        """The check in a few words."""
        wrong = sum(row.is_wrong for row in self.rows)
        return f"{len(self.rows)} bottles, {wrong} wrong, {len(self.groups)} groups alike"

    @property
    def is_wrong(self) -> bool:
        """Whether a row, or the table, cannot be right."""
        return any_error(self.findings) or any(row.is_wrong for row in self.rows)

    @property
    def changes(self) -> Sequence[Change]:
        """What a corrected copy writes differently, row by row."""
        return [change for row in self.rows for change in row.changes]
