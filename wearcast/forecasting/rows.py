"""One shell in service × quantity: everything the forecast says of it, typed; tables and sentences come later."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from wearcast.companions.walls_clearance import Disagreement
from wearcast.forecasting.facts import LifeFacts
from wearcast.forecasting.own import OwnForecasts
from wearcast.forecasting.reasons import class_reasons
from wearcast.forecasting.solved import DATE_QUANTILES, ClassForecast, Early
from wearcast.forecasting.statements import PAST, Facts, statements
from wearcast.forecasting.windows import Window, last_on_or_before
from wearcast.lives.history import EngineAt, EngineKey, History
from wearcast.lives.limits import Limit
from wearcast.lives.shells import Life, Place, natural_order
from wearcast.quantities import BEARINGS, HALVES, QUANTITIES
from wearcast.settings import Settings
from wearcast.units import DAYS_PER_YEAR, H_PER_KH
from wearcast.wear.crossing import QUANTILES
from wearcast.words import Reason

Floats = NDArray[np.float64]

_AT_DATES = tuple(QUANTILES.index(q) for q in DATE_QUANTILES)
"""Where among `QUANTILES` the hours of each date stand."""


@dataclass(frozen=True)
class OwnValues:
    """What the line through this shell's own readings says; NaN where it says nothing."""

    readings: int = 0
    rate_um_per_kh: float = np.nan
    rate_lo90: float = np.nan
    rate_hi90: float = np.nan
    hours_p05: float = np.nan
    hours_p50: float = np.nan
    hours_p95: float = np.nan


@dataclass(frozen=True, eq=False)
class ShellForecast:
    """One shell in service × quantity.

    Attributes
    ----------
    life, governing : int
        Index into `History.lives` and `History.series`; governing is -1 where no point has a limit.
    hours : tuple of float
        Hours to the limit [h] at `QUANTILES`; NaN beyond 200 000 h.
    dates : tuple of date or None
        The same as dates, at `DATE_QUANTILES`; None where too far off or not to be said.
    facts : Facts
        What the statement rests on; `disagree` whatever the doubted readings, in or out, would say.
    facts_with_doubted : Facts or None
        The same with them left in; None where nothing is doubted or the readings disagree anyway.

    The other fields are those of the forecast table (`wearcast.forecasting.table.TABLE`).
    """

    life: int
    governing: int
    vessel: str
    engine: str
    engine_type: str
    bearing: str
    position: str
    half: str
    quantity: str
    shell_size: str
    shell_no: int
    fitted_on: date | None
    shell_h: float
    as_of_date: date
    as_of_running_h: float
    last_opened: date | None
    readings: int
    queries: int
    governing_point: str
    estimate_mm: float
    estimate_u_um: float
    limit_mm: float
    limit_side: str
    limit_source: str
    wear_rate_um_per_kh: float
    wear_rate_u_um_per_kh: float
    hours: tuple[float, ...]
    hours_p10_with_doubted: float
    hours_p10_without_doubted: float
    dates: tuple[date | None, ...]
    next_window: date | None
    p_limit_before_next_window: float
    following_window: date | None
    p_limit_before_following_window: float
    open_at: date | None
    statement: str
    own: OwnValues
    borrowed: float
    reasons: tuple[Reason, ...]
    facts: Facts
    facts_with_doubted: Facts | None

    @property
    def key(self) -> tuple[str, str, str, str, str, str]:
        """What it is of, the same at whatever date."""
        return self.vessel, self.engine, self.bearing, self.position, self.half, self.quantity

    def hours_at(self, percent: int) -> float:
        """Hours within which the limit is reached with that chance in per cent [h]."""
        return self.hours[QUANTILES.index(percent / 100)]

    def date_at(self, percent: int) -> date | None:
        """The date by which it is."""
        return self.dates[DATE_QUANTILES.index(percent / 100)]


@dataclass(frozen=True, eq=False)
class Inputs:
    """What the rows are made from; `disagreeing` has the places whose walls and clearance contradict each other."""

    history: History
    own: OwnForecasts
    windows: dict[EngineKey, tuple[Window, ...]]
    facts: LifeFacts
    disagreeing: Mapping[Place, Disagreement]
    settings: Settings


def forecast_rows(inputs: Inputs, classes: Sequence[ClassForecast]) -> tuple[ShellForecast, ...]:
    """Every shell in service × quantity: engines as their table lists them, then along the shaft."""
    rows = [row for one in classes for row in _of_class(inputs, one)]
    engines = {key: k for k, key in enumerate(inputs.history.engines)}
    return tuple(sorted(rows, key=lambda row: _order(row, engines)))


def _order(row: ShellForecast, engines: Mapping[EngineKey, int]) -> tuple[object, ...]:
    return (
        engines[(row.vessel, row.engine)],
        BEARINGS.index(row.bearing),
        natural_order(row.position),
        (*HALVES, "").index(row.half),
        list(QUANTITIES).index(row.quantity),
    )


