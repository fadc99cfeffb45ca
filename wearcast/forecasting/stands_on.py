"""What a row stands on: its facts, with the doubted readings in and out, and the reasons behind `past limit`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from wearcast.companions.walls_clearance import Disagreement
from wearcast.forecasting.facts import LifeFacts
from wearcast.forecasting.own import OwnForecasts
from wearcast.forecasting.solved import EARLY, ClassForecast, Early
from wearcast.forecasting.statements import Facts, statement
from wearcast.forecasting.windows import Window
from wearcast.lives.history import EngineAt, EngineKey, History
from wearcast.lives.limits import Limit
from wearcast.lives.shells import Life, Place
from wearcast.settings import Settings
from wearcast.units import DAYS_PER_YEAR, H_PER_KH
from wearcast.words import Reason

YEAR_H = 24 * DAYS_PER_YEAR
"""Hours of a year that never stops."""


@dataclass(frozen=True, eq=False)
class Inputs:
    """What the rows are made from; `disagreeing` has the places whose walls and clearance contradict each other."""

    history: History
    own: OwnForecasts
    windows: dict[EngineKey, tuple[Window, ...]]
    facts: LifeFacts
    disagreeing: Mapping[Place, Disagreement]
    settings: Settings


@dataclass(frozen=True, eq=False)
class Shell:
    """One of the shells of a class while its row is made."""

    inputs: Inputs
    of: ClassForecast
    k: int
    index: int
    life: Life
    engine: EngineAt
    windows: tuple[Window, ...]
    limit: Limit
    governed: bool

    @property
    def estimated(self) -> bool:
        """Whether there is an estimate with a limit: a reading of the class stands behind it."""
        return self.governed and not self.of.unread

    @property
    def contradiction(self) -> Disagreement | None:
        """Walls and clearance that contradict each other here, where the life is of one or the other."""
        if self.life.quantity not in ("wall", "clearance"):
            return None
        return self.inputs.disagreeing.get(replace(self.life.place, half=""))

    def date_after(self, years: float, hours: float) -> date | None:
        """The date so many years after the last counter reading; None where it cannot be said or is past the calendar.

        No hours are no days, whatever the yearly use and known or not.
        """
        if not np.isfinite(years) and not hours <= 0:
            return None
        try:
            return self.engine.last_counter_on + timedelta(
                days=int(np.floor(np.nan_to_num(years) * DAYS_PER_YEAR))
            )
        except OverflowError:
            return None


@dataclass(frozen=True)
class Stands:
    """Facts of a row, those of its halves where something is doubted, and what the doubted would say instead."""

    facts: Facts
    without: Facts | None = None
    within: Facts | None = None
    other: str = ""


def stands_on(shell: Shell, date_p10: date | None) -> Stands:
    """The facts of the forecast, and with the doubted readings out and in, where there are any and it matters."""
    index, known, of, k = shell.index, shell.inputs.facts, shell.of, shell.k
    running_in_h = shell.inputs.settings.thresholds.running_in_h
    read_past = shell.governed and known.read_past_limit(index)
    lost = bool(shell.inputs.history.lost_events(shell.life))
    hours_p10 = np.nan if lost else float(of.hours.hours_kh[k, EARLY]) * H_PER_KH
    made = _following(
        shell,
        Facts(
            damage=known.damage(index),
            past=False,
            may_be_past=False,
            dated=shell.engine.use.known,
            date_p10=None,
            next_window=shell.windows[0].on if shell.windows else None,
            following_window=shell.windows[1].on if len(shell.windows) > 1 else None,
            within_a_year=False,
            governed=shell.governed,
            disagree=of.screened.disagree or shell.contradiction is not None or lost,
            changed_rate=bool(of.changed_at[k]),
            openings=known.openings_run_in(index, running_in_h),
            read_past=read_past,
        ),
        date_p10,
        hours_p10,
        float(of.moments[0][k, 0]),
        np.nan if lost else float(of.by_now[k]),
    )
    if made.disagree or not of.screened.left_out.any():
        return Stands(made)
    let_in = replace(
        made,
        read_past=shell.governed and known.read_past_limit(index, with_doubted=True),
        openings=known.openings_run_in(index, running_in_h, with_doubted=True),
    )
    without = _half(shell, made, of.early_without_doubted)
    within = _half(shell, let_in, of.early_with_doubted)
    if statement(without) == statement(within):
        return Stands(made, without, within)
    return Stands(replace(made, disagree=True), without, within, statement(within))


def _half(shell: Shell, facts: Facts, early: Early) -> Facts:
    """The facts by one half of the mixture."""
    hours, years, level_um, by_now = (float(part[shell.k]) for part in early)
    on = shell.date_after(years, hours * H_PER_KH)
    return _following(shell, facts, on, hours * H_PER_KH, level_um, by_now)


def _following(
    shell: Shell, facts: Facts, on: date | None, hours_p10: float, level_um: float, by_now: float
) -> Facts:
    """The facts with what follows from the early date and hours, the level and the chance by now.

    Where no chance can be given though a limit governs, the limit may be passed. An estimate that no reading of the
    class stands behind is a guess at a design life: it may be past, it does not say that it is.
    """
    soon = (on - shell.engine.as_of).days < DAYS_PER_YEAR if on else hours_p10 < YEAR_H
    return replace(
        facts,
        past=facts.read_past or (shell.estimated and level_um >= shell.limit.allowance_um),
        may_be_past=shell.governed and not by_now < shell.inputs.settings.risk,
        date_p10=on,
        within_a_year=soon,
    )


def why_past(shell: Shell) -> list[Reason]:
    """The reading or estimate behind `past limit`."""
    limit_mm = shell.limit.limit_mm
    read = [
        Reason.of("read_past", value_mm=value_mm, point=point, on=on, limit_mm=limit_mm)
        for value_mm, point, on in shell.inputs.facts.past_limit_readings(shell.index)
    ]
    return read or [Reason.of("estimate_past", limit_mm=limit_mm)]


def fixed_hours(shell: Shell) -> list[Reason]:
    """The maker's fixed hours, where there are any."""
    fixed_h = shell.limit.renew_at_h
    if not np.isfinite(fixed_h):
        return []
    left_h = fixed_h - (shell.engine.as_of_h - shell.life.fitted_h)
    if not np.isfinite(left_h):
        return [Reason.of("fixed_hours_age_unknown", hours=fixed_h)]
    if left_h <= 0:
        return [Reason.of("fixed_hours_reached", hours=fixed_h)]
    return [Reason.of("fixed_hours", hours=fixed_h, left=left_h)]
