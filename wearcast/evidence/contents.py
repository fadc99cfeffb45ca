"""Every file of a pack that is worked out from the records."""

from __future__ import annotations

from dataclasses import asdict, replace

import pandas as pd

from wearcast.decide.eased_words import eased_table
from wearcast.evidence import readings, words
from wearcast.evidence.asked import asked_json
from wearcast.evidence.leaves import Leaf, table_leaves
from wearcast.evidence.run import Run
from wearcast.evidence.theta import recorded_json
from wearcast.forecasting.own_look import own_looks
from wearcast.report.gather import cut_by_engine
from wearcast.report.pages import engine_page
from wearcast.report.sheets import engine_sheet
from wearcast.texts import csv_text, json_text, toml_text

PLACE = ("vessel", "engine", "bearing", "position", "half", "quantity")
PART = ("engine_type", "bearing", "half", "shell_size", "part_reference")
QUESTION = ("data/run.json", "data/settings.toml", "data/theta.json")
"""What a repeat starts from, beside the records."""


def question_leaves(run: Run) -> tuple[Leaf, ...]:
    """What was asked and with which standard deviations."""
    return (
        Leaf("data/run.json", json_text(asked_json(run.asked)), "json"),
        Leaf("data/settings.toml", toml_text(run.asked.settings.rows()), "text"),
        Leaf("data/theta.json", json_text(recorded_json(run.fitted.recorded)), "json"),
    )


def answer_leaves(run: Run, page: str) -> tuple[Leaf, ...]:
    """Everything that follows from it; `page` is the engine sheet."""
    of_sisters = readings.of_sisters(run)
    used, left_out = readings.used_table(of_sisters), readings.left_out_table(run, of_sisters)
    gauges = readings.gauges_table(of_sisters, run.forecast.history.records.gauges)
    return (
        Leaf("data/readings-used.csv", csv_text(used), "csv", readings.KEYS),
        *table_leaves("forecast", forecast_table(run), PLACE),
        *table_leaves("plan", plan_table(run), (*PLACE[:2], "window", *PLACE[2:])),
        *table_leaves("order", order_table(run), PART),
        Leaf("data/limits.csv", csv_text(limits_table(run)), "csv", ("row",)),
        Leaf(
            "data/gauges.csv",
            csv_text(gauges),
            "csv",
            readings.GAUGE_KEYS,
        ),
        Leaf("data/corrections.csv", csv_text(corrections_table(run)), "csv", ("file", "own_row")),
        Leaf("data/eased.csv", csv_text(eased_table(run.changes.eased)), "csv", ("table", "row", "column")),
        Leaf("data/readings-left-out.csv", csv_text(left_out), "csv", readings.KEYS),
        Leaf("data/doubts.json", json_text(doubts_of(run)), "json", ("kind", "table", "rows")),
        Leaf("data/own-lines.txt", own_lines_text(run), "text"),
        Leaf("data/assumptions.txt", words.assumptions_text(run), "text"),
        Leaf("data/method.txt", words.method_text(run), "text"),
        Leaf("readme.txt", words.readme_text(run), "text"),
        Leaf("data/sheet.html", page, "text"),
    )


def forecast_table(run: Run) -> pd.DataFrame:
    """The rows of the engine."""
    return _of_engine(run.forecast.table, run)


def plan_table(run: Run) -> pd.DataFrame:
    """The rows of the engine."""
    return _of_engine(run.plan.table, run)


def order_table(run: Run) -> pd.DataFrame:
    """Parts that the engine takes; their counts are those of all engines that share them."""
    table, lives = run.order.table, run.fitted.stand.history.lives
    mine = [
        any(
            (lives[life].place.vessel, lives[life].place.engine) == run.asked.key
            for taker in line.takers
            for life in taker.lives
        )
        for line in run.order.lines
    ]
    return table[pd.Series(mine, index=table.index, dtype=bool)].reset_index(drop=True)


def _of_engine(table: pd.DataFrame, run: Run) -> pd.DataFrame:
    mine = (table["vessel"] == run.asked.vessel) & (table["engine"] == run.asked.engine)
    return table[mine].reset_index(drop=True)


def limits_table(run: Run) -> pd.DataFrame:
    """Limits of the engine type."""
    rows = [
        asdict(limit)
        for limit in run.forecast.history.limits.limits
        if limit.engine_type == run.engine.engine_type
    ]
    return pd.DataFrame(rows)


def corrections_table(run: Run) -> pd.DataFrame:
    """Corrections as they were made, in their order."""
    table = run.forecast.history.records.corrections.copy()
    table["date"] = pd.to_datetime(table["date"]).dt.date
    return table.astype({"row": "Int64"})


def doubts_of(run: Run) -> list[dict[str, object]]:
    """Rows refused and left out, and everything doubted, in the records as a whole."""
    return [query.to_json() for query in (*run.forecast.history.left_out, *run.forecast.queries)]


def own_lines_text(run: Run) -> str:
    """The own line of each shell of the engine, looked at closely by a general library."""
    looks = own_looks(run.forecast.history, run.forecast.own, run.asked.key)
    text = (
        "\n\n\n".join(map(str, looks))
        or "No shell has readings enough, and off a line, to be looked at closely."
    )
    return f"{text}\n"


def sheet_page(run: Run) -> str:
    """The engine sheet; it links to no other page."""
    records = next(one for one in cut_by_engine(run.forecast, run.changes) if one.engine.key == run.asked.key)
    sheet = engine_sheet(records, "sheet.html", run.asked.program)
    return engine_page(replace(sheet, index=""))