@dataclass(frozen=True, eq=False)
class _Shell:
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
    def contradiction(self) -> Disagreement | None:
        """Walls and clearance that contradict each other here, where the life is of one or the other."""
        if self.life.quantity not in ("wall", "clearance"):
            return None
        return self.inputs.disagreeing.get(replace(self.life.place, half=""))

    def date_after(self, years: float, hours: float) -> date | None:
        """The date that many years after as-of; None where it cannot be said or lies past the calendar.

        No hours are no days, whatever the yearly use and known or not.
        """
        if hours <= 0:
            return self.engine.as_of
        if not np.isfinite(years):
            return None
        try:
            return self.engine.as_of + timedelta(days=int(np.floor(years * DAYS_PER_YEAR)))
        except OverflowError:
            return None


def _of_class(inputs: Inputs, of: ClassForecast) -> list[ShellForecast]:
    history, lives, governing, shown = inputs.history, of.lives, of.governing, of.shown
    engines = [history.engine_of(history.lives[k]) for k in lives]
    years = np.full((len(engines), 2), np.nan)
    for k, engine in enumerate(engines):
        ahead = [(one.on - engine.as_of).days / DAYS_PER_YEAR for one in inputs.windows[engine.key][:2]]
        years[k, : len(ahead)] = ahead
    chances = np.stack([of.chance_within(years[:, [j]], of.hours)[:, 0] for j in (0, 1)], axis=1)
    reasons = class_reasons(history, of, inputs.settings)
    found = []
    for k, (index, engine) in enumerate(zip(lives.tolist(), engines, strict=True)):
        limit = history.series[int(shown[k])].limit
        assert limit is not None  # classes are made of series with a limit
        windows = inputs.windows[engine.key]
        shell = _Shell(
            inputs, of, k, index, history.lives[index], engine, windows, limit, bool(governing[k] >= 0)
        )
        found.append(_row(shell, int(governing[k]), chances[k], reasons[k]))
    return found


def _row(shell: _Shell, governing: int, chances: Floats, class_said: tuple[Reason, ...]) -> ShellForecast:
    inputs, of, k, life, engine = shell.inputs, shell.of, shell.k, shell.life, shell.engine
    place, windows, mine = life.place, shell.windows, inputs.facts.rows(shell.index)
    (mean, covariance), (rate, rate_u) = of.moments, of.rate
    hours = tuple((of.hours.hours_kh[k] * H_PER_KH).tolist())
    lost = inputs.history.lost_events(life)
    dates = tuple(
        shell.date_after(float(of.years[k, j]), hours[q]) if not lost else None
        for j, q in enumerate(_AT_DATES)
    )
    open_at = _open_at(windows, dates[0], far_off=engine.use.known and shell.governed and not lost)
    facts, without, with_doubted = _facts(shell, dates[0])
    said, others, other = _statement(facts, without, with_doubted)
    reasons = (
        *([Reason.of("history_incomplete", where=", ".join(one.where for one in lost))] if lost else ()),
        *(_why_past(shell) if PAST in (said, *others) else ()),
        *(Reason.of("also", statement=one) for one in others),
        *([Reason.of("with_doubted", statement=other)] if other else ()),
        *([Reason.of("clearance", text=found.text)] if (found := shell.contradiction) else ()),
        *class_said,
        *([Reason.of("no_upper_bound")] if np.isnan(hours).any() and shell.governed and not lost else ()),
        *([Reason.of("before_any")] if windows and dates[0] and open_at is None else ()),
        *_fixed_hours(shell),
        *([] if engine.use.known else [Reason.of("no_dates")]),
        *(inputs.own.reasons(governing) if shell.governed else ()),
    )
    made = ShellForecast(
        life=shell.index,
        governing=governing,
        vessel=place.vessel,
        engine=place.engine,
        engine_type=engine.engine_type,
        bearing=place.bearing,
        position=place.position,
        half=place.half,
        quantity=life.quantity,
        shell_size=life.shell_size,
        shell_no=life.shell_no,
        fitted_on=life.fitted_on,
        shell_h=engine.as_of_h - life.fitted_h,
        as_of_date=engine.as_of,
        as_of_running_h=engine.as_of_h,
        last_opened=inputs.facts.last_opened(shell.index),
        readings=int(inputs.facts.used[mine].sum()),
        queries=int((~inputs.facts.used[mine]).sum()),
        governing_point=inputs.history.series[governing].point if shell.governed else "",
        estimate_mm=float(shell.limit.value_mm(mean[k, 0])),
        estimate_u_um=float(np.sqrt(covariance[k, 0, 0])),
        limit_mm=shell.limit.limit_mm if shell.governed else np.nan,
        limit_side=shell.limit.side,
        limit_source=shell.limit.source,
        wear_rate_um_per_kh=float(rate[k]),
        wear_rate_u_um_per_kh=float(rate_u[k]),
        hours=hours,
        hours_p10_with_doubted=float(of.early_with_doubted.hours_kh[k]) * H_PER_KH,
        hours_p10_without_doubted=float(of.early_without_doubted.hours_kh[k]) * H_PER_KH,
        dates=dates,
        next_window=windows[0].on if windows else None,
        p_limit_before_next_window=float(chances[0]),
        following_window=windows[1].on if len(windows) > 1 else None,
        p_limit_before_following_window=float(chances[1]),
        open_at=open_at.on if open_at else None,
        statement=said,
        own=_own_values(inputs.own, governing) if shell.governed else OwnValues(),
        borrowed=float(of.borrowed[k]),
        reasons=tuple(dict.fromkeys(reasons)),
        facts=facts,
        facts_with_doubted=with_doubted,
    )
    return _without_forecast(made) if lost else made


