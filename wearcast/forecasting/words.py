"""Figures of the forecast table in the words that terminal and pages share."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from math import isfinite
from typing import Any

from wearcast.forecasting.statements import DAMAGE, OWN_READINGS
from wearcast.lives.history import EngineAt
from wearcast.words import bearing_words, grouped, reached_by, typed
from wearcast.words import hours as hours_words


def place_in_words(row: Mapping[str, Any]) -> str:
    """`main 3 lower wall`, with the shell size where it is not standard."""
    size = "" if str(row["shell_size"]).casefold() == "standard" else str(row["shell_size"])
    place = bearing_words(str(row["bearing"]), str(row["position"]))
    words = (place, str(row["half"]), str(row["quantity"]).replace("_", " "), size)
    return " ".join(word for word in words if word)


def hours_range_in_words(row: Mapping[str, Any]) -> str:
    """The 10, 50 and 90 % hours of a row; of a damaged shell they mean nothing."""
    if row["statement"] == DAMAGE:
        return "see the finding"
    return " - ".join(typed(hours_words(float(row[f"hours_to_limit_p{q}"]), "open")) for q in (10, 50, 90))


def early_in_words(row: Mapping[str, Any], run_date: date) -> str:
    """The early date; where there is none `open`, or `not dated` where there are hours; none of a damaged shell."""
    on = row["date_p10"]
    if row["statement"] == DAMAGE:
        return ""
    if on is None or on != on:  # noqa: PLR0124  (NaT differs from itself)
        return "not dated" if isfinite(float(row["hours_to_limit_p10"])) else "open"
    return reached_by(on, run_date)


def said_in_words(row: Mapping[str, Any]) -> str:
    """What the limit does, and what it rests on where that is not the shell's own readings."""
    under = str(row["rests_on"])
    return str(row["statement"]) + (f", {under}" if under != OWN_READINGS else "")


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
