"""The public table of a forecast, derived from its rows last: one column a line, with its unit and meaning."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from operator import attrgetter
from typing import NamedTuple

import pandas as pd

from wearcast.forecasting.rows import ShellForecast


class Column(NamedTuple):
    """One column: its name, unit, meaning, and the cell of a row."""

    name: str
    unit: str
    meaning: str
    of: Callable[[ShellForecast], object]


def _same(name: str, unit: str, meaning: str) -> Column:
    """A column that is a field of the row."""
    return Column(name, unit, meaning, attrgetter(name))


def _hours(percent: int) -> Column:
    meaning = f"the limit is reached sooner with a chance of {percent} %; empty beyond 200 000 h"
    return Column(f"hours_to_limit_p{percent:02d}", "h", meaning, lambda row: row.hours_at(percent))


def _date(percent: int) -> Column:
    meaning = f"the same {percent} % as a date; empty where too far off or no yearly use is known"
    return Column(f"date_p{percent}", "date", meaning, lambda row: row.date_at(percent))


TABLE: tuple[Column, ...] = (
    _same("vessel", "", "vessel"),
    _same("engine", "", "engine of the vessel"),
    _same("engine_type", "", "type, shared by sisters"),
    _same("bearing", "", "kind of bearing"),
    _same("position", "", "which one along the shaft"),
    _same("half", "", "upper or lower; empty where both are read as one"),
    _same("quantity", "", "what is measured"),
    _same("shell_size", "", "standard, or an undersize step"),
    _same("shell_no", "", "1 for the first fitted, 2 after one renewal"),
    _same("fitted_on", "date", "when fitted; empty where unknown"),
    _same("shell_h", "h", "hours of the shell at as-of; empty where unknown"),
    _same("as_of_date", "date", "where the engine stands"),
    _same("as_of_running_h", "h", "its total running hours then"),
    _same("last_opened", "date", "when the place was last opened"),
    _same("readings", "", "readings used"),
    _same("queries", "", "readings doubted"),
    _same("governing_point", "", "the point that reaches its limit first"),
    _same("estimate_mm", "mm", "the value at as-of"),
    _same("estimate_u_um", "µm", "its standard uncertainty"),
    _same("limit_mm", "mm", "the limit; empty where no point has one"),
    _same("limit_side", "", "min or max"),
    _same("limit_source", "", "its document"),
    _same("wear_rate_um_per_kh", "µm/kh", "wear rate, by the pooled model"),
    _same("wear_rate_u_um_per_kh", "µm/kh", "its standard uncertainty"),
    *(_hours(percent) for percent in (5, 10, 25, 50, 75, 90, 95)),
    Column(
        "hours_to_limit_p10_with_doubted", "h", "the early end with the doubted readings left in",
        attrgetter("hours_p10_with_doubted"),
    ),
    Column(
        "hours_to_limit_p10_without_doubted", "h", "the early end with all that is doubted left out",
        attrgetter("hours_p10_without_doubted"),
    ),
    *(_date(percent) for percent in (10, 50, 90)),
    _same("next_window", "date", "the first window ahead"),
    _same("p_limit_before_next_window", "1", "chance that the limit comes first"),
    _same("following_window", "date", "the second window ahead"),
    _same("p_limit_before_following_window", "1", "chance that the limit comes first"),
    _same("open_at", "date", "the last window on or before the 10 % date"),
    _same("statement", "", "what the limit does"),
    _same("rests_on", "", "how well that is known"),
    Column("own_readings", "", "readings of the own line", attrgetter("own.readings")),
    Column("own_rate_um_per_kh", "µm/kh", "slope of the own line", attrgetter("own.rate_um_per_kh")),
    Column("own_rate_lo90", "µm/kh", "lower end of its 90 % interval", attrgetter("own.rate_lo90")),
    Column("own_rate_hi90", "µm/kh", "upper end of its 90 % interval", attrgetter("own.rate_hi90")),
    Column("own_hours_p05", "h", "early hours by the own line alone", attrgetter("own.hours_p05")),
    Column("own_hours_p50", "h", "hours by the own line alone", attrgetter("own.hours_p50")),
    Column("own_hours_p95", "h", "late hours by the own line alone", attrgetter("own.hours_p95")),
    _same("borrowed", "1", "share of the knowledge of the rate that other shells lend"),
    Column("reasons", "", "in words", lambda row: "; ".join(map(str, row.reasons))),
)  # fmt: skip
"""The columns in order; a row that lacks a cell cannot be made."""

COLUMNS = tuple(column.name for column in TABLE)


def table_of(rows: Sequence[ShellForecast]) -> pd.DataFrame:
    """Rows as a DataFrame with the columns of the table."""
    return pd.DataFrame([[column.of(row) for column in TABLE] for row in rows], columns=list(COLUMNS))
