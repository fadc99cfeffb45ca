"""Figures of a backtest, each with its standard error clustered by opening."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.backtesting.predictions import HOUR_LEVELS, LEVELS
from wearcast.backtesting.table import HOURS, OWN_HOURS, OWN_WEAR, WEAR
from wearcast.units import H_PER_KH
from wearcast.wear.curves import LONGEST_KH
from wearcast.wear.scores import clustered_mean, pinball_loss

Floats = NDArray[np.float64]

COLUMNS = (
    "run", "readings_of", "of", "figure", "value", "standard_error", "expected", "unit", "readings", "openings",
)  # fmt: skip
ALL, UNDOUBTED = "all", "undoubted"
LONGEST_H = LONGEST_KH * H_PER_KH
"""What an open end counts as, and the longest hours that count."""


@dataclass(frozen=True)
class Figure:
    """One figure: a number for each reading, NaN where it does not apply, and its mean.

    Attributes
    ----------
    expected : float
        Its value were the forecast right; NaN where there is none.
    by_class : bool
        Also given class by class.
    """

    name: str
    words: str
    unit: str
    of: Callable[[pd.DataFrame], Floats]
    expected: float = np.nan
    by_class: bool = False


def _inside(low: float, high: float) -> Callable[[pd.DataFrame], Floats]:
    lower, upper = WEAR[LEVELS.index(low)], WEAR[LEVELS.index(high)]
    return lambda table: _shares((table["wear_um"] >= table[lower]) & (table["wear_um"] <= table[upper]))


def _more_worn(table: pd.DataFrame) -> Floats:
    return _shares(table["wear_um"] > table[WEAR[-1]])


def _less_worn(table: pd.DataFrame) -> Floats:
    return _shares(table["wear_um"] < table[WEAR[0]])


def _shares(holds: pd.Series) -> Floats:
    """1 where something holds, 0 where not: their mean is its share."""
    return np.asarray(holds.to_numpy(), dtype=np.float64)


def _pit_between(low: float, high: float) -> Callable[[pd.DataFrame], Floats]:
    return lambda table: _shares((table["pit"] >= low) & ((table["pit"] < high) | (high == 1.0)))


def wear_loss(table: pd.DataFrame, columns: tuple[str, ...]) -> Floats:
    """Pinball loss of each reading, mean over the quantiles [µm]; one column stands for all of them."""
    quantiles = table[list(columns)].to_numpy(dtype=np.float64)
    quantiles = np.broadcast_to(quantiles, (len(table), len(LEVELS)))
    return np.asarray(pinball_loss(table["wear_um"].to_numpy(float), quantiles, np.array(LEVELS)).mean(1))


def hours_loss(table: pd.DataFrame, columns: tuple[str, ...]) -> Floats:
    """Pinball loss of the hours of each reading, mean over 5, 50 and 95 %, open ends at 200 000 h [h]."""
    quantiles = table[list(columns)].to_numpy(dtype=np.float64)
    closed = np.where(np.isnan(quantiles), LONGEST_H, np.minimum(quantiles, LONGEST_H))
    closed = np.broadcast_to(closed, (len(table), len(HOUR_LEVELS)))
    taken = table["hours_taken"].to_numpy(dtype=np.float64)
    return np.asarray(pinball_loss(np.minimum(taken, LONGEST_H), closed, np.array(HOUR_LEVELS)).mean(1))


def _wear(
    columns: tuple[str, ...], beside: tuple[str, ...] | None = None
) -> Callable[[pd.DataFrame], Floats]:
    """Loss of some columns; only where those beside say something."""

    def loss(table: pd.DataFrame) -> Floats:
        says = np.isfinite(table[list(beside or columns)].to_numpy(dtype=np.float64)).all(axis=1)
        return np.where(says, wear_loss(table, columns), np.nan)

    return loss


def _hours(
    columns: tuple[str, ...], beside: tuple[str, ...] | None = None
) -> Callable[[pd.DataFrame], Floats]:
    """Loss of some columns in hours; where others are named, only where none of these is open."""

    def loss(table: pd.DataFrame) -> Floats:
        all_of = hours_loss(table, columns)
        if beside is None:
            return all_of
        closed = np.isfinite(table[list(beside)].to_numpy(dtype=np.float64)).all(axis=1)
        return np.where(closed, all_of, np.nan)

    return loss


def _open(columns: tuple[str, ...]) -> Callable[[pd.DataFrame], Floats]:
    return lambda table: _shares(table[list(columns)].isna().any(axis=1))


TWO_WEAR, TWO_HOURS = ("two_points_um",), ("two_points_h",)

FIGURES: tuple[Figure, ...] = (
    Figure("inside_50", "inside the 50 % range", "share", _inside(0.25, 0.75), 0.50),
    Figure("inside_80", "inside the 80 % range", "share", _inside(0.10, 0.90), 0.80),
    Figure("inside_90", "inside the 90 % range", "share", _inside(0.05, 0.95), 0.90, by_class=True),
    Figure("more_worn", "more worn than the range allows", "share", _more_worn, 0.05, by_class=True),
    Figure("less_worn", "less worn than the range allows", "share", _less_worn, 0.05),
    *(
        Figure(f"pit_{k + 1}", f"PIT from {k / 10:.1f} to {(k + 1) / 10:.1f}", "share",
               _pit_between(k / 10, (k + 1) / 10), 0.10)
        for k in range(10)
    ),
    Figure("loss_um", "pooled forecast, all readings", "um", _wear(WEAR), by_class=True),
    Figure("own_loss_um", "own line, where it has a range", "um", _wear(OWN_WEAR)),
    Figure("loss_um_beside_own", "pooled forecast, same readings", "um", _wear(WEAR, OWN_WEAR)),
    Figure("two_points_loss_um", "line of the last two points", "um", _wear(TWO_WEAR)),
    Figure("loss_um_beside_two_points", "pooled forecast, same readings", "um", _wear(WEAR, TWO_WEAR)),
    Figure("loss_h", "pooled forecast, all readings", "h", _hours(HOURS)),
    Figure("own_loss_h", "own line, all readings", "h", _hours(OWN_HOURS)),
    Figure("two_points_loss_h", "last two points, all readings", "h", _hours(TWO_HOURS)),
    Figure("loss_h_closed", "pooled forecast, where not open", "h", _hours(HOURS, HOURS)),
    Figure("own_loss_h_closed", "own line, where not open", "h", _hours(OWN_HOURS, OWN_HOURS)),
    Figure("loss_h_beside_own_closed", "pooled forecast, same readings", "h", _hours(HOURS, OWN_HOURS)),
    Figure("two_points_loss_h_closed", "last two points, where not open", "h",
           _hours(TWO_HOURS, TWO_HOURS)),
    Figure("loss_h_beside_two_points_closed", "pooled forecast, same readings", "h", _hours(HOURS, TWO_HOURS)),
    Figure("open", "pooled forecast with an open end", "share", _open(HOURS)),
    Figure("own_open", "own line open or silent", "share", _open(OWN_HOURS)),
    Figure("two_points_open", "last two points open or silent", "share", _open(TWO_HOURS)),
)  # fmt: skip
"""Every figure; a new one is one row here.

