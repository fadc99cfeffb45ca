"""From solved classes to typed rows: one function fills a row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from wearcast.forecasting.own import OwnForecasts
from wearcast.forecasting.reasons import class_reasons
from wearcast.forecasting.rows import OwnValues, ShellForecast
from wearcast.forecasting.solved import DATE_QUANTILES, ClassForecast
from wearcast.forecasting.stands_on import Inputs, Shell, fixed_hours, stands_on, why_past
from wearcast.forecasting.statements import beside, rests_on, statement
from wearcast.forecasting.unlimited import unlimited_rows
from wearcast.forecasting.windows import Window, last_on_or_before
from wearcast.lives.history import EngineKey
from wearcast.lives.shells import natural_order
from wearcast.quantities import BEARINGS, HALVES, QUANTITIES
from wearcast.units import DAYS_PER_YEAR, H_PER_KH
from wearcast.wear.crossing import QUANTILES
from wearcast.words import Reason

Floats = NDArray[np.float64]

_AT_DATES = tuple(QUANTILES.index(q) for q in DATE_QUANTILES)
"""Where among `QUANTILES` the hours of each date stand."""


def forecast_rows(inputs: Inputs, classes: Sequence[ClassForecast]) -> tuple[ShellForecast, ...]:
    """Every shell in service × quantity: engines as their table lists them, then along the shaft."""
    rows = [row for one in classes for row in _of_class(inputs, one)] + unlimited_rows(inputs)
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


def _of_class(inputs: Inputs, of: ClassForecast) -> list[ShellForecast]:
    history, lives, governing, shown = inputs.history, of.lives, of.governing, of.shown
    engines = [history.engine_of(history.lives[k]) for k in lives]
    years = np.full((len(engines), 2), np.nan)
    for k, engine in enumerate(engines):
        ahead = [(one.on - engine.as_of).days / DAYS_PER_YEAR for one in inputs.windows[engine.key][:2]]
        years[k, : len(ahead)] = ahead
    chances = of.chance_within(years)
    reasons = class_reasons(history, of, inputs.settings)
    found = []
    for k, (index, engine) in enumerate(zip(lives.tolist(), engines, strict=True)):
        limit = history.series[int(shown[k])].limit
        assert limit is not None  # classes are made of series with a limit
        windows = inputs.windows[engine.key]
        shell = Shell(
            inputs, of, k, index, history.lives[index], engine, windows, limit, bool(governing[k] >= 0)
        )
        found.append(_row(shell, int(governing[k]), chances[k], reasons[k]))
    return found


def _row(shell: Shell, governing: int, chances: Floats, class_said: tuple[Reason, ...]) -> ShellForecast:
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
    stands = stands_on(shell, dates[0])
    facts, other = stands.facts, stands.other
    reasons = (
        *([Reason.of("history_incomplete", where=", ".join(one.where for one in lost))] if lost else ()),
        *(why_past(shell) if facts.past else ()),
        *(Reason.of("also", statement=one) for one in beside(facts)),
        *([Reason.of("with_doubted", statement=other)] if other else ()),
        *([Reason.of("clearance", text=found.text)] if (found := shell.contradiction) else ()),
        *class_said,
        *([Reason.of("no_upper_bound")] if np.isnan(hours).any() and shell.governed and not lost else ()),
        *([Reason.of("before_any")] if windows and dates[0] and open_at is None else ()),
        *fixed_hours(shell),
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
        p_by_now=float(of.by_now[k]) if shell.governed else np.nan,
        statement=statement(facts),
        rests_on=rests_on(facts),
        own=_own_values(inputs.own, governing) if shell.governed else OwnValues(),
        borrowed=float(of.borrowed[k]),
        reasons=tuple(dict.fromkeys(reasons)),
        facts=facts,
        without_doubted=stands.without,
        with_doubted=stands.within,
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
        p_by_now=np.nan,
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
