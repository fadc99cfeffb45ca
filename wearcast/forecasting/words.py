"""Places, dates and engines of a forecast in words."""

from __future__ import annotations

from datetime import date
from math import isfinite

from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.statements import OWN_READINGS
from wearcast.lives.history import EngineAt
from wearcast.words import bearing_words, grouped, mm, rate, reached_by


def place_in_words(row: ShellForecast) -> str:
    """`Ossel Brae ME main 3 lower wall`, with the shell size where it is not standard."""
    size = "" if row.shell_size.casefold() == "standard" else row.shell_size
    place = bearing_words(row.bearing, row.position)
    words = (row.vessel, row.engine, place, row.half, row.quantity.replace("_", " "), size)
    return " ".join(word for word in words if word)


def early_in_words(row: ShellForecast, run_date: date) -> str:
    """The early date; where there is none `open`, or `not dated` where there are hours; none where none is meant."""
    on = row.date_at(10)
    if row.damaged or not row.facts.governed:
        return ""
    if on is None:
        return "not dated" if isfinite(row.hours_at(10)) else "open"
    return reached_by(on, run_date)


def said_in_words(row: ShellForecast) -> str:
    """What the limit does, without one the trend; and what it rests on where that is not its own readings."""
    rests = f", {row.rests_on}" if row.rests_on != OWN_READINGS else ""
    if row.facts.governed or row.damaged:
        return row.statement + rests
    trend = (
        f", wears {rate(row.wear_rate_um_per_kh)} µm per 1000 h" if isfinite(row.wear_rate_um_per_kh) else ""
    )
    return f"{row.statement}: {mm(row.estimate_mm)} mm{trend}{rests}"


def engine_in_words(engine: EngineAt) -> str:
    """The engine with its as-of moment; hours that were carried forward are said to be about so many."""
    hours = grouped(engine.as_of_h)
    if engine.as_of_sd_h > 0:
        counted = f"{grouped(engine.last_counter_h)} h on {engine.last_counter_on}"
        hours = f"about {grouped(round(engine.as_of_h, -1))} h, carried forward from {counted}"
    else:
        hours = f"{hours} h"
    return f"{engine.vessel} {engine.engine} ({engine.engine_type}), as of {engine.as_of} at {hours}"


def days_since_in_words(engine: EngineAt, run_date: date) -> str:
    """What has probably been run since as-of, where the run comes more than a month later; else nothing."""
    days = (run_date - engine.as_of).days
    if days <= UNCOUNTED_DAYS:
        return ""
    run = f": about {grouped(round(engine.use.hours_per_year * days / 365.25, -1))} h more have probably run"
    since = "Last counter reading" if engine.as_of == engine.last_counter_on else "The as-of date lies"
    return f"{since} {days} days before this run{run if engine.use.known else ''}."


UNCOUNTED_DAYS = 30
"""Days after the last counter reading from which the running since then is mentioned (judgement)."""
