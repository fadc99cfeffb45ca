"""What the estimators share: columns known by name, and results as tables by group."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import check_is_fitted

if TYPE_CHECKING:
    from wearcast.wear.grouped import Floats


class WearEstimator(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """What every estimator of this module shares: named columns, and results as tables by group.

    A subclass takes the names of its columns as parameters (at least ``hours`` and ``value``) and sets
    ``table_``, ``coefficients_`` and ``variances_`` when fitted.
    """

    hours: str
    value: str
    table_: pd.DataFrame
    coefficients_: pd.DataFrame
    variances_: pd.DataFrame

    @property
    def table(self) -> pd.DataFrame:
        """One row a group: what the fit says of it in the words of the forecast table."""
        check_is_fitted(self)
        return self.table_

    @property
    def coefficients(self) -> pd.DataFrame:
        """Coefficients of the fit, by group or by term."""
        check_is_fitted(self)
        return self.coefficients_

    @property
    def variances(self) -> pd.DataFrame:
        """Variances of the fit, by group or by term."""
        check_is_fitted(self)
        return self.variances_

    def __sklearn_is_fitted__(self) -> bool:
        return hasattr(self, "table_")

    def __sklearn_tags__(self) -> Any:
        tags = super().__sklearn_tags__()
        tags.input_tags.two_d_array = False  # columns are known by name: a bare array has none
        tags.target_tags.required = False  # the readings are a column of the same table
        return tags

    def _taken(self, X: object, y: ArrayLike | None, columns: list[str]) -> tuple[pd.DataFrame, Floats]:
        """The readings, with every column there that is needed, and their wear [µm]: y, or the column ``value``."""
        frame = self._need(X, [*columns, *([self.value] if y is None else [])])
        wear = self._numbers(
            *((frame, self.value) if y is None else (pd.DataFrame({"y": np.asarray(y)}), "y"))
        )
        self.feature_names_in_ = np.asarray(frame.columns, dtype=object)
        self.n_features_in_ = frame.shape[1]
        return frame, wear

    def _numbers(self, frame: pd.DataFrame, column: str, *, gaps: bool = False) -> Floats:
        """Give a column as numbers, or say which row is none."""
        numbers = pd.to_numeric(frame[column], errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
        wrong = ~np.isfinite(numbers) & (frame[column].notna().to_numpy() if gaps else True)
        if wrong.any():
            row = int(np.flatnonzero(wrong)[0])
            raise ValueError(
                f"column {column!r}, row {row} counted from 0 (of {int(wrong.sum())} such): found "
                f"{frame[column].iloc[row]!r}; expected a finite number. Leave such rows out first."
            )
        return numbers

    @staticmethod
    def _keys(frame: pd.DataFrame, names: list[str]) -> Any:
        """Give the group of each row; one column makes a plain index, several a MultiIndex."""
        if not names:
            return pd.Index(np.zeros(len(frame), dtype=np.intp), name="all")
        if frame[names].isna().to_numpy().any():
            raise ValueError(f"a row without {' or '.join(map(repr, names))} belongs to no group")
        if len(names) == 1:
            return pd.Index(frame[names[0]].to_numpy(), name=names[0])
        return pd.MultiIndex.from_frame(frame[names])

    @staticmethod
    def _need(frame: object, columns: list[str]) -> pd.DataFrame:
        if not isinstance(frame, pd.DataFrame):
            raise TypeError(
                f"a pandas DataFrame with columns {columns} is needed, not {type(frame).__name__}"
            )
        missing = [name for name in columns if name not in frame.columns]
        if missing:
            raise ValueError(f"no column {missing}; found {list(frame.columns)}")
        twice = [name for name in columns if isinstance(frame[name], pd.DataFrame)]
        if twice:
            raise ValueError(f"columns {twice} stand there more than once")
        return frame
