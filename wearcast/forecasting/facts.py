"""What was read and seen in one shell life: the facts a statement rests on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from wearcast.lives.dials import as_date, days
from wearcast.lives.history import EngineKey, History, Series
from wearcast.lives.shells import Event, Life, Place
from wearcast.quantities import QUANTITIES

Rows = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class LifeFacts:
    """Readings and events of a history, looked up by life.

    Attributes
    ----------
    used : ndarray of bool, shape (n readings,)
        Readings in the forecast; the others are left out by a query.
    screened : ndarray of bool, shape (n readings,)
        Those of the others that the model, not their mere size, has put in doubt.
    """

    history: History
    used: NDArray[np.bool_]
    screened: NDArray[np.bool_]

    @cached_property
    def _rows_of_life(self) -> list[Rows]:
        life = self.history.readings["life"].to_numpy(dtype=np.intp)
        order = np.argsort(life, kind="stable")
        cuts = np.searchsorted(life[order], np.arange(len(self.history.lives) + 1))
        return [order[start:stop] for start, stop in pairwise(cuts)]

    @cached_property
    def _measured(self) -> NDArray[np.bool_]:
        return (self.history.readings["table"] == "readings").to_numpy(dtype=bool)

    @cached_property
    def _day(self) -> NDArray[np.int64]:
        return days(self.history.readings["date"])

    @cached_property
    def _value_mm(self) -> NDArray[np.float64]:
        return self.history.readings["value_20_mm"].to_numpy(dtype=np.float64)

    @cached_property
    def _shell_h(self) -> NDArray[np.float64]:
        return self.history.readings["shell_h"].to_numpy(dtype=np.float64)

    @cached_property
    def _series(self) -> NDArray[np.intp]:
        return self.history.readings["series"].to_numpy(dtype=np.intp)

    @cached_property
    def _events_of_engine(self) -> dict[EngineKey, list[Event]]:
        found: dict[EngineKey, list[Event]] = {}
        for event in self.history.events:
            found.setdefault((event.place.vessel, event.place.engine), []).append(event)
        return found

    def rows(self, life: int) -> Rows:
        """Rows of the readings of a life."""
        return self._rows_of_life[life]

    def _events_at(self, life: Life) -> list[Event]:
        key = (life.place.vessel, life.place.engine)
        return [event for event in self._events_of_engine.get(key, []) if concerns(event.place, life.place)]

    def last_opened(self, index: int) -> date | None:
        """The last day this place was opened in this life, whether or not anything was read."""
        life = self.history.lives[index]
        rows = self.rows(index)
        read = self._day[rows[self._measured[rows]]]
        on = [as_date(int(read.max()))] if len(read) else []
        on += [
            event.on
            for event in self._events_at(life)
            if event.on is not None and (life.fitted_on is None or event.on >= life.fitted_on)
        ]
        return max(on, default=None)

    def _read(self, index: int, with_doubted: bool) -> Rows:
        """Rows of the readings of a life that count, or of all that a fitted model could take in."""
        rows = self.rows(index)
        counted = self.used if not with_doubted else self.used | self.screened
        return rows[self._measured[rows] & counted[rows]]

    def read_past_limit(self, index: int, with_doubted: bool = False) -> bool:
        """Whether an undoubted or confirmed reading of the last opening stands at or past its limit."""
        return bool(self.past_limit_readings(index, with_doubted))

    def past_limit_readings(self, index: int, with_doubted: bool = False) -> list[tuple[float, str, date]]:
        """Readings of the last opening at or past their limit: value [mm], point and day."""
        rows = self._read(index, with_doubted)
        if not len(rows):
            return []
        last = rows[self._day[rows] == self._day[rows].max()]
        found = []
        for row in last.tolist():
            one = self.history.series[int(self._series[row])]
            value_mm = float(self._value_mm[row])
            if self._reached(one, value_mm):
                found.append((value_mm, one.point, as_date(int(self._day[row]))))
        return found

    def _reached(self, one: Series, value_mm: float) -> bool:
        """Whether a reading stands at or past its limit, or at or past the limit of the other side."""
        if one.limit is None or not one.governs:
            return False
        limit = one.limit
        other = self.history.limits.other_side(
            limit.engine_type, limit.bearing, limit.half, limit.quantity, limit.shell_size
        )
        return limit.reached_by(value_mm) or (other is not None and other.reached_by(value_mm))

    def openings_run_in(self, index: int, running_in_h: float, with_doubted: bool = False) -> int:
        """Openings of a life at ages past the running-in; where the age is unknown all count."""
        rows = self._read(index, with_doubted)
        return len(set(self._day[rows[~(self._shell_h[rows] <= running_in_h)]].tolist()))

    def damage(self, index: int) -> bool:
        """Whether damage was found in a life; what is found on the day it began is of the shell taken out."""
        life = self.history.lives[index]
        return any(
            event.kind == "finding"
            and (not event.place.half or QUANTITIES[life.quantity].name != "journal_diameter")
            and (
                life.shell_no == 1 or life.fitted_on is None or event.on is None or event.on > life.fitted_on
            )
            for event in self._events_at(life)
        )


def concerns(event_at: Place, life_at: Place) -> bool:
    """Whether an event at one place concerns a life at another: same bearing, and no other half."""
    return (event_at.bearing, event_at.position) == (life_at.bearing, life_at.position) and (
        not event_at.half or not life_at.half or event_at.half == life_at.half
    )
