"""The forecast table: one row a shell in service × quantity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.forecasting.outlook import QUANTILES, Outlook
from wearcast.forecasting.own import OwnForecasts
from wearcast.forecasting.statements import Facts, statements
from wearcast.forecasting.windows import Window, last_on_or_before
from wearcast.frames import rows_of
from wearcast.lives.history import EngineAt, EngineKey, History, Series
from wearcast.lives.limits import Limit
from wearcast.lives.shells import Life
from wearcast.quantities import BEARINGS, HALVES, QUANTITIES
from wearcast.units import DAYS_PER_YEAR

COLUMNS = (
    "vessel", "engine", "engine_type", "bearing", "position", "half", "quantity", "shell_size", "shell_no",
    "fitted_on", "shell_h", "as_of_date", "as_of_running_h", "last_opened", "readings", "queries",
    "governing_point", "estimate_mm", "estimate_u_um", "limit_mm", "limit_side", "limit_source",
    "wear_rate_um_per_kh", "wear_rate_u_um_per_kh", "hours_to_limit_p05", "hours_to_limit_p10",
    "hours_to_limit_p25", "hours_to_limit_p50", "hours_to_limit_p75", "hours_to_limit_p90",
    "hours_to_limit_p95", "hours_to_limit_p10_with_doubted", "date_p10", "date_p50", "date_p90",
    "next_window", "p_limit_before_next_window", "following_window", "p_limit_before_following_window",
    "open_at", "statement", "own_readings", "own_rate_um_per_kh", "own_rate_lo90", "own_rate_hi90",
    "own_hours_p05", "own_hours_p50", "own_hours_p95", "borrowed", "reasons",
)  # fmt: skip
"""The columns of the table, in order."""

NO_UPPER_BOUND = "no upper bound from these readings"
BEFORE_ANY = "before any window"


@dataclass(frozen=True, eq=False)
class Inputs:
    """What the rows are made from.

    Attributes
    ----------
    used, doubted : ndarray of bool, shape (n readings,)
        Readings in the forecast, and readings a query leaves out.
    """

    history: History
    own: OwnForecasts
    windows: dict[EngineKey, tuple[Window, ...]]
    used: NDArray[np.bool_]
    doubted: NDArray[np.bool_]
    running_in_h: float


@dataclass(frozen=True)
class Row:
    """One row with its way back: which life, which governing series (-1: none)."""

    life: int
    governing: int
    values: dict[str, Any]


def forecast_rows(inputs: Inputs, outlooks: Sequence[Outlook]) -> tuple[Row, ...]:
    """Every shell in service × quantity, in order of vessel, engine, bearing, position, half and quantity."""
    rows = [_row(inputs, outlook, k) for outlook in outlooks for k in range(len(outlook.lives))]
    return tuple(sorted(rows, key=lambda row: _order(row.values)))


def table_of(rows: Sequence[Row]) -> pd.DataFrame:
    """Rows as a DataFrame with the columns of the table."""
    return pd.DataFrame([row.values for row in rows], columns=list(COLUMNS))


def _order(values: dict[str, Any]) -> tuple[Any, ...]:
    position = str(values["position"])
    number = int(position) if position.isdigit() else 10**9
    return (
        values["vessel"],
        values["engine"],
        BEARINGS.index(values["bearing"]),
        number,
        position,
        (*HALVES, "").index(values["half"]),
        list(QUANTITIES).index(values["quantity"]),
    )


def _row(inputs: Inputs, outlook: Outlook, k: int) -> Row:
    history = inputs.history
    index = int(outlook.lives[k])
    life, governing = history.lives[index], int(outlook.governing[k])
    engine = history.engine_of(life)
    windows = inputs.windows[engine.key]
    series = history.series[governing] if governing >= 0 else None
    limit = (series or _any_series(history, index)).limit
    assert limit is not None  # classes are made of series with a limit
    mine = (history.readings["life"] == index).to_numpy()
    dates = [_date_after(engine, outlook.years[k, j]) for j in range(3)]
    values: dict[str, Any] = {
        **_identity(life, engine),
        "last_opened": _last_opened(history, life, mine),
        "readings": int((mine & inputs.used).sum()),
        "queries": int((mine & inputs.doubted).sum()),
        "governing_point": series.point if series else "",
        "estimate_mm": float(limit.value_mm(outlook.level_um[k])),
        "estimate_u_um": float(outlook.level_u_um[k]),
        "limit_mm": limit.limit_mm,
        "limit_side": limit.side,
        "limit_source": limit.source,
        "wear_rate_um_per_kh": float(outlook.rate_um_per_kh[k]),
        "wear_rate_u_um_per_kh": float(outlook.rate_u_um_per_kh[k]),
        **{f"hours_to_limit_p{100 * q:02.0f}": float(outlook.hours[k, j]) for j, q in enumerate(QUANTILES)},
        "hours_to_limit_p10_with_doubted": float(outlook.p10_with_doubted_h[k]),
        "date_p10": dates[0],
        "date_p50": dates[1],
        "date_p90": dates[2],
        "next_window": windows[0].on if windows else None,
        "p_limit_before_next_window": float(outlook.p_next[k]),
        "following_window": windows[1].on if len(windows) > 1 else None,
        "p_limit_before_following_window": float(outlook.p_following[k]),
        **_own_values(inputs.own, governing),
        "borrowed": float(outlook.borrowed[k]),
    }
    open_at = last_on_or_before(windows, dates[0]) if dates[0] else (windows[-1] if windows else None)
    values["open_at"] = open_at.on if open_at else None
    said, others = statements(_facts(inputs, outlook, k, values, limit, mine))
    values["statement"] = said
    own_reason = inputs.own.reason(governing) if governing >= 0 else ""
    values["reasons"] = "; ".join(
        dict.fromkeys(
            filter(
                None,
                (
                    *others,
                    *outlook.reasons[k],
                    NO_UPPER_BOUND if np.isnan(outlook.hours[k]).any() and series else "",
                    BEFORE_ANY if windows and open_at is None else "",
                    _fixed_hours(limit, life, engine),
                    own_reason,
                ),
            )
        )
    )
    return Row(index, governing, values)


def _any_series(history: History, life: int) -> Series:
    return next(one for one in history.series if one.life == life and one.limit is not None)


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


def _date_after(engine: EngineAt, years: float) -> date | None:
    """The date that many years after as-of; None where it cannot be said or lies past the calendar."""
    if not np.isfinite(years):
        return None
    days = int(np.floor(years * DAYS_PER_YEAR))
    try:
        return engine.as_of + timedelta(days=days)
    except OverflowError:
        return None


def _last_opened(history: History, life: Life, mine: NDArray[np.bool_]) -> date | None:
    """The last day this place was opened in this life, whether or not anything was read."""
    read = history.readings["date"][mine & (history.readings["table"] == "readings").to_numpy()]
    days = [day.date() for day in read]
    days += [
        event.on
        for event in history.events
        if event.on is not None and event.kind != "counter_change" and _concerns(event.place, life)
        and (life.fitted_on is None or event.on >= life.fitted_on)
    ]  # fmt: skip
    return max(days, default=None)


def _concerns(place: Any, life: Life) -> bool:
    """Whether an event at a place concerns a life: same bearing, and the same half where both name one."""
    at = life.place
    return (place.vessel, place.engine, place.bearing, place.position) == (
        at.vessel,
        at.engine,
        at.bearing,
        at.position,
    ) and (not place.half or not at.half or place.half == at.half)


def damage_findings(history: History, life: Life) -> tuple[str, ...]:
    """Findings of damage in this life; one made on the day it began is of the shell taken out."""
    return tuple(
        f"{event.finding} ({event.on})"
        for event in history.events
        if event.kind == "finding"
        and _concerns(event.place, life)
        and (life.shell_no == 1 or life.fitted_on is None or event.on is None or event.on > life.fitted_on)
    )


def _facts(
    inputs: Inputs, outlook: Outlook, k: int, values: dict[str, Any], limit: Limit, mine: NDArray[np.bool_]
) -> Facts:
    history = inputs.history
    life = history.lives[int(outlook.lives[k])]
    has_governing = outlook.governing[k] >= 0
    past = bool(has_governing and outlook.level_um[k] >= limit.allowance_um)
    return Facts(
        damage=bool(damage_findings(history, life)),
        past=past or (bool(has_governing) and _read_past_limit(inputs, mine)),
        disagree=outlook.disagree,
        dated=history.engine_of(life).use.known,
        date_p10=values["date_p10"],
        next_window=values["next_window"],
        following_window=values["following_window"],
        openings=_openings_run_in(inputs, mine),
    )


def _read_past_limit(inputs: Inputs, mine: NDArray[np.bool_]) -> bool:
    """Whether an undoubted or confirmed reading of the last opening stands at or past its limit."""
    table = inputs.history.readings
    read = mine & (table["table"] == "readings").to_numpy() & inputs.used
    if not read.any():
        return False
    last = table["date"] == table.loc[read, "date"].max()
    for row in rows_of(table[read & last.to_numpy()]):
        one = inputs.history.series[row.series]
        if one.governs and one.limit is not None and one.limit.reached_by(row.value_mm):
            return True
    return False


def _openings_run_in(inputs: Inputs, mine: NDArray[np.bool_]) -> int:
    """Openings of this life at ages past the running-in; at unknown age all count."""
    table = inputs.history.readings
    age_h = table["shell_h"].to_numpy(dtype=np.float64)
    past = mine & inputs.used & ~(age_h <= inputs.running_in_h) & (table["table"] == "readings").to_numpy()
    return int(table.loc[past, "date"].nunique())


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
