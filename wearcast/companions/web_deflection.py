"""Crank-web deflection: five readings a throw made into vertical and horizontal, one sign, with its limits.

The rod fouls the bottom, so the gauge is read near it on both sides; their mean stands for the bottom. Webs that
open are plus here, whatever the engine's form says. Positions of the crank and the meaning of the sign: public
teaching texts on marine engines; common practice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.companions.once import once
from wearcast.companions.uncertainty import reading_u_um
from wearcast.frames import row_numbers_of
from wearcast.lives.history import EngineAt, History
from wearcast.quantities import DEFLECTION_POINTS
from wearcast.units import H_PER_KH, UM_PER_MM
from wearcast.wear.own_line import fit_lines

OPENING_PLUS, OPENING_MINUS = "opening_plus", "opening_minus"

CLOSURE_UM = 20.0
"""First and last reading, both near the bottom, should agree this well [µm] (common practice, no source)."""

SAME_UM = 1e-6
"""Below this two lengths are the same; what is left is the rounding of the doubles."""

GOOD_SHARE, ACT_SHARE = 1 / 10_000, 1 / 5_000
"""Rule of thumb: good up to this share of the stroke, act from that one. Common practice from memory, shown
beside the readings and never used as a limit: the maker's value governs."""

THROW = ["vessel", "engine", "position"]
_MEASUREMENT = [*THROW, "date", "state"]

SIGN_NOTE = "Webs opening are plus; top minus bottom above 0: the shaft is low there, below 0: high."


@dataclass(frozen=True)
class DeflectionLimits:
    """The maker's limits of the deflection of a throw and its new range, webs opening plus [mm]; NaN: none."""

    min_mm: float
    max_mm: float
    new_min_mm: float
    new_max_mm: float
    source: str


def deflection_limits(history: History, engine: EngineAt) -> DeflectionLimits:
    """Limits from the limits table: a row with side max, one with side min, or both."""
    rows = history.limits.of_class(engine.engine_type, "big_end", "", "web_deflection")
    least = next((one for one in rows if one.side == "min"), None)
    most = next((one for one in rows if one.side == "max"), None)
    return DeflectionLimits(
        min_mm=least.limit_mm if least else np.nan,
        max_mm=most.limit_mm if most else np.nan,
        new_min_mm=min((one.new_min_mm for one in rows), default=np.nan),
        new_max_mm=max((one.new_max_mm for one in rows), default=np.nan),
        source="; ".join(dict.fromkeys(one.source for one in (least, most) if one)),
    )


def opening_plus(history: History, vessel: str, engine: str) -> float:
    """+1 where the engine's form counts opening webs plus, -1 where minus."""
    return -1.0 if history.engines[(vessel, engine)].facts.get("deflection_sign") == OPENING_MINUS else 1.0


