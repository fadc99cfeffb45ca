"""The table of the backtest: one row a hidden reading, with what each way of forecasting said of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.backtesting.predictions import HOUR_LEVELS, LEVELS, Ahead, Predicted
from wearcast.forecasting.classes import ClassKey
from wearcast.forecasting.run import Forecast
from wearcast.units import H_PER_KH
from wearcast.wear.scores import pit

Floats = NDArray[np.float64]


def named(prefix: str, levels: Sequence[float], unit: str) -> tuple[str, ...]:
    """Columns of some quantiles.

    >>> named("own_", (0.05, 0.5), "_um")
    ('own_p05_um', 'own_p50_um')
    """
    return tuple(f"{prefix}p{100 * level:02.0f}{unit}" for level in levels)


WEAR = named("", LEVELS, "_um")
OWN_WEAR = named("own_", LEVELS, "_um")
HOURS = named("", HOUR_LEVELS, "_h")
OWN_HOURS = named("own_", HOUR_LEVELS, "_h")

READ = ("date", "row", "state", "instrument", "shell_h", "value_mm", "wear_um")
PLACE = ("vessel", "engine", "bearing", "position", "half", "quantity", "point", "shell_size", "shell_no")
COLUMNS = (
    "run", "ahead", *PLACE, "class", "date", "row", "state", "instrument", "shell_h", "origin", "readings_before",
    "value_mm", "wear_um", "doubted", *WEAR, "pit", *OWN_WEAR, "two_points_um", "hours_taken", *HOURS, *OWN_HOURS,
    "two_points_h",
)  # fmt: skip
"""The columns of the table, in order. Wear counts from the reference, positive towards the limit [µm]; hours count
from the shell's last reading before."""


@dataclass(frozen=True, eq=False)
class Compared:
    """Hidden readings of one class and one day, n of them, with all that was said of them.

    Attributes
    ----------
    rows : DataFrame
        Of `hidden_readings`.
    readings_before : ndarray of int
        Readings in the own line.
    pooled, own : Predicted
    two_points_um, two_points_kh : ndarray
        Of the line through the last two points.
    """

    key: ClassKey
    rows: pd.DataFrame
    ahead: Ahead
    readings_before: NDArray[np.intp]
    pooled: Predicted
    own: Predicted
    two_points_um: Floats
    two_points_kh: Floats


def table_of(known: Forecast, parts: Sequence[Compared], seed: int) -> pd.DataFrame:
    """All that was compared, in order of run, engine, place and date; the PIT drawn in that order."""
    history = known.history
    frames = [_frame(known, part) for part in parts]
    table = pd.concat(frames, ignore_index=True)
    engines = {key: k for k, key in enumerate(history.engines)}
    number = [engines[key] for key in zip(table["vessel"], table["engine"], strict=True)]
    table = table.assign(engine_number=number).sort_values(
        ["run", "engine_number", "bearing", "position", "half", "quantity", "point", "date", "row"],
        kind="stable",
        ignore_index=True,
    )
    below, at_or_below = (table[name].to_numpy(dtype=np.float64) for name in ("below", "at_or_below"))
    table["pit"] = pit(below, at_or_below, np.random.default_rng(seed))
    return table[list(COLUMNS)]


def empty_table() -> pd.DataFrame:
    """A table without a row."""
    return pd.DataFrame({name: pd.Series(dtype=float) for name in COLUMNS})


def _frame(known: Forecast, part: Compared) -> pd.DataFrame:
    at = part.rows["at"].to_numpy(dtype=np.intp)
    read = known.history.readings[[*PLACE[:7], *READ, "life"]].iloc[at]
    lives = [known.history.lives[k] for k in read["life"]]
    columns: dict[str, object] = {
        "run": part.rows["run"].to_numpy(),
        "ahead": part.rows["ahead"].to_numpy(),
        **{name: read[name].to_numpy() for name in PLACE[:7]},
        "shell_size": [life.shell_size for life in lives],
        "shell_no": [life.shell_no for life in lives],
        "class": str(part.key),
        **{name: read[name].to_numpy() for name in READ},
        "origin": part.rows["origin"].to_numpy(),
        "readings_before": part.readings_before,
        "doubted": known.doubted[at],
        "below": part.pooled.below,
        "at_or_below": part.pooled.at_or_below,
        "two_points_um": part.two_points_um,
        "hours_taken": part.ahead.hours_kh * H_PER_KH,
        "two_points_h": part.two_points_kh * H_PER_KH,
    }  # fmt: skip
    for names, values in (
        (WEAR, part.pooled.wear_um),
        (OWN_WEAR, part.own.wear_um),
        (HOURS, part.pooled.hours_kh * H_PER_KH),
        (OWN_HOURS, part.own.hours_kh * H_PER_KH),
    ):
        columns |= {name: values[:, j] for j, name in enumerate(names)}
    return pd.DataFrame(columns)
