"""The drawings of the pages, for whoever works in a notebook: a trend by Plotly, the shaft line as SVG."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

from wearcast import words
from wearcast.decide.eased import NO_CHANGES
from wearcast.errors import WrongUse
from wearcast.report.companions import Companions
from wearcast.report.figures import figure
from wearcast.report.gather import EngineRecords, cut_by_engine
from wearcast.report.pages import drawing_alone
from wearcast.report.positions import Place, places_of
from wearcast.report.shaft_view import shaft_view

if TYPE_CHECKING:
    from plotly.graph_objects import Figure

    from wearcast.forecasting.run import Forecast
    from wearcast.report.trends import Trend


class ShaftDrawing:
    """The shaft line of an engine with the small trends of its bearings; a notebook shows it by itself.

    Attributes
    ----------
    svg : str
        The drawing, whole in itself.
    """

    def __init__(self, svg: str) -> None:
        self.svg = svg

    def __repr__(self) -> str:
        return f"<ShaftDrawing: {len(self.svg)} characters of SVG>"

    def _repr_html_(self) -> str:
        """The drawing with the inks and line styles of the page, kept to itself."""
        return drawing_alone(self.svg)


def trend_figure(
    forecast: Forecast,
    vessel: str,
    engine: str,
    bearing: str,
    position: str,
    half: str = "",
    quantity: str = "",
) -> Figure:
    """The chart of a place as it stands on the engine's page.

    Parameters
    ----------
    forecast : Forecast
    vessel, engine, bearing, position : str
    half, quantity : str
        Where a place has several charts; the first of them otherwise, which is the one that ends first.

    Returns
    -------
    plotly.graph_objects.Figure

    Raises
    ------
    WrongUse
        If there is no such chart; those there are named.
    """
    from plotly.graph_objects import Figure

    records = _engine(forecast, vessel, engine)
    trends = [
        (trend, place)
        for place in places_of(records)
        for trend in place.trends
        if (place.spot.bearing, place.spot.position) == (bearing, str(position)) and place.read
    ]
    chosen = [pair for pair in trends if half in ("", pair[0].half) and quantity in ("", pair[0].quantity)]
    if not chosen:
        wanted = " ".join(filter(None, (bearing, str(position), half, quantity)))
        raise WrongUse(f"{vessel} {engine} has no readings of {wanted}. {_there_are(records)}")
    trend, place = max(chosen, key=lambda pair: _chance_of(records, pair[0]))
    drawn = Figure(figure(trend))
    title = f"{vessel} {engine}, {words.bearing_words(place.spot.bearing, place.spot.position)}"
    return drawn.update_layout(title=f"{title}, {words.quantity_words(trend.half, trend.quantity)}")


def shaft_of(forecast: Forecast, vessel: str, engine: str) -> ShaftDrawing:
    """The shaft line as it stands on the engine's page.

    Parameters
    ----------
    forecast : Forecast
    vessel, engine : str

    Returns
    -------
    ShaftDrawing

    Raises
    ------
    WrongUse
        If there is no such engine.
    """
    records = _engine(forecast, vessel, engine)
    return ShaftDrawing(str(shaft_view(records, places_of(records), Companions(forecast)).drawing))


def _engine(forecast: Forecast, vessel: str, engine: str) -> EngineRecords:
    found = {records.engine.key: records for records in cut_by_engine(forecast, NO_CHANGES)}
    if (vessel, engine) not in found:
        raise WrongUse(f"there is no engine {vessel} {engine}; there are {', '.join(map(' '.join, found))}.")
    return found[(vessel, engine)]


def _chance_of(records: EngineRecords, trend: Trend) -> float:
    """What puts a chart first: the chance that its limit is reached before the next window."""
    chances: list[Any] = [
        records.rows[life].p_limit_before_next_window for life in trend.lives if life in records.rows
    ]
    return max((float(one) for one in chances if one is not None and isfinite(one)), default=-1.0)


def _there_are(records: EngineRecords) -> str:
    read: list[Place] = [place for place in places_of(records) if place.read]
    return f"There are {', '.join(f'{place.spot.bearing} {place.spot.position}' for place in read)}."
