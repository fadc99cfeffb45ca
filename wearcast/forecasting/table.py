"""The forecast table: one row a shell in service × quantity."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.companions.walls_clearance import Disagreement
from wearcast.forecasting.facts import LifeFacts
from wearcast.forecasting.own import OwnForecasts
from wearcast.forecasting.reasons import class_reasons
from wearcast.forecasting.solved import DATE_QUANTILES, ClassForecast
from wearcast.forecasting.statements import PAST, Facts, statements
from wearcast.forecasting.windows import Window, last_on_or_before
from wearcast.lives.history import EngineAt, EngineKey, History
from wearcast.lives.limits import Limit
from wearcast.lives.shells import Life, Place, natural_order
from wearcast.quantities import BEARINGS, HALVES, QUANTITIES
from wearcast.queries import Query
from wearcast.settings import Settings
from wearcast.units import DAYS_PER_YEAR, H_PER_KH
from wearcast.wear.crossing import QUANTILES
from wearcast.words import NO_UPPER_BOUND

Floats = NDArray[np.float64]

COLUMNS = (
    "vessel", "engine", "engine_type", "bearing", "position", "half", "quantity", "shell_size", "shell_no",
    "fitted_on", "shell_h", "as_of_date", "as_of_running_h", "last_opened", "readings", "queries",
    "governing_point", "estimate_mm", "estimate_u_um", "limit_mm", "limit_side", "limit_source",
    "wear_rate_um_per_kh", "wear_rate_u_um_per_kh", "hours_to_limit_p05", "hours_to_limit_p10",
    "hours_to_limit_p25", "hours_to_limit_p50", "hours_to_limit_p75", "hours_to_limit_p90",
    "hours_to_limit_p95", "hours_to_limit_p10_with_doubted",
    "hours_to_limit_p10_without_doubted", "date_p10", "date_p50", "date_p90",
    "next_window", "p_limit_before_next_window", "following_window", "p_limit_before_following_window",
    "open_at", "statement", "own_readings", "own_rate_um_per_kh", "own_rate_lo90", "own_rate_hi90",
    "own_hours_p05", "own_hours_p50", "own_hours_p95", "borrowed", "reasons",
)  # fmt: skip
"""The columns of the table, in order."""

FORECAST_COLUMNS = (
    *(name for name in COLUMNS if name.startswith("hours_to_limit_")),
    "p_limit_before_next_window", "p_limit_before_following_window", "own_hours_p05", "own_hours_p50",
    "own_hours_p95",
)  # fmt: skip
DATE_COLUMNS = ("date_p10", "date_p50", "date_p90")
_AT_DATES = tuple(QUANTILES.index(q) for q in DATE_QUANTILES)
"""Where among `QUANTILES` the hours of each date stand."""

BEFORE_ANY = "before any window"
NO_DATES = "no yearly use known, so no dates and no comparison with windows"


@dataclass(frozen=True, eq=False)
class Inputs:
    """What the rows are made from; `disagreeing` has the places whose walls and clearance contradict each other."""

    history: History
    own: OwnForecasts
    windows: dict[EngineKey, tuple[Window, ...]]
    facts: LifeFacts
    disagreeing: Mapping[Place, Disagreement]
    running_in_h: float


@dataclass(frozen=True)
class Row:
    """One row with its way back: which life, which governing series (-1: none)."""

    life: int
    governing: int
    values: dict[str, Any]


@dataclass(frozen=True, eq=False)
class _Outlook:
    """What one class says of its shells in service, arrays over them."""

    of: ClassForecast
    lives: NDArray[np.intp]
    governing: NDArray[np.intp]
    shown: NDArray[np.intp]
    level_um: Floats
    level_u_um: Floats
    rate_um_per_kh: Floats
    rate_u_um_per_kh: Floats
    hours: Floats
    p_next: Floats
    p_following: Floats
    reasons: tuple[tuple[str, ...], ...]


def _outlook(inputs: Inputs, of: ClassForecast, settings: Settings) -> _Outlook:
    mean, covariance = of.moments
    rate, rate_u = of.rate
    engines = [inputs.history.engine_of(inputs.history.lives[k]) for k in of.lives]
    years = np.full((len(engines), 2), np.nan)
    for k, engine in enumerate(engines):
        ahead = [(one.on - engine.as_of).days / DAYS_PER_YEAR for one in inputs.windows[engine.key][:2]]
        years[k, : len(ahead)] = ahead
    p_next, p_following = (of.chance_within(years[:, [j]], of.hours)[:, 0] for j in (0, 1))
    return _Outlook(
        of,
        of.lives,
        of.governing,
        of.shown,
        mean[:, 0],
        np.sqrt(covariance[:, 0, 0]),
        rate,
        rate_u,
        of.hours.hours_kh * H_PER_KH,
        p_next,
        p_following,
        class_reasons(inputs.history, of, settings),
    )


def forecast_rows(inputs: Inputs, classes: Sequence[ClassForecast], settings: Settings) -> tuple[Row, ...]:
    """Every shell in service × quantity: engines as their table lists them, then along the shaft."""
    outlooks = [_outlook(inputs, one, settings) for one in classes]
    rows = [_row(inputs, outlook, k) for outlook in outlooks for k in range(len(outlook.lives))]
    engines = {key: k for k, key in enumerate(inputs.history.engines)}
    return tuple(sorted(rows, key=lambda row: _order(row.values, engines)))


def table_of(rows: Sequence[Row]) -> pd.DataFrame:
    """Rows as a DataFrame with the columns of the table."""
    return pd.DataFrame([row.values for row in rows], columns=list(COLUMNS))


def _order(values: dict[str, Any], engines: Mapping[EngineKey, int]) -> tuple[Any, ...]:
    return (
        engines[(values["vessel"], values["engine"])],
        BEARINGS.index(values["bearing"]),
        natural_order(str(values["position"])),
        (*HALVES, "").index(values["half"]),
        list(QUANTITIES).index(values["quantity"]),
    )


def _row(inputs: Inputs, outlook: _Outlook, k: int) -> Row:
    history = inputs.history
    index = int(outlook.lives[k])
    life, governing = history.lives[index], int(outlook.governing[k])
    engine = history.engine_of(life)
    windows = inputs.windows[engine.key]
    series = history.series[governing] if governing >= 0 else None
    limit = (series or history.series[int(outlook.shown[k])]).limit
    assert limit is not None  # classes are made of series with a limit
    mine = inputs.facts.rows(index)
    dates = [
        _date_after(engine, float(outlook.of.years[k, j]), float(outlook.hours[k, q]))
        for j, q in enumerate(_AT_DATES)
    ]
    values: dict[str, Any] = {
        **_identity(life, engine),
        "last_opened": inputs.facts.last_opened(index),
        "readings": int(inputs.facts.used[mine].sum()),
        "queries": int((~inputs.facts.used[mine]).sum()),
        "governing_point": series.point if series else "",
        "estimate_mm": float(limit.value_mm(outlook.level_um[k])),
        "estimate_u_um": float(outlook.level_u_um[k]),
        "limit_mm": limit.limit_mm if series else np.nan,
        "limit_side": limit.side,
        "limit_source": limit.source,
        "wear_rate_um_per_kh": float(outlook.rate_um_per_kh[k]),
        "wear_rate_u_um_per_kh": float(outlook.rate_u_um_per_kh[k]),
        **{f"hours_to_limit_p{100 * q:02.0f}": float(outlook.hours[k, j]) for j, q in enumerate(QUANTILES)},
        "hours_to_limit_p10_with_doubted": float(outlook.of.early_with_doubted.hours_kh[k]) * H_PER_KH,
        "hours_to_limit_p10_without_doubted": float(outlook.of.early_without_doubted.hours_kh[k]) * H_PER_KH,
        "date_p10": dates[0],
        "date_p50": dates[1],
        "date_p90": dates[2],
        "next_window": windows[0].on if windows else None,
        "p_limit_before_next_window": float(outlook.p_next[k]),
        "following_window": windows[1].on if len(windows) > 1 else None,
        "p_limit_before_following_window": float(outlook.p_following[k]),
        **_own_values(inputs.own, governing),
        "borrowed": float(outlook.of.borrowed[k]),
    }
    lost = history.lost_events(life)
    if lost:
        values |= dict.fromkeys(FORECAST_COLUMNS, np.nan) | dict.fromkeys(DATE_COLUMNS, None)
        dates = [None, None, None]
    open_at = _open_at(windows, dates[0], far_off=engine.use.known and governing >= 0 and not lost)
    values["open_at"] = open_at.on if open_at else None
    facts = _facts(inputs, outlook, k, values, limit)
    said, others = statements(facts)
    values["statement"] = said
    own_reason = inputs.own.reason(governing) if governing >= 0 else ""
    contradiction = _contradiction(inputs, life)
    values["reasons"] = "; ".join(
        dict.fromkeys(
            filter(
                None,
                (
                    _incomplete(lost),
                    *_why_past(inputs, outlook, k, limit, said, others),
                    *others,
                    f"with the doubted readings: {facts.with_doubted}" if facts.with_doubted else "",
                    contradiction.text if contradiction else "",
                    *outlook.reasons[k],
                    NO_UPPER_BOUND if np.isnan(outlook.hours[k]).any() and series and not lost else "",
                    BEFORE_ANY if windows and dates[0] and open_at is None else "",
                    _fixed_hours(limit, life, engine),
                    "" if engine.use.known else NO_DATES,
                    f"own line: {own_reason}" if own_reason else "",
                ),
            )
        )
    )
    return Row(index, governing, values)


def _open_at(windows: tuple[Window, ...], early: date | None, far_off: bool) -> Window | None:
    """The last window on or before the early date; the last of all where that date is far off."""
    if early is not None:
        return last_on_or_before(windows, early)
    return windows[-1] if windows and far_off else None


def _identity(life: Life, engine: EngineAt) -> dict[str, Any]:
    place = life.place
    return {
        "vessel": place.vessel,
        "engine": place.engine,
        "engine_type": engine.engine_type,
        "bearing": place.bearing,
        "position": place.position,
        "half": place.half,
        "quantity": life.quantity,
        "shell_size": life.shell_size,
        "shell_no": life.shell_no,
        "fitted_on": life.fitted_on,
        "shell_h": engine.as_of_h - life.fitted_h,
        "as_of_date": engine.as_of,
        "as_of_running_h": engine.as_of_h,
    }


def _own_values(own: OwnForecasts, governing: int) -> dict[str, Any]:
    if governing < 0:
        return {
            "own_readings": 0,
            **{name: np.nan for name in COLUMNS if name.startswith("own_") and name != "own_readings"},
        }
    return {
        "own_readings": int(own.lines.readings[governing]),
        "own_rate_um_per_kh": float(own.lines.rate_um_per_kh[governing]),
        "own_rate_lo90": float(own.lines.rate_lo90[governing]),
        "own_rate_hi90": float(own.lines.rate_hi90[governing]),
        "own_hours_p05": float(own.hours_p05[governing]),
        "own_hours_p50": float(own.hours_p50[governing]),
        "own_hours_p95": float(own.hours_p95[governing]),
    }


def _date_after(engine: EngineAt, years: float, hours: float) -> date | None:
    """The date that many years after as-of; None where it cannot be said or lies past the calendar.

    No hours are no days, whatever the yearly use and known or not.
    """
    if hours <= 0:
        return engine.as_of
    if not np.isfinite(years):
        return None
    days = int(np.floor(years * DAYS_PER_YEAR))
    try:
        return engine.as_of + timedelta(days=days)
    except OverflowError:
        return None


def _facts(inputs: Inputs, outlook: _Outlook, k: int, values: dict[str, Any], limit: Limit) -> Facts:
    """The facts of the forecast; `disagree` where the doubted readings, in or out, change the statement."""
    index, facts = int(outlook.lives[k]), inputs.facts
    governed = bool(outlook.governing[k] >= 0)
    life = inputs.history.lives[index]
    contradiction, lost = _contradiction(inputs, life), bool(inputs.history.lost_events(life))
    stands = bool(outlook.level_um[k] >= limit.allowance_um) or facts.read_past_limit(index)
    without = Facts(
        damage=bool(facts.damage(index)),
        past=governed and stands,
        disagree=outlook.of.screened.disagree or contradiction is not None or lost,
        dated=inputs.history.engine_of(inputs.history.lives[index]).use.known,
        date_p10=values["date_p10"],
        next_window=values["next_window"],
        following_window=values["following_window"],
        openings=facts.openings_run_in(index, inputs.running_in_h),
        governed=governed,
    )
    if without.disagree or not outlook.of.screened.left_out.any():
        return without
    engine = inputs.history.engine_of(inputs.history.lives[index])
    said = []
    for early, read_past, openings in (
        (outlook.of.early_without_doubted, facts.read_past_limit(index), without.openings),
        (
            outlook.of.early_with_doubted,
            facts.read_past_limit(index, with_doubted=True),
            facts.openings_run_in(index, inputs.running_in_h, with_doubted=True),
        ),
    ):
        half = replace(
            without,
            past=governed and (read_past or bool(early.level_um[k] >= limit.allowance_um)),
            date_p10=_date_after(engine, float(early.years[k]), float(early.hours_kh[k]) * H_PER_KH),
            openings=openings,
        )
        said.append(statements(half)[0])
    differs = said[0] != said[1]
    return replace(without, disagree=differs, with_doubted=said[1] if differs else "")


def _incomplete(lost: Sequence[Query]) -> str:
    """Why a shell whose history lost an event has no forecast."""
    if not lost:
        return ""
    return f"history incomplete: {', '.join(fault.where for fault in lost)} left out, so no forecast"


def _why_past(
    inputs: Inputs, outlook: _Outlook, k: int, limit: Limit, said: str, others: Sequence[str]
) -> tuple[str, ...]:
    """The reading or estimate behind `past limit`."""
    if PAST not in (said, *others):
        return ()
    index = int(outlook.lives[k])
    read = inputs.facts.past_limit_readings(index)
    if read:
        return tuple(f"read {text}, limit {limit.limit_mm:.3f} mm" for text in read)
    return (f"the estimate is past the limit of {limit.limit_mm:.3f} mm; no reading in the forecast is",)


def _contradiction(inputs: Inputs, life: Life) -> Disagreement | None:
    """The disagreement of walls and clearance at a life's place, where the life is of one or the other."""
    if life.quantity not in ("wall", "clearance"):
        return None
    return inputs.disagreeing.get(replace(life.place, half=""))


def _fixed_hours(limit: Limit, life: Life, engine: EngineAt) -> str:
    """The maker's fixed hours, where there are any."""
    if not np.isfinite(limit.renew_at_h):
        return ""
    left_h = limit.renew_at_h - (engine.as_of_h - life.fitted_h)
    if not np.isfinite(left_h):
        return f"maker's fixed {limit.renew_at_h:.0f} h hold; the shell's age is unknown"
    if left_h <= 0:
        return f"maker's fixed {limit.renew_at_h:.0f} h are reached"
    return f"maker's fixed {limit.renew_at_h:.0f} h hold: {left_h:.0f} h are left"
