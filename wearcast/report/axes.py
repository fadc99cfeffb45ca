"""Ends of the axes: hours shared by all charts of an engine, values by what a chart must show."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wearcast.lives.limits import Limit
from wearcast.report.gather import EngineRecords
from wearcast.report.marks import window_marks
from wearcast.report.strands import Strand
from wearcast.units import H_PER_KH, UM_PER_MM

AHEAD_AT_LEAST = 0.25
"""Share of the hours so far that every chart shows ahead (layout)."""

AHEAD_AT_MOST_H = 40_000.0
"""Hours ahead beyond which a chart does not reach (layout)."""


def hours_axis(records: EngineRecords) -> tuple[float, float]:
    """Ends of the hours axis of all charts of an engine, so that places can be compared by eye [h]."""
    now_h = records.engine.as_of_h
    starts = [h for h in records.began_h.values() if np.isfinite(h)]
    first_h = min([*starts, now_h])
    so_far_h = max(now_h - first_h, H_PER_KH)
    ahead = [row.hours_at(50) for row in records.table_rows]
    ahead += [mark.hours - now_h for mark in window_marks(records)[:2]]
    furthest_h = max([h for h in ahead if np.isfinite(h)], default=0.0)
    most_h = max(min(so_far_h, AHEAD_AT_MOST_H), 0.5 * AHEAD_AT_MOST_H)
    ahead_h = min(max(AHEAD_AT_LEAST * so_far_h, 1.15 * furthest_h), most_h)
    return first_h - 0.02 * so_far_h, now_h + ahead_h


def value_axis(strands: Sequence[Strand], limits: Sequence[Limit], estimate_mm: float) -> tuple[float, float]:
    """Ends of the value axis [mm]: new, limit and all that counts; what is left out is shown if near."""
    dots = [dot for strand in strands for dot in strand.dots]
    core = [value for limit in limits for value in (limit.new_min_mm, limit.new_max_mm, limit.limit_mm)]
    for dot in dots:
        if dot.source.counted:
            reach_mm = dot.u_um / UM_PER_MM if np.isfinite(dot.u_um) else 0.0
            core += [dot.value_mm - reach_mm, dot.value_mm + reach_mm]
    if np.isfinite(estimate_mm):
        core.append(estimate_mm)
    if not core:
        core = [dot.value_mm for dot in dots] or [0.0, 1.0]
    low, high = min(core), max(core)
    span = (high - low) or max(abs(high), 1.0) * 0.01
    near = [dot.value_mm for dot in dots if low - span <= dot.value_mm <= high + span]
    low, high = min([low, *near]), max([high, *near])
    pad = 0.10 * (high - low or span)
    return low - pad, high + pad
