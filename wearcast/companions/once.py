"""Tables that several layers ask for, worked out once for a history and a choice of its readings."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.lives.history import History

_Made = Callable[[History, NDArray[np.bool_]], pd.DataFrame]


def once(make: _Made) -> _Made:
    """Keep the table with its history (`History.tables`); every caller gets a copy of its own."""

    @wraps(make)
    def kept(history: History, counted: NDArray[np.bool_]) -> pd.DataFrame:
        key = (make.__name__, np.packbits(counted).tobytes())
        if key not in history.tables:
            history.tables[key] = make(history, counted)
        return history.tables[key].copy()

    return kept
