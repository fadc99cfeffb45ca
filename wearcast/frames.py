"""Small helpers for DataFrames at the borders, where no type checker knows the columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd


def rows_of(frame: pd.DataFrame) -> Iterator[Any]:
    """Rows as named tuples."""
    # With no row pandas still takes every column apart, which shows where many frames are empty.
    return iter(frame.itertuples(index=False) if len(frame) else ())


def records_of(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as dictionaries by column name."""
    return [{str(name): value for name, value in row.items()} for row in frame.to_dict("records")]


def groups_of(frame: pd.DataFrame, keys: Sequence[str]) -> Iterator[tuple[tuple[Any, ...], pd.DataFrame]]:
    """Groups of rows that agree in all of several columns, in order of first appearance."""
    for key, index in row_numbers_of(frame, keys).items():
        yield key, frame.iloc[index]


def row_numbers_of(frame: pd.DataFrame, keys: Sequence[str]) -> dict[tuple[Any, ...], NDArray[np.int64]]:
    """Row numbers (from 0) of the rows that agree in all of several columns, in order of first appearance."""
    if not len(frame):
        return {}
    number = frame.groupby(list(keys), sort=False, dropna=False).ngroup().to_numpy()
    order = np.argsort(number, kind="stable")
    parts = np.split(order, np.flatnonzero(np.diff(number[order])) + 1)
    columns = [frame[key].to_numpy() for key in keys]
    return {tuple(column[part[0]] for column in columns): part for part in parts}
