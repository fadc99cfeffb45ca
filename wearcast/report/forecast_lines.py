"""The forecast table of an engine in words."""

from __future__ import annotations

from datetime import date
from math import isfinite
from typing import Any

from wearcast import words
from wearcast.forecasting.statements import DISAGREE, STATEMENTS
from wearcast.forecasting.table import BEFORE_ANY, Row
from wearcast.report.gather import EngineRecords
from wearcast.report.last_reading import last_read_words
from wearcast.report.shaft_order import Spot
from wearcast.report.view import ForecastLine, ForecastTable, WindowChance
from wearcast.report.words import life_words, slug
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

LEAST_CHANCE = 0.001
"""Chances below this are not printed beside the dates, which say as much."""

WORDED = {BEFORE_ANY: "the 10 % date falls before any window listed"}
"""Reasons that need their subject where they stand alone."""

SAID = frozenset(name for name, _ in STATEMENTS)

BEHIND = ("read ", "the estimate is past", "history incomplete", "clearance ")
"""How the reasons that a statement rests on begin; the others say why the range is what it is."""


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
    rows = sorted(
        records.table_rows, key=lambda row: Spot(row.values["bearing"], str(row.values["position"])).order
    )
    return tuple(_line(records, row, page) for row in rows)


def _line(records: EngineRecords, row: Row, page: str) -> ForecastLine:
    values = row.values
    limit = values["limit_mm"]
    estimate, governed = values["estimate_mm"], row.governing >= 0
    known = governed and isfinite(estimate)
    reasons = _reasons(values)
    ahead = hours_ahead(tuple(float(values[f"hours_to_limit_p{q}"]) for q in PERCENT))
    return ForecastLine(
        row=records.row_numbers[row.life],
        page=page,
        vessel=records.engine.vessel,
        engine=records.engine.engine,
        bearing=values["bearing"].replace("_", " "),
        anchor=anchor_of(values["bearing"], values["position"]),
        place=words.capital(words.bearing_words(values["bearing"], values["position"])),
        what=_what(records, row),
        estimate=words.tied(f"{mm(estimate, limit)} mm") if known else NOT_KNOWN,
        estimate_u=f"±\N{NO-BREAK SPACE}{significant(values['estimate_u_um'])}\N{NO-BREAK SPACE}µm"
        if known
        else "",
        read=last_read_words(records, row),
        limit=limit_words(values),
        rate=rate(values["wear_rate_um_per_kh"]) if known else NOT_KNOWN,
        rate_u=f"± {rate(values['wear_rate_u_um_per_kh'])}" if known else "",
        hours=ahead,
        dates=_dates(records, values, ahead),
        by=tuple(_sorted_by(values, q) for q in PERCENT),
        no_hours=words.capital(NOT_SAID) if set(ahead) == {NOT_SAID} else "",
        statement=values["statement"],
        behind=tuple(
            words.page_text(text)
            for text in (
                *(_behind(reason) for reason in reasons if _is_behind(reason)),
                *_with_doubted(values),
            )
        ),
        chances=_chances(records, values),
        open_at=words.page_text(_open_at(records, values)),
        notes=tuple(words.page_text(words.sentence(reason)) for reason in reasons if not _is_behind(reason)),
    )


def anchor_of(bearing: str, position: str) -> str:
    """The anchor of a position's section.

    >>> anchor_of("big_end", "2")
    'big-end-2'
    """
    return slug(f"{bearing} {position}") or "position"


def _what(records: EngineRecords, row: Row) -> str:
    life = records.forecast.history.lives[row.life]
    quantity = words.quantity_words(life.place.half, life.quantity)
    point = words.point_words(row.values["governing_point"])
    return ", ".join(filter(None, (quantity, point, life_words(life))))


def limit_words(values: dict[str, Any]) -> str:
    """The limit of a row and its side."""
    side = "at least" if values["limit_side"] == "min" else "at most"
    return words.tied(f"{side} {exact_mm(values['limit_mm'])} mm")


def date_words(records: EngineRecords, on: date) -> str:
    """A date, marked where it lies before the run."""
    return f"{on.isoformat()}{' (passed)' if on < records.forecast.history.records.run_date else ''}"


def window_names(records: EngineRecords) -> dict[date, str]:
    """Windows ahead in words, by date."""
    return {window.on: str(window) for window in records.forecast.windows[records.engine.key]}


def _dates(records: EngineRecords, values: dict[str, Any], ahead: tuple[str, ...]) -> tuple[str, ...]:
    found = []
    for q, text in zip(PERCENT, ahead, strict=True):
        on = values[f"date_p{q}"]
        if isinstance(on, date):
            found.append(date_words(records, on))
        elif text in (NO_UPPER_BOUND, NOT_SAID):
            found.append("")
        else:
            found.append("too far to date" if records.engine.use.known else "no yearly use known")
    return tuple(found)


def _sorted_by(values: dict[str, Any], percent: int) -> str:
    """A text that sorts by date; where there is none, after all dates by hours, and last what is open."""
    on, ahead_h = values[f"date_p{percent}"], float(values[f"hours_to_limit_p{percent}"])
    if isinstance(on, date):
        return on.isoformat()
    return f"A{ahead_h:012.1f}" if isfinite(ahead_h) else "B"


def _open_at(records: EngineRecords, values: dict[str, Any]) -> str:
    """The last window before the 10 % date, in a sentence."""
    names, open_at = window_names(records), values["open_at"]
    if open_at is not None and open_at == max(names):
        return f"Windows are listed to {open_at} only; the 10 % date falls after that."
    if isinstance(values["date_p10"], date) and open_at is not None:
        return f"Last window before the 10 % date: {names.get(open_at, open_at)}."
    return ""


def _chances(records: EngineRecords, values: dict[str, Any]) -> tuple[WindowChance, ...]:
    """Chances that the limit is reached before the two windows ahead."""
    shares = {which: float(values[f"p_limit_before_{which}_window"]) for which in ("next", "following")}
    return tuple(
        WindowChance(which, words.tied(chance(share)), date_words(records, values[f"{which}_window"]))
        for which, share in shares.items()
        if isinstance(values[f"{which}_window"], date) and isfinite(share)
    )


def _with_doubted(values: dict[str, Any]) -> tuple[str, ...]:
    without, beside = (values[f"hours_to_limit_p10_{which}_doubted"] for which in ("without", "with"))
    if not isfinite(beside) or not (values["queries"] or values["statement"] == DISAGREE):
        return ()
    same = isfinite(without) and hours(beside) == hours(without)
    if same:
        return ()
    whose = "" if values["queries"] else " of its class"
    left_out = f"; left out, {hours(without)}" if without != values["hours_to_limit_p10"] else ""
    return (f"with the doubted readings{whose} left in, the 10 % hours are {hours(beside)}{left_out}",)


def _reasons(values: dict[str, Any]) -> tuple[str, ...]:
    reasons = (reason.strip() for reason in str(values["reasons"]).split(";"))
    reasons = (WORDED.get(reason, reason) for reason in reasons)
    return tuple(
        reason.removeprefix("own line: ") if "no own line" in reason else reason
        for reason in reasons
        if reason and reason != NO_UPPER_BOUND
    )


def _is_behind(reason: str) -> bool:
    return reason in SAID or reason.startswith(BEHIND) or "doubted reading" in reason


def _behind(reason: str) -> str:
    return f"also: {reason}" if reason in SAID else reason
