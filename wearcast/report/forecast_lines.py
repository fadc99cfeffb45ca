"""The forecast table of an engine in words."""

from __future__ import annotations

from datetime import date
from math import isfinite

from wearcast import words
from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.statements import DISAGREE
from wearcast.report.gather import EngineRecords
from wearcast.report.last_reading import last_read_words
from wearcast.report.shaft_order import Spot
from wearcast.report.view import ForecastLine, ForecastTable, WindowChance
from wearcast.report.words import anchor_of, life_words
from wearcast.words import (
    NO_UPPER_BOUND,
    NOT_KNOWN,
    NOT_SAID,
    chance,
    exact_mm,
    hours,
    hours_ahead,
    mm,
    rate,
    significant,
)

PERCENT = (10, 50, 90)

DAMAGED = "damage noted: how far its wear is from the limit says nothing of it"

LEAST_CHANCE = 0.001
"""Chances below this are not printed beside the dates, which say as much."""


def forecast_table(records: EngineRecords, page: str = "") -> ForecastTable:
    """The forecast table of one engine.

    Parameters
    ----------
    page : str
        File name of the engine's page, where the table stands on another one.
    """
    engine = records.engine
    return ForecastTable(
        caption=f"{engine.vessel} {engine.engine}: hours and dates to the replacement limit, "
        f"counted from {engine.as_of}",
        lines=forecast_lines(records, page),
        none="" if records.table_rows else "No shell of this engine has both readings and a limit.",
    )


def forecast_lines(records: EngineRecords, page: str = "") -> tuple[ForecastLine, ...]:
    """The rows of one engine in shaft order."""
    rows = sorted(records.table_rows, key=lambda row: Spot(row.bearing, str(row.position)).order)
    soonest: dict[tuple[str, str], ShellForecast] = {}
    for row in rows:
        place = (row.bearing, row.position)
        soonest[place] = min(soonest.get(place, row), row, key=lambda one: _sorted_by(one, 10))
    return tuple(_line(records, row, page, soonest[row.bearing, row.position] is row) for row in rows)


def _line(records: EngineRecords, row: ShellForecast, page: str, first: bool) -> ForecastLine:
    limit = row.limit_mm
    estimate, governed = row.estimate_mm, row.governing >= 0
    known = governed and isfinite(estimate)
    ahead = hours_ahead(tuple(float(row.hours_at(q)) for q in PERCENT))
    nothing = DAMAGED if row.damaged else NOT_SAID if set(ahead) == {NOT_SAID} else ""
    return ForecastLine(
        row=records.row_numbers[row.life],
        page=page,
        first=first,
        vessel=records.engine.vessel,
        engine=records.engine.engine,
        bearing=row.bearing.replace("_", " "),
        anchor=anchor_of(row.bearing, row.position),
        place=words.capital(words.bearing_words(row.bearing, row.position)),
        what=_what(records, row),
        estimate=words.tied(f"{mm(estimate, limit)} mm") if known else NOT_KNOWN,
        estimate_u=f"±\N{NO-BREAK SPACE}{significant(row.estimate_u_um)}\N{NO-BREAK SPACE}µm"
        if known
        else "",
        read=last_read_words(records, row),
        limit=limit_words(row),
        rate=rate(row.wear_rate_um_per_kh) if known and not row.damaged else NOT_KNOWN,
        rate_u=f"± {rate(row.wear_rate_u_um_per_kh)}" if known and not row.damaged else "",
        hours=ahead,
        dates=_dates(records, row, ahead),
        by=tuple(_sorted_by(row, q) for q in PERCENT),
        no_hours=words.capital(nothing),
        statement=row.statement,
        rests_on=row.rests_on,
        behind=tuple(
            words.page_text(text)
            for text in (
                *(reason.alone for reason in row.reasons if reason.behind),
                *(_trend_alone(row, ahead) if row.damaged else _with_doubted(row)),
            )
        ),
        chances=() if row.damaged else _chances(records, row),
        open_at="" if row.damaged else words.page_text(_open_at(records, row)),
        notes=tuple(
            words.page_text(words.sentence(reason.alone))
            for reason in row.reasons
            if not reason.behind and reason.alone
        ),
    )


