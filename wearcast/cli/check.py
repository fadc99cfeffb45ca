"""`wearcast check`: what the tool refuses and what it doubts."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.options import (
    AsOf,
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

    from wearcast.queries import Query
    from wearcast.records.records import RecordSet


ROWS = 10
"""Doubts shown unless all are asked for."""


def check(
    records: Records,
    vessel: OnlyVessel = "",
    engine: OnlyEngine = "",
    bearing: OnlyBearing = "",
    json_file: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Write the list as JSON.", show_default=False),
    ] = None,
    draft: Annotated[
        Path | None,
        typer.Option(
            "--draft-corrections",
            metavar="FILE",
            help="Write rows of a corrections table to read, edit, sign and keep (CSV).",
            show_default=False,
        ),
    ] = None,
    events: Annotated[
        Path | None,
        typer.Option(
            "--draft-events",
            metavar="FILE",
            help="Write rows of an events table for renewals that look unrecorded (CSV).",
            show_default=False,
        ),
    ] = None,
    against: Annotated[
        str,
        typer.Option(
            "--against",
            metavar="KNOWN",
            help="RECORDS is a filled form or one opening; KNOWN, a record book or other records, is what it is held "
            "against, reading by reading. Nothing is written.",
            show_default=False,
        ),
    ] = "",
    every: Annotated[
        bool, typer.Option("--all", help=f"Every doubt, not the {ROWS} first; what is refused always is.")
    ] = False,
    as_of: AsOf = None,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """List the rows that are refused and the readings that are doubted, and say what to do about each."""
    from wearcast.cli.decisions import say
    from wearcast.cli.show import busy, console, show_query
    from wearcast.forecasting.check import check as check_records
    from wearcast.lives.only import Only
    from wearcast.outputs import write_whole
    from wearcast.sources import read
    from wearcast.texts import json_text

    if against:
        if draft or events or as_of or vessel or engine or bearing:
            raise typer.BadParameter("--against goes with --json, --settings and --quiet alone")
        _hold_against(records, against, json_file, settings, quiet)
        return
    with busy("Looking at every reading", quiet):
        record_set = read(records)
        found = check_records(record_set, as_of, settings_from(settings))
    only = Only(vessel, engine, bearing).among(
        (*key, "", "") for key in record_set.engines[["vessel", "engine"]].itertuples(index=False)
    )
    queries = [one for one in found if only.holds(one.vessel, one.engine, one.bearing, one.position)]
    refused = [query for query in queries if query.stops_run]
    doubted = [query for query in queries if not query.stops_run]
    if json_file is not None:
        write_whole(json_file, json_text([query.to_json() for query in queries]))
    drafted = _write_drafts(draft, events, record_set, as_of, doubted)
    if not quiet:
        out = console()
        for text in _summary(queries):
            say([text], out, "")
            out.print()
        if refused:
            out.print("Refused: these rows cannot be used as they are.\n")
        for query in refused:
            show_query(query, out)
        _show_doubted(doubted, len(doubted) if every else ROWS, out)
        if not queries:
            out.print("Every row was understood and no reading is doubted.")
        if draft is not None:
            from wearcast.doubts.drafts import HOW_TO

            out.print(f"{draft}: {drafted[0]} corrections drafted, none applied. {HOW_TO}")
        if events is not None:
            from wearcast.doubts.event_drafts import HOW_TO as WITH_EVENTS

            out.print(f"{events}: {drafted[1]} events drafted, none added. {WITH_EVENTS}")
    if refused:
        raise typer.Exit(1)


def _show_doubted(doubted: Sequence[Query], most: int, out: Console) -> None:
    from wearcast.cli.decisions import say
    from wearcast.cli.show import show_query

    if doubted:
        again = "look at these again; replace, withdraw or confirm them in a corrections table"
        say([f"Doubted: {again}."], out, "")
        out.print()
    for query in doubted[:most]:
        show_query(query, out)
    if len(doubted) > most:
        left = len(doubted) - most
        out.print(f"{left} more {'doubts' if left > 1 else 'doubt'}; --all shows every one.")


def _summary(queries: Sequence[Query]) -> list[str]:
    """How many of what kind, before each."""
    from collections import Counter

    from wearcast.queries import KINDS

    said = []
    for name, stops in (("refused", True), ("doubted", False)):
        kinds = Counter(KINDS[one.kind].title for one in queries if one.stops_run == stops)
        if kinds:
            each = ", ".join(f"{number} {kind}" for kind, number in kinds.most_common())
            said.append(f"{sum(kinds.values())} {name} ({each})")
    return [f"In all {' and '.join(said)}."] if len(queries) > 1 else []


def _hold_against(part: str, known: str, json_file: Path | None, settings: Path | None, quiet: bool) -> None:
    """A filled form or one opening beside what is known."""
    from wearcast.cli.came_back import look, show_came_back
    from wearcast.cli.show import busy, console
    from wearcast.outputs import write_whole
    from wearcast.texts import json_text

    with busy("Comparing with what was expected", quiet):
        made = look(part, known, settings)
    if json_file is not None:
        write_whole(json_file, json_text([one.to_json() for one in (*made.refused, *made.queries)]))
    if not quiet:
        show_came_back(made, console())
    if made.refused:
        raise typer.Exit(1)


def _write_drafts(
    corrections: Path | None,
    events: Path | None,
    records: RecordSet,
    as_of: date | None,
    doubted: Sequence[Query],
) -> list[int]:
    """Write the drafts asked for; with nothing doubted, the column names alone."""
    from wearcast.doubts import drafts, event_drafts
    from wearcast.lives.build import build
    from wearcast.outputs import write_whole
    from wearcast.texts import exact_csv

    history = build(records, as_of, leave_out_faulty=True) if doubted and (corrections or events) else None
    written = []
    for path, columns, of_queries in (
        (corrections, drafts.COLUMNS, drafts.draft_corrections),
        (events, event_drafts.COLUMNS, event_drafts.draft_events),
    ):
        rows = of_queries(doubted, history) if path and history else []
        written.append(len(rows))
        if path:
            cells = ([str(row.get(name, "")) for name in columns] for row in rows)
            write_whole(path, exact_csv(columns, cells))
    return written
