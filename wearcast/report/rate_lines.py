"""Wear rates of a position side by side: the own line, two lines that outliers move less, the forecast."""

from __future__ import annotations

from math import isfinite

from wearcast import words
from wearcast.quantities import QUANTITIES
from wearcast.report.gather import EngineRecords
from wearcast.report.sisters import sister_rates
from wearcast.report.strands import Strand
from wearcast.report.taken_out import taken_out_past, taken_out_words
from wearcast.report.trends import Trend
from wearcast.report.view import RateLine
from wearcast.report.words import life_words
from wearcast.words import NOT_SAID, hours_ahead, rate


def rate_lines(records: EngineRecords, trends: tuple[Trend, ...]) -> tuple[RateLine, ...]:
    """One line a series that has an own line, is in service, or was taken out past its limit."""
    own = records.forecast.own
    found = []
    for trend in trends:
        for strand in trend.strands:
            k = strand.series
            in_line = int(own.lines.readings[k])
            if not QUANTITIES[trend.quantity].forecast or not (
                in_line or strand.life.in_service or taken_out_past(strand)
            ):
                continue
            row = records.rows.get(strand.life_index)
            serving = strand.life.in_service and strand.governs
            low, high = float(own.lines.rate_lo90[k]), float(own.lines.rate_hi90[k])
            hours = (float(own.hours_p05[k]), float(own.hours_p50[k]), float(own.hours_p95[k]))
            forecast_rate = float(row.wear_rate_um_per_kh) if row and serving else float("nan")
            quantity = words.quantity_words(trend.half, trend.quantity)
            found.append(
                RateLine(
                    what=", ".join(filter(None, (quantity, words.point_words(strand.point)))),
                    shell=life_words(strand.life),
                    readings=str(in_line),
                    own=_rate(own.lines.rate_um_per_kh[k]),
                    interval=f"{rate(low)} to {rate(high)}" if isfinite(low) and isfinite(high) else "none",
                    huber=_rate(own.huber[k]),
                    theil_sen=_rate(own.theil_sen[k]),
                    forecast=f"{_rate(forecast_rate)} ± {_rate(row.wear_rate_u_um_per_kh)}"
                    if row and serving
                    else "",
                    sisters=", ".join(map(rate, sorted(sister_rates(records, row), reverse=True)))
                    if row and serving
                    else "",
                    hours=hours_ahead(hours) if strand.life.in_service else (),
                    reason=_no_hours(strand, hours, "; ".join(own.said(k))),
                )
            )
    return tuple(found)


def _no_hours(strand: Strand, hours: tuple[float, ...], reason: str) -> str:
    """What stands instead of the hours where there are none to give."""
    if not strand.life.in_service:
        return words.tied(f"Ended {words.day(strand.life.ended_on)}{taken_out_words(strand)}.")
    return "" if any(map(isfinite, hours)) else words.sentence(reason or NOT_SAID)


def _rate(value: float) -> str:
    return rate(float(value)) if isfinite(value) else "none"
