"""A close look at the own line of one series: statsmodels' summary, other lines, and each reading left out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from wearcast.frames import rows_of
from wearcast.units import H_PER_KH
from wearcast.wear.diagnose import Diagnosis, diagnose

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wearcast.forecasting.own import OwnForecasts
    from wearcast.lives.history import EngineKey, History

FEWEST = 3
"""Readings from which a line can be looked at: two leave no scatter."""


@dataclass(frozen=True, eq=False)
class OwnLook:
    """The own line of one trend of a shell, to look at closely; `str` gives it as plain text.

    Attributes
    ----------
    name : str
        Shell, quantity and point in words.
    readings : DataFrame
        The readings in the line: `table`, `row`, `date`, `shell_h` [h], `wear_um`, `u_um` (stated), `residual_um`,
        `leverage`, `left_out_residual` (over its standard error, that reading left out).
    diagnosis : Diagnosis
        Four lines, and the statsmodels results behind the own one (`diagnosis.fit`).
    """

    name: str
    readings: pd.DataFrame
    diagnosis: Diagnosis

    def __str__(self) -> str:
        """The look as plain text."""
        seen, lines = self.diagnosis, self.readings
        rates = {
            "own line": seen.own,
            "held through no wear at the start": seen.through_origin,
            "Huber": seen.huber,
            "Theil-Sen": seen.theil_sen,
        }
        told = [
            f"{one.table} row {one.row}: {one.residual_um:+.1f} µm"
            + ("" if np.isnan(one.left_out_residual) else f", {one.left_out_residual:+.1f}")
            for one in rows_of(lines)
        ]
        return "\n".join(
            [
                f"{self.name}: {len(lines)} readings",
                "",
                "Level [µm] and rate [µm per 1000 h] of the own line, 90 % range, by statsmodels:",
                seen.summary(),
                "",
                "Rate by other lines: "
                + ", ".join(f"{name} {line.rate_um_per_kh:.3f}" for name, line in rates.items()),
                "Reading less line, and over its standard error with the reading left out:",
                *(f"  {text}" for text in told),
            ]
        )

    def _repr_html_(self) -> str:
        return f"<pre>{escape(str(self))}</pre>"


def own_looks(history: History, own: OwnForecasts, engine: EngineKey) -> Iterator[OwnLook]:
    """Every own line of one engine's shells in service that enough readings are in.

    Parameters
    ----------
    history : History
    own : OwnForecasts
        Of the history.
    engine : tuple of str
        Vessel and engine.

    Yields
    ------
    OwnLook
        In order of lives and points; readings all of one age, or on a line to the last digit, are passed over.
    """
    table = history.readings[own.in_line]
    for number, rows in table.groupby("series", sort=True):
        series = history.series[int(str(number))]
        life = history.lives[series.life]
        if (life.place.vessel, life.place.engine) != engine or not life.in_service:
            continue
        ages, wear_um, u_um = (rows[name].to_numpy(dtype=np.float64) for name in ("tau_h", "wear_um", "u_um"))
        if len(rows) >= FEWEST and _scattered(ages / H_PER_KH, wear_um):
            seen = diagnose(ages / H_PER_KH, wear_um, u_um)
            words = (str(life.place), life.quantity.replace("_", " "), series.point.replace("_", " "))
            columns = ["table", "row", "date", "shell_h", "wear_um", "u_um"]
            looked = rows[columns].assign(
                residual_um=seen.residual_um,
                leverage=seen.leverage,
                left_out_residual=seen.left_out_residual,
            )
            yield OwnLook(" ".join(filter(None, words)), looked.reset_index(drop=True), seen)


def _scattered(age_kh: NDArray[np.float64], wear_um: NDArray[np.float64]) -> bool:
    """Whether there is a line, and readings that do not all lie on it: rounding alone tells nothing."""
    if np.ptp(age_kh) == 0:
        return False
    x, y = age_kh - age_kh.mean(), wear_um - wear_um.mean()
    left = y - (x @ y) / (x @ x) * x
    return bool(np.abs(left).max() > 1e-9 * max(np.abs(wear_um).max(), 1.0))
