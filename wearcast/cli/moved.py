"""`wearcast moved`: what changed in the forecast since a day, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.options import (
    CsvFile,
    LeaveOut,
    OnlyBearing,
    OnlyEngine,
    OnlyVessel,
    Quiet,
    Records,
    SettingsFile,
    parse_day,
    settings_from,
)

if TYPE_CHECKING:
    from rich.console import Console

    from wearcast.decide.moved import Moved, RowKey
    from wearcast.records.records import RecordSet
    from wearcast.settings import Settings

Since = Annotated[
    date | None,
    typer.Option(
        "--since",
        metavar="DATE",
        parser=parse_day,
        help="Then: a book as known on that day; other records without the rows dated after it.",
        show_default=False,
    ),
]
From = Annotated[
    str,
    typer.Option(
        "--from", metavar="OLD", help="Then: these records, or this evidence pack, kept from that time."
    ),
]

ROWS = 10
"""Places shown unless all are asked for."""


def moved(
    records: Records,
    since: Since = None,
    old: From = "",
    vessel: OnlyVessel = "",
    engine: OnlyEngine = "",
    bearing: OnlyBearing = "",
    every: Annotated[
        bool, typer.Option("--all", help=f"Every place that moved, not the first {ROWS}.")
    ] = False,
    csv_file: CsvFile = None,
    leave_out_faulty: LeaveOut = False,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """Say which early dates, statements and planned openings moved since then, and how much came from what."""
    from wearcast.cli.show import busy, console
    from wearcast.decide.moved import as_of_then
    from wearcast.decide.moved import moved as find
    from wearcast.errors import WrongUse
    from wearcast.lives.only import Only
    from wearcast.outputs import write_whole
    from wearcast.texts import csv_text

    if (since is None) == (not old):
        raise WrongUse(
            "Name then once: --since DATE, or --from OLD where the records of that time were kept."
        )
    with busy("Forecasting then and now", quiet):
        now = _of(records)
        before = _of(old) if since is None else _Told(as_of_then(records, now.records, since))
        chosen = settings_from(settings) if settings else now.settings
        result = find(before.records, now.records, chosen, leave_out_faulty, before.stated)
        if not vessel:  # a pack tells of one engine
            vessel, engine = before.engine or now.engine or ("", engine)
        only = Only(vessel, engine, bearing).among(one.key[:4] for one in result.moves)
        result = result.narrowed(only)
    if csv_file is not None:
        write_whole(csv_file, csv_text(result.table))
    if not quiet:
        show_moved(result, console(), len(result.moves) if every else ROWS)


@dataclass(frozen=True)
class _Told:
    """Records, and for those of a pack what it stated, of which engine, by which settings."""

    records: RecordSet
    stated: Mapping[RowKey, date | None] | None = None
    engine: tuple[str, str] | None = None
    settings: Settings | None = None


def _of(source: str) -> _Told:
    from wearcast.sources import read

    if Path(source).suffix.casefold() != ".zip":
        return _Told(read(source))
    from wearcast.evidence.packed_records import packed_records

    found = packed_records(Path(source))
    return _Told(found.records, found.stated, found.asked.key, found.settings)


def show_moved(result: Moved, out: Console, most: int) -> None:
    """The places that moved, what matters most first."""
    from wearcast.cli.decisions import CLOSING, say
    from wearcast.decide.moved_words import move_in_words

    told = result.notable
    left = f", the first {most} here; --all shows every one" if len(told) > most else ""
    say([f"{len(told)} of {len(result.moves)} rows moved{left}."], out, "")
    say(map(move_in_words, told[:most]), out, "")
    say(
        [
            "Days by cause are differences of forecasts, corrections let in first, then dials and yearly use, sisters' "
            "readings, own readings, limits and windows: they add up.",
            CLOSING,
        ],
        out,
        "",
    )
