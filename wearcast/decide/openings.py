"""Openings of one window: those of the plan, those that must but may not be, and those worth a look."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from wearcast.decide.fewest import Openings
from wearcast.decide.opening_list import PHOTOGRAPHS, Practice, ToRead, neighbours, to_read
from wearcast.decide.plan_rows import PlanRow
from wearcast.decide.stand import Stand
from wearcast.decide.steps import EngineSteps, PlaceKey
from wearcast.forecasting.windows import Window
from wearcast.lives.history import EngineKey

OFFERED = 3
"""Most openings offered beside the planned ones at a window (judgement)."""

WORTH_A_LOOK = 0.05
"""Chance that a reading changes the plan from which an opening is offered (judgement)."""


@dataclass(frozen=True)
class Opening:
    """One bearing to open at one window.

    Attributes
    ----------
    must : bool
        The last window at which it can be opened under the accepted risk, or there is damage, a limit passed or
        maker's fixed hours run out.
    planned : bool
        The plan opens it; otherwise it is offered.
    rows : tuple of PlanRow
        Its shells and clearances at that window, likeliest first.
    why : tuple of str
    read : tuple of ToRead
    photograph : tuple of str
    neighbours : tuple of str
        Positions beside it, offered where a shell is likely to be renewed.
    """

    key: EngineKey
    window: Window
    until: date
    bearing: str
    position: str
    must: bool
    planned: bool
    rows: tuple[PlanRow, ...]
    why: tuple[str, ...]
    read: tuple[ToRead, ...]
    photograph: tuple[str, ...]
    neighbours: tuple[str, ...]

    @property
    def chance(self) -> float:
        """The largest chance of its shells before the next window."""
        return max((row.chance for row in self.rows if np.isfinite(row.chance)), default=float("nan"))

    def __str__(self) -> str:
        """Bearing and position in words."""
        return f"{self.bearing.replace('_', ' ')} {self.position}"


def openings_at(
    stand: Stand, practice: Practice, engine: EngineSteps, made: Openings, j: int, rows: list[PlanRow]
) -> list[Opening]:
    """Planned openings of one window, then those offered as far as more are allowed."""
    places = list(engine.shells)
    by_place: dict[PlaceKey, list[PlanRow]] = {place: [] for place in places}
    for row in rows:
        by_place[(row.bearing, row.position)].append(row)
    planned = [place for k, place in enumerate(places) if made.opened[k, j]]
    window = engine.windows[j]
    left = (
        0
        if window.row < 0
        else OFFERED
        if window.max_openings is None
        else max(window.max_openings - len(planned), 0)
    )
    opened = {place for k, place in enumerate(places) if made.opened[k, : j + 1].any()}
    left_out = [
        place for place in places if place not in opened and any(row.must_open for row in by_place[place])
    ]
    rest = [
        place
        for place in places
        if place not in opened and place not in left_out and _worth(by_place[place])[0] >= WORTH_A_LOOK
    ]
    offered = sorted(rest, key=lambda place: _worth(by_place[place]), reverse=True)[: min(left, OFFERED)]
    return [
        _opening(stand, practice, engine, j, place, by_place[place], place in planned)
        for place in (*planned, *left_out, *offered)
    ]


def _worth(rows: list[PlanRow]) -> tuple[float, float]:
    """Chance that a reading changes the plan, then how much it narrows."""
    calls = [row.calls for row in rows if np.isfinite(row.calls)]
    narrows = [row.narrows for row in rows if np.isfinite(row.narrows)]
    return round(max(calls, default=0.0), 2), max(narrows, default=0.0)


def _opening(
    stand: Stand,
    practice: Practice,
    engine: EngineSteps,
    j: int,
    place: PlaceKey,
    rows: list[PlanRow],
    planned: bool,
) -> Opening:
    history = stand.forecast.history
    first = tuple(sorted(rows, key=lambda row: -(row.chance if np.isfinite(row.chance) else -1.0)))
    must = any(row.must_open for row in rows)
    beside = neighbours(list(engine.shells), *place) if must else ()
    why = tuple(dict.fromkeys(reason for row in first for reason in row.why))
    if planned and not must:
        why = (*why, "opened here so that it stays under the accepted risk later, when openings are scarce")
    return Opening(
        key=engine.key,
        window=engine.windows[j],
        until=engine.ends[j + 1],
        bearing=place[0],
        position=place[1],
        must=must,
        planned=planned,
        rows=first,
        why=why,
        read=to_read(history, practice, engine.key, *place),
        photograph=PHOTOGRAPHS,
        neighbours=beside,
    )
