"""Small helpers for DataFrames at the borders, where no type checker knows the columns."""

from __future__ import annotations

from collections import namedtuple
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd


def rows_of(frame: pd.DataFrame) -> Iterator[Any]:
    """Rows as named tuples, without what pandas' own way takes a frame of few rows and many columns."""
    return map(_row_type(tuple(map(str, frame.columns)))._make, _cells(frame)) if len(frame) else iter(())


@lru_cache(maxsize=256)
def _row_type(names: tuple[str, ...]) -> Any:
    return namedtuple("Row", names, rename=True)  # columns are known at run time only


def _cells(frame: pd.DataFrame) -> Iterator[tuple[Any, ...]]:
    """The cells of each row, as Python's own numbers, words and dates."""
    return zip(*(column.tolist() for _, column in frame.items()), strict=True)


def records_of(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as dictionaries by column name."""
    names = [str(name) for name in frame.columns]
    return [dict(zip(names, cells, strict=True)) for cells in _cells(frame)] if names else [{}] * len(frame)


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
