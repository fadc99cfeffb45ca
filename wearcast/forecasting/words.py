"""Figures of the forecast table in the words that terminal and pages share."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from math import floor, isfinite, log10
from typing import Any

from wearcast.lives.history import EngineAt
from wearcast.quantities import QUANTITIES


def place_in_words(row: Mapping[str, Any]) -> str:
    """`main 3 lower wall`, with the shell size where it is not standard."""
    bearing = str(row["bearing"]).replace("_", " ")
    size = "" if str(row["shell_size"]).casefold() == "standard" else str(row["shell_size"])
    words = (bearing, str(row["position"]), str(row["half"]), str(row["quantity"]).replace("_", " "), size)
    return " ".join(word for word in words if word)


def hours_in_words(hours: float) -> str:
    """Hours to three significant figures, rounded down so that none are promised; `open` without a bound.

    >>> hours_in_words(12345.6), hours_in_words(870.2), hours_in_words(float("nan"))
    ('12 300', '870', 'open')
    """
    if not isfinite(hours):
        return "open"
    if hours < 1:
        return "0"
    step = 10 ** max(floor(log10(hours)) - 2, 0)
    return f"{int(hours // step * step):,}".replace(",", " ")


def hours_range_in_words(row: Mapping[str, Any]) -> str:
    """The 10, 50 and 90 % hours of a row."""
    return " - ".join(hours_in_words(float(row[f"hours_to_limit_p{q}"])) for q in (10, 50, 90))


def date_in_words(on: date | None) -> str:
    """A date, or `open` where there is none."""
    return "open" if on is None or on != on else on.isoformat()  # noqa: PLR0124  (NaT differs from itself)


def engine_in_words(engine: EngineAt) -> str:
    """The engine with its as-of moment."""
    hours = f"{engine.as_of_h:,.0f}".replace(",", " ")
    return f"{engine.vessel} {engine.engine} ({engine.engine_type}), as of {engine.as_of} at {hours} h"


def quantity_in_words(name: str) -> str:
    """The quantity's title."""
    return QUANTITIES[name].title