def _without_forecast(row: ShellForecast) -> ShellForecast:
    """The row of a shell whose history lost an event: nothing is said of its limit."""
    own = replace(row.own, hours_p05=np.nan, hours_p50=np.nan, hours_p95=np.nan)
    return replace(
        row,
        hours=(np.nan,) * len(row.hours),
        hours_p10_with_doubted=np.nan,
        hours_p10_without_doubted=np.nan,
        p_limit_before_next_window=np.nan,
        p_limit_before_following_window=np.nan,
        own=own,
    )


def _open_at(windows: tuple[Window, ...], early: date | None, far_off: bool) -> Window | None:
    """The last window on or before the early date; the last of all where that date is far off."""
    if early is not None:
        return last_on_or_before(windows, early)
    return windows[-1] if windows and far_off else None


def _own_values(own: OwnForecasts, series: int) -> OwnValues:
    return OwnValues(
        int(own.lines.readings[series]),
        float(own.lines.rate_um_per_kh[series]),
        float(own.lines.rate_lo90[series]),
        float(own.lines.rate_hi90[series]),
        float(own.hours_p05[series]),
        float(own.hours_p50[series]),
        float(own.hours_p95[series]),
    )


def _facts(shell: _Shell, date_p10: date | None) -> tuple[Facts, Facts | None, Facts | None]:
    """The facts of the forecast, and with the doubted readings out and in, where there are any and it matters."""
    index, known, of = shell.index, shell.inputs.facts, shell.of
    running_in_h = shell.inputs.settings.thresholds.running_in_h
    read_past = shell.governed and known.read_past_limit(index)
    level_um = of.moments[0][shell.k, 0]
    made = Facts(
        damage=known.damage(index),
        past=read_past or (shell.governed and bool(level_um >= shell.limit.allowance_um)),
        disagree=of.screened.disagree
        or shell.contradiction is not None
        or bool(shell.inputs.history.lost_events(shell.life)),
        dated=shell.engine.use.known,
        date_p10=date_p10,
        next_window=shell.windows[0].on if shell.windows else None,
        following_window=shell.windows[1].on if len(shell.windows) > 1 else None,
        openings=known.openings_run_in(index, running_in_h),
        governed=shell.governed,
        read_past=read_past,
    )
    if made.disagree or not of.screened.left_out.any():
        return made, None, None
    with_doubted = replace(
        made,
        read_past=shell.governed and known.read_past_limit(index, with_doubted=True),
        openings=known.openings_run_in(index, running_in_h, with_doubted=True),
    )
    return (
        made,
        _half(shell, made, of.early_without_doubted),
        _half(shell, with_doubted, of.early_with_doubted),
    )


def _half(shell: _Shell, facts: Facts, early: Early) -> Facts:
    """The facts by one half of the mixture."""
    stands_past = shell.governed and bool(early.level_um[shell.k] >= shell.limit.allowance_um)
    on = shell.date_after(float(early.years[shell.k]), float(early.hours_kh[shell.k]) * H_PER_KH)
    return replace(facts, past=facts.read_past or stands_past, date_p10=on)


def _statement(
    facts: Facts, without: Facts | None, with_doubted: Facts | None
) -> tuple[str, tuple[str, ...], str]:
    """The statement, the others that hold, and what would be said with the doubted readings, where that differs."""
    plain, other = (statements(one)[0] if one else "" for one in (without, with_doubted))
    differs = plain != other
    said, others = statements(replace(facts, disagree=True) if differs else facts)
    return said, others, other if differs else ""


def _why_past(shell: _Shell) -> list[Reason]:
    """The reading or estimate behind `past limit`."""
    limit_mm = shell.limit.limit_mm
    read = [
        Reason.of("read_past", value_mm=value_mm, point=point, on=on, limit_mm=limit_mm)
        for value_mm, point, on in shell.inputs.facts.past_limit_readings(shell.index)
    ]
    return read or [Reason.of("estimate_past", limit_mm=limit_mm)]


def _fixed_hours(shell: _Shell) -> list[Reason]:
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
