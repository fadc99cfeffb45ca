"""The ways to the limit as areas: where the trend may run from now on, for chances of 50, 80 and 90 %."""

from __future__ import annotations

from math import isfinite

from wearcast.report.trends import Fan
from wearcast.units import UM_PER_MM
from wearcast.wear.crossing import QUANTILES

SPREADS = ((0.05, 0.95, 1.645), (0.10, 0.90, 1.282), (0.25, 0.75, 0.674))
"""Chances at the two sides of each area, and the standard normal quantile of its later side."""

Shape = tuple[tuple[float, float], ...]
"""Corners: total running hours [h] and value [mm]."""


def fan_areas(fan: Fan, as_of_h: float, right_h: float) -> tuple[Shape, ...]:
    """The areas from the widest to the narrowest, cut off at the right edge; none where nothing can be drawn.

    Each side is a straight way from a quantile of the estimate now to the limit at a quantile of the hours. A side
    whose hours are open stays level: these readings do not say that it falls.
    """
    if not isfinite(fan.now_mm):
        return ()
    towards = 1.0 if fan.limit_mm >= fan.now_mm else -1.0
    u_mm = fan.now_u_um / UM_PER_MM if isfinite(fan.now_u_um) else 0.0
    found = []
    for early, late, z in SPREADS:
        early_h, late_h = (fan.hours[QUANTILES.index(chance)] for chance in (early, late))
        if not isfinite(early_h):
            continue
        worn_mm = _not_past(fan.now_mm + towards * z * u_mm, fan.limit_mm, towards)
        less_mm = _not_past(fan.now_mm - towards * z * u_mm, fan.limit_mm, towards)
        found.append(_area((as_of_h, right_h), fan.limit_mm, (worn_mm, early_h), (less_mm, late_h)))
    return tuple(found)


def middle_way(fan: Fan, as_of_h: float, right_h: float) -> Shape:
    """The way of the 50 % hours, cut off at the right edge."""
    middle_h = fan.hours[QUANTILES.index(0.50)]
    if not (isfinite(fan.now_mm) and isfinite(middle_h)):
        return ()
    end = min(middle_h, right_h)
    return ((as_of_h, fan.now_mm), (end, _at(end, as_of_h, fan.now_mm, middle_h, fan.limit_mm)))


def _not_past(value_mm: float, limit_mm: float, towards: float) -> float:
    return min(value_mm, limit_mm) if towards > 0 else max(value_mm, limit_mm)


def _area(
    ends_h: tuple[float, float], limit_mm: float, first: tuple[float, float], last: tuple[float, float]
) -> Shape:
    now_h, right_h = ends_h
    (worn_mm, early_h), (less_mm, late_h) = first, last
    corners = [(now_h, worn_mm)]
    if early_h < right_h:
        corners.append((max(early_h, now_h), limit_mm))
    else:
        corners.append((right_h, _at(right_h, now_h, worn_mm, early_h, limit_mm)))
    if isfinite(late_h) and late_h <= right_h:
        corners.append((late_h, limit_mm))
    else:
        if early_h < right_h:
            corners.append((right_h, limit_mm))
        corners.append((right_h, _at(right_h, now_h, less_mm, late_h, limit_mm)))
    corners.append((now_h, less_mm))
    return tuple(corners)


def _at(h: float, now_h: float, now_mm: float, limit_h: float, limit_mm: float) -> float:
    """Value on the straight way to the limit; level where the hours at the limit are open."""
    if not isfinite(limit_h) or limit_h <= now_h:
        return now_mm
    return now_mm + (limit_mm - now_mm) * (h - now_h) / (limit_h - now_h)
