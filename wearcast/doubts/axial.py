"""An axial clearance too small to run with."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wearcast.companions.axial_clearance import too_small
from wearcast.doubts.family import Found, confirmed, query_of
from wearcast.frames import rows_of
from wearcast.lives.history import History


def find_axial_too_small(history: History, counted: NDArray[np.bool_]) -> Found:
    """Axial clearances at or below their minimum; they count, for they may well be right."""
    sure = confirmed(history)
    found = [one for one in too_small(history, counted) if not sure[one.at]]
    rows = rows_of(history.readings.iloc[[one.at for one in found]])
    ask = "Do not run before it is measured again and put right; then correct or confirm the reading."
    return Found(
        tuple(
            query_of(
                row,
                "axial_minimum",
                f"{one.text}.",
                ask,
                (one.value_mm - one.minimum.limit_mm) * 1000 / one.u_um,
            )
            for one, row in zip(found, rows, strict=True)
        )
    )
