"""The standard uncertainty of every reading: as stated or as usual, with the rounding of the gauge."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.quantities import QUANTITIES

UNSTATED_U_UM = 10.0
"""Where neither the reading nor its quantity has one [µm] (judgement)."""


def reading_u_um(readings: pd.DataFrame) -> NDArray[np.float64]:
    """Standard uncertainty of each reading, k = 1 [µm], shape (n,).

    √(u² + step²/12): the stated u or else the default of the quantity, and the rounding to the gauge's step,
    rectangular (JCGM 100:2008, F.2.2.1; clause from memory).

    Parameters
    ----------
    readings : DataFrame
        Rows of `History.readings`.
    """
    stated = readings["u_um"].to_numpy(dtype=np.float64)
    usual = {name: one.default_u_um or UNSTATED_U_UM for name, one in QUANTITIES.items()}
    default = readings["quantity"].map(usual).to_numpy(dtype=np.float64)
    step = readings["step_um"].to_numpy(dtype=np.float64)
    return np.sqrt(np.where(np.isfinite(stated), stated, default) ** 2 + step**2 / 12)
