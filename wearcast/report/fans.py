"""The forecast as drawn: the estimate now, its way to the limit, and the hours it may be reached at."""

from __future__ import annotations

from math import isfinite

from wearcast.report import inks
from wearcast.report.fan_shape import fan_areas
from wearcast.report.layout import Json
from wearcast.report.trends import Fan, Trend
from wearcast.units import UM_PER_MM
from wearcast.wear.crossing import QUANTILES
from wearcast.words import mm, significant, whole

INK = inks.FAN.light

BARS = ((0.05, 0.95, 2.0), (0.10, 0.90, 5.0), (0.25, 0.75, 9.0))
"""Chances at the ends of each bar along the limit, and its thickness [px]."""


AREA_SHARE = 0.13
"""How strongly each area is inked."""


def fan_traces(trend: Trend) -> list[Json]:
    """The forecast of the life in service; nothing where there is none."""
    fan = trend.fan
    if fan is None:
        return []
    right = trend.hours_axis[1]
    return [
        *_areas(trend, fan),
        *_way(trend, fan),
        *_estimate(trend, fan),
        *_bars(trend, fan, right),
        *_middle(fan, right),
    ]


def _trace(mode: str, hours: list[float], values_mm: list[float], **more: object) -> Json:
    x = [round(h, 1) for h in hours]
    return {"type": "scatter", "mode": mode, "x": x, "y": values_mm, **more}


def _areas(trend: Trend, fan: Fan) -> list[Json]:
    """The ways to the limit as areas, one over the other."""
    wash = f"rgba({','.join(str(int(INK[k : k + 2], 16)) for k in (1, 3, 5))},{AREA_SHARE})"
    found = []
    for corners in fan_areas(fan, trend.as_of_h, trend.hours_axis[1]):
        hours, values_mm = zip(*corners, strict=True)
        found.append(
            _trace(
                "none",
                list(hours),
                [round(value, 6) for value in values_mm],
                fill="toself",
                fillcolor=wash,
                hoverinfo="skip",
            )
        )
    return found


def _way(trend: Trend, fan: Fan) -> list[Json]:
    """A thin line from the estimate to the 50 % hours."""
    middle_h = fan.hours[QUANTILES.index(0.50)]
    if not (isfinite(fan.now_mm) and isfinite(middle_h)):
        return []
    ends_mm = [round(fan.now_mm, 6), fan.limit_mm]
    line = {"color": INK, "width": 1.2}
    return [_trace("lines", [trend.as_of_h, middle_h], ends_mm, line=line, hoverinfo="skip")]


def _estimate(trend: Trend, fan: Fan) -> list[Json]:
    """The estimate at the as-of moment, with a bar of one standard uncertainty."""
    if not isfinite(fan.now_mm):
        return []
    u_mm = fan.now_u_um / UM_PER_MM if isfinite(fan.now_u_um) else 0.0
    said = f"estimate {mm(fan.now_mm, fan.limit_mm)} mm ± {significant(fan.now_u_um)} µm"
    return [
        _trace(
            "markers",
            [trend.as_of_h],
            [round(fan.now_mm, 6)],
            error_y={"type": "data", "array": [round(u_mm, 6)], "color": INK, "thickness": 1.6, "width": 5},
            marker={
                "symbol": "line-ew-open",
                "size": 12,
                "color": INK,
                "line": {"color": INK, "width": 2.5},
            },
            text=[f"{said}<br>{whole(trend.as_of_h)} h"],
            hoverinfo="text",
        )
    ]


def _bars(trend: Trend, fan: Fan, right: float) -> list[Json]:
    """Bars along the limit line, and an arrow where the latest end lies beyond the chart or is open."""
    data: list[Json] = []
    for early, late, width in BARS:
        start, end = (fan.hours[QUANTILES.index(chance)] for chance in (early, late))
        if isfinite(start) and start < right:
            ends_h = [start, min(end, right) if isfinite(end) else right]
            line = {"color": INK, "width": width}
            level = [fan.limit_mm, fan.limit_mm]
            data.append(_trace("lines", ends_h, level, line=line, opacity=0.85, hoverinfo="skip"))
    last_h = fan.hours[-1]
    if data and not (isfinite(last_h) and last_h <= right):
        marker = {"symbol": "triangle-right", "size": 11, "color": INK}
        inside_h = right - 0.012 * (right - trend.hours_axis[0])
        data.append(_trace("markers", [inside_h], [fan.limit_mm], marker=marker, hoverinfo="skip"))
    return data


def _middle(fan: Fan, right: float) -> list[Json]:
    """A stroke at the 50 % hours."""
    middle_h = fan.hours[QUANTILES.index(0.50)]
    if not isfinite(middle_h) or middle_h > right:
        return []
    marker = {"symbol": "line-ns-open", "size": 18, "color": INK, "line": {"color": INK, "width": 3}}
    return [_trace("markers", [middle_h], [fan.limit_mm], marker=marker, hoverinfo="skip")]
