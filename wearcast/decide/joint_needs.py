"""Joint draws of when every shell in service is needed: those of one engine move together."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from wearcast.decide.need_dates import at_windows, years_until
from wearcast.decide.stand import Stand, left_at_counter_h
from wearcast.forecasting.solved import ClassForecast
from wearcast.forecasting.statements import URGENT
from wearcast.units import H_PER_KH

Floats = NDArray[np.float64]

DRAWS, FEWEST_DRAWS = 4000, 500
_NUMBERS_AT_ONCE = 8_000_000  # draws times shells: some 200 MB for level, rate and running-in
SEED = 12_021  # any; the same for both cases of a what-if, so that only the change tells


@dataclass(frozen=True, eq=False)
class JointNeeds:
    """When shells are needed, one draw a row.

    Attributes
    ----------
    lives : tuple of int
        Index into `History.lives`.
    need_years : ndarray, shape (N, k)
        Years from as-of to the last window on or before the limit (to the limit where there is none); inf
        beyond what can be said.
    limit_years : ndarray, shape (N, k)
        Years to the limit itself.
    """

    lives: tuple[int, ...]
    need_years: Floats
    limit_years: Floats

    @cached_property
    def column(self) -> dict[int, int]:
        """Column of every life."""
        return {life: k for k, life in enumerate(self.lives)}

    def of(self, life: int) -> Floats:
        """Need of one shell, array (N,)."""
        return self.need_years[:, self.column[life]]


def joint_needs(stand: Stand, n_draws: int = DRAWS, seed: int = SEED) -> JointNeeds:
    """Draw the needs of all shells in service.

    Rates and levels come from the joint posterior of their class, the yearly use from one draw an engine that
    all its shells share. A shell with damage noted or found past its limit is needed now; the maker's fixed
    hours, where they come first, are what is followed.

    Parameters
    ----------
    n_draws : int
        Fewer in a fleet of many thousand shells, which need fewer for the same share of the total.
    seed : int

    Returns
    -------
    JointNeeds
    """
    n_draws = affordable(n_draws, sum(len(ahead.lives) for ahead in stand.classes))
    rng = np.random.default_rng(seed)
    engines = {key: k for k, key in enumerate(stand.forecast.history.engines)}
    use_z = rng.standard_normal((n_draws, len(engines)))
    lives: list[int] = []
    needs, limits = [np.zeros((n_draws, 0))], [np.zeros((n_draws, 0))]
    for ahead in stand.classes:
        hours = ahead.drawn_hours_kh(n_draws, int(rng.integers(2**32)))
        at = [engines[stand.engine_of(int(k)).key] for k in ahead.lives]
        left_kh = np.array([left_at_counter_h(stand, int(k)) for k in ahead.lives]) / H_PER_KH
        hours = np.minimum(hours, np.where(np.isfinite(left_kh), left_kh, np.inf))
        years = np.maximum(years_until(hours, *ahead.use, use_z[:, at]) - ahead.carried_years, 0.0)
        now = [_now(stand, int(k)) for k in ahead.lives]
        years[:, now] = 0.0
        limits.append(years)
        needs.append(_at_own_windows(stand, ahead, years, now))
        lives += [int(k) for k in ahead.lives]
    return JointNeeds(tuple(lives), np.concatenate(needs, axis=1), np.concatenate(limits, axis=1))


def affordable(n_draws: int, n_shells: int) -> int:
    """Draws that fit in memory, not under `FEWEST_DRAWS` where more were asked for.

    >>> affordable(4000, 100), affordable(4000, 10_000)
    (4000, 800)
    """
    return min(n_draws, max(_NUMBERS_AT_ONCE // max(n_shells, 1), FEWEST_DRAWS))


def _now(stand: Stand, life: int) -> bool:
    """Whether a shell is needed whatever its trend says."""
    row = stand.row_of_life.get(life)
    return row is not None and row.statement in URGENT


def _at_own_windows(stand: Stand, ahead: ClassForecast, years: Floats, now: list[bool]) -> Floats:
    need = years.copy()
    for k, life in enumerate(ahead.lives.tolist()):
        windows = stand.forecast.windows[stand.engine_of(life).key]
        if not now[k]:
            need[:, [k]] = at_windows(years[:, [k]], np.array([stand.years_to(one.on) for one in windows]))
    return need