def _what(records: EngineRecords, row: ShellForecast) -> str:
    life = records.forecast.history.lives[row.life]
    quantity = words.quantity_words(life.place.half, life.quantity)
    point = words.point_words(row.governing_point)
    return ", ".join(filter(None, (quantity, point, life_words(life))))


def limit_words(row: ShellForecast) -> str:
    """The limit of a row and its side."""
    side = "at least" if row.limit_side == "min" else "at most"
    return words.tied(f"{side} {exact_mm(row.limit_mm)} mm")


def date_words(records: EngineRecords, on: date) -> str:
    """The date by which a chance is reached."""
    return words.reached_by(on, records.forecast.history.records.run_date)


def window_words(records: EngineRecords, on: date, named: bool = True) -> str:
    """A window, marked where it lies before the run."""
    name = window_names(records).get(on, str(on)) if named else str(on)
    return f"{name} (passed)" if on < records.forecast.history.records.run_date else name


def window_names(records: EngineRecords) -> dict[date, str]:
    """Windows ahead in words, by date."""
    return {window.on: str(window) for window in records.forecast.windows[records.engine.key]}


def _dates(records: EngineRecords, row: ShellForecast, ahead: tuple[str, ...]) -> tuple[str, ...]:
    found = []
    for q, text in zip(PERCENT, ahead, strict=True):
        on = row.date_at(q)
        if isinstance(on, date):
            found.append(date_words(records, on))
        elif text in (NO_UPPER_BOUND, NOT_SAID):
            found.append("")
        else:
            found.append("too far to date" if records.engine.use.known else "no yearly use known")
    return tuple(found)


def _sorted_by(row: ShellForecast, percent: int) -> str:
    """A text that sorts by date, damage before all; where there is none, by hours, and last what is open."""
    if row.damaged:
        return ""
    on, ahead_h = row.date_at(percent), float(row.hours_at(percent))
    if isinstance(on, date):
        return on.isoformat()
    return f"A{ahead_h:012.1f}" if isfinite(ahead_h) else "B"


def _open_at(records: EngineRecords, row: ShellForecast) -> str:
    """The last window before the 10 % date, in a sentence."""
    names, open_at = window_names(records), row.open_at
    if open_at is not None and open_at == max(names):
        return f"Windows are listed to {open_at} only; the 10 % date falls after that."
    if isinstance(row.date_at(10), date) and open_at is not None:
        return f"Last window before the 10 % date: {names.get(open_at, open_at)}."
    return ""


def _chances(records: EngineRecords, row: ShellForecast) -> tuple[WindowChance, ...]:
    """Chances that the limit is reached before the two windows ahead."""
    windows = (
        ("next", row.next_window, row.p_limit_before_next_window),
        ("following", row.following_window, row.p_limit_before_following_window),
    )
    return tuple(
        WindowChance(
            which,
            words.tied(chance(share)),
            f"{on}{' (passed)' if on < records.forecast.history.records.run_date else ''}",
        )
        for which, on, share in windows
        if on is not None and isfinite(share)
    )


def _trend_alone(row: ShellForecast, ahead: tuple[str, ...]) -> tuple[str, ...]:
    """The numbers of a damaged shell, where they stand behind the finding."""
    if set(ahead) == {NOT_SAID}:
        return ()
    wears = f"wearing {rate(row.wear_rate_um_per_kh)} µm per 1000 h"
    return (f"its wear alone, {wears}, would have hours of {' - '.join(ahead)} at 10, 50 and 90 %",)


def _with_doubted(row: ShellForecast) -> tuple[str, ...]:
    without, beside = row.hours_p10_without_doubted, row.hours_p10_with_doubted
    if not isfinite(beside) or not (row.queries or row.rests_on == DISAGREE):
        return ()
    same = isfinite(without) and hours(beside) == hours(without)
    if same:
        return ()
    whose = "" if row.queries else " of its class"
    left_out = f"; left out, {hours(without)}" if without != row.hours_at(10) else ""
    return (f"with the doubted readings{whose} left in, the 10 % hours are {hours(beside)}{left_out}",)
