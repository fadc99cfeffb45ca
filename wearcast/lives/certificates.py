"""Which certificate of its gauge a reading was taken under."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

ANY_VESSEL = ""


def certificate_of(readings: pd.DataFrame, gauges: pd.DataFrame) -> NDArray[np.intp]:
    """Row of `gauges` (from 0) that each reading was taken under, -1 where there is none, shape (n,).

    Of the rows of its label the last one calibrated by then; one that states no day of calibration holds before all
    others. A row of the reading's own vessel goes before one of any.
    """
    found = np.full(len(readings), -1, dtype=np.intp)
    if not len(gauges) or not len(readings):
        return found
    label, vessel = readings["instrument"].to_numpy(), readings["vessel"].to_numpy()
    on = readings["date"].to_numpy()
    since = gauges["calibrated_on"].fillna(pd.Timestamp.min).to_numpy()
    ranked = np.lexsort((np.arange(len(gauges)), since, (gauges["vessel"] != ANY_VESSEL).to_numpy()))
    for k in ranked.tolist():  # the later ones take the place of those before
        of = gauges["vessel"].iat[k]
        mine = (label == gauges["instrument"].iat[k]) & ((vessel == of) | (of == ANY_VESSEL))
        found[mine & (since[k] <= on)] = k
    return found


def with_certified_u(readings: pd.DataFrame, gauges: pd.DataFrame) -> pd.DataFrame:
    """The readings, those without an uncertainty with that of their gauge's certificate [µm, k = 1]."""
    under = certificate_of(readings, gauges)
    if (under < 0).all():
        return readings
    certified = np.where(under >= 0, gauges["u_um"].to_numpy(dtype=np.float64)[under], np.nan)
    return readings.assign(u_um=readings["u_um"].fillna(pd.Series(certified, index=readings.index)))
