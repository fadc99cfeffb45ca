"""What is typed beside the readings, checked against the rest: asked about, never believed alone."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.doubts.family import Found, query_of_set
from wearcast.frames import row_numbers_of, rows_of
from wearcast.lives.about import query_about
from wearcast.lives.dials import as_date, days
from wearcast.lives.history import History
from wearcast.lives.hours import hours_per_year
from wearcast.lives.shells import engine_key
from wearcast.queries import Query
from wearcast.units import UM_PER_MM

KIND = "typed_figure"
TIMES_USE = 1.5
"""A stated yearly use this many times that of the counter, or its inverse, is asked about (judgement)."""
TIMES_ALLOWANCE = 3.0
"""The same for what a limit leaves to wear beside the other halves and sizes of its bearing (judgement)."""
SHARE_OF_WALL = 0.05
"""A wall that may lose more of itself is asked about: published overhaul limits leave 1 to 2 % (US Army TM
5-3895-346-14, TM 5-3810-300-24P3, from excerpts)."""
FINEST_U_UM, COARSEST_U_UM = 0.2, 100.0
"""No gauge of this work is stated to less or to more (judgement; feeler gauges 15 to 30 um, common practice)."""
SAME_DIAL_DAYS = 30
"""Readings further apart with the same dial are asked about (judgement)."""


def find_typed_figures(history: History, counted: NDArray[np.bool_]) -> Found:
    """Yearly use, limits, uncertainties, dials and points that the rest of the records does not bear out."""
    queries = [
        *_uses(history),
        *_allowances(history),
        *_far_from_readings(history, counted),
        *_uncertainties(history),
        *_dials(history),
        *_lone_points(history, counted),
    ]
    return Found(tuple(queries))


def _uses(history: History) -> Iterator[Query]:
    """A yearly use that is not the counter's."""
    readings = history.readings
    dialled = (readings["table"] == "readings") & ~(readings["hours_sd_h"] > 0)
    rows = row_numbers_of(readings, ["vessel", "engine"])
    day, total_h = days(readings["date"]), readings["total_h"].to_numpy(dtype=np.float64)
    sound = dialled.to_numpy(dtype=bool)
    for engine in history.engines.values():
        stated = float(str(engine.facts["hours_per_year"]))
        at = rows.get(engine.key, np.empty(0, dtype=np.int64))
        at = at[sound[at]]
        told = [
            (event.on, event.total_h)
            for event in history.events
            if engine_key(event.place) == engine.key and event.on
        ]
        more = [(on.toordinal() - as_date(0).toordinal(), h) for on, h in told if np.isfinite(h)]
        points = np.array([*zip(day[at].tolist(), total_h[at].tolist(), strict=True), *more]).reshape(-1, 2)
        use = hours_per_year(points[:, 0].astype(np.int64), points[:, 1], np.nan, np.nan)
        times = stated / max(use.hours_per_year, 1.0)
        if not np.isfinite(times) or 1 / TIMES_USE <= times <= TIMES_USE:
            continue
        text = f"{stated:.0f} hours a year are stated for {engine.vessel} {engine.engine}; the readings say {use.text}."
        ask = "Correct hours_per_year, or empty it: the counter is then used. Every date hangs on it."
        yield query_about(
            [], KIND, text, ask, table="engines", rows=(int(str(engine.facts["row"])),), file=str(engine.facts["file"]),
            sheet=str(engine.facts["sheet"]), column="hours_per_year", found=f"{stated:.10g}", vessel=engine.vessel,
            engine=engine.engine, bearing="", position="", half="", evidence=round(times, 3),
        )  # fmt: skip


def _allowances(history: History) -> Iterator[Query]:
    """Limits that leave far more or less to wear than the other halves and sizes of their bearing do."""
    table = history.records.limits
    middle = (table["new_min_mm"] + table["new_max_mm"]) / 2
    left_mm = (table["limit_mm"] - middle).abs().to_numpy(dtype=np.float64)
    kinds = row_numbers_of(table, ["engine_type", "bearing", "quantity", "limit_side"])
    for k, row in enumerate(rows_of(table)):
        here = kinds[row.engine_type, row.bearing, row.quantity, row.limit_side]
        others = left_mm[here[here != k]]
        nearest = (
            int(np.argmin(np.abs(np.log(np.maximum(others, 1e-6) / max(left_mm[k], 1e-6)))))
            if len(others)
            else 0
        )
        usual_mm = float(others[nearest]) if len(others) else np.nan
        far = (
            len(others) > 0 and not 1 / TIMES_ALLOWANCE <= left_mm[k] / max(usual_mm, 1e-6) <= TIMES_ALLOWANCE
        )
        far = far and (len(others) > 1 or left_mm[k] > usual_mm)  # of two the wider is asked about
        too_deep = row.quantity == "wall" and left_mm[k] > SHARE_OF_WALL * float(middle.iloc[k])
        if not far and not too_deep:
            continue
        beside = f"the other rows of that bearing leave {usual_mm * UM_PER_MM:.0f} µm at the nearest" if far else (
            f"that is {100 * left_mm[k] / float(middle.iloc[k]):.0f} % of the wall"
        )  # fmt: skip
        text = (
            f"the limit {row.limit:g} {row.unit} of {row.bearing.replace('_', ' ')} {row.half} {row.shell_size} leaves "
            f"{left_mm[k] * UM_PER_MM:.0f} µm to wear from new ({row.new_min:g} to {row.new_max:g}); {beside}."
        ).replace("  ", " ")
        yield query_about(
            [row], KIND, text, "Compare limit and new values with the maker's book.", table="limits", column="limit",
            found=f"{row.limit:g}", vessel="", engine="", position="", evidence=round(left_mm[k] * UM_PER_MM, 1),
        )  # fmt: skip