@once
def web_deflections(history: History, counted: NDArray[np.bool_]) -> pd.DataFrame:
    """Every throw at every measurement, webs opening plus.

    Parameters
    ----------
    history : History
        As built.
    counted : ndarray of bool, shape (n readings,)
        Readings to use.

    Returns
    -------
    DataFrame
        One row a throw x measurement: vessel, engine, `position` (the throw), date, state, total_h, `conditions`
        and `sign_on_form`; the five readings `bottom_p`, `port`, `top`, `starboard`, `bottom_s` [mm]; `closure_um`
        (bottom_s less bottom_p) and `closes` (within about 0.02 mm; None where one is missing); `bottom_mm`,
        `vertical_mm` (top less bottom), `horizontal_mm` (port less starboard) and their `vertical_u_um`,
        `horizontal_u_um`; `min_mm`, `max_mm`, `limit_source`; `past_limit`; `stroke_part`, the stroke over the
        larger of the two (a fact of the rule of thumb; NaN without a stroke); `main_before`, `main_after` (the
        numbers of the mains it lies between, NaN where the throw has none); `rows` (row numbers from 0).
    """
    readings = history.readings
    chosen = counted & (readings["quantity"] == "web_deflection").to_numpy()
    used = readings.assign(at=np.arange(len(readings)), u=reading_u_um(readings))[chosen]
    numbers = row_numbers_of(used, _MEASUREMENT)
    which = np.zeros(len(used), dtype=np.intp)
    for k, rows in enumerate(numbers.values()):
        which[rows] = k
    five = {point: _mean_at(used, which, point, len(numbers), "value_mm") for point in DEFLECTION_POINTS}
    u_um = {point: _mean_at(used, which, point, len(numbers), "u") for point in DEFLECTION_POINTS}
    table = pd.DataFrame(list(numbers), columns=_MEASUREMENT)
    firsts = used.iloc[[rows[0] for rows in numbers.values()]]
    table["total_h"] = firsts["total_h"].to_numpy()
    table["conditions"] = firsts["conditions"].to_numpy()
    sign = np.array([opening_plus(history, v, e) for v, e in _engines(table)], dtype=np.float64)
    table["sign_on_form"] = np.where(sign > 0, OPENING_PLUS, OPENING_MINUS)
    for point in DEFLECTION_POINTS:
        table[point] = sign * five[point]
    table["rows"] = [tuple(int(k) for k in used["at"].to_numpy()[rows]) for rows in numbers.values()]
    return _with_facts(history, _with_deflections(table, u_um)).sort_values(
        ["vessel", "engine", "date", "state", "main_before"], kind="stable", ignore_index=True
    )


def _engines(table: pd.DataFrame) -> list[tuple[str, str]]:
    return list(zip(table["vessel"].tolist(), table["engine"].tolist(), strict=True))


def _mean_at(
    used: pd.DataFrame, which: NDArray[np.intp], point: str, n: int, column: str
) -> NDArray[np.float64]:
    """Mean of a column at one point of each measurement; NaN where it was not read."""
    at = (used["point"] == point).to_numpy()
    count = np.bincount(which[at], minlength=n).astype(np.float64)
    total = np.bincount(which[at], weights=used[column].to_numpy(dtype=np.float64)[at], minlength=n)
    mean = np.full(n, np.nan)
    np.divide(total, count, out=mean, where=count > 0)
    return mean


def _with_deflections(table: pd.DataFrame, u_um: dict[str, NDArray[np.float64]]) -> pd.DataFrame:
    first, last = (table[name].to_numpy(dtype=np.float64) for name in ("bottom_p", "bottom_s"))
    closure = (last - first) * UM_PER_MM
    bottom = np.where(np.isnan(first), last, np.where(np.isnan(last), first, (first + last) / 2))
    u_first, u_last = u_um["bottom_p"], u_um["bottom_s"]
    u_bottom = np.where(
        np.isnan(u_first), u_last, np.where(np.isnan(u_last), u_first, np.hypot(u_first, u_last) / 2)
    )
    closes = np.where(np.isnan(closure), None, np.abs(closure) <= CLOSURE_UM + SAME_UM)
    return table.assign(
        closure_um=closure,
        closes=pd.Series(closes, dtype=object, index=table.index),
        bottom_mm=bottom,
        vertical_mm=table["top"].to_numpy(dtype=np.float64) - bottom,
        vertical_u_um=np.hypot(u_um["top"], u_bottom),
        horizontal_mm=(table["port"] - table["starboard"]).to_numpy(dtype=np.float64),
        horizontal_u_um=np.hypot(u_um["port"], u_um["starboard"]),
    )


