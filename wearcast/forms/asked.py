"""What a form asks for: the places and points read before on this engine or its sisters, along the shaft."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd

from wearcast.companions.web_deflection import mains_beside
from wearcast.errors import WrongUse
from wearcast.forecasting.run import Forecast
from wearcast.forms.expected import Ahead, Band, ahead, as_last_read, bands
from wearcast.forms.places import CLOSED, FOUND, PARTS, RENEWED, Asked, only_places
from wearcast.lives.history import EngineAt, EngineKey, History
from wearcast.lives.shells import Life, Place, engine_key, natural_order
from wearcast.quantities import BEARINGS, HALVES, QUANTITIES
from wearcast.records.form_layout import JOURNAL
from wearcast.records.names import spellings
from wearcast.words import unit_words


@dataclass(frozen=True)
class FormContent:
    """Everything a form shows, before any cell is written.

    Attributes
    ----------
    shells : tuple of (bearing, position, half, size now fitted)
        Half-bearings and journals that may be renewed, along the shaft.
    sizes : tuple of str
        Shell sizes that have a limit on this engine type.
    gauges : mapping of quantity to tuple of str
        Gauges on record, the one last used first.
    ranges : bool
        Whether the form shows the range each value is expected in.
    """

    engine: EngineAt
    opening: date
    far: Ahead
    readings: tuple[Asked, ...]
    shells: tuple[tuple[str, str, str, str], ...]
    sizes: tuple[str, ...]
    gauges: Mapping[str, tuple[str, ...]]
    ranges: bool = True

    def without_ranges(self) -> FormContent:
        """The same without what is expected, for those who would copy numbers; limits and last readings stay."""
        blind = tuple(replace(one, expected=None) for one in self.readings)
        return replace(self, readings=blind, ranges=False)


def form_content(
    forecast: Forecast,
    vessel: str,
    engine: str,
    opening: date,
    counter_h: float | None = None,
    places: Sequence[str] = (),
) -> FormContent:
    """What to ask for at an opening of one engine.

    Parameters
    ----------
    counter_h : float, optional
        What the counter will show then [h]; else it follows from the yearly use.
    places : sequence of str
        Only these places (``main 3``), and with a main the deflections of the throws beside it and the axial
        clearance after closing up; all if none is named.

    Raises
    ------
    WrongUse
        If there is no such engine or place, or the opening lies before its last reading.
    """
    history = forecast.history
    at = _engine(history, vessel, engine)
    far = ahead(at, opening, counter_h)
    sisters = [key for key, other in history.engines.items() if other.engine_type == at.engine_type]
    table = _read_before(history, sisters)
    asked = _asked(at, table)
    if not asked:
        raise WrongUse(
            f"{vessel} {engine}: nothing was read on this engine or its sisters; nothing to ask for."
        )
    shells = _shells(at, table)
    if places:
        asked, shells = only_places(at, asked, shells, places)
    looked_up = _Lookup.of(
        history, at.key, bands(forecast, at.key, far), as_last_read(forecast, at.key, "web_deflection")
    )
    last = _last(table, at.key)
    return FormContent(
        engine=at,
        opening=opening,
        far=far,
        readings=tuple(
            replace(
                looked_up.with_expected(one), last="" if one.part == RENEWED else last.get(_place_of(one), "")
            )
            for one in asked
        ),
        shells=tuple((*place, looked_up.size(place)) for place in shells),
        sizes=tuple(
            dict.fromkeys(
                limit.shell_size for limit in history.limits.limits if limit.engine_type == at.engine_type
            )
        ),
        gauges={
            quantity: used
            for quantity, used in _gauges(table, at.key).items()
            if any(one.quantity == quantity for one in asked)
        },
    )


def _engine(history: History, vessel: str, engine: str) -> EngineAt:
    return history.engines[spellings(vessel, engine, tuple(history.engines))[0]]


def _read_before(history: History, engines: Sequence[EngineKey]) -> pd.DataFrame:
    """Readings of the engines, those as a person took them."""
    table = history.readings[history.readings["table"] == "readings"]
    keys = pd.Series(
        list(zip(table["vessel"], table["engine"], strict=True)), index=table.index, dtype=object
    )
    return table[keys.isin(engines).to_numpy(dtype=bool)].sort_values("date", kind="stable")


def _asked(at: EngineAt, table: pd.DataFrame) -> list[Asked]:
    units = dict(zip(table["quantity"], table["unit"], strict=True))  # the last one used
    places = table[["bearing", "position", "half", "point", "quantity"]].drop_duplicates()
    found = []
    for bearing, position, half, point, quantity in places.itertuples(index=False):
        one = Asked(FOUND, bearing, position, half, point, quantity, units[quantity], "as_found")
        if quantity != "web_deflection" or _was(table, quantity, "as_found"):
            found.append(one)
        if QUANTITIES[quantity].read_closed:
            found.append(replace(one, part=CLOSED, state="as_left"))
        if QUANTITIES[quantity].read_renewed:
            found.append(replace(one, part=RENEWED, state="as_left"))
    return sorted(
        found, key=lambda one: (PARTS.index(one.part), *_along(at, one.bearing, one.position), *_order(one))
    )


def _was(table: pd.DataFrame, quantity: str, state: str) -> bool:
    return bool(((table["quantity"] == quantity) & (table["state"] == state)).any())


def _place_of(one: Asked) -> tuple[str, ...]:
    return one.bearing, one.position, one.half, one.point, one.quantity


def _last(table: pd.DataFrame, key: EngineKey) -> dict[tuple[str, ...], str]:
    """What was read last at each point of one engine, as written, and when."""
    mine = table[(table["vessel"] == key[0]) & (table["engine"] == key[1])]
    columns = ("bearing", "position", "half", "point", "quantity", "value_text", "unit", "date")
    return {
        tuple(place): f"{value} {unit_words(unit)}, {on:%Y-%m-%d}"
        for *place, value, unit, on in zip(*(mine[name] for name in columns), strict=True)
    }


def _along(at: EngineAt, bearing: str, position: str) -> tuple[object, ...]:
    """Order along the shaft, from No. 1: throws between their mains, the thrust after its own main."""
    number = float(position) if position.isdigit() else np.nan
    if bearing == "thrust":
        beside = str(at.facts.get("thrust_at") or "")
        number = (float(beside) if beside.isdigit() else number) + 0.2
    elif bearing in ("big_end", "small_end"):
        number = mains_beside(at, position)[0] + 0.5
    elif bearing != "main":
        number = np.nan
    known = bool(np.isfinite(number))
    return (not known, number if known else 0.0, BEARINGS.index(bearing), natural_order(position))


def _order(one: Asked) -> tuple[object, ...]:
    points = QUANTITIES[one.quantity].points
    return (
        list(QUANTITIES).index(one.quantity),
        (*HALVES, "").index(one.half),
        points.index(one.point) if one.point in points else -1,
    )


def _shells(at: EngineAt, table: pd.DataFrame) -> tuple[tuple[str, str, str], ...]:
    shells = table[table["quantity"] != "web_deflection"]
    places = set(zip(shells["bearing"].tolist(), shells["position"].tolist(), strict=True))
    found: list[tuple[str, str, str]] = []
    for bearing, position in sorted(places, key=lambda place: _along(at, *place)):
        mine = shells[(shells["bearing"] == bearing) & (shells["position"] == position)]
        read = [half for half in HALVES if (mine["half"] == half).any()]
        halves = [*HALVES, JOURNAL] if bearing in ("main", "big_end") else read or [""]
        found += [(bearing, position, half) for half in halves]
    return tuple(found)


def _gauges(table: pd.DataFrame, key: EngineKey) -> Mapping[str, tuple[str, ...]]:
    """Gauges used on this engine, the last one first; of sisters where it has none on record."""
    own = (table["vessel"] == key[0]) & (table["engine"] == key[1])
    found = {}
    for quantity in (name for name in QUANTITIES if (table["quantity"] == name).any()):
        rows = table[(table["quantity"] == quantity) & (table["instrument"] != "")]
        mine = rows[own.loc[rows.index]]
        used = (mine if len(mine) else rows)["instrument"].tolist()
        found[quantity] = tuple(dict.fromkeys(reversed(used)))
    return found


@dataclass(frozen=True)
class _Lookup:
    """Lives in service and bands of one engine, by place and quantity."""

    history: History
    key: EngineKey
    lives: Mapping[tuple[Place, str], tuple[int, Life]]
    bands: Mapping[tuple[int, str], Band]
    deflections: Mapping[tuple[str, str, str], Band]

    @classmethod
    def of(
        cls,
        history: History,
        key: EngineKey,
        by_series: Mapping[int, Band],
        deflections: Mapping[tuple[str, str, str], Band],
    ) -> _Lookup:
        lives = {
            (life.place, life.quantity): (k, life)
            for k, life in enumerate(history.lives)
            if life.in_service and engine_key(life.place) == key
        }
        of_point = {(history.series[k].life, history.series[k].point): band for k, band in by_series.items()}
        return cls(history, key, lives, of_point, deflections)

    def size(self, place: tuple[str, str, str]) -> str:
        """The shell size now fitted, as far as it is recorded."""
        bearing, position, half = place
        half = "" if half == JOURNAL else half
        quantities = [name for name in QUANTITIES if half or name != "wall"]
        for quantity in ["journal_diameter", *quantities] if not half else quantities:
            life = self.lives.get((Place(*self.key, bearing, position, half), quantity), (-1, None))[1]
            if life is not None:
                return life.shell_size
        return ""

    def with_expected(self, one: Asked) -> Asked:
        """The value asked for with what it should lie between, as far as anything tells."""
        if one.quantity == "web_deflection":
            return replace(one, expected=self.deflections.get((one.bearing, one.position, one.point)))
        place = Place(*self.key, one.bearing, one.position, one.half)
        index, life = self.lives.get((place, one.quantity), (-1, None))
        if life is None:
            return one
        limit, governs = self.history.limits.find(
            self.history.engine_of(life).engine_type,
            one.bearing,
            one.half,
            one.quantity,
            life.shell_size,
            one.point,
        )
        if limit is None:
            return one
        new = Band(limit.new_min_mm, limit.new_max_mm)
        own = limit.point == one.point or governs
        forecast = self.bands.get((index, one.point))
        shown = replace(one, limit=limit if governs else None)
        if one.part == RENEWED or forecast is None:
            return replace(shown, expected=new, new=True) if own else shown
        if one.part == CLOSED:  # the shells may have been renewed, or refitted as they were
            forecast = Band(min(forecast.low_mm, new.low_mm), max(forecast.high_mm, new.high_mm))
        return replace(shown, expected=forecast)
