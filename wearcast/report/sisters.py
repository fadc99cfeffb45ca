"""Wear rates of the sisters at the same place."""

from __future__ import annotations

from math import isfinite
from weakref import WeakKeyDictionary

from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.run import Forecast
from wearcast.lives.history import EngineAt, EngineKey
from wearcast.report.gather import EngineRecords


def sister_rates(records: EngineRecords, row: ShellForecast) -> tuple[float, ...]:
    """Wear rates at the same place of sister engines that number their bearings from the same end [µm/1000 h]."""
    forecast, engine = records.forecast, records.engine
    if forecast not in _rates_of:
        _rates_of[forecast] = _rates_at_places(forecast)
    there = _rates_of[forecast].get(_place_of(engine, row), [])
    return tuple(found for key, found in there if key != engine.key)


_Place = tuple[str, ...]

_rates_of: WeakKeyDictionary[Forecast, dict[_Place, list[tuple[EngineKey, float]]]] = WeakKeyDictionary()
"""Rates by place, kept as long as their forecast: every line of every page asks for its own."""


def _rates_at_places(forecast: Forecast) -> dict[_Place, list[tuple[EngineKey, float]]]:
    history = forecast.history
    found: dict[_Place, list[tuple[EngineKey, float]]] = {}
    for row in forecast.rows:
        engine, wear_rate = history.engine_of(history.lives[row.life]), row.wear_rate_um_per_kh
        if row.readings > 0 and isfinite(wear_rate):
            found.setdefault(_place_of(engine, row), []).append((engine.key, float(wear_rate)))
    return found


def _place_of(engine: EngineAt, row: ShellForecast) -> _Place:
    return (engine.engine_type, str(engine.facts["numbered_from"]), *row.key[2:])
