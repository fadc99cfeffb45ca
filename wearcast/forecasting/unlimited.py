"""Rows of what has no limit in the limits table: the line through its own readings, never a forecast."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from wearcast.companions.uncertainty import reading_u_um
from wearcast.forecasting.own import tau_now_h, with_hours_error
from wearcast.forecasting.rows import OwnValues, ShellForecast
from wearcast.forecasting.solved import DATE_QUANTILES
from wearcast.forecasting.stands_on import Inputs
from wearcast.forecasting.statements import Facts, beside, rests_on, statement
from wearcast.lives.history import History
from wearcast.quantities import CROWN_POINTS, QUANTITIES
from wearcast.units import H_PER_KH, UM_PER_MM
from wearcast.wear.crossing import QUANTILES
from wearcast.wear.own_line import OwnLines, fit_lines
from wearcast.words import Reason


@dataclass(frozen=True)
class _Trend:
    """A life and the rows of the readings at the point that is shown."""

    life: int
    point: str
    rows: NDArray[np.intp]


def unlimited_rows(inputs: Inputs) -> list[ShellForecast]:
    """One row a shell in service × quantity that has been read and for which no limit is given.

    Notes
    -----
    Without a limit nothing says how far such a quantity may go, nor on what scale its sisters' wear may be pooled: the
    row shows the straight line through its own readings, or the last reading where there is no line.
    """
    history = inputs.history
    trends = list(_trends(inputs))
    if not trends:
        return []
    readings = history.readings
    rows = np.concatenate([one.rows for one in trends])
    series = np.repeat(np.arange(len(trends)), [len(one.rows) for one in trends])
    sign = np.array(
        [-1.0 if QUANTITIES[history.lives[one.life].quantity].side == "min" else 1.0 for one in trends]
    )
    first_mm = np.array([_value_mm(history, one.rows[0]) for one in trends])
    value_mm = readings["value_20_mm"].to_numpy(dtype=np.float64)[rows]
    z_um = sign[series] * (value_mm - first_mm[series]) * UM_PER_MM
    tau_kh = readings["tau_h"].to_numpy(dtype=np.float64)[rows] / H_PER_KH
    stated_um = readings["u_um"].to_numpy(dtype=np.float64)[rows]
    sd_kh = readings["hours_sd_h"].fillna(0.0).to_numpy(dtype=np.float64)[rows] / H_PER_KH
    lines = fit_lines(tau_kh, z_um, stated_um, series, len(trends))
    if (sd_kh > 0.0).any():
        lines = fit_lines(
            tau_kh, z_um, with_hours_error(lines, stated_um, sd_kh, series), series, len(trends)
        )
    now_kh = tau_now_h(history) / H_PER_KH
    return [
        _row(inputs, one, lines, k, float(now_kh[one.life]), float(sign[k]), float(first_mm[k]))
        for k, one in enumerate(trends)
    ]


def _trends(inputs: Inputs) -> Iterator[_Trend]:
    history = inputs.history
    points: dict[int, list[int]] = {}
    for k, one in enumerate(history.series):
        life = history.lives[one.life]
        if life.in_service and QUANTITIES[life.quantity].forecast:
            points.setdefault(one.life, []).append(k)
    number = history.readings["series"].to_numpy(dtype=np.intp)
    for index, of_life in points.items():
        if any(history.series[k].limit is not None for k in of_life):
            continue
        mine = inputs.facts.rows(index)
        mine = mine[inputs.facts.used[mine]]
        found = [(k, mine[number[mine] == k]) for k in of_life]
        k, rows = max(
            found, key=lambda one: (history.series[one[0]].point in CROWN_POINTS, len(one[1]), -one[0])
        )
        if len(rows):
            tau_h = history.readings["tau_h"].to_numpy(dtype=np.float64)[rows]
            yield _Trend(index, history.series[k].point, rows[np.argsort(tau_h, kind="stable")])


def _value_mm(history: History, row: int) -> float:
    return float(history.readings["value_20_mm"].iloc[row])


def _row(
    inputs: Inputs, one: _Trend, lines: OwnLines, k: int, now_kh: float, sign: float, first_mm: float
) -> ShellForecast:
    history = inputs.history
    life = history.lives[one.life]
    engine, place = history.engine_of(life), life.place
    windows = inputs.windows[engine.key]
    mine = inputs.facts.rows(one.life)
    rate = float(lines.rate_um_per_kh[k])
    if np.isfinite(rate):
        ahead_kh = now_kh - float(lines.tau_mean_kh[k])
        estimate_mm = first_mm + sign * (float(lines.z_mean_um[k]) + rate * ahead_kh) / UM_PER_MM
        u_um = float(np.hypot(lines.z_mean_u_um[k], float(lines.rate_u_um_per_kh[k]) * ahead_kh))
    else:
        estimate_mm = _value_mm(history, int(one.rows[-1]))
        u_um = float(reading_u_um(history.readings.iloc[[one.rows[-1]]])[0])
    next_on, following_on = ([w.on for w in windows[:2]] + [None, None])[:2]
    facts = _facts(inputs, one.life, next_on, following_on)
    said = (
        Reason.of("without_limit", point=one.point, lined=bool(np.isfinite(rate))),
        *(Reason.of("also", statement=more) for more in beside(facts)),
        *([] if engine.use.known else [Reason.of("no_dates")]),
    )
    nothing: tuple[date | None, ...] = (None,) * len(DATE_QUANTILES)
    return ShellForecast(
        life=one.life,
        governing=-1,
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
        last_opened=inputs.facts.last_opened(one.life),
        readings=int(inputs.facts.used[mine].sum()),
        queries=int((~inputs.facts.used[mine]).sum()),
        governing_point="",
        estimate_mm=estimate_mm,
        estimate_u_um=u_um,
        limit_mm=np.nan,
        limit_side=QUANTITIES[life.quantity].side or "",
        limit_source="",
        wear_rate_um_per_kh=rate,
        wear_rate_u_um_per_kh=float(lines.rate_u_um_per_kh[k]),
        hours=(np.nan,) * len(QUANTILES),
        hours_p10_with_doubted=np.nan,
        hours_p10_without_doubted=np.nan,
        dates=nothing,
        next_window=next_on,
        p_limit_before_next_window=np.nan,
        following_window=following_on,
        p_limit_before_following_window=np.nan,
        open_at=None,
        p_by_now=np.nan,
        statement=statement(facts),
        rests_on=rests_on(facts),
        own=OwnValues(
            int(lines.readings[k]), rate, float(lines.rate_lo90[k]), float(lines.rate_hi90[k])
        ),
        borrowed=np.nan,
        reasons=tuple(dict.fromkeys(said)),
        facts=facts,
        without_doubted=None,
        with_doubted=None,
    )  # fmt: skip


def _facts(inputs: Inputs, life: int, next_on: date | None, following_on: date | None) -> Facts:
    of = inputs.history.lives[life]
    return Facts(
        damage=inputs.facts.damage(life),
        past=False,
        may_be_past=False,
        dated=inputs.history.engine_of(of).use.known,
        date_p10=None,
        next_window=next_on,
        following_window=following_on,
        within_a_year=False,
        governed=False,
        disagree=bool(inputs.history.lost_events(of)),
        changed_rate=False,
        openings=inputs.facts.openings_run_in(life, inputs.settings.thresholds.running_in_h),
    )
