"""Every chance of a dated event that commands and pages show of a record set: one event must have one chance.

A page or command added later is one function here, which yields what it shows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

from wearcast.decide.plan import Plan, plan_at
from wearcast.decide.sections import window_rows
from wearcast.decide.stand import stand_of
from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.run import Forecast, forecast
from wearcast.records.records import RecordSet
from wearcast.report.forecast_lines import forecast_lines
from wearcast.report.gather import cut_by_engine
from wearcast.words import chance as chance_words


@dataclass(frozen=True)
class Told:
    """One chance as shown: where, of which place (half and quantity empty: of any of its shells), before when."""

    where: str
    place: tuple[str, ...]
    before: date
    chance: str


@dataclass(frozen=True, eq=False)
class Walk:
    """What commands and pages are made of."""

    forecast: Forecast
    plan: Plan


def _forecast_table(walk: Walk) -> Iterator[Told]:
    for at, rows in (
        ("forecast", walk.forecast.rows),
        ("at the day of the run", walk.plan.stand.forecast.rows),
    ):
        for row in rows:
            for on, share in _events(row):
                yield Told(at, row.key, on, chance_words(share))


def _events(row: ShellForecast) -> Iterator[tuple[date, float]]:
    pairs = (
        (row.next_window, row.p_limit_before_next_window),
        (row.following_window, row.p_limit_before_following_window),
    )
    for on, share in pairs:
        if on is not None and share == share:  # noqa: PLR0124  (NaN)
            yield on, share


def _plan_table(walk: Walk) -> Iterator[Told]:
    """Rows of the plan whose shell the plan does not open before."""
    for row in walk.plan.rows:
        if row.opened_before is None and row.chance == row.chance:
            key = (*row.key, row.bearing, row.position, row.half, row.quantity)
            yield Told("plan", key, row.until, chance_words(row.chance))


def _plan_shown(walk: Walk) -> Iterator[Told]:
    """Openings as terminal and pages word them: of a place the largest chance of its shells."""
    for key in walk.forecast.history.engines:
        for window in window_rows(walk.plan, key):
            mine = [one for one in walk.plan.openings if one.key == key and str(one.window) == window.window]
            for opening, shown in zip(mine, window.openings, strict=True):
                if shown.chance and all(row.opened_before is None for row in opening.rows):
                    place = (*key, opening.bearing, opening.position, "", "")
                    yield Told("openings", place, opening.until, shown.chance)


def _pages(walk: Walk) -> Iterator[Told]:
    by_number = dict(enumerate(walk.forecast.rows))
    for records in cut_by_engine(walk.forecast):
        for line in forecast_lines(records):
            for one in line.chances:
                told = Told("page", by_number[line.row].key, date.fromisoformat(one.window[:10]), one.chance)
                yield told


SHOWN: tuple[Callable[[Walk], Iterator[Told]], ...] = (_forecast_table, _plan_table, _plan_shown, _pages)


def walk_chances(records: RecordSet) -> tuple[Walk, list[Told]]:
    """Everything shown of a record set."""
    made = forecast(records)
    walk = Walk(made, plan_at(stand_of(made), made.settings.risk, 8.0))
    return walk, [told for shown in SHOWN for told in shown(walk)]


def disagreements(told: list[Told]) -> list[tuple[Told, Told]]:
    """Pairs that say of one event two things; of a place the largest chance of its shells is expected."""
    first: dict[tuple[tuple[str, ...], date], Told] = {}
    found = []
    for one in told:
        before = first.setdefault((one.place, one.before), one)
        if _plain(before.chance) != _plain(one.chance):
            found.append((before, one))
    for one in told:
        mine = [
            other
            for (place, on), other in first.items()
            if not one.place[5] and on == one.before and place[:4] == one.place[:4] and place[5]
        ]
        if mine and _plain(one.chance) not in {_plain(other.chance) for other in mine}:
            found.append((mine[0], one))
    return found


def _plain(text: str) -> str:
    return " ".join(text.split())
