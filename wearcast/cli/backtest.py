"""`wearcast backtest`: how far to trust the forecast."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.options import (
    LeaveOut,
    OnlyBearing,
    OnlyEngine,
    OnlyVessel,
    Quiet,
    Records,
    SettingsFile,
    settings_from,
)

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from wearcast.backtesting.run import Backtest
    from wearcast.backtesting.words import FigureTable


def backtest(
    records: Records,
    vessel: OnlyVessel = "",
    engine: OnlyEngine = "",
    bearing: OnlyBearing = "",
    csv_file: Annotated[
        Path | None,
        typer.Option("--csv", metavar="FILE", help="Write every hidden reading as CSV.", show_default=False),
    ] = None,
    leave_out_faulty: LeaveOut = False,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """Hide what was read last, forecast it from what came before, and show how far the forecast was right."""
    from wearcast.backtesting.run import backtest as run_backtest
    from wearcast.cli.show import busy, console, end_of
    from wearcast.lives.only import Only
    from wearcast.outputs import write_whole
    from wearcast.sources import read
    from wearcast.texts import csv_text

    with busy("Forecasting the past", quiet):
        result = run_backtest(read(records), settings_from(settings), leave_out_faulty)
        only = Only(vessel, engine, bearing)
        result = result.narrowed(only) if only else result
    if csv_file is not None:
        write_whole(csv_file, csv_text(result.table))
    if not quiet:
        show_backtest(result, console())
    end_of(result.forecast.history)


def show_backtest(result: Backtest, out: Console) -> None:
    """The figures of both runs, and how to read them."""
    from wearcast.backtesting.words import (
        READING_IT,
        RUNS,
        TITLE,
        figure_tables,
        pit_in_words,
        scored_in_words,
        verdict,
    )
    from wearcast.cli.decisions import say
    from wearcast.cli.show import show_padded

    out.print(TITLE, style="bold")
    say((scored_in_words(result), verdict(result)), out, "")
    out.print()
    for run, title in RUNS.items():
        groups = figure_tables(result, run)
        if groups:
            show_padded(_table(title, groups), out)
            out.print(f"PIT in ten equal parts, 10 % each where right: {pit_in_words(result, run)}\n")
    say(READING_IT, out, "")


def _table(title: str, groups: tuple[FigureTable, ...]) -> Table:
    from wearcast.backtesting.summary import ALL, UNDOUBTED
    from wearcast.backtesting.words import READINGS_OF
    from wearcast.cli.decisions import plain_table

    table = plain_table(title)
    table.add_column("")
    table.add_column("should be", justify="right", no_wrap=True)
    table.add_column(READINGS_OF[ALL], justify="right", no_wrap=True)
    table.add_column(READINGS_OF[UNDOUBTED], justify="right", no_wrap=True)
    for group in groups:
        table.add_row(group.title, "", "", "", style="bold")
        for line in group.lines:
            table.add_row(f"  {line.label}", line.expected, line.all_readings, line.undoubted)
    return table
