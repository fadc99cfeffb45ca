"""What one class says of its shells in service: level, rate, hours and dates to the limit."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from wearcast.forecasting.classes import ClassKey

Floats = NDArray[np.float64]

QUANTILES = (0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95)
"""Chances at which hours to the limit are given; the small ones are the early, cautious end."""

DATE_QUANTILES = (0.10, 0.50, 0.90)


@dataclass(frozen=True, eq=False)
class WithDoubted:
    """What would be said with the doubted readings left in, arrays over the k shell lives in service.

    Attributes
    ----------
    any : bool
        False where the class has no doubted reading, so nothing differs.
    hours_p10 : ndarray, shape (k,)
        The 10 % hour [h].
    years_p10 : ndarray, shape (k,)
        Years to the 10 % date.
    level_um : ndarray, shape (k,)
        Wear at as-of at the governing point.
    """

    any: bool
    hours_p10: Floats
    years_p10: Floats
    level_um: Floats


@dataclass(frozen=True, eq=False)
class Outlook:
    """The forecast of one class, arrays over its k shell lives in service.

    Attributes
    ----------
    lives : ndarray of int, shape (k,)
        Index into `History.lives`.
    governing : ndarray of int, shape (k,)
        Series that reaches its limit first; -1 where no point has a limit.
    shown : ndarray of int, shape (k,)
        The governing series, or the first of the life where none governs.
    level_um, level_u_um, rate_um_per_kh, rate_u_um_per_kh : ndarray, shape (k,)
        Wear at as-of and its rate at the governing point, and their standard uncertainties.
    hours : ndarray, shape (k, 7)
        Hours to the limit [h] at `QUANTILES`; NaN beyond the horizon.
    with_doubted : WithDoubted
        The early end with the doubted readings left in.
    years : ndarray, shape (k, 3)
        Years from as-of to the limit at `DATE_QUANTILES`; NaN where too far or undated.
    p_next, p_following : ndarray, shape (k,)
        Chance that the limit is reached before the next and the following window; NaN where none.
    borrowed : ndarray, shape (k,)
        Var(rate | all readings) / Var(rate | all but this shell's own).
    reasons : tuple of tuple of str
        What widened or moved each forecast.
    doubted : ndarray of int
        Rows of `History.readings` left out as doubted.
    disagree : bool
        More readings of the class would have to be doubted than may be left out.
    """

    key: ClassKey
    lives: NDArray[np.intp]
    governing: NDArray[np.intp]
    shown: NDArray[np.intp]
    level_um: Floats
    level_u_um: Floats
    rate_um_per_kh: Floats
    rate_u_um_per_kh: Floats
    hours: Floats
    with_doubted: WithDoubted
    years: Floats
    p_next: Floats
    p_following: Floats
    borrowed: Floats
    reasons: tuple[tuple[str, ...], ...]
    doubted: NDArray[np.intp] = field(default_factory=lambda: np.empty(0, dtype=np.intp))
    disagree: bool = False
