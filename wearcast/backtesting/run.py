"""The backtest: every hidden opening forecast from the rows dated before it, fleet-wide."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.backtesting.hidden import hidden_readings
from wearcast.backtesting.lines import last_two_points, own_line_predictions, two_point_predictions
from wearcast.backtesting.past import Past, Pasts
from wearcast.backtesting.predictions import Ahead, Predicted, pooled_predictions
from wearcast.backtesting.summary import summarise
from wearcast.backtesting.table import Compared, empty_table, table_of
from wearcast.backtesting.yearly import YearlyFits
from wearcast.forecasting.classes import WearClass
from wearcast.forecasting.own import OwnForecasts, own_forecasts
from wearcast.forecasting.run import Forecast, forecast
from wearcast.lives.history import History
from wearcast.lives.only import Only
from wearcast.progress import counting
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.shown import Shown
from wearcast.units import H_PER_KH

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

SEED = 20261125
"""Of the random part of the PIT of rounded readings."""


@dataclass(frozen=True, eq=False, repr=False)
class Backtest(Shown):
    """What the forecast would have said of readings that have come since, and how far it was right.

    Attributes
    ----------
    forecast : Forecast
        Of the whole record set; its doubts mark the readings of the table.
    table : DataFrame
        One row a hidden reading that could be predicted.
    summary : DataFrame
        One row a figure: ``run``, ``readings_of`` (``all`` or ``undoubted``), ``of`` (``all`` or a class), ``figure``,
        ``value``, ``standard_error`` (clustered by opening), ``expected`` (NaN where nothing is), ``unit``,
        ``readings``, ``openings``.
    not_scored : int
        Readings hidden in run 1 of shells that no forecast would have spoken of, for nothing had been read of their
        place before, or nothing of their class.
    """

    forecast: Forecast
    table: pd.DataFrame
    summary: pd.DataFrame
    not_scored: int

    def narrowed(self, only: Only) -> Backtest:
        """The figures of the places asked for, each forecast from the readings of all."""
        names = ("vessel", "engine", "bearing", "position")
        places = list(zip(*(self.table[name].astype(str) for name in names), strict=True))
        only.among(places)
        table = self.table[[only.holds(*place) for place in places]]
        return Backtest(self.forecast, table, summarise(table), 0)

    def headline(self) -> str:
        """How many readings were hidden and forecast."""
        said = int((self.table["run"] == 1).sum())
        return f"Backtest: {said} last readings hidden and forecast from what came before"

    def glance(self) -> pd.DataFrame:
        """The figures over everything."""
        summary = self.summary
        return summary[summary["of"] == "all"]


def backtest(
    records: RecordSet | str | Path, settings: Settings | None = None, leave_out_faulty: bool = False
) -> Backtest:
    """Hide each shell's last reading, and its last two openings, and forecast them from what came before.

    For each hidden opening only rows dated before it are used, of the whole fleet; the standard deviations are
    estimated once a calendar year from rows dated before that year. What is scored is the distribution of the
    reading, gauge error and reading error included.

    Parameters
    ----------
    records : RecordSet or path
        From `wearcast.read`, or where it lies.
    settings : Settings, optional
        Priors and thresholds; the defaults otherwise.
    leave_out_faulty : bool
        Go on without the rows that cannot be used.

    Returns
    -------
    Backtest

    Raises
    ------
    InputRefused
        If the record set holds rows that cannot be used.
    """
    return backtest_of(forecast(records, None, settings, leave_out_faulty))


def backtest_of(known: Forecast) -> Backtest:
    """The backtest of the records a forecast was made from."""
    hidden = hidden_readings(known.history)
    pasts = Pasts(known.history.records, known.settings)
    fits = YearlyFits(pasts, known.settings)
    parts = []
    for origin, rows in counting("opening day", list(hidden.groupby("origin", sort=True))):
        day = pd.Timestamp(str(origin)).date()
        then = pasts.before(day)
        if then is not None:
            parts += _openings_of_a_day(known.history, then, fits, day, rows)
    table = table_of(known, parts, SEED) if parts else empty_table()
    scored = int((table["run"] == 1).sum())
    return Backtest(known, table, summarise(table), int((hidden["run"] == 1).sum()) - scored)


def _openings_of_a_day(
    history: History, then: Past, fits: YearlyFits, day: date, rows: pd.DataFrame
) -> list[Compared]:
    """Everything hidden from one day on, class by class."""
    series = _series_then(history, then, rows["at"].to_numpy(dtype=np.intp))
    used = then.counted.copy()
    chosen: list[tuple[WearClass, Ints, Predicted]] = []
    for key, trends in then.class_series.items():
        if not np.isin(series, trends).any():
            continue
        fitted = fits.at(then, key, day)
        if fitted is None:
            continue
        one, estimate, kept = fitted
        place = np.full(len(then.history.series), -1, dtype=np.intp)
        place[one.series] = np.arange(len(one.series))
        mine = np.flatnonzero((series >= 0) & (place[series] >= 0))
        if len(mine):
            used[one.rows[~kept]] = False
            ahead = _ahead(history, then, rows.iloc[mine], series[mine], place[series[mine]])
            chosen.append((one, mine, pooled_predictions(one.readings.only(kept), estimate, ahead)))
    if not chosen:
        return []
    own = own_forecasts(then.history, used, fits.settings.thresholds.running_in_h)
    points = _last_two(then, own, series)
    found = []
    for one, mine, pooled in chosen:
        ahead = _ahead(history, then, rows.iloc[mine], series[mine], series[mine])
        two_um, two_kh = two_point_predictions(points, ahead)
        found.append(
            Compared(
                key=one.key,
                rows=rows.iloc[mine],
                ahead=ahead,
                readings_before=own.lines.readings[series[mine]],
                pooled=pooled,
                own=own_line_predictions(own.lines, ahead, one.readings.default_u_um),
                two_points_um=two_um,
                two_points_kh=two_kh,
            )
        )
    return found


def _last_two(then: Past, own: OwnForecasts, series: Ints) -> tuple[Floats, Floats, Floats]:
    """The last two points of the series asked for, among the readings of their own lines."""
    table = then.history.readings
    of = table["series"].to_numpy(dtype=np.intp)
    chosen = own.in_line & np.isin(of, series)
    return last_two_points(
        of[chosen],
        table["tau_h"].to_numpy(dtype=np.float64)[chosen] / H_PER_KH,
        table["wear_um"].to_numpy(dtype=np.float64)[chosen],
        len(then.history.series),
    )


def _series_then(history: History, then: Past, at: Ints) -> Ints:
    """Series of the past history that each hidden reading goes on; -1 where there was none."""
    found = np.full(len(at), -1, dtype=np.intp)
    number = history.readings["series"].to_numpy(dtype=np.intp)[at]
    for k, one in enumerate(history.series[s] for s in number):
        life = history.lives[one.life]
        found[k] = then.series_of.get((life.place, life.quantity, life.shell_no, one.point), -1)
    return found


def _ahead(history: History, then: Past, rows: pd.DataFrame, series: Ints, place: Ints) -> Ahead:
    """Hidden readings as the predictions want them; `place` numbers the series of each."""
    table, at = history.readings, rows["at"].to_numpy(dtype=np.intp)
    life = np.array([then.history.series[s].life for s in series], dtype=np.intp)
    return Ahead(
        series=place,
        from_kh=then.last_tau_h[life] / H_PER_KH,
        to_kh=(table["total_h"].to_numpy(dtype=np.float64)[at] - then.began_h[life]) / H_PER_KH,
        z_um=table["wear_um"].to_numpy(dtype=np.float64)[at],
        u_um=table["u_um"].to_numpy(dtype=np.float64)[at],
        step_um=table["step_um"].to_numpy(dtype=np.float64)[at],
    )
