"""The forecast table of an engine in words."""

from __future__ import annotations

from datetime import date
from math import isfinite
from typing import Any

from wearcast.forecasting.table import Row
from wearcast.report import words
from wearcast.report.gather import EngineRecords
from wearcast.report.numbers import (
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
from wearcast.report.view import ForecastLine, ForecastTable

PERCENT = (10, 50, 90)


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
        lines=tuple(_line(records, row, page) for row in records.table_rows),
        none="" if records.table_rows else "No shell of this engine has both readings and a limit.",
    )


def _line(records: EngineRecords, row: Row, page: str) -> ForecastLine:
    values = row.values
    limit = values["limit_mm"]
    estimate, governed = values["estimate_mm"], row.governing >= 0
    known = governed and isfinite(estimate)
    ahead = hours_ahead(tuple(float(values[f"hours_to_limit_p{q}"]) for q in PERCENT))
    return ForecastLine(
        page=page,
        anchor=anchor_of(values["bearing"], values["position"]),
        place=words.capital(words.bearing_words(values["bearing"], values["position"])),
        what=_what(records, row),
        now=words.tied(f"{mm(estimate, limit)} mm") if known else NOT_KNOWN,
        now_u=f"±\N{NO-BREAK SPACE}{significant(values['estimate_u_um'])}\N{NO-BREAK SPACE}µm"
        if known
        else "",
        limit=words.tied(f"{_side(values)} {exact_mm(limit)} mm"),
        rate=rate(values["wear_rate_um_per_kh"]) if known else NOT_KNOWN,
        rate_u=f"± {rate(values['wear_rate_u_um_per_kh'])}" if known else "",
        hours=ahead,
        dates=_dates(values, ahead, records.engine.use.known),
        no_hours=words.capital(NOT_SAID) if set(ahead) == {NOT_SAID} else "",
        statement=values["statement"],
        notes=tuple(
            words.tied(note)
            for note in (*_windows(records, values), *_with_doubted(values), *_reasons(values))
        ),
    )


def anchor_of(bearing: str, position: str) -> str:
    """The anchor of a position's section.

    >>> anchor_of("big_end", "2")
    'big-end-2'
    """
    return words.slug(f"{bearing} {position}") or "position"


def _what(records: EngineRecords, row: Row) -> str:
    life = records.forecast.history.lives[row.life]
    quantity = words.quantity_words(life.place.half, life.quantity)
    point = words.point_words(row.values["governing_point"])
    return ", ".join(filter(None, (quantity, point, words.life_words(life))))


def _side(values: dict[str, Any]) -> str:
    return "at least" if values["limit_side"] == "min" else "at most"


def _dates(values: dict[str, Any], ahead: tuple[str, ...], dated: bool) -> tuple[str, ...]:
    found = []
    for q, text in zip(PERCENT, ahead, strict=True):
        on = values[f"date_p{q}"]
        if isinstance(on, date):
            found.append(on.isoformat())
        elif text in (NO_UPPER_BOUND, NOT_SAID):
            found.append("")
        else:
            found.append("too far to date" if dated else "no yearly use known")
    return tuple(found)


def _windows(records: EngineRecords, values: dict[str, Any]) -> tuple[str, ...]:
    names = {window.on: str(window) for window in records.forecast.windows[records.engine.key]}
    said = []
    open_at = values["open_at"]
    if isinstance(values["date_p10"], date) and open_at is not None:
        said.append(f"Last window before the 10 % date: {names.get(open_at, open_at)}.")
    chances = [
        f"{chance(values[f'p_limit_before_{which}_window'])} before {values[f'{which}_window']}"
        for which in ("next", "following")
        if values[f"{which}_window"] is not None and isfinite(values[f"p_limit_before_{which}_window"])
    ]
    if chances:
        said.append(f"Chance that the limit is reached: {words.listed(chances)}.")
    return tuple(said)


def _with_doubted(values: dict[str, Any]) -> tuple[str, ...]:
    without, beside = values["hours_to_limit_p10"], values["hours_to_limit_p10_with_doubted"]
    if not values["queries"] or not isfinite(beside):
        return ()
    same = isfinite(without) and hours(beside) == hours(without)
    if same:
        return ()
    return (f"With the doubted readings left in, the 10 % hours are {hours(beside)}.",)


def _reasons(values: dict[str, Any]) -> tuple[str, ...]:
    reasons = [reason.strip() for reason in str(values["reasons"]).split(";")]
    return tuple(words.sentence(reason) for reason in reasons if reason and reason != NO_UPPER_BOUND)
