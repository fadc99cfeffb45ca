"""The reading that the last opening left: what the crew read, beside what the forecast estimates."""

from __future__ import annotations

from dataclasses import dataclass

from wearcast import words
from wearcast.forecasting.rows import ShellForecast
from wearcast.report.gather import EngineRecords, Reading
from wearcast.words import mm


@dataclass(frozen=True, eq=False)
class LastRead:
    """Readings of the last opening of one life.

    Attributes
    ----------
    nearest : Reading
        The one nearest its limit of those that count; of all where none counts.
    doubted : Reading or None
        One that does not count and lies nearer the limit.
    """

    nearest: Reading
    doubted: Reading | None


def last_read(records: EngineRecords, life: int) -> LastRead | None:
    """What the last opening of a life read; None where it was not read since it was fitted."""
    found = [one for one in records.readings[life] if one.row.table == "readings"]
    governing = [one for one in found if _governs(records, one)]
    found = governing or found
    if not found:
        return None
    last_on = max(one.row.date for one in found)
    last = sorted((one for one in found if one.row.date == last_on), key=lambda one: _left_um(records, one))
    nearest = next((one for one in last if one.counted), last[0])
    return LastRead(nearest, last[0] if last[0] is not nearest else None)


def _governs(records: EngineRecords, reading: Reading) -> bool:
    one = records.forecast.history.series[reading.row.series]
    return one.limit is not None and one.governs


def _left_um(records: EngineRecords, reading: Reading) -> float:
    """What is left to the limit [µm]."""
    limit = records.forecast.history.series[reading.row.series].limit
    return limit.allowance_um - float(limit.wear_um(reading.row.value_mm)) if limit else 0.0


def last_read_words(records: EngineRecords, row: ShellForecast) -> str:
    """The last reading as the page says it: `read 7.955 mm, crown, fore, 2026-09-28`."""
    last = last_read(records, row.life)
    if last is None:
        return "not read since it was fitted"
    limit_mm = float(row.limit_mm)
    doubt = "" if last.nearest.counted else ", doubted and not counted"
    text = f"read {reading_words(last.nearest, limit_mm)}{doubt}"
    if last.doubted:
        text += f"; doubted and not counted: {_value(last.doubted, limit_mm)}"
    return words.tied(text)


def reading_words(reading: Reading, limit_mm: float) -> str:
    """Value, point and date of a reading."""
    point = words.point_words(reading.row.point)
    return ", ".join(filter(None, (_value(reading, limit_mm), point, words.day(reading.row.date.date()))))


def _value(reading: Reading, limit_mm: float) -> str:
    return f"{mm(float(reading.row.value_mm), limit_mm)} mm"
