"""The main job: from a record set to a forecast."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.clock import day_of
from wearcast.companions.walls_clearance import Disagreement, places_that_disagree
from wearcast.doubts.doubt import Doubts, doubt
from wearcast.forecasting.at import carried, screened_class, solved
from wearcast.forecasting.classes import wear_classes
from wearcast.forecasting.facts import LifeFacts
from wearcast.forecasting.looks import ForecastLooks
from wearcast.forecasting.make_rows import forecast_rows
from wearcast.forecasting.model_queries import model_queries
from wearcast.forecasting.own import OwnForecasts, own_forecasts
from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.solved import ClassForecast
from wearcast.forecasting.stands_on import Inputs
from wearcast.forecasting.table import table_of
from wearcast.forecasting.windows import GoingOn, Window, windows_ahead, windows_going_on
from wearcast.lives.build import build
from wearcast.lives.history import EngineKey, History
from wearcast.lives.shells import Place
from wearcast.progress import counting
from wearcast.queries import Query
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.sources import records_from


@dataclass(frozen=True, eq=False, repr=False)
class Forecast(ForecastLooks):
    """A forecast and all it rests on; each part is worked out when first asked for, and kept.

    Attributes
    ----------
    doubts : Doubts
        What is doubted before any model is fitted.
    classes : tuple of ClassForecast
        In the order of the rows.
    leave_out_faulty : bool
        Whether rows that cannot be used were left out.
    """

    history: History
    settings: Settings
    doubts: Doubts
    classes: tuple[ClassForecast, ...]
    leave_out_faulty: bool = False

    @cached_property
    def used(self) -> NDArray[np.bool_]:
        """Readings of `history.readings` in the forecast, shape (n readings,)."""
        used = self.doubts.counted.copy()
        for one in self.classes:
            used[one.doubted] = False
        return used

    @property
    def doubted(self) -> NDArray[np.bool_]:
        """Readings that a query leaves out, shape (n readings,)."""
        return ~self.used

    @cached_property
    def queries(self) -> tuple[Query, ...]:
        """What is doubted; refusals whose rows were left out stand in `history.left_out`."""
        found = (*self.doubts.queries, *model_queries(self.history, self.classes))
        return tuple(self.history.records.told(found))

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What was assumed, in sentences."""
        return self.history.assumptions

    @cached_property
    def windows(self) -> dict[EngineKey, tuple[Window, ...]]:
        """Windows ahead of every engine."""
        return windows_ahead(self.history.records.windows, self.history.engines)

    @cached_property
    def going_on(self) -> dict[EngineKey, GoingOn]:
        """How the windows of every engine go on past the last one listed."""
        return windows_going_on(self.history)

    @cached_property
    def own(self) -> OwnForecasts:
        """The line of every series alone."""
        return own_forecasts(self.history, self.used, self.settings.thresholds.running_in_h)

    @cached_property
    def facts(self) -> LifeFacts:
        """What was read and seen in every life."""
        return LifeFacts(self.history, self.used, self.doubts.counted & ~self.used)

    @cached_property
    def disagreeing(self) -> Mapping[Place, Disagreement]:
        """Places (without half) whose walls and clearance contradict each other."""
        beyond_u = self.settings.thresholds.walls_against_clearance_u
        told = self.used.copy()
        for one in self.classes:
            told[one.held] = True  # half of the forecast rests on them
        return places_that_disagree(self.history, told, beyond_u)

    @cached_property
    def rows(self) -> tuple[ShellForecast, ...]:
        """One row a shell in service × quantity."""
        inputs = Inputs(self.history, self.own, self.windows, self.facts, self.disagreeing, self.settings)
        return forecast_rows(inputs, self.classes)

    @cached_property
    def table(self) -> pd.DataFrame:
        """The rows as a table."""
        return table_of(self.rows)

    @property
    def decides_at(self) -> date:
        """Where decisions stand: the date asked for, else the day of the run."""
        return self.history.as_of or self.history.records.run_date

    @cached_property
    def _elsewhere(self) -> dict[date, Forecast]:
        return {}

    def at(self, as_of: date) -> Forecast:
        """The forecast of the same records with every engine standing at one date, kept.

        Doubts and standard deviations hang on readings and events, not on the as-of moment: where the date sets
        none of these aside nothing is fitted again.
        """
        if as_of not in self._elsewhere:
            self._elsewhere[as_of] = self._carried_to(as_of)
        return self._elsewhere[as_of]

    def _carried_to(self, as_of: date) -> Forecast:
        history = self.history.at(as_of)
        if history is None:
            return forecast(self.history.records, as_of, self.settings, self.leave_out_faulty)
        if history.engines == self.history.engines:
            return self
        classes = tuple(carried(one, history) for one in self.classes)
        return Forecast(history, self.settings, self.doubts, classes, self.leave_out_faulty)


def forecast(
    records: RecordSet | str | Path,
    as_of: date | str | None = None,
    settings: Settings | None = None,
    leave_out_faulty: bool = False,
) -> Forecast:
    """Forecast the hours to the replacement limit of every shell in service.

    Parameters
    ----------
    records : RecordSet or path
        From `wearcast.read`, or where it lies.
    as_of : date or str, optional
        Stand every engine at this date and use only rows up to it.
    settings : Settings, optional
        Priors and thresholds; the defaults otherwise.
    leave_out_faulty : bool
        Go on without the rows that cannot be used. Otherwise the engines they are of are refused whole: the others are
        forecast, and `history.refused` and the assumptions name those that are not.

    Returns
    -------
    Forecast
        Worked out as its parts are asked for.

    Raises
    ------
    InputRefused
        If rows that cannot be used may be any engine's, or no engine is left.
    WrongUse
        If the records are nowhere to be read, or the date is none.
    """
    as_of = None if as_of is None else day_of(as_of)
    history = build(records_from(records), as_of, leave_out_faulty)
    return forecast_of(history, settings, leave_out_faulty)


def forecast_of(
    history: History, settings: Settings | None = None, leave_out_faulty: bool = False
) -> Forecast:
    """The forecast of a history that is built already; `leave_out_faulty` as it was built."""
    settings = settings or Settings()
    doubts = doubt(history)
    confirmed = history.readings["confirmed"].to_numpy(dtype=bool)
    classes = tuple(
        solved(history, one, screened_class(one, settings, confirmed))
        for one in counting(
            "kind of part",
            tuple(wear_classes(history, doubts.counted, settings.priors, settings.follow_gauges)),
        )
    )
    return Forecast(history, settings, doubts, classes, leave_out_faulty)
