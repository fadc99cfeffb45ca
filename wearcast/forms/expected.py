"""What a reading at a coming opening should show: the forecast carried there, three standard uncertainties wide."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from wearcast.companions.uncertainty import reading_u_um
from wearcast.errors import WrongUse
from wearcast.forecasting.run import Forecast
from wearcast.forecasting.solved import ClassForecast
from wearcast.lives.history import EngineAt, EngineKey
from wearcast.units import DAYS_PER_YEAR, H_PER_KH, UM_PER_MM

WITHIN_U = 3.0
"""Standard uncertainties on each side of the expected reading (judgement: 1 reading in some 400 lies outside)."""


@dataclass(frozen=True)
class Ahead:
    """How far an engine runs from its as-of moment to the opening.

    Attributes
    ----------
    hours_h, sd_h : float
        Running hours [h] and their standard deviation [h].
    said : str
        Where they come from, in words.
    """

    hours_h: float
    sd_h: float
    said: str


@dataclass(frozen=True)
class Band:
    """Least and greatest value expected [mm]."""

    low_mm: float
    high_mm: float


def ahead(engine: EngineAt, on: date, counter_h: float | None = None) -> Ahead:
    """Running hours from the last counter reading to the opening.

    Parameters
    ----------
    engine : EngineAt
        Standing at its last counter reading.
    counter_h : float, optional
        What the dial will show [h]; else the hours follow from the engine's yearly use.

    Raises
    ------
    WrongUse
        If the opening lies before the last reading, by date or counter.
    """
    days = (on - engine.as_of).days
    if days < 0:
        raise WrongUse(
            f"--opening {on}: the last counter reading of {engine.vessel} {engine.engine} is of {engine.as_of}; "
            "expected that day or a later one."
        )
    if counter_h is not None:
        hours = counter_h - engine.last_counter_h
        if hours < 0 or not np.isfinite(hours):
            raise WrongUse(
                f"--counter-h {counter_h:.0f}: the dial stood at {engine.last_counter_h:.0f} on "
                f"{engine.last_counter_on}; expected no less."
            )
        return Ahead(hours, 0.0, f"to the dial at {counter_h:.0f} h")
    if not engine.use.known:
        return Ahead(0.0, 0.0, "at the last counter reading, because the yearly use is not known")
    years = days / DAYS_PER_YEAR
    hours = years * engine.use.hours_per_year
    return Ahead(hours, years * engine.use.sd_h, f"to {on}, about {hours:.0f} h on")


def bands(forecast: Forecast, key: EngineKey, far: Ahead) -> Mapping[int, Band]:
    """The values expected of one engine's shells in service, by series of the history."""
    found: dict[int, Band] = {}
    for one in forecast.classes:
        found |= _of_class(forecast, one, key, far)
    return found


def as_last_read(forecast: Forecast, key: EngineKey, quantity: str) -> Mapping[tuple[str, str, str], Band]:
    """Where nothing is forecast: the last reading that counts, by bearing, position and point.

    The difference of two readings has √2 of the uncertainty of one; what has truly changed in between is not in it.
    """
    readings = forecast.history.readings
    mine = (
        (readings["vessel"] == key[0]) & (readings["engine"] == key[1]) & (readings["quantity"] == quantity)
    )
    counted = readings[mine.to_numpy() & forecast.doubts.counted].sort_values("date", kind="stable")
    u_mm = reading_u_um(counted) * np.sqrt(2.0) / UM_PER_MM
    places = zip(counted["bearing"], counted["position"], counted["point"], strict=True)
    values = counted["value_mm"].to_numpy(dtype=np.float64)
    return {
        place: Band(float(value - WITHIN_U * u), float(value + WITHIN_U * u))
        for place, value, u in zip(places, values, u_mm, strict=True)
    }


def _of_class(forecast: Forecast, solved: ClassForecast, key: EngineKey, far: Ahead) -> dict[int, Band]:
    history, one = forecast.history, solved.one
    lives = [history.lives[k] for k in one.lives]
    mine = np.array(
        [
            life.in_service and history.engine_of(life).key == key and not history.lost_events(life)
            for life in lives
        ],
        dtype=bool,
    )
    asked = np.flatnonzero(mine[one.readings.series_shell])
    if not len(asked):
        return {}
    hours_kh = np.full(len(asked), far.hours_h / H_PER_KH)
    steps = one.readings.step_um
    step_um = np.full(len(asked), float(np.median(steps)) if len(steps) else 0.0)
    reading = solved.readings_to_come(asked, hours_kh, np.full(len(asked), np.nan), step_um)
    u_um = np.hypot(reading.sd_um, np.abs(reading.rate_um_per_kh) * far.sd_h / H_PER_KH)
    found = {}
    for k, at in enumerate(one.series[asked].tolist()):
        limit = history.series[at].limit
        assert limit is not None  # classes are made of series with a limit
        ends = limit.value_mm(reading.mean_um[k] + np.array([-WITHIN_U, WITHIN_U]) * u_um[k])
        found[at] = Band(float(min(ends)), float(max(ends)))
    return found
