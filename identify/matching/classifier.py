"""The match as a scikit-learn classifier, for pipelines, cross-validation and searches."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sklearn.base import BaseEstimator, ClassifierMixin
from sklearn.utils.multiclass import check_classification_targets
from sklearn.utils.validation import check_is_fitted

from identify.bench.bench import Bench
from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher, kept_matcher
from identify.matching.posterior import Posterior
from identify.matching.ranking import warned
from identify.matching.settings import DEFAULT_PRIOR, MatchSettings, Prior
from identify.matching.slips import search
from identify.matching.totals import OUTSIDE
from identify.notebook.errors import RunFault, UnusableInput
from identify.notebook.measurement import Measurement
from identify.observables.error.technique import Technique
from identify.observables.tolerances import Tolerances
from identify.tables.frames import as_pandas, is_frame

if TYPE_CHECKING:
    import pandas as pd

    from identify.tables.faults import Fault

NONE_OF_THESE = "none of these"
"""The class of a liquid that is not among the candidates."""

_Identifier = Literal["inchikey", "name", "cas"]

# Say who measured what; nothing is learned from them.
_ASIDE = ("label", "student")


class UnknownClassifier(ClassifierMixin, BaseEstimator):
    """Names unknown liquids from measurements; its classes are the candidates.

    Parameters
    ----------
    candidates : CandidateTable, path, frame or list of str, optional
        As for `identify.load_candidates`; the built-in table where not given.
    tolerances : Tolerances, optional
        The defaults where not given.
    prior : {"classroom", "commerce", "uniform"}
        As for `identify.match`.
    identifier : {"inchikey", "name", "cas"}
        What classes are called. Compounds that share one are one class; one without it goes by
        its InChIKey.
    columns : sequence of str, optional
        Names of the columns of plain arrays, for steps of a pipeline that give no frame.
    outside : str or float, default=0.01
        As for `identify.match`.

    Attributes
    ----------
    classes_ : array of str, shape (n_classes,)
        The candidates and `NONE_OF_THESE`, sorted.
    n_features_in_ : int
    feature_names_in_ : array of str
        The columns seen in `fit`.

    Notes
    -----
    ``X`` is a frame (pandas, polars, Arrow) with the columns of a trial table (``molar_mass``,
    ``boiling_point_C``, ``percent_C``, or the weighings ``empty_g``, ``condensed_g``, ``bath_C``,
    ``room_C``, ``pressure_mmHg``, ``volume_mL``, and others), one row an unknown; missing values
    are what was not measured. Columns ``label`` and ``student`` are not looked at, so that each
    row stands for itself. An array of numbers does too where ``columns`` says what they are.
    Faults count rows from 1.

    Nothing is learned from data: `fit` loads the candidates and takes note of the columns. Scores
    that need probabilities ask for ``labels=classes_``, since few of the classes occur in ``y``;
    for the same reason ``cross_val_predict(method="predict_proba")`` is called without ``y``.

    Examples
    --------
    >>> import pandas as pd
    >>> measured = pd.DataFrame({"molar_mass": [46.0, 59.1], "boiling_point_C": [78.4, 56.3]})
    >>> named = UnknownClassifier(identifier="name").fit(measured)
    >>> named.predict(measured).tolist()
    ['ethanol', 'acetone']
    >>> float(named.score(measured, ["ethanol", "acetone"]))
    1.0
    """

    def __init__(
        self,
        candidates: CandidateTable | str | os.PathLike[str] | Any | None = None,
        tolerances: Tolerances | None = None,
        prior: Prior = DEFAULT_PRIOR,
        identifier: _Identifier = "inchikey",
        columns: Sequence[str] | None = None,
        outside: str | float = OUTSIDE,
        technique: Technique | str | None = None,
    ) -> None:
        self.candidates = candidates
        self.tolerances = tolerances
        self.prior = prior
        self.identifier = identifier
        self.columns = columns
        self.outside = outside
        self.technique = technique

    def fit(self, X: pd.DataFrame | ArrayLike, y: ArrayLike | None = None) -> UnknownClassifier:
        """Load the candidates, and take note of the columns.

        Parameters
        ----------
        X : pandas.DataFrame or array, shape (n_samples, n_features)
            One row an unknown, see the class.
        y : array of str, shape (n_samples,), optional
            What the unknowns are; checked to be among the classes, and not learned from.

        Returns
        -------
        UnknownClassifier
            Itself.

        Raises
        ------
        ValueError
            If ``X`` has no rows, a row cannot be used, ``y`` has another length or a compound
            that is not a candidate, or a parameter is not one of its values.
        TypeError
            If ``X`` is neither frame nor array, or an array without ``columns``, or a parameter is
            of another type.
        """
        if self.identifier not in ("inchikey", "name", "cas"):
            raise UnusableInput(
                f'identifier: "{self.identifier}" is not one of inchikey, name, cas'
            )
        table, tolerances = self.candidates, self.tolerances
        if not isinstance(table, CandidateTable):
            table = load_candidates(table)
        self.table_ = table
        self.settings_ = MatchSettings.of(tolerances, self.prior, self.outside, self.technique)
        names = np.array(self._names(), dtype=object)
        self.classes_, self._class_of = np.unique(
            np.append(names, NONE_OF_THESE).astype(str), return_inverse=True
        )
        frame = self._frame(X)
        runs = _runs(frame)
        self.feature_names_in_ = np.array([str(name) for name in frame.columns], dtype=object)
        self.n_features_in_ = len(self.feature_names_in_)
        if y is not None:
            self._check_classes(np.asarray(y), len(runs))
        return self

    def predict_proba(self, X: pd.DataFrame | ArrayLike) -> NDArray[np.float64]:
        """Return the probability of each class.

        Parameters
        ----------
        X : pandas.DataFrame or array, shape (n_samples, n_features)
            With the columns seen in `fit`.

        Returns
        -------
        array, shape (n_samples, n_classes)
            In the order of ``classes_``; rows sum to one. A row at which the program itself failed
            is NaN, and warned of.

        Raises
        ------
        ValueError
            If the columns are others, or a row cannot be used.
        TypeError
            If ``X`` is neither frame nor array, or an array without ``columns``.
        sklearn.exceptions.NotFittedError
            Before `fit`.
        """
        check_is_fitted(self, "classes_")
        return np.array(list(self._probabilities(X)))

    def predict(self, X: pd.DataFrame | ArrayLike) -> NDArray[np.str_]:
        """Return the most probable class of each unknown, shape (n_samples,).

        An empty text stands for a row at which the program itself failed; it is warned of.
        Parameters and errors are those of `predict_proba`.
        """
        check_is_fitted(self, "classes_")
        # One row at a time: those of a thousand unknowns together fill 100 MB.
        answers = [_chosen(row) for row in self._probabilities(X)]
        named: NDArray[np.str_] = np.append(self.classes_, "")[answers]
        return named

    def __sklearn_tags__(self) -> Any:
        tags = super().__sklearn_tags__()
        # Columns have names and units, and physics behind them: numbers alone will not do.
        tags.input_tags.two_d_array = self.columns is not None
        tags.input_tags.allow_nan = True
        tags.target_tags.required = False
        tags.requires_fit = True
        return tags

    def _matcher(self) -> Matcher:
        return kept_matcher(self.table_, self.settings_)

    def _probabilities(self, X: pd.DataFrame | ArrayLike) -> Iterator[NDArray[np.float64]]:
        """Yield the probability of each class, row by row."""
        runs = _runs(self._frame(X), self.feature_names_in_.tolist())
        matcher = self._matcher()
        failed: list[RunFault] = []
        for run in runs:
            try:
                yield self._of_classes(run, matcher)
            except Exception as error:
                failed.append(RunFault.of(f"X, {run.label}", error))
                yield np.full(len(self.classes_), np.nan)
        warned(failed)

    def _of_classes(self, run: Measurement, matcher: Matcher) -> NDArray[np.float64]:
        posterior = search(run, Posterior.of(matcher.evidence(Bench.of(run)))).posterior
        shares = np.append(posterior.probability, posterior.none_of_these)
        summed = np.zeros(len(self.classes_))
        np.add.at(summed, self._class_of, shares)
        return summed

    def _frame(self, X: object) -> pd.DataFrame:
        """Return X as it is where it has named columns, else under those given beforehand."""
        if is_frame(X):
            return as_pandas(X)
        if self.columns is None:
            raise TypeError(
                f"a {type(X).__name__} has no named columns; give a frame with columns "
                "such as molar_mass, boiling_point_C, percent_C, or their names as columns=(…)"
            )
        if hasattr(X, "tocsr"):
            raise TypeError("X is a sparse array; give a dense one, with NaN for what was not read")
        import pandas as pd

        values, names = np.asarray(X), list(self.columns)
        if values.dtype.kind == "c":
            raise UnusableInput("Complex data not supported: readings are real numbers")
        if values.ndim != 2:
            raise UnusableInput(
                f"X has {values.ndim} dimensions, two are required. Reshape your data: one row an "
                "unknown, one column a reading"
            )
        if not values.shape[1]:
            raise UnusableInput(
                f"X has 0 feature(s) (shape={values.shape}) while a minimum of 1 is required."
            )
        if values.shape[1] != len(names):
            raise UnusableInput(
                f"X has {values.shape[1]} features, but UnknownClassifier is expecting "
                f"{len(names)} features as input: {', '.join(map(str, names))}"
            )
        return pd.DataFrame(values, columns=names)

    def _names(self) -> list[str]:
        keys = self.table_.text("inchikey")
        smiles = self.table_.text("smiles")
        names = self.table_.text(self.identifier)
        return [
            name or key or written for name, key, written in zip(names, keys, smiles, strict=True)
        ]

    def _check_classes(self, y: NDArray[Any], samples: int) -> None:
        if y.shape != (samples,):
            raise UnusableInput(f"y has the shape {y.shape}, X has {samples} rows")
        check_classification_targets(y)
        known = set(self.classes_.tolist())
        for row, name in enumerate(y.tolist(), start=1):
            if str(name) not in known:
                raise UnusableInput(
                    f'y, row {row}: "{name}" is not a candidate by its {self.identifier}; use '
                    f'"{NONE_OF_THESE}" for a liquid that is not in the table'
                )


def _chosen(probabilities: NDArray[np.float64]) -> int:
    """Return the place of the most probable class, -1 where there is no answer."""
    return -1 if np.isnan(probabilities[0]) else int(probabilities.argmax())


def _runs(frame: pd.DataFrame, columns: Sequence[str] | None = None) -> Sequence[Measurement]:
    """Read one unknown a row.

    Raises
    ------
    ValueError
        If there are no rows, the columns are others, or a row cannot be used.
    """
    from identify.tables import runs_from_frame

    given = [str(name) for name in frame.columns]
    if columns is not None and given != list(columns):
        raise UnusableInput(
            f"the columns are {', '.join(given)}; the classifier was fitted with "
            f"{', '.join(columns)}, in this order"
        )
    if not len(frame):
        raise UnusableInput("X has no rows; a minimum of 1 is required")
    readings = frame.loc[:, [name.strip().lower() not in _ASIDE for name in given]].copy()
    readings.insert(0, "label", [f"row {row}" for row in range(1, len(frame) + 1)])
    read = runs_from_frame(readings)
    if read.faults:
        raise UnusableInput(_in_rows_of_x(read.faults))
    return read.measurements


def _in_rows_of_x(faults: Sequence[Fault]) -> str:
    first, *rest = faults
    # The column names are row 1 of a file, and not a row of a frame.
    row = None if first.row in (None, 1) else first.row - 1
    more = f" (and {len(rest)} more)" if rest else ""
    return f"{replace(first, file='X', row=row)}{more}"
