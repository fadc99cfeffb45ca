"""`wearcast forecast`: hours to the limit, position by position."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from wearcast.cli.options import AsOf, CsvFile, LeaveOut, Quiet, Records, SettingsFile, settings_from

if TYPE_CHECKING:
    from rich.console import Console

    from wearcast.forecasting.run import Forecast

CLEARLY_SOONER = 0.8
"""Share of the early hours from which what the doubted readings would say is told beside the table (judgement)."""


def forecast(
    records: Records,
    as_of: AsOf = None,
    csv_file: CsvFile = None,
    json_file: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Write the table as JSON.", show_default=False),
    ] = None,
    leave_out_faulty: LeaveOut = False,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """Forecast the running hours until each bearing shell reaches its replacement limit."""
    from wearcast.cli.show import busy, console
    from wearcast.forecasting.run import forecast as run_forecast
    from wearcast.frames import records_of
    from wearcast.outputs import write_whole
    from wearcast.sources import read
    from wearcast.texts import csv_text, json_text

    with busy("Forecasting", quiet):
        result = run_forecast(read(records), as_of, settings_from(settings), leave_out_faulty)
    if csv_file is not None:
        write_whole(csv_file, csv_text(result.table))
    if json_file is not None:
        write_whole(json_file, json_text(records_of(result.table)))
    if not quiet:
        show_forecast(result, console())


def show_forecast(result: Forecast, out: Console) -> None:
    """The forecast engine by engine, and what stands behind it."""
    from rich.table import Table

    from wearcast.cli.show import show_padded
    from wearcast.forecasting.words import (
        days_since_in_words,
        early_in_words,
        engine_in_words,
        hours_range_in_words,
        place_in_words,
        said_in_words,
    )
    from wearcast.frames import groups_of, records_of

    run_date = result.history.records.run_date
    for key, rows in groups_of(result.table, ["vessel", "engine"]):
        table = Table(
            title=engine_in_words(result.history.engines[(key[0], key[1])]),
            title_justify="left",
            title_style="bold",
            box=None,
            pad_edge=False,
            padding=(0, 2, 0, 0),
        )
        table.add_column("position", no_wrap=True)
        table.add_column("hours to limit\n10 - 50 - 90 %", justify="right", no_wrap=True)
        table.add_column("early date\n10 %", no_wrap=True)
        table.add_column("statement")
        for row in records_of(rows):
            table.add_row(
                place_in_words(row),
                hours_range_in_words(row),
                early_in_words(row, run_date),
                said_in_words(row),
            )
        show_padded(table, out)
        _show_doubted(records_of(rows), out)
        since = days_since_in_words(result.history.engines[(key[0], key[1])], run_date)
        out.print(f"{since}\n" if since else "")
    show_behind(result, out)


def _show_doubted(rows: Sequence[Mapping[str, Any]], out: Console) -> None:
    """Where the doubted readings, let in, would bring the early end clearly forward."""
    from wearcast.forecasting.words import place_in_words
    from wearcast.words import hours, typed

    for row in rows:
        without, beside = (float(row[f"hours_to_limit_p10_{which}_doubted"]) for which in ("without", "with"))
        if beside < CLEARLY_SOONER * without or (isfinite(beside) and not isfinite(without)):
            out.print(
                f"  {place_in_words(row)}: with the doubted readings let in, 10 % within {typed(hours(beside))} h; "
                f"left out, within {typed(hours(without))} h."
            )


def show_behind(result: Forecast, out: Console) -> None:
    """What was left out, doubted and assumed, shortly."""
    if result.history.left_out:
        out.print("Left out, because it could not be used:", style="bold")
        for fault in result.history.left_out:
            out.print(f"  {fault.where}: {fault.text}")
        out.print()
    if result.queries:
        out.print(
            "Some of these records are doubted: wearcast check lists them. Doubted readings are left out."
        )
    out.print(
        "Hours are running hours from each engine's as-of moment, a range: with 10 % chance the limit is "
        "reached sooner than the first, with 90 % by the last. Open: no upper bound from these readings. Not "
        "dated: no yearly use known, or too far off.\n"
        "Readings suggest; maker's limits and intervals, class and licensed engineers decide."
    )
