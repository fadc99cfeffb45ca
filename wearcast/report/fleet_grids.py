"""Sisters side by side: the same place of every engine above the same place of the next, as small trends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from wearcast import words
from wearcast.report.gather import EngineRecords
from wearcast.report.lanes import LOADED, trend_at
from wearcast.report.positions import Place
from wearcast.report.shaft_drawing import early_words, row_of, said_of
from wearcast.report.shaft_order import Spot
from wearcast.report.small_trend import small_trend
from wearcast.report.svg import number, tag
from wearcast.report.view import FleetCell, FleetGrid, FleetRow

WIDTH, HEIGHT = 112.0, 42.0

FIRST = 6
"""Engines drawn before any is unfolded (layout)."""

KINDS = ("main", "big_end")
"""Bearings that sisters are compared at."""

_Sisters = tuple[str, str, str]
"""Engine type, the end that No. 1 stands at, and kind of bearing."""


@dataclass
class SistersSeen:
    """Engines gathered one by one, so that none need be kept whole."""

    rows: dict[_Sisters, list[tuple[EngineRecords, str, dict[Spot, FleetCell]]]] = field(default_factory=dict)
    spots: dict[_Sisters, set[Spot]] = field(default_factory=dict)

    def add(self, records: EngineRecords, page: str, places: Sequence[Place]) -> None:
        """Take the small trends of one engine."""
        for kind in KINDS:
            here = [place for place in places if place.spot.bearing == kind]
            sisters = (records.engine.engine_type, str(records.engine.facts["numbered_from"]), kind)
            cells = {place.spot: cell for place in here if (cell := _cell(records, place))}
            self.rows.setdefault(sisters, []).append((records, page, cells))
            self.spots.setdefault(sisters, set()).update(place.spot for place in here)

    def grids(self) -> tuple[FleetGrid, ...]:
        """One grid for each kind of engine and bearing of which anything was read."""
        return tuple(
            _grid(sisters, _soonest_first(rows), sorted(self.spots[sisters], key=lambda spot: spot.order))
            for sisters, rows in self.rows.items()
            if any(cells for _, _, cells in rows)
        )


def _soonest_first(
    rows: list[tuple[EngineRecords, str, dict[Spot, FleetCell]]],
) -> list[tuple[EngineRecords, str, dict[Spot, FleetCell]]]:
    """As they come; where not all are shown at once, those whose limits come soonest first."""

    def soonest(records: EngineRecords) -> date:
        found = [on for row in records.table_rows if isinstance(on := row.date_at(10), date)]
        return min(found, default=date.max)

    return rows if len(rows) <= FIRST else sorted(rows, key=lambda one: soonest(one[0]))


def _grid(
    sisters: _Sisters, rows: list[tuple[EngineRecords, str, dict[Spot, FleetCell]]], spots: list[Spot]
) -> FleetGrid:
    engine_type, numbered_from, kind = sisters
    what = words.quantity_words(LOADED[kind], "wall")
    bearing = kind.replace("_", " ")
    end = words.END_WORDS.get(numbered_from, "end not told")
    return FleetGrid(
        title=f"{engine_type}: {bearing}s, {what}",
        caption=f"No. 1 at the {end}. Each small trend runs from new to the limit, over the hours of its engine; "
        "below it the date before which the limit is reached with a chance of 10 %.",
        bearing=bearing,
        heads=tuple(words.capital(words.bearing_words(spot.bearing, spot.position)) for spot in spots),
        first=FIRST,
        rows=tuple(
            FleetRow(
                page,
                records.engine.vessel,
                records.engine.engine,
                tuple(cells.get(spot) for spot in spots),
            )
            for records, page, cells in rows
        ),
    )


def _cell(records: EngineRecords, place: Place) -> FleetCell | None:
    """The wall of the loaded half; None where it was never read."""
    trend = trend_at(place, LOADED[place.spot.bearing], "wall")
    if trend is None:
        return None
    row = row_of(records, trend)
    title = words.capital(words.bearing_words(place.spot.bearing, place.spot.position))
    drawing = tag(
        "svg",
        small_trend(trend, WIDTH, HEIGHT),
        class_="small",
        viewBox=f"0 0 {number(WIDTH)} {number(HEIGHT)}",
        aria_hidden="true",
    )
    return FleetCell(
        drawing,
        place.anchor,
        f"{records.engine.vessel} {records.engine.engine}, {said_of(records, title, trend)}",
        records.row_numbers[row.life] if row else -1,
        early_words(records, row) if row else "no forecast",
        row.statement if row else "",
    )