The loss in µm is the one to judge by: it scores the distribution of the reading itself and is least for the true one.
The loss in hours turns it round: the hours until a reading shows what the hidden one showed, against the hours it took.
It speaks the superintendent's unit, but what is asked for depends on what came, so it only stands beside.
"""


def summarise(table: pd.DataFrame) -> pd.DataFrame:
    """Every figure of a backtest's table, with and without the doubted readings.

    Readings of one opening (engine × date) share a gauge and move together; the standard errors allow for that.
    """
    rows = []
    table = table.assign(opening=table.groupby(["vessel", "engine", "date"]).ngroup())
    for run in sorted(set(table["run"].astype(int))):
        of_run = table[table["run"] == run]
        for readings_of in (ALL, UNDOUBTED):
            chosen = of_run if readings_of == ALL else of_run[~of_run["doubted"].astype(bool)]
            rows += [_row(run, readings_of, ALL, figure, chosen) for figure in FIGURES]
            for name in dict.fromkeys(chosen["class"]):
                mine = chosen[chosen["class"] == name]
                rows += [_row(run, readings_of, name, figure, mine) for figure in FIGURES if figure.by_class]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _row(run: int, readings_of: str, of: str, figure: Figure, table: pd.DataFrame) -> tuple[object, ...]:
    values = figure.of(table)
    applies = np.isfinite(values)
    opening = table["opening"].to_numpy(dtype=np.intp)[applies]
    mean, error = clustered_mean(values[applies], opening)
    return (
        run, readings_of, of, figure.name, mean, error, figure.expected, figure.unit,
        int(applies.sum()), len(np.unique(opening)),
    )  # fmt: skip
