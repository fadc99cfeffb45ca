"""`wearcast report`: offline pages, one an engine."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.options import AsOf, LeaveOut, Quiet, Records, SettingsFile, settings_from

if TYPE_CHECKING:
    from wearcast.report.view import PlainTable


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
    with_decisions: Annotated[
        bool,
        typer.Option("--decisions/--no-decisions", help="Show plan, order list and sisters; takes longer."),
    ] = True,
    leave_out_faulty: LeaveOut = False,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """Write one self-contained HTML page an engine, and an index: they open without a network."""
    from wearcast.backtesting.run import backtest_of
    from wearcast.cli.outputs import write_all
    from wearcast.cli.show import busy
    from wearcast.decide.compare import compare_at
    from wearcast.decide.order import order_at
    from wearcast.decide.plan import plan_at
    from wearcast.decide.stand import take_stand
    from wearcast.forecasting.run import forecast as run_forecast
    from wearcast.sources import read
    from wearcast.report.decisions import decision_tables
    from wearcast.report.sheets import render
    from wearcast.version import __version__

    with busy("Forecasting and drawing", quiet):
        record_set, chosen = read(records), settings_from(settings)
        result = run_forecast(record_set, as_of, chosen, leave_out_faulty)
        more: tuple[PlainTable, ...] = ()
        if with_decisions:
            stand = take_stand(record_set, as_of, chosen, leave_out_faulty)
            more = decision_tables(
                plan_at(stand, chosen.risk), order_at(stand, chosen.service), compare_at(stand)
            )
        pages = render(result, __version__, more, backtest_of(result) if with_backtest else None)
    write_all({out / name: text for name, text in pages.items()})
    if not quiet:
        typer.echo(f"Wrote {len(pages)} pages. Open {out / 'index.html'} in a browser.")
