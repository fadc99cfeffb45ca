"""`wearcast report`: offline pages, one an engine."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wearcast.cli.options import AsOf, LeaveOut, Quiet, Records, SettingsFile, settings_from


def report(
    records: Records,
    out: Annotated[
        Path, typer.Option("--out", metavar="FOLDER", help="Folder for the pages.", show_default=False)
    ],
    as_of: AsOf = None,
    with_backtest: Annotated[
        bool,
        typer.Option(
            "--backtest/--no-backtest", help="Show how far past forecasts were right; takes longer."
        ),
    ] = True,
    leave_out_faulty: LeaveOut = False,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """Write one self-contained HTML page an engine, and an index: they open without a network."""
    from wearcast.backtesting.run import backtest_of
    from wearcast.cli.outputs import write_all
    from wearcast.cli.show import busy
    from wearcast.forecasting.run import forecast as run_forecast
    from wearcast.records.read import read
    from wearcast.report.sheets import render
    from wearcast.version import __version__

    with busy("Forecasting and drawing", quiet):
        result = run_forecast(read(records), as_of, settings_from(settings), leave_out_faulty)
        pages = render(result, __version__, backtest=backtest_of(result) if with_backtest else None)
    write_all({out / name: text for name, text in pages.items()})
    if not quiet:
        typer.echo(f"Wrote {len(pages)} pages. Open {out / 'index.html'} in a browser.")
