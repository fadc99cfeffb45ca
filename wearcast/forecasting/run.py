"""The main job: from a record set to a forecast."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.companions.walls_clearance import places_that_disagree
from wearcast.doubts.doubt import Doubts, doubt
from wearcast.forecasting.classes import wear_classes
from wearcast.forecasting.life_facts import LifeFacts
from wearcast.forecasting.model_queries import model_queries
from wearcast.forecasting.outlook import Outlook
from wearcast.forecasting.own import OwnForecasts, own_forecasts
from wearcast.forecasting.pooled_outlook import PooledClass, fit_class, pooled_outlook
from wearcast.forecasting.table import Inputs, Row, forecast_rows, table_of
from wearcast.forecasting.windows import Window, windows_ahead
from wearcast.lives.build import build
from wearcast.lives.history import EngineKey, History
from wearcast.queries import Query
from wearcast.records.records import RecordSet
from wearcast.settings import Settings


@dataclass(frozen=True, eq=False)
class Forecast:
    """A forecast and all it rests on.

    Attributes
    ----------
    table : DataFrame
        One row a shell in service × quantity.
    rows : tuple of Row
        The same rows with their life and governing series.
    doubts : Doubts
        What is doubted before any model is fitted.
    used, doubted : ndarray of bool, shape (n readings,)
        Readings of `history.readings` in the forecast, and those a query leaves out.
    queries : tuple of Query
        What is doubted; refusals whose rows were left out stand in `history.left_out`.
    assumptions : tuple of str
        What was assumed, in sentences.
    """

    history: History
    settings: Settings
    table: pd.DataFrame
    rows: tuple[Row, ...]
    own: OwnForecasts
    fits: tuple[PooledClass, ...]
    outlooks: tuple[Outlook, ...]
    windows: dict[EngineKey, tuple[Window, ...]]
    doubts: Doubts
    used: NDArray[np.bool_]
    doubted: NDArray[np.bool_]
    queries: tuple[Query, ...]
    assumptions: tuple[str, ...]


def forecast(
    records: RecordSet,
    as_of: date | None = None,
    settings: Settings | None = None,
    leave_out_faulty: bool = False,
) -> Forecast:
    """Forecast the hours to the replacement limit of every shell in service.

    Parameters
    ----------
    records : RecordSet
        From `wearcast.read`.
    as_of : date, optional
        Stand every engine at this date and use only rows up to it.
    settings : Settings, optional
        Priors and thresholds; the defaults otherwise.
    leave_out_faulty : bool
        Go on without the rows that cannot be used.

    Raises
    ------
    InputRefused
        If the record set holds rows that cannot be used.
    """
    settings = settings or Settings()
    history = build(records, as_of, leave_out_faulty)
    doubts = doubt(history)
    confirmed = history.readings["confirmed"].to_numpy(dtype=bool)
    fits = tuple(
        fit_class(one, settings, confirmed) for one in wear_classes(history, doubts.counted, settings.priors)
    )
    return _from_fits(history, settings, doubts, fits)


def with_fits(made: Forecast, fits: tuple[PooledClass, ...]) -> Forecast:
    """The same forecast from other fits of its classes, such as those written down with an earlier one.

    Parameters
    ----------
    made : Forecast
    fits : tuple of PooledClass
        Of the same classes.
    """
    return _from_fits(made.history, made.settings, made.doubts, fits)


def carried_to(known: Forecast, as_of: date, leave_out_faulty: bool = False) -> Forecast:
    """The forecast of the same records with every engine carried forward to one date.

    Doubts and standard deviations hang on readings and events, not on the as-of moment: where the date sets none
    of these aside they are taken over, and only what lies ahead is worked out anew.

    Parameters
    ----------
    known : Forecast
    as_of : date
    leave_out_faulty : bool
        As the forecast was made.
    """
    records = known.history.records
    later = any((table["date"] > pd.Timestamp(as_of)).any() for table in (records.readings, records.events))
    history = None if later else build(records, as_of, leave_out_faulty)
    if history is None or not history.readings.equals(known.history.readings):
        return forecast(records, as_of, known.settings, leave_out_faulty)
    classes = wear_classes(history, known.doubts.counted, known.settings.priors)
    confirmed = history.readings["confirmed"].to_numpy(dtype=bool)
    made = {fit.one.key: fit for fit in known.fits}
    fits = tuple(
        replace(fit, one=one)
        if (fit := made.get(one.key)) is not None and one.estimated_as(fit.one)
        else fit_class(one, known.settings, confirmed)
        for one in classes
    )
    return _from_fits(history, known.settings, known.doubts, fits)


def _from_fits(
    history: History, settings: Settings, doubts: Doubts, fits: tuple[PooledClass, ...]
) -> Forecast:
    windows = {key: windows_ahead(history.records.windows, engine) for key, engine in history.engines.items()}
    outlooks = tuple(pooled_outlook(history, fit, windows, settings) for fit in fits)
    used = doubts.counted.copy()
    for outlook in outlooks:
        used[outlook.doubted] = False
    running_in_h = settings.thresholds.running_in_h
    own = own_forecasts(history, used, running_in_h)
    facts = LifeFacts(history, used, ~used, doubts.counted & ~used)
    disagreeing = places_that_disagree(history, used, settings.thresholds.walls_against_clearance_u)
    rows = forecast_rows(Inputs(history, own, windows, facts, disagreeing, running_in_h), outlooks)
    return Forecast(
        history=history,
        settings=settings,
        table=table_of(rows),
        rows=rows,
        own=own,
        fits=fits,
        outlooks=outlooks,
        windows=windows,
        doubts=doubts,
        used=used,
        doubted=~used,
        queries=history.records.told((*doubts.queries, *model_queries(history, fits))),
        assumptions=history.assumptions,
    )
