"""What is doubted, one line each: where, what, what it does to the forecast; one line where several say one thing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import isfinite

from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.run import Forecast
from wearcast.forecasting.words import place_in_words
from wearcast.lives.history import EngineKey
from wearcast.queries import Query
from wearcast.report.first_view import QueryLine
from wearcast.report.linked import Told, Ways
from wearcast.words import counted, hours, kind_words, listed, page_text, place_words

Rows = set[tuple[str, str, int]]
"""Table, file and number of rows."""


@dataclass
class _Doubt:
    """Queries that say one thing: the rows they are about, their days, and the lives read there."""

    queries: list[Query]
    rows: Rows
    days: list[str] = field(default_factory=list)
    lives: set[int] = field(default_factory=set)


def query_lines(forecast: Forecast, queries: Iterable[Query], ways: Ways) -> tuple[QueryLine, ...]:
    """One line a doubt, those that move an early date most first."""
    readings = forecast.history.readings
    life_of: dict[tuple[str, str, int], tuple[int, str]] = {
        (table, file, int(row)): (life, str(on)[:10] if on.year > 0 else "")
        for table, file, row, life, on in zip(
            *(readings[name] for name in ("table", "file", "row", "life", "date")), strict=True
        )
    }
    row_of_life = {row.life: row for row in forecast.rows}
    found: dict[tuple[object, ...], list[_Doubt]] = {}
    for one in _merged(queries):
        told = [life_of[row] for row in one.rows if row in life_of]
        one.days = sorted({day for _, day in told if day})
        one.lives = {life for life, _ in told}
        kinds = tuple(dict.fromkeys(query.kind for query in one.queries))
        first = one.queries[0]
        found.setdefault((first.vessel, first.engine, kinds, *(one.days or [str(id(one))])), []).append(one)
    lines = []
    for several in found.values():
        one = _joined(several)
        moved = [row_of_life[life] for life in one.lives if life in row_of_life]
        worst = min(moved, key=_share, default=None)
        lines.append((_share(worst) if worst else 1.0, _line(one, worst, ways)))
    return tuple(line for _, line in sorted(lines, key=lambda pair: pair[0]))


def _joined(several: Sequence[_Doubt]) -> _Doubt:
    """What says one thing, as one."""
    first = several[0]
    return _Doubt(
        [query for one in several for query in one.queries],
        set().union(*(one.rows for one in several)),
        first.days,
        set().union(*(one.lives for one in several)),
    )


def _merged(queries: Iterable[Query]) -> list[_Doubt]:
    """Doubts of one engine that share a row are one."""
    made: dict[EngineKey, list[_Doubt]] = {}
    for query in queries:
        mine: Rows = {(query.table, query.file, row) for row in query.rows}
        here = made.setdefault((query.vessel, query.engine), [])
        same = [one for one in here if one.rows & mine]
        here[:] = [one for one in here if one not in same] + [_joined([*same, _Doubt([query], mine)])]
    return [one for several in made.values() for one in several]


def _share(row: ShellForecast) -> float:
    """The early hours with the doubted readings, as a share of those without; 1 where they do not move."""
    without, beside = row.hours_p10_without_doubted, row.hours_p10_with_doubted
    return beside / without if isfinite(beside) and isfinite(without) and without > 0 else 1.0


def _line(one: _Doubt, worst: ShellForecast | None, ways: Ways) -> QueryLine:
    first = one.queries[0]
    bearing, position, half = (
        names.pop() if len(names := {getattr(query, part) for query in one.queries}) == 1 else ""
        for part in ("bearing", "position", "half")
    )
    where = " ".join(filter(None, (first.vessel, first.engine, place_words(bearing, position, half))))
    href = ways.to((first.vessel, first.engine, bearing, position)) if first.vessel else ""
    kinds = listed(dict.fromkeys(kind_words(query.kind) for query in one.queries))
    on = "" if not one.days else f", {one.days[0]}" + (f" to {one.days[-1]}" if len(one.days) > 1 else "")
    many = f" ({counted(len(one.rows), 'row')}{on})" if one.rows else ""
    return QueryLine(
        Told(where or "All engines", href), page_text(f"{kinds}{many}"), page_text(_effect(one, worst))
    )


def _effect(one: _Doubt, worst: ShellForecast | None) -> str:
    """What the doubt does to the early hours of what is in service."""
    if worst is None:
        return "read on what is no longer in service, or is not forecast" if one.lives else ""
    if _share(worst) == 1.0:
        return "moves no early date"
    place = place_in_words(worst).removeprefix(f"{worst.vessel} {worst.engine} ")
    return (
        f"{place}: 10 % within {hours(worst.hours_p10_with_doubted)} h with it, "
        f"{hours(worst.hours_p10_without_doubted)} h without"
    )
