"""Lengths at the reference temperature of 20 °C (ISO 1)."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from wearcast.quantities import QUANTITIES

REFERENCE_C = 20.0
"""Reference temperature for lengths (ISO 1)."""

STEEL_PER_K = 11.5e-6
"""Expansion of steel [1/K] (handbook value, common practice)."""

CORRECTED = tuple(one.name for one in QUANTITIES.values() if one.at_20_c)
"""Large diameters; a wall of 8 mm moves 0.9 µm in 10 K and is left as read."""

IGNORED_NOTE = "the temperature of a wall is shown and not used: 10 K move 8 mm of steel by 0.9 µm"


def at_20_c(value_mm: ArrayLike, temperature_c: ArrayLike) -> NDArray[np.float64]:
    """Lengths of steel at 20 °C [mm], same shape as `value_mm`.

    Parameters
    ----------
    value_mm : array_like
        Lengths as read [mm].
    temperature_c : array_like
        Temperature of the part [°C]; NaN leaves the length as read.

    Notes
    -----
    Assumes that the gauge was set at 20 °C or reads true at any temperature.

    Examples
    --------
    >>> round(float(at_20_c(220.0, 30.0)), 4)  # 25 µm in 10 K
    219.9747
    """
    value = np.asarray(value_mm, dtype=np.float64)
    above_k = np.nan_to_num(np.asarray(temperature_c, dtype=np.float64) - REFERENCE_C, nan=0.0)
    return np.asarray(value / (1.0 + STEEL_PER_K * above_k))


def value_at_20_mm(readings: pd.DataFrame) -> NDArray[np.float64]:
    """Values of readings [mm], diameters of journals and housings corrected to 20 °C, shape (n,)."""
    value = readings["value_mm"].to_numpy(dtype=np.float64)
    corrected = readings["quantity"].isin(CORRECTED).to_numpy()
    return np.where(corrected, at_20_c(value, readings["temperature_c"].to_numpy(dtype=np.float64)), value)
