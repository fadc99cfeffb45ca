"""What must be done first, on one screen: typed lines, each with the places it is about; words come last."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path

from wearcast.decide.compare import Comparison, compare_at
from wearcast.decide.compare_rows import CompareRow
from wearcast.decide.moved import Move, Moved, moved
from wearcast.decide.openings import Opening
from wearcast.decide.order import Order, order_at
from wearcast.decide.order_lines import ORDER_NOW, OrderLine
from wearcast.decide.plan import Plan, plan_at
from wearcast.decide.stand import Stand, stand_of
from wearcast.decide.whole import Whole
from wearcast.forecasting.facts import concerns
from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.run import forecast
from wearcast.forecasting.statements import MAY_BE_PAST, PAST, statement
from wearcast.lives.history import EngineKey
from wearcast.lives.only import Only
from wearcast.lives.shells import Place
from wearcast.queries import Query
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.sources import records_from

Spot = tuple[str, str, str, str]
"""Vessel, engine, bearing and position of a place."""

SOONER = 0.8
"""Share of the early hours from which doubted readings count as changing a decision (judgement)."""


@dataclass(frozen=True)
class Damaged:
    """A place where damage was found on what is in service."""

    spot: Spot
    finding: str
    on: date | None

    @property
    def spots(self) -> tuple[Spot, ...]:
        """The places it is about."""
        return (self.spot,)


@dataclass(frozen=True)
class Reached:
    """Shells of one engine at or past their limit, or perhaps past it, likeliest first."""

    key: EngineKey
    rows: tuple[ShellForecast, ...]

    @property
    def spots(self) -> tuple[Spot, ...]:
        """The places it is about."""
        return tuple(dict.fromkeys(row.key[:4] for row in self.rows))


@dataclass(frozen=True)
class ToOpen:
    """What the plan opens at the next window of a vessel; no window where none is known."""

    vessel: str
    on: date | None
    name: str
    openings: tuple[Opening, ...]

    @property
    def spots(self) -> tuple[Spot, ...]:
        """The places it is about."""
        return tuple((*one.key, one.bearing, one.position) for one in self.openings)


@dataclass(frozen=True)
class ToOrder:
    """A part to order today; `with_type` where the fleet has several engine types."""

    line: OrderLine
    with_type: bool = False

    @property
    def spots(self) -> tuple[Spot, ...]:
        """The places that drive it."""
        return tuple(taker.place for taker, _ in self.line.driving)


@dataclass(frozen=True)
class ToAsk:
    """Doubted readings of one opening that change a decision, and the row they move most.

    Attributes
    ----------
    on : date
        When they were taken.
    row : ShellForecast
        That whose early end they bring furthest forward.
    """

    key: EngineKey
    on: date
    queries: tuple[Query, ...]
    row: ShellForecast

    @property
    def spots(self) -> tuple[Spot, ...]:
        """The place moved most."""
        return (self.row.key[:4],)


@dataclass(frozen=True)
class OutOfLine:
    """A place that wears unlike its sisters."""

    row: CompareRow

    @property
    def spots(self) -> tuple[Spot, ...]:
        """The place."""
        return ((self.row.vessel, self.row.engine, self.row.bearing, self.row.position),)


@dataclass(frozen=True)
class Sister:
    """An engine that wears faster than its sisters over all its places."""

    whole: Whole

    @property
    def spots(self) -> tuple[Spot, ...]:
        """The engine."""
        return ((*self.whole.key, "", ""),)


@dataclass(frozen=True)
class MovedPlace:
    """A place whose early date, statement or planned opening moved since then, and what moved it."""

    move: Move

    @property
    def spots(self) -> tuple[Spot, ...]:
        """The place."""
        return (self.move.key[:4],)


@dataclass(frozen=True)
class Changed:
    """A wear rate that has changed."""

    query: Query

    @property
    def spots(self) -> tuple[Spot, ...]:
        """The vessel and engine, and the kind of bearing; empty where it is all of them."""
        return ((self.query.vessel, self.query.engine, self.query.bearing, ""),)


@dataclass(frozen=True)
class Trust:
    """On what the forecast rests: rows by `rests_on`, and how many queries are open."""

    rests_on: tuple[tuple[str, int], ...]
    queries: int
    spots: tuple[Spot, ...] = ()


Line = Damaged | Reached | ToOpen | ToOrder | ToAsk | OutOfLine | Sister | Changed | MovedPlace | Trust


@dataclass(frozen=True, eq=False)
class Brief:
    """What must be done first.

    Attributes
    ----------
    lines : tuple of Line
        In the order in which they are read.
    only : Only
        What alone was asked for.
    """

    stand: Stand
    order: Order
    lines: tuple[Line, ...]
    only: Only


def brief(
    records: RecordSet | str | Path,
    settings: Settings | None = None,
    only: Only | None = None,
    as_of: date | None = None,
    leave_out_faulty: bool = False,
    then: RecordSet | None = None,
) -> Brief:
    """What must be done first, of a whole fleet or of one vessel.

    Parameters
    ----------
    records : RecordSet or path
        From `wearcast.read`, or where it lies.
    only : Only, optional
        What alone is asked for; it is decided from all.
    then : RecordSet, optional
        The records as they were; the brief then tells what moved most since.

    Raises
    ------
    InputRefused
        If the record set holds rows that cannot be used.
    """
    settings = settings or Settings()
    known = forecast(records_from(records), as_of, settings, leave_out_faulty)
    stand = stand_of(known)
    made = plan_at(stand, settings.risk), order_at(stand, settings.service), compare_at(stand)
    since = (
        None if then is None else moved(then, known.history.records, settings, leave_out_faulty, last=known)
    )
    return brief_of(*made, only or Only(), since)


def brief_of(
    plan: Plan, order: Order, comparison: Comparison, only: Only, since: Moved | None = None
) -> Brief:
    """The brief of a fleet of which everything is decided already, and of what moved where that was found."""
    if only:
        since = since and since.narrowed(only)
        plan, order, comparison = plan.narrowed(only), order.narrowed(only), comparison.narrowed(only)
    made = _Gathered(plan.stand, only)
    several = len({line.part.engine_type for line in order.lines}) > 1
    lines: tuple[Iterable[Line], ...] = (
        made.damaged,
        made.reached,
        made.to_open(plan),
        [ToOrder(line, several) for line in order.lines if line.quantity and line.by == ORDER_NOW],
        made.to_ask,
        [OutOfLine(row) for row in comparison.out_of_line],
        [Sister(one) for one in comparison.wholes if one.lo90 > 1.0],
        [Changed(one) for one in made.queries if one.kind == "rate_changed"],
        map(MovedPlace, since.notable if since else ()),
        [Trust(tuple(Counter(row.rests_on for row in made.rows).most_common()), len(made.queries))],
    )
    return Brief(plan.stand, order, tuple(line for part in lines for line in part), only)


@dataclass(frozen=True, eq=False)
class _Gathered:
    """What the lines of a brief are made from."""

    stand: Stand
    only: Only

    @cached_property
    def rows(self) -> tuple[ShellForecast, ...]:
        return tuple(row for row in self.stand.forecast.rows if self.only.holds(*row.key[:4]))

    @cached_property
    def queries(self) -> tuple[Query, ...]:
        found = self.stand.forecast.queries
        return tuple(
            one for one in found if self.only.holds(one.vessel, one.engine, one.bearing, one.position)
        )

    @property
    def damaged(self) -> list[Damaged]:
        spots = dict.fromkeys(row.key[:4] for row in self.rows if row.damaged)
        return [self._damage(spot) for spot in spots]

    def _damage(self, spot: Spot) -> Damaged:
        found = [
            event
            for event in self.stand.forecast.history.events
            if event.kind == "finding"
            and (event.place.vessel, event.place.engine) == spot[:2]
            and concerns(event.place, Place(*spot))
        ]
        last = max(found, key=lambda event: event.on or date.min)
        return Damaged(spot, last.finding, last.on)

    @property
    def reached(self) -> list[Reached]:
        rows = [row for row in self.rows if row.statement in (PAST, MAY_BE_PAST)]
        rows.sort(key=lambda row: (row.statement != PAST, -row.p_by_now))
        keys = dict.fromkeys(row.key[:2] for row in rows)
        return [Reached(key, tuple(row for row in rows if row.key[:2] == key)) for key in keys]

    def to_open(self, plan: Plan) -> list[ToOpen]:
        """The next window of every vessel with what is opened then; soonest first, those without one last."""
        found = []
        for vessel in dict.fromkeys(row.vessel for row in self.rows):
            windows = [
                one
                for key, ahead in self.stand.forecast.windows.items()
                if key[0] == vessel
                for one in ahead[:1]
            ]
            first = min(windows, key=lambda one: one.on, default=None)
            mine = [
                one for one in plan.planned if first and one.key[0] == vessel and one.window.on == first.on
            ]
            found.append(
                ToOpen(vessel, first.on if first else None, first.name if first else "", tuple(mine))
            )
        return sorted(found, key=lambda one: one.on or date.max)

    @property
    def to_ask(self) -> list[ToAsk]:
        """Doubts whose readings, let in, change what is said or bring the early end clearly forward; one an opening."""
        moved = {row.life: row for row in self.rows if _changes(row)}
        table = self.stand.forecast.history.readings
        at = {
            (kind, file, int(row)): k
            for k, (kind, file, row) in enumerate(
                zip(table["table"], table["file"], table["row"], strict=True)
            )
        }
        life, day = table["life"].tolist(), table["date"].tolist()
        openings: dict[tuple[EngineKey, date], tuple[list[Query], list[ShellForecast]]] = {}
        for query in self.queries:
            mine = [at[name] for row in query.rows if (name := (query.table, query.file, row)) in at]
            rows = [moved[life[k]] for k in mine if life[k] in moved]
            if rows and query.kind != "rate_changed":
                key = ((query.vessel, query.engine), max(day[k] for k in mine).date())
                asked, beside = openings.setdefault(key, ([], []))
                asked.append(query)
                beside += rows
        made = [
            ToAsk(key, on, tuple(asked), min(rows, key=lambda row: row.hours_p10_with_doubted))
            for (key, on), (asked, rows) in openings.items()
        ]
        return sorted(made, key=lambda one: one.row.hours_p10_with_doubted)


def _changes(row: ShellForecast) -> bool:
    """Whether the doubted readings change what is said of a row, or bring its early end clearly forward."""
    said_otherwise = row.with_doubted is not None and (
        statement(row.with_doubted) != statement(row.without_doubted or row.facts)
    )
    return said_otherwise or row.hours_p10_with_doubted < SOONER * row.hours_p10_without_doubted
