"""What the companion measurements make of a whole forecast, worked out once for all pages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import pandas as pd

from wearcast.companions.journal import journal_trends, journals_at_openings
from wearcast.companions.shaft_line import MainHeight, heights_of_mains
from wearcast.companions.walls_clearance import compare_walls_with_clearance
from wearcast.companions.web_deflection import deflection_trends, web_deflections
from wearcast.forecasting.run import Forecast
from wearcast.frames import rows_of
from wearcast.lives.history import EngineKey
from wearcast.lives.shells import Place
from wearcast.report.shaft_order import split_label

PLACE = ["vessel", "engine", "bearing", "position"]


@dataclass(frozen=True)
class Companions:
    """What the companions make of a whole forecast, worked out once for all pages."""

    forecast: Forecast

    @cached_property
    def deflections(self) -> pd.DataFrame:
        """Every throw at every measurement, with the drift of the throw."""
        history, used = self.forecast.history, self.forecast.used
        drifts = deflection_trends(history, used)[["vessel", "engine", "position", *_DRIFT]]
        return web_deflections(history, used).merge(drifts, on=["vessel", "engine", "position"], how="left")

    @cached_property
    def heights(self) -> tuple[MainHeight, ...]:
        """How the shaft stands at each main, beside the wear rates of the forecast."""
        return heights_of_mains(self.forecast.history, self.forecast.used, _lower_rates(self.forecast))

    @cached_property
    def clearances(self) -> pd.DataFrame:
        """Clearance against walls at every opening."""
        return compare_walls_with_clearance(self.forecast.history, self.forecast.used)

    @cached_property
    def journals(self) -> pd.DataFrame:
        """Every journal at every opening, with its wear rate since it was last ground."""
        history, used = self.forecast.history, self.forecast.used
        rates = journal_trends(history, used)[[*PLACE, "grinding", *_RATE]]
        return journals_at_openings(history, used).merge(rates, on=[*PLACE, "grinding"], how="left")


_DRIFT = ["drift_um_per_kh", "drift_u_um_per_kh"]
_RATE = ["wear_rate_um_per_kh", "wear_rate_u_um_per_kh"]


def _lower_rates(forecast: Forecast) -> Mapping[Place, tuple[float, float]]:
    """Wear rates of the lower main shells as the forecast table has them."""
    return {
        forecast.history.lives[row.life].place: (
            float(row.wear_rate_um_per_kh),
            float(row.wear_rate_u_um_per_kh),
        )
        for row in forecast.rows
        if (row.bearing, row.half, row.quantity) == ("main", "lower", "wall") and row.readings > 0
    }


def last_of_each(table: pd.DataFrame, key: EngineKey, by: list[str]) -> list[Any]:
    """The last row of each place of an engine, in shaft order."""
    mine = table[(table["vessel"] == key[0]) & (table["engine"] == key[1])]
    if mine.empty:
        return []
    last = mine.sort_values(["date", "state"], kind="stable").drop_duplicates(by, keep="last")
    return sorted(
        rows_of(last), key=lambda row: (getattr(row, "bearing", ""), *split_label(str(row.position)))
    )
