"""How a forecast shows itself, and the drawings that can be asked of it by name."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from wearcast.forecasting.own_look import OwnLook, own_looks
from wearcast.shown import Shown

if TYPE_CHECKING:
    import pandas as pd

    from wearcast.forecasting.own import OwnForecasts
    from wearcast.lives.history import History


class ForecastLooks(Shown):
    """What a notebook asks of a forecast beside its table.

    The drawings are those of the pages, which stand above the forecast: as at the package's own door, they are
    fetched by name when asked for.
    """

    if TYPE_CHECKING:  # what the forecast brings

        @property
        def history(self) -> History: ...  # noqa: D102
        @property
        def table(self) -> pd.DataFrame: ...  # noqa: D102
        @property
        def own(self) -> OwnForecasts: ...  # noqa: D102

    def headline(self) -> str:
        """How many shells of how many engines, as of when, and the earliest date."""
        table = self.table
        engines = len(table[["vessel", "engine"]].drop_duplicates())
        said = f"Forecast of {len(table)} rows of {engines} engines"
        if self.history.refused:
            said += f" (refused: {', '.join(map(' '.join, self.history.refused))})"
        dated = table.dropna(subset=["date_p10"])
        if not len(dated):
            return f"{said}; no dates"
        first = dated.sort_values("date_p10", kind="stable").iloc[0]
        names = ("vessel", "engine", "bearing", "position", "half", "quantity")
        place = " ".join(str(first[name]).replace("_", " ") for name in names if first[name])
        return f"{said}; earliest 10 % date {first['date_p10']}, {place}"

    def glance(self) -> pd.DataFrame:
        """The shells in order of their 10 % dates."""
        shown = [
            "vessel", "engine", "bearing", "position", "half", "quantity", "wear_rate_um_per_kh",
            "hours_to_limit_p10", "hours_to_limit_p50", "date_p10", "statement",
        ]  # fmt: skip
        return self.table.sort_values("date_p10", kind="stable", na_position="last")[shown]

    def plot(
        self, vessel: str, engine: str, bearing: str, position: str, half: str = "", quantity: str = ""
    ) -> Any:
        """The chart of a place as it stands on the engine's page.

        Parameters
        ----------
        vessel, engine, bearing, position : str
        half, quantity : str
            Where a place has several charts; otherwise that whose limit is likeliest to be reached first.

        Returns
        -------
        plotly.graph_objects.Figure

        Raises
        ------
        WrongUse
            If there is no such chart; those there are named.
        """
        drawn = import_module("wearcast.report.notebook")
        return drawn.trend_figure(self, vessel, engine, bearing, position, half, quantity)

    def shaft(self, vessel: str, engine: str) -> Any:
        """The drawing of an engine's shaft line as it stands on its page.

        Parameters
        ----------
        vessel, engine : str

        Returns
        -------
        wearcast.report.notebook.ShaftDrawing
            Shown by a notebook; `svg` is its text.

        Raises
        ------
        WrongUse
            If there is no such engine; those there are named.
        """
        return import_module("wearcast.report.notebook").shaft_of(self, vessel, engine)

    def own_lines(self, vessel: str, engine: str) -> tuple[OwnLook, ...]:
        """A close look at the own line of each shell of an engine, by statsmodels.

        Parameters
        ----------
        vessel, engine : str

        Returns
        -------
        tuple of OwnLook
            Of shells in service with three readings and more in their line.
        """
        return tuple(own_looks(self.history, self.own, (vessel, engine)))