def _far_from_readings(history: History, counted: NDArray[np.bool_]) -> Iterator[Query]:
    """Limits whose new value most readings lie far from."""
    readings = history.readings
    limit_row = np.array([one.limit.row if one.limit else -1 for one in history.series])
    of = np.where(counted, limit_row[readings["series"].to_numpy()], -1)
    wear_um = readings["wear_um"].to_numpy(dtype=np.float64)
    for one in {limit.row: limit for limit in (s.limit for s in history.series) if limit}.values():
        mine = wear_um[(of == one.row) & np.isfinite(wear_um)]
        middle = float(np.median(mine)) if len(mine) >= 4 else 0.0
        if -one.allowance_um <= middle <= 2.0 * one.allowance_um:
            continue
        text = (
            f"half of the {len(mine)} readings of {one.engine_type} {one.bearing.replace('_', ' ')} {one.half} "
            f"{one.quantity} {one.shell_size} lie {abs(middle):.0f} µm {'beyond' if middle > 0 else 'short of'} new "
            f"({one.new_min_mm:g} to {one.new_max_mm:g} mm), which leaves {one.allowance_um:.0f} µm to wear."
        ).replace("  ", " ")
        yield query_about(
            [], KIND, text, "Compare the new values and the limit with the maker's book.", table="limits",
            rows=(one.row,), file="", sheet="", column="new_min", found=f"{one.new_min_mm:g}", vessel="", engine="",
            bearing=one.bearing, position="", half=one.half, evidence=round(middle, 1),
        )  # fmt: skip


def _uncertainties(history: History) -> Iterator[Query]:
    u_um = history.readings["u_um"].to_numpy(dtype=np.float64)
    for u in np.unique(u_um[(u_um < FINEST_U_UM) | (u_um > COARSEST_U_UM)]):
        slip = f"; {u * UM_PER_MM:g} µm, if it is in mm" if u < FINEST_U_UM else ""
        usual = f"{FINEST_U_UM:g} to {COARSEST_U_UM:g} µm"
        text = f"u_um is {u:g}, a standard uncertainty of {u:g} µm, which no gauge of this work has ({usual}){slip}."
        at = np.flatnonzero(u_um == u)
        yield query_of_set(history, at, KIND, text, "Write it in µm (k = 1), or leave it empty.", float(u))


def _dials(history: History) -> Iterator[Query]:
    """One dial reading on dates far apart."""
    readings = history.readings
    measured = (readings["table"] == "readings") & readings["counter_h"].notna()
    at = np.flatnonzero(measured.to_numpy(dtype=bool))
    day = days(readings["date"])
    for (vessel, engine, dial), here in row_numbers_of(
        readings.iloc[at], ["vessel", "engine", "counter_h"]
    ).items():
        rows = at[here]
        apart = int(np.ptp(day[rows]))
        if apart <= SAME_DIAL_DAYS:
            continue
        text = (
            f"the dial of {vessel} {engine} shows {dial:.0f} h from {as_date(day[rows].min())} to "
            f"{as_date(day[rows].max())}, {apart} days in which it stood still."
        )
        ask = "Write what the dial showed at each opening; leave it empty where nobody read it."
        yield query_of_set(history, rows, KIND, text, ask, float(apart))


def _lone_points(history: History, counted: NDArray[np.bool_]) -> Iterator[Query]:
    """A point read once that no other opening of its bearing reads."""
    readings = history.readings
    at = np.flatnonzero(
        counted & (readings["table"] == "readings").to_numpy() & (readings["point"] != "").to_numpy()
    )
    some: pd.DataFrame = readings.iloc[at]
    for _, here in row_numbers_of(some, ["vessel", "engine", "bearing", "half", "quantity"]).items():
        mine = some.iloc[here]
        openings = mine.groupby("point")["date"].nunique()
        usual = sorted(openings.index[openings >= 3])
        for point in openings.index[openings == 1] if usual else ():
            rows = at[here[(mine["point"] == point).to_numpy()]]
            if len(rows) > 1:
                continue
            first: Any = next(rows_of(readings.iloc[rows]))
            text = (
                f"the point {point} is read at this one place and opening ({first.date.date()}); every other opening "
                f"of {first.vessel} {first.engine} reads {', '.join(usual)}."
            )
            yield query_of_set(
                history, rows, KIND, text, "Is it one of those? Correct the point, or confirm it.", 1.0
            )
