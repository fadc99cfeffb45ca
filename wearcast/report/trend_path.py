"""The trend of the life in service as estimated: back from where it stands now, bent where its rate changed."""

from __future__ import annotations

from datetime import date
from math import isfinite
from typing import Any

from wearcast.forecasting.rows import ShellForecast
from wearcast.lives.limits import Limit
from wearcast.report.calendar import calendar_of
from wearcast.report.gather import EngineRecords
from wearcast.units import H_PER_KH
from wearcast.wear.pooled.clock import Kind

Corners = tuple[tuple[float, float], ...]
"""Total running hours [h] and value [mm]."""


def path_of(records: EngineRecords, row: ShellForecast, limit: Limit) -> Corners:
    """From the first reading past the running-in to now; empty where nothing is estimated or read."""
    read = [one.row.total_h for one in records.readings[row.life] if one.in_line and one.counted]
    now_h, slope = records.engine.as_of_h, float(row.wear_rate_um_per_kh)
    if not read or not isfinite(slope) or not isfinite(row.estimate_mm) or min(read) >= now_h:
        return ()
    corners = [(now_h, float(limit.wear_um(row.estimate_mm)))]
    for at_h, factor in _bends(records, row):
        if min(read) < at_h < now_h:
            corners.append(_back(corners[-1], at_h, slope))
            slope /= factor
    corners.append(_back(corners[-1], min(read), slope))
    return tuple((hours, float(limit.value_mm(wear))) for hours, wear in reversed(corners))


def _back(corner: tuple[float, float], hours: float, slope_um_per_kh: float) -> tuple[float, float]:
    return hours, corner[1] - slope_um_per_kh * (corner[0] - hours) / H_PER_KH


def _bends(records: EngineRecords, row: ShellForecast) -> list[tuple[float, float]]:
    """Hours at which the rate changed and its factor from there on, the last first."""
    found = []
    for reason in row.reasons:
        data: dict[str, Any] = dict(reason.data)
        since = data.get("since")
        if reason.kind == "changed_rate" and data["way"] == Kind.STEP.value and isinstance(since, date):
            found.append((calendar_of(records).hours_on(since), float(data["factor"])))
    return sorted((one for one in found if isfinite(one[0])), reverse=True)
