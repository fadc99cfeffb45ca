"""Chances between windows of one engine: of the shells in service, and of new ones at the same places."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from wearcast.clock import ahead
from wearcast.decide.stand import Stand, chance_run_within, fixed_hours_h, left_at_counter_h
from wearcast.forecasting.statements import URGENT
from wearcast.forecasting.windows import Window
from wearcast.lives.history import EngineKey
from wearcast.units import DAYS_PER_YEAR, H_PER_KH

Floats = NDArray[np.float64]
PlaceKey = tuple[str, str]
"""Bearing and position within an engine."""


@dataclass(frozen=True, eq=False)
class ShellSteps:
    """Chances of one shell (or clearance, journal, …) of an engine.

    Attributes
    ----------
    life : int
    row_of_class : tuple of int
        Which class of the stand, and which of its shells.
    wear : ndarray, shape (w + 1, w + 2)
        Chance that the limit is reached in the step from node to node (now, windows, end of the horizon).
    fixed : ndarray, the same shape
        Chance that the maker's fixed hours are run in that step; NaN where there are none.
    at_once : str
        Why the place is to be opened at the first chance, whatever the trend; empty where it need not.
    """

    life: int
    row_of_class: tuple[int, int]
    wear: Floats
    fixed: Floats
    at_once: str

    @property
    def chance(self) -> Floats:
        """The larger of the two, and 1 for what should have been opened at the first window."""
        both = np.fmax(self.wear, self.fixed)
        if self.at_once:
            both = both.copy()
            both[0, 1:] = 1.0
        return both


@dataclass(frozen=True, eq=False)
class EngineSteps:
    """One engine over the horizon.

    Attributes
    ----------
    windows : tuple of Window
        Within the horizon.
    ends : tuple of date
        The windows and the end of the horizon.
    shells : mapping of place to its ShellSteps
        In the order of the shaft.
    """

    key: EngineKey
    windows: tuple[Window, ...]
    ends: tuple[date, ...]
    shells: dict[PlaceKey, list[ShellSteps]]

    def of_places(self) -> Floats:
        """Chance by place, the largest of its shells, array (places, w + 1, w + 2)."""
        n = len(self.windows)
        made = np.zeros((len(self.shells), n + 1, n + 2))
        for k, shells in enumerate(self.shells.values()):
            stacked = np.stack([shell.chance for shell in shells])
            made[k] = np.fmax.reduce(stacked, axis=0)
        return np.nan_to_num(made)

    @property
    def most(self) -> Floats:
        """Openings allowed at each window; inf where not limited."""
        return np.array([np.inf if one.max_openings is None else one.max_openings for one in self.windows])


def engine_steps(stand: Stand, horizon_end: date) -> tuple[EngineSteps, ...]:
    """Chances of every engine whose dates can be given, over a horizon."""
    engines = {
        key: stand.windows_to(key, horizon_end)
        for key, engine in stand.forecast.history.engines.items()
        if engine.use.known
    }
    ends = {key: (*(one.on for one in windows), horizon_end) for key, windows in engines.items()}
    made: dict[int, ShellSteps] = {}
    for c in range(len(stand.classes)):
        made |= _of_class(stand, c, ends)
    shells: dict[EngineKey, dict[PlaceKey, list[ShellSteps]]] = {key: {} for key in engines}
    for row in stand.forecast.rows:
        key = (row.vessel, row.engine)
        if key in engines and row.life in made:
            place = (row.bearing, row.position)
            shells[key].setdefault(place, []).append(made[row.life])
    return tuple(EngineSteps(key, windows, ends[key], shells[key]) for key, windows in engines.items())


def _of_class(stand: Stand, c: int, ends: dict[EngineKey, tuple[date, ...]]) -> dict[int, ShellSteps]:
    """Steps of all shells of one class at once; engines have different numbers of windows."""
    ahead = stand.classes[c]
    engines = [stand.engine_of(int(life)) for life in ahead.lives]
    nodes = max((len(on) for on in ends.values()), default=1)
    years = np.full((len(engines), nodes), np.nan)
    for k, engine in enumerate(engines):
        on = ends.get(engine.key, ())
        years[k, : len(on)] = [stand.years_to(one) for one in on]
    start, stop = np.triu_indices(nodes, 1)
    between = years[:, stop] - years[:, start]
    lives = ahead.lives.tolist()
    left_kh = np.array([left_at_counter_h(stand, life) for life in lives]) / H_PER_KH
    whole_kh = np.array([fixed_hours_h(stand, life) for life in lives]) / H_PER_KH
    lost = np.array([bool(stand.forecast.history.lost_events(stand.life(life))) for life in lives])
    since = ahead.since_counter(years)
    serving = (
        np.where(lost[:, None], np.nan, ahead.chance_within(years)),
        chance_run_within(left_kh, since, ahead.use),
    )
    new = (ahead.chance_of_new_shells(between), chance_run_within(whole_kh, between, ahead.use))
    found = {}
    for k, (life, engine) in enumerate(zip(lives, engines, strict=True)):
        if engine.key not in ends:
            continue
        n = len(ends[engine.key])
        wear, fixed = np.full((n, n + 1), np.nan), np.full((n, n + 1), np.nan)
        inside = (stop < n).nonzero()[0]
        for matrix, old, fitted in ((wear, serving[0], new[0]), (fixed, serving[1], new[1])):
            matrix[0, 1:] = old[k, :n]
            matrix[start[inside] + 1, stop[inside] + 1] = fitted[k, inside]
        statement = str(stand.row_of_life[life].statement)
        at_once = statement if statement in URGENT else ""
        found[life] = ShellSteps(life, (c, k), wear, fixed, at_once)
    return found


def horizon_from(as_of: date, years: float) -> date:
    """The end of a horizon of so many years; raises as `clock.ahead` does."""
    return as_of + timedelta(days=round(ahead(years * DAYS_PER_YEAR, "The horizon")))