def _with_facts(history: History, table: pd.DataFrame) -> pd.DataFrame:
    """Limits, share of the stroke and the mains beside each throw."""
    engines = [history.engines[key] for key in _engines(table)]
    limits = [deflection_limits(history, engine) for engine in engines]
    least = np.array([one.min_mm for one in limits], dtype=np.float64)
    most = np.array([one.max_mm for one in limits], dtype=np.float64)
    both = table[["vertical_mm", "horizontal_mm"]].to_numpy(dtype=np.float64)
    stroke = np.array([stroke_mm(engine) for engine in engines], dtype=np.float64)
    largest = np.fmax(np.abs(both[:, 0]), np.abs(both[:, 1]))
    with np.errstate(divide="ignore", invalid="ignore"):
        stroke_part = np.where(largest > 0, stroke / largest, np.nan)
    beside = [mains_beside(engine, throw) for engine, throw in zip(engines, table["position"], strict=True)]
    return table.assign(
        min_mm=least,
        max_mm=most,
        limit_source=[one.source for one in limits],
        past_limit=np.any((both <= least[:, None]) | (both >= most[:, None]), axis=1),
        stroke_part=stroke_part,
        main_before=np.array([pair[0] for pair in beside], dtype=np.float64),
        main_after=np.array([pair[1] for pair in beside], dtype=np.float64),
    )


def mains_beside(engine: EngineAt, throw: str) -> tuple[float, float]:
    """The mains a throw lies between, counted from the end that No. 1 stands at; NaN for a throw without number.

    With one main more than throws + 1 and numbering from 0, main 0 is the outboard bearing and has no throw.
    """
    if not throw.isdigit():
        return np.nan, np.nan
    first = int(_number(engine.facts.get("first_main"), 1.0))
    mains, throws = _number(engine.facts.get("mains")), _number(engine.facts.get("throws"))
    outboard = first == 0 and mains == throws + 2
    before = first + int(throw) - 1 + int(outboard)
    return before, before + 1


def stroke_mm(engine: EngineAt) -> float:
    """Stroke [mm] of the engines table; NaN where not given."""
    return _number(engine.facts.get("stroke_mm"))


def _number(value: object, default: float = np.nan) -> float:
    number = float(value) if isinstance(value, int | float) else np.nan
    return default if np.isnan(number) else number


def deflection_trends(history: History, counted: NDArray[np.bool_]) -> pd.DataFrame:
    """How the vertical deflection of each throw drifts with running hours.

    Only measurements under the conditions of the last one (hot or cold, afloat or not, as written) are in the
    line; it is weighted by their uncertainty (`wear.own_line.fit_lines`).

    Returns
    -------
    DataFrame
        One row a throw: vessel, engine, position, `measurements` in the line, `left_out` (other conditions),
        `conditions`, `drift_um_per_kh`, `drift_u_um_per_kh`, `drift_lo90`, `drift_hi90`; NaN with one measurement.
    """
    table = web_deflections(history, counted)
    table = table[table["vertical_mm"].notna()].reset_index(drop=True)
    said = table["conditions"].str.strip().str.casefold()
    last = table.assign(said=said).groupby(THROW, sort=False)["said"].transform("last")
    alike = (said == last).to_numpy()
    same, groups = table[alike], row_numbers_of(table[alike], THROW)
    series = np.zeros(len(same), dtype=np.intp)
    for k, rows in enumerate(groups.values()):
        series[rows] = k
    lines = fit_lines(
        same["total_h"].to_numpy(dtype=np.float64) / H_PER_KH,
        same["vertical_mm"].to_numpy(dtype=np.float64) * UM_PER_MM,
        same["vertical_u_um"].to_numpy(dtype=np.float64),
        series,
        len(groups),
    )
    every = table.groupby(THROW, sort=False).size()
    return pd.DataFrame(list(groups), columns=THROW).assign(
        measurements=lines.readings,
        left_out=[int(every.loc[key]) - int(n) for key, n in zip(groups, lines.readings, strict=True)],
        conditions=[same["conditions"].iloc[rows[-1]] for rows in groups.values()],
        drift_um_per_kh=lines.rate_um_per_kh,
        drift_u_um_per_kh=lines.rate_u_um_per_kh,
        drift_lo90=lines.rate_lo90,
        drift_hi90=lines.rate_hi90,
    )
