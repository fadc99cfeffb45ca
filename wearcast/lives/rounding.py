"""The step a gauge was read to, found from the digits as they were written."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal, InvalidOperation

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STEPS_UM = (100.0, 50.0, 25.0, 20.0, 10.0, 5.0, 2.0, 1.0)
"""Steps that gauges and feeler leaves are read to [um] (judgement)."""

COARSER = (50, 25, 20, 10, 5, 2)
"""The same in units of the last digit written, whatever the unit."""

BY_CHANCE = 2e-3
"""A step coarser than the last digit is believed where so few sets of readings would keep to it: three different
ones to 10 um where whole um are written (judgement)."""

FINEST_UM = 1.0
"""What gauges of walls show at the finest: digits beyond it, as of converted inches, add no evidence (judgement)."""


def last_digit(text: str) -> float:
    """The step of the last digit of a number as written; 0 where it is no number.

    >>> last_digit("7.980"), last_digit("7980"), last_digit("0,31417")
    (0.001, 1.0, 1e-05)
    """
    try:
        exponent = Decimal(text.strip().replace(",", ".")).as_tuple().exponent
    except InvalidOperation:
        return 0.0
    return float(Decimal(1).scaleb(exponent)) if isinstance(exponent, int) else 0.0


def rounding_steps_um(
    value_um: Floats, written_um: Floats, sets: Iterable[NDArray[np.intp]]
) -> NDArray[np.float64]:
    """The step that each reading was rounded to, whatever unit it was then written in.

    The last digit written, unless the readings of a set all keep to a coarser usual step: to within half a
    last digit, so that 7.98 mm is found in 0.31417 in. A reading that keeps to it by chance is as rare as
    the last digit is finer than the step; equal readings count once.

    Parameters
    ----------
    value_um, written_um : arrays (n,)
        Readings and the step of their last digit [um].
    sets : iterable of int array (n,)
        Numbers of the sets looked at, such as an opening, then all openings of its gauge. The coarsest
        step that one of them bears out holds.

    Returns
    -------
    array (n,)
        [um]

    Examples
    --------
    >>> one = np.zeros(5, dtype=np.intp)
    >>> wall_um = np.array([7980.0, 7975.0, 7960.0, 7985.0, 7990.0])
    >>> float(rounding_steps_um(wall_um, np.ones(5), [one])[0])
    5.0
    """
    found = np.zeros(len(value_um))
    for group in sets:
        found = np.maximum(found, _steps_of(value_um, written_um, group)[group])
    return found


def _steps_of(value_um: Floats, written_um: Floats, group: NDArray[np.intp]) -> Floats:
    """The coarsest step each set bears out, array (sets,) [um]."""
    n_sets = int(group.max(initial=-1)) + 1
    written = np.full(n_sets, np.inf)
    np.minimum.at(written, group, np.where(written_um > 0, written_um, np.inf))
    written = np.where(np.isfinite(written), written, 0.0)
    pairs = np.unique(np.stack([group.astype(np.float64), value_um]), axis=1)
    distinct = np.bincount(pairs[0].astype(np.intp), minlength=n_sets)
    step = written.copy()
    usual = [np.full(n_sets, at) for at in STEPS_UM] + [at * written for at in COARSER]
    for candidate in usual:
        wide = np.where(candidate > 0, candidate, 1.0)[group]
        off = np.abs(value_um - wide * np.round(value_um / wide))
        strays = np.bincount(group, off > 0.5 * written[group] + 1e-6, minlength=n_sets)
        finest = np.where(candidate > FINEST_UM, np.maximum(written, FINEST_UM), written)
        share = finest / np.where(candidate > 0, candidate, 1.0)
        rare = (share < 1.0) & (np.minimum(share, 1.0) ** distinct < BY_CHANCE)
        step = np.where((strays == 0) & rare & (candidate > step), candidate, step)
    return step
