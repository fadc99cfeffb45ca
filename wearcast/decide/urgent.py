"""Places the plan cannot keep under the accepted risk, or that are past it already, and what would keep each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from itertools import pairwise

import numpy as np

from wearcast.decide.fewest import Openings
from wearcast.decide.parts import PAIR, PartKey, spare_parts
from wearcast.decide.stand import Stand
from wearcast.decide.steps import EngineSteps
from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.statements import MAY_BE_PAST, URGENT, WITHIN_A_YEAR
from wearcast.forecasting.words import place_in_words
from wearcast.lives.history import EngineKey
from wearcast.units import DAYS_PER_YEAR
from wearcast.words import chance as chance_words
from wearcast.words import stated_share


@dataclass(frozen=True)
class Warned:
    """A place that is past or above the accepted risk, or an engine without dates or windows.

    Attributes
    ----------
    bearing, position, place : str
        Empty where it is the engine; `place` is the shell in words.
    what, how : str
        What holds there, and what would keep it.
    between : str
        What stands between the two in a sentence.
    """

    key: EngineKey
    bearing: str
    position: str
    place: str
    what: str
    how: str = ""
    between: str = "; "

    def __str__(self) -> str:
        """One sentence."""
        name = " ".join(filter(None, (*self.key, self.place)))
        return f"{name}: {self.what}{self.between if self.how else ''}{self.how}."


class Urgent:
    """What is said of a stand at an accepted risk."""

    def __init__(self, stand: Stand, risk: float) -> None:
        self.stand = stand
        self.risk = risk

    def said(self, planned: dict[EngineKey, tuple[EngineSteps, Openings]]) -> tuple[Warned, ...]:
        """Place by place, engine by engine: past or perhaps past now, then what comes too late."""
        found: list[Warned] = []
        for key, engine in self.stand.forecast.history.engines.items():
            windows = self.stand.forecast.windows[key]
            rows = [row for row in self.stand.forecast.rows if (row.vessel, row.engine) == key]
            if not engine.use.known:
                found.append(
                    Warned(key, "", "", "", "no yearly use is known, so there are no dates and no plan")
                )
            elif not windows:
                found.append(
                    Warned(
                        key, "", "", "", f"no window is listed ahead ({self.stand.forecast.going_on[key]})"
                    )
                )
            first = windows[0].on if windows else None
            now = {*URGENT, MAY_BE_PAST} | (set() if windows and engine.use.known else {WITHIN_A_YEAR})
            over = tuple(self._over(*planned[key])) if key in planned else ()
            told = {one.place for one in over}
            for row in rows:
                if row.statement in now or row.p_by_now >= self.risk:
                    warned = self._now(row, first)
                    if (
                        row.statement != WITHIN_A_YEAR
                        or row.p_by_now >= self.risk
                        or warned.place not in told
                    ):
                        found.append(warned)
            found += over
        return tuple(found)

    def _now(self, row: ShellForecast, first: date | None) -> Warned:
        by_now = ""
        if row.statement not in URGENT and np.isfinite(row.p_by_now):
            by_now = f" (reached by now with a chance of {chance_words(row.p_by_now, self.risk)})"
        if first is None:
            how = "no window is listed: find a chance to open it"
        else:
            days = (first - self.stand.as_of).days
            how = f"the first window is {first}, in {days} days: find an earlier chance to open it"
        return self._warned(row, f"{row.statement}{by_now}", f"{how}{self._store(row)}")

    @staticmethod
    def _warned(row: ShellForecast, what: str, how: str, between: str = "; ") -> Warned:
        key = (row.vessel, row.engine)
        place = place_in_words(row).removeprefix(f"{row.vessel} {row.engine} ")
        return Warned(key, row.bearing, row.position, place, what, how, between)

    def _over(self, engine: EngineSteps, made: Openings) -> Iterator[Warned]:
        """Places that no choice of windows keeps under the accepted risk."""
        rows = self.stand.row_of_life
        for k, shells in enumerate(engine.shells.values()):
            if not made.over[k] or not engine.windows:
                continue
            worst = max(shells, key=lambda one: float(np.nan_to_num(one.chance[0, 1])))
            row, first = rows[worst.life], engine.windows[0]
            before = float(np.nan_to_num(worst.chance[0, 1]))
            if any(one.at_once for one in shells) or row.p_by_now >= self.risk:
                if not made.opened[k, 0] and made.opened[:, 0].sum() >= engine.most[0]:
                    taken = f"the openings allowed on {first.on} are taken by others"
                    yield self._warned(row, taken, "one more there would keep it")
            elif before > self.risk:
                by = self._reached.get(worst.life)
                chance = f"{chance_words(before, self.risk)}, above the accepted {stated_share(self.risk)}"
                yield self._warned(
                    row,
                    f"the limit falls before the first window ({first}) with a chance of {chance}",
                    f"an opening{f' by {by}' if by else ' before'} would keep it{self._store(row)}",
                    ": ",
                )
            else:
                yield self._between(engine, made, k, row)

    def _between(self, engine: EngineSteps, made: Openings, k: int, row: ShellForecast) -> Warned:
        """A stay between two openings that is too long, or an opening that is not allowed."""
        nodes = [0, *(np.flatnonzero(made.opened[k]) + 1).tolist(), len(engine.windows) + 1]
        chance = engine.of_places()[k]
        start, stop = max(pairwise(nodes), key=lambda step: chance[step])
        full = [
            window
            for j, window in enumerate(engine.windows)
            if start <= j < stop - 1 and made.opened[:, j].sum() >= engine.most[j]
        ]
        if full:
            keeps = f"one more opening allowed on {full[0].on} would keep it"
        else:
            after = engine.ends[start - 1] if start else self.stand.as_of
            keeps = f"a further window between {after} and {engine.ends[stop - 1]} would keep it"
        left = chance_words(float(made.worst[k]), self.risk)
        return self._warned(
            row, f"the windows and openings allowed leave a chance of {left}", f"{keeps}{self._store(row)}"
        )

    @cached_property
    def _reached(self) -> dict[int, date]:
        """The day by which the chance of each shell reaches the accepted risk."""
        found = {}
        for ahead in self.stand.classes:
            for life, years in zip(ahead.lives.tolist(), ahead.years_at(self.risk).tolist(), strict=True):
                if np.isfinite(years):
                    engine = self.stand.engine_of(life)
                    found[life] = engine.last_counter_on + timedelta(days=int(years * DAYS_PER_YEAR))
        return found

    @cached_property
    def _parts(self) -> dict[PartKey, int]:
        store = spare_parts(self.stand.forecast.history.records.spares)
        held: dict[PartKey, int] = {}
        for part in store:
            held[part.key] = held.get(part.key, 0) + part.on_hand
        return held

    def _store(self, row: ShellForecast) -> str:
        """That no shell of its size lies in store, where one would be put in."""
        if row.quantity != "wall":
            return ""
        key = PartKey(row.engine_type, row.bearing, row.half, row.shell_size.casefold())
        held = self._parts.get(key, 0) + self._parts.get(key._replace(half=PAIR), 0)
        return "" if held else ", and a shell in store: none of its size is held"
