"""Joint draws of when every shell in service is needed: those of one engine move together."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from wearcast.decide.need_dates import at_windows, years_until
from wearcast.decide.stand import Stand, chance_run_within, fixed_hours_h, left_at_counter_h
from wearcast.forecasting.statements import URGENT
from wearcast.lives.history import EngineKey
from wearcast.units import DAYS_PER_YEAR, H_PER_KH

Floats = NDArray[np.float64]

DRAWS, FEWEST_DRAWS = 4000, 500
_NUMBERS_AT_ONCE = 8_000_000  # draws times shells: some 200 MB for level, rate and running-in
AGAIN_YEARS = 5.0
LEAST_AGAIN = 1e-3
"""Chance that a new shell reaches its limit in the longest period, from which it is drawn too (judgement)."""
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
    again_years : ndarray, shape (N, k)
        The same of the shell put in then; inf where it cannot be needed in any period asked for.
    limit_years : ndarray, shape (N, k)
        Years to the limit itself.
    """

    lives: tuple[int, ...]
    need_years: Floats
    again_years: Floats
    limit_years: Floats

    @cached_property
    def column(self) -> dict[int, int]:
        """Column of every life."""
        return {life: k for k, life in enumerate(self.lives)}

    def of(self, lives: tuple[int, ...]) -> Floats:
        """First and second need of a place by any of its lives, array (N, 2)."""
        at = [self.column[life] for life in lives if life in self.column]
        both = (self.need_years[:, at], self.again_years[:, at])
        return np.stack([part.min(axis=1, initial=np.inf) for part in both], axis=1)


def joint_needs(
    stand: Stand, n_draws: int = DRAWS, seed: int = SEED, within_years: float = AGAIN_YEARS
) -> JointNeeds:
    """Draw the needs of all shells in service.

    Rates and levels come from the joint posterior of their class, the yearly use from one draw an engine that
    all its shells share, the time of windows where none is listed from one draw a vessel. A shell with damage noted or
    found past its limit is needed now; the maker's fixed hours, where they come first, are what is followed.

    Parameters
    ----------
    n_draws : int
        Fewer in a fleet of many thousand shells, which need fewer for the same share of the total.
    seed : int
    within_years : float
        The longest period asked for: classes whose new shells cannot reach their limit in it are not drawn twice.

    Returns
    -------
    JointNeeds
    """
    n_draws = affordable(n_draws, sum(len(ahead.lives) for ahead in stand.classes))
    rng = np.random.default_rng(seed)
    history = stand.forecast.history
    engines = {key: k for k, key in enumerate(history.engines)}
    vessels = {vessel: k for k, vessel in enumerate(dict.fromkeys(key[0] for key in engines))}
    use_z = rng.standard_normal((n_draws, len(engines)))
    phase = rng.random((n_draws, len(vessels)))
    lives: list[int] = []
    needs, again, limits = ([np.zeros((n_draws, 0))] for _ in range(3))
    for ahead in stand.classes:
        mine = ahead.lives.tolist()
        keys = [stand.engine_of(k).key for k in mine]
        z = use_z[:, [engines[key] for key in keys]]
        lasts = [_Windows.of(stand, key, phase[:, [vessels[key[0]]]]) for key in keys]
        hours = ahead.drawn_hours_kh(n_draws, int(rng.integers(2**32)))
        left_kh = np.array([left_at_counter_h(stand, k) for k in mine]) / H_PER_KH
        whole_kh = np.array([fixed_hours_h(stand, k) for k in mine]) / H_PER_KH
        hours = np.fmin(hours, left_kh)
        years = np.maximum(years_until(hours, *ahead.use, z) - ahead.carried_years, 0.0)
        now = [_now(stand, k) for k in mine]
        years[:, now] = 0.0
        need = _each(lasts, years, now)
        second = np.full_like(need, np.inf)
        spans = np.full((len(mine), 1), within_years)
        soon = np.fmax(ahead.chance_of_new_shells(spans), chance_run_within(whole_kh, spans, ahead.use))
        if np.nan_to_num(soon).max(initial=0.0) > LEAST_AGAIN:
            fresh = np.fmin(ahead.drawn_hours_of_new_kh(n_draws, int(rng.integers(2**32))), whole_kh)
            second = _each(lasts, need + years_until(fresh, *ahead.use, z), [False] * len(mine))
        limits.append(years)
        needs.append(need)
        again.append(second)
        lives += mine
    return JointNeeds(tuple(lives), *(np.concatenate(part, axis=1) for part in (needs, again, limits)))


@dataclass(frozen=True, eq=False)
class _Windows:
    """Windows of one engine in years from now: those listed ahead, the last of all draw by draw, and the spacing."""

    ahead: Floats
    last: Floats
    every: float

    @staticmethod
    def of(stand: Stand, key: EngineKey, phase: Floats) -> _Windows:
        going_on = stand.forecast.going_on[key]
        every = going_on.every_days / DAYS_PER_YEAR
        ahead = np.array([stand.years_to(one.on) for one in stand.forecast.windows[key]])
        last = phase * every if going_on.last is None else np.full_like(phase, stand.years_to(going_on.last))
        return _Windows(ahead, last, every)


def _each(windows: list[_Windows], years: Floats, now: list[bool]) -> Floats:
    need = years.copy()
    for k, one in enumerate(windows):
        if not now[k]:
            need[:, [k]] = at_windows(years[:, [k]], one.ahead, one.last, one.every)
    return need


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
