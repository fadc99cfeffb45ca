"""Arguments and options that several commands share, worded once."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from wearcast.settings import Settings


def parse_day(text: str) -> date:
    """A date written as 2024-05-17."""
    try:
        return datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise typer.BadParameter(f"{text!r} is no date; write it as 2024-05-17") from None


Records = Annotated[
    str,
    typer.Argument(
        metavar="RECORDS",
        help="A folder of CSV files, an .xlsx workbook, or a record book: a .book file or a postgresql:// URL.",
        show_default=False,
    ),
]
AsOf = Annotated[
    date | None,
    typer.Option(
        "--as-of",
        metavar="DATE",
        parser=parse_day,
        help="Stand every engine at this date (2024-05-17) and use only rows up to it.",
        show_default=False,
    ),
]
LeaveOut = Annotated[
    bool,
    typer.Option("--leave-out-faulty", help="Go on without the rows that cannot be used, and list them."),
]
SettingsFile = Annotated[
    Path | None,
    typer.Option("--settings", metavar="FILE", help="TOML file that overrides settings.", show_default=False),
]
CsvFile = Annotated[
    Path | None, typer.Option("--csv", metavar="FILE", help="Write the table as CSV.", show_default=False)
]
OnlyVessel = Annotated[
    str,
    typer.Option("--vessel", metavar="V", help="Show and write this vessel alone; the forecast uses all."),
]
OnlyEngine = Annotated[str, typer.Option("--engine", metavar="E", help="This engine alone.")]
OnlyBearing = Annotated[
    str, typer.Option("--bearing", metavar="B", help="This bearing alone: a kind (main) or a place (main 5).")
]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Print nothing but refusals.")]


def settings_from(path: Path | None) -> Settings:
    """The default settings, or those of a file."""
    from wearcast.settings import Settings, read_settings

    return Settings() if path is None else read_settings(path)
