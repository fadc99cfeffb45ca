"""The positions whose early date comes soonest, one line of facts each."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from math import inf, isfinite
from weakref import WeakKeyDictionary

from wearcast import words
from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.run import Forecast
from wearcast.forecasting.statements import SOON, URGENT
from wearcast.lives.history import EngineAt, EngineKey
from wearcast.report.forecast_lines import LEAST_CHANCE, anchor_of, date_words, limit_words, window_words
from wearcast.report.gather import EngineRecords
from wearcast.report.last_reading import last_read_words
from wearcast.report.view import EarlyLine
from wearcast.words import chance, hours, rate

AT_LEAST = 8
"""Positions listed even where none is early (layout)."""

Engine = tuple[EngineRecords, str]
"""An engine and the file name of its page, empty on the page itself."""


def early_lines(engines: Sequence[Engine]) -> tuple[EarlyLine, ...]:
    """Damage and limits passed, or that fall before the second window ahead or within a year; at least eight positions.

    Parameters
    ----------
    engines : sequence of (EngineRecords, str)
        Engines with the file names of their pages; with a name the vessel is said.
    """
    rows = [(records, page, row) for records, page in engines for row in records.table_rows]
    dated = [one for one in rows if isfinite(one[2].hours_at(10)) or one[2].statement in URGENT]
    ordered = sorted(dated, key=lambda one: _when(one[2]))
    soon = [one for one in ordered if _is_soon(one[2])]
    return tuple(_line(*one) for one in (soon if len(soon) >= AT_LEAST else ordered[:AT_LEAST]))


def _when(row: ShellForecast) -> tuple[float, float, float]:
    """What is needed at once, then by date; where no date can be given after those that have one, by hours."""
    on = row.date_at(10)
    day = float(on.toordinal()) if isinstance(on, date) else inf
    return float((*URGENT, row.statement).index(row.statement)), day, float(row.hours_at(10))


def _is_soon(row: ShellForecast) -> bool:
    return row.statement in SOON


def _line(records: EngineRecords, page: str, row: ShellForecast) -> EarlyLine:
    life = records.forecast.history.lives[row.life]
    engine = f"{records.engine.vessel} {records.engine.engine} " if page else ""
    place = words.bearing_words(row.bearing, row.position)
    what = words.quantity_words(life.place.half, life.quantity)
    facts = (
        f"{last_read_words(records, row)}; limit {limit_words(row)}",
        *(() if row.damaged else (_early(records, row), _next_window(records, row), _rates(records, row))),
    )
    return EarlyLine(
        page=page,
        anchor=anchor_of(row.bearing, row.position),
        place=f"{engine}{place if engine else words.capital(place)}, {what}",
        facts=words.tied("; ".join(filter(None, facts))),
        statement=row.statement,
    )


def _early(records: EngineRecords, row: ShellForecast) -> str:
    on, ahead_h = row.date_at(10), float(row.hours_at(10))
    if isinstance(on, date):
        told = date_words(records, on)
        return f"10 % date {on}" if told == str(on) else f"one in ten {told}"
    return f"10 % hours {hours(ahead_h)}"


def _next_window(records: EngineRecords, row: ShellForecast) -> str:
    on, share = row.next_window, float(row.p_limit_before_next_window)
    if on is None:
        return ""
    return f"next window {window_words(records, on)}" + (
        f", chance before it {chance(share)}" if share >= LEAST_CHANCE else ""
    )


def _rates(records: EngineRecords, row: ShellForecast) -> str:
    own = float(row.wear_rate_um_per_kh)
    if not isfinite(own):
        return ""
    sisters = sister_rates(records, row)
    text = f"wears {rate(own)} µm per 1000 h"
    if not sisters:
        return f"{text}, no sister is read here"
    return (
        f"{text}, its {'sisters' if len(sisters) > 1 else 'sister'} {rate(sum(sisters) / len(sisters))} here"
    )


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
