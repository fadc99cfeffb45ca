"""Rows of small trends along the shaft: which quantity of which bearings stands in which row."""

from __future__ import annotations

from dataclasses import dataclass

from wearcast import words
from wearcast.report.positions import Place
from wearcast.report.shaft_geometry import Grid
from wearcast.report.shaft_order import split_label
from wearcast.report.trends import Trend

LOADED = {"main": "lower", "big_end": "upper", "small_end": "lower"}
"""The half that carries the load in a trunk-piston engine, whose wall is drawn; common practice."""


@dataclass(frozen=True)
class Lane:
    """One row of small trends: what is drawn, and the place and trend of each position that has one."""

    bearing: str
    bank: str
    half: str
    quantity: str
    trends: dict[int, tuple[Place, Trend]]
    numbers: tuple[int, ...]

    @property
    def name(self) -> tuple[str, str]:
        """What the lane is called, in two lines."""
        bank = f", bank {self.bank}" if self.bank else ""
        title = words.capital(self.bearing.replace("_", " "))
        return (
            title if self.bearing == "thrust" else f"{title}s{bank}",
            words.quantity_words(self.half, self.quantity),
        )


def lanes_of(grid: Grid, places: tuple[Place, ...]) -> tuple[tuple[Lane, ...], tuple[Lane, ...]]:
    """Lanes above the shaft and below it."""
    above, below = [], []
    for bearing in ("small_end", "big_end", "main"):
        for bank in _banks(places, bearing):
            lane = _lane_of(grid, places, bearing, bank, LOADED[bearing], "wall")
            if lane.trends or bearing != "small_end":
                above.append(lane)
    for bearing, quantity in (
        ("main", "clearance"),
        ("thrust", "axial_clearance"),
        ("big_end", "clearance"),
        ("small_end", "clearance"),
    ):
        for bank in _banks(places, bearing):
            lane = _lane_of(grid, places, bearing, bank, "", quantity)
            if lane.trends:
                below.append(lane)
    return tuple(above), tuple(below)


def _banks(places: tuple[Place, ...], bearing: str) -> list[str]:
    """Banks of a vee engine; one without a name where there are none."""
    return sorted({split_label(place.spot.position)[1] for place in places if place.spot.bearing == bearing})


def _lane_of(
    grid: Grid, places: tuple[Place, ...], bearing: str, bank: str, half: str, quantity: str
) -> Lane:
    at_mains = bearing in ("main", "thrust")
    found = {}
    for place in places:
        at, rest = split_label(place.spot.position)
        trend = trend_at(place, half, quantity)
        if (place.spot.bearing, rest) == (bearing, bank) and trend is not None and _drawn(grid, at, at_mains):
            found[at] = (place, trend)
    every = grid.line.mains if at_mains else grid.line.throws
    numbers = tuple(found) if bearing == "thrust" else tuple(n for n in every if _drawn(grid, n, at_mains))
    return Lane(bearing, bank, half, quantity, found, numbers)


def _drawn(grid: Grid, at: int, at_mains: bool) -> bool:
    """Whether a number has its column."""
    if at_mains:
        return at in grid.line.mains
    left = grid.line.left_of(at)
    return at in grid.line.throws and left in grid.line.mains and left + 1 in grid.line.mains


def trend_at(place: Place, half: str, quantity: str) -> Trend | None:
    """The trend of a quantity of one half: of the life in service, of the size last fitted."""
    found = [trend for trend in place.trends if (trend.half, trend.quantity) == (half, quantity)]
    found = [trend for trend in found if any(strand.dots for strand in trend.strands)]
    return max(
        found,
        key=lambda trend: max((s.life.in_service, s.life.shell_no) for s in trend.strands),
        default=None,
    )
