"""Tables that several layers ask for, worked out once for a history and a choice of its readings."""

from __future__ import annotations

import weakref
from collections.abc import Callable
from functools import wraps

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.lives.history import History

_Made = Callable[[History, NDArray[np.bool_]], pd.DataFrame]

_kept: dict[int, dict[tuple[str, bytes], pd.DataFrame]] = {}
"""By the identity of a history that still lives, by table and readings."""


def once(make: _Made) -> _Made:
    """Keep the table for as long as its history lives; every caller gets a copy of its own."""

    @wraps(make)
    def kept(history: History, counted: NDArray[np.bool_]) -> pd.DataFrame:
        if id(history) not in _kept:
            _kept[id(history)] = {}
            weakref.finalize(history, _kept.pop, id(history), None)
        of_history, key = _kept[id(history)], (make.__name__, np.packbits(counted).tobytes())
        if key not in of_history:
            of_history[key] = make(history, counted)
        return of_history[key].copy()

    return kept
