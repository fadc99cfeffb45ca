"""Tables kept with their history: asked for once, never shared, gone when the history is."""

from __future__ import annotations

import gc
import weakref

import numpy as np
import pandas as pd

from wearcast.companions.once import once


class _History:
    """Anything that keeps tables."""

    def __init__(self) -> None:
        self.tables: dict = {}


def test_worked_out_once_for_the_same_readings_and_never_shared() -> None:
    asked = []

    @once
    def table(history, counted):
        asked.append(counted.sum())
        return pd.DataFrame({"n": [int(counted.sum())]})

    history, other = _History(), _History()
    few, many = np.array([True, False, False]), np.array([True, True, False])
    first = table(history, few)
    first["n"] = 99
    assert table(history, few)["n"].tolist() == [1]
    assert table(history, many)["n"].tolist() == [2]
    assert table(other, few)["n"].tolist() == [1]
    assert asked == [1, 2, 1]


def test_kept_no_longer_than_the_history() -> None:
    made = pd.DataFrame({"n": [1]})
    kept = weakref.ref(made)

    @once
    def table(history, counted):
        nonlocal made
        given, made = made, None
        return given

    history = _History()
    table(history, np.ones(2, dtype=bool))
    assert kept() is not None
    del history
    gc.collect()
    assert kept() is None
