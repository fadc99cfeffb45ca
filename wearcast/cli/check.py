"""`wearcast check`: what the tool refuses and what it doubts."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wearcast.cli.options import AsOf, Quiet, Records, SettingsFile, settings_from


def check(
    records: Records,
    json_file: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Write the list as JSON.", show_default=False),
    ] = None,
    as_of: AsOf = None,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """List the rows that are refused and the readings that are doubted, and say what to do about each."""
    from wearcast.cli.outputs import json_text, write_whole
    from wearcast.cli.show import busy, console, show_query
    from wearcast.forecasting.check import check as check_records
    from wearcast.records.read import read

    with busy("Looking at every reading", quiet):
        queries = check_records(read(records), as_of, settings_from(settings))
    refused = [query for query in queries if query.stops_run]
    doubted = [query for query in queries if not query.stops_run]
    if json_file is not None:
        write_whole(json_file, json_text([query.to_json() for query in queries]))
    if not quiet:
        out = console()
        if refused:
            out.print("Refused: these rows cannot be used as they are.\n")
        for query in refused:
            show_query(query, out)
        if doubted:
            out.print("Doubted: look at these again; correct, withdraw or confirm them.\n")
        for query in doubted:
            show_query(query, out)
        if not queries:
            out.print("Every row was understood and no reading is doubted.")
    if refused:
        raise typer.Exit(1)
