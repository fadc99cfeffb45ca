"""Options that try a change, shared by the commands that decide."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from wearcast.decide.what_if import ChangedLimit, MovedWindow, UseOf, WhatIf

HoursPerYear = Annotated[
    list[str] | None,
    typer.Option(
        "--hours-per-year",
        metavar="HOURS",
        help="What if: another yearly use, of every engine (6000) or of one vessel ('Merrow Dain=6000').",
        show_default=False,
    ),
]
LeadTime = Annotated[
    float | None,
    typer.Option(
        "--lead-time", metavar="DAYS", help="What if: another lead time for every part.", show_default=False
    ),
]
Risk = Annotated[
    float | None,
    typer.Option(
        "--risk",
        metavar="SHARE",
        help="What if: another accepted chance that a limit is reached before the next opening (0.10).",
        show_default=False,
    ),
]
Service = Annotated[
    float | None,
    typer.Option(
        "--service",
        metavar="SHARE",
        help="What if: another chance that the stock suffices (0.95).",
        show_default=False,
    ),
]
MoveWindow = Annotated[
    list[str] | None,
    typer.Option(
        "--move-window",
        metavar="'VESSEL OLD NEW'",
        help="What if: a window on another date ('Ossel Brae 2027-03-15 2027-09-01').",
        show_default=False,
    ),
]
LimitOption = Annotated[
    list[str] | None,
    typer.Option(
        "--limit",
        metavar="'BEARING HALF QUANTITY SIZE VALUE'",
        help="What if: another limit, in the unit of its row ('main lower wall standard 7.955'). "
        "The maker's limit holds until the maker changes it.",
        show_default=False,
    ),
]


def what_if_from(
    hours_per_year: list[str] | None = None,
    lead_time: float | None = None,
    risk: float | None = None,
    service: float | None = None,
    as_of: date | None = None,
    move_window: list[str] | None = None,
    limit: list[str] | None = None,
) -> WhatIf:
    """The changes asked for."""
    from wearcast.decide.what_if import WhatIf

    return WhatIf(
        hours_per_year=tuple(_use(text) for text in hours_per_year or ()),
        lead_time_days=lead_time,
        risk=risk,
        service=service,
        as_of=as_of,
        moved_windows=tuple(_moved(text) for text in move_window or ()),
        limits=tuple(_limit(text) for text in limit or ()),
    )


def _use(text: str) -> UseOf:
    from wearcast.decide.what_if import UseOf

    vessel, _, hours = text.rpartition("=")
    try:
        return UseOf(vessel.strip(), float(hours))
    except ValueError:
        raise typer.BadParameter(
            f"{text!r}: write the hours of a year (6000), or vessel and hours ('Merrow Dain=6000')",
            param_hint="--hours-per-year",
        ) from None


def _moved(text: str) -> MovedWindow:
    from wearcast.decide.what_if import MovedWindow

    words = text.split()
    try:
        old, new = (datetime.strptime(word, "%Y-%m-%d").date() for word in words[-2:])
    except ValueError:
        raise typer.BadParameter(
            f"{text!r}: write vessel, old date and new date ('Ossel Brae 2027-03-15 2027-09-01')",
            param_hint="--move-window",
        ) from None
    return MovedWindow(" ".join(words[:-2]), old, new)


def _limit(text: str) -> ChangedLimit:
    from wearcast.decide.what_if import ChangedLimit
    from wearcast.quantities import BEARINGS, HALVES, QUANTITIES

    words = text.split()
    bearing = next((word for word in words if word in BEARINGS), "")
    half = next((word for word in words if word in HALVES), "")
    quantity = next((word for word in words if word in QUANTITIES), "wall")
    size = " ".join(word for word in words[:-1] if word not in (bearing, half, quantity)) or "standard"
    try:
        value = float(words[-1]) if bearing else None
    except (ValueError, IndexError):
        value = None
    if value is None:
        raise typer.BadParameter(
            f"{text!r}: write bearing, half, quantity, shell size and limit ('main lower wall standard 7.955')",
            param_hint="--limit",
        )
    return ChangedLimit(bearing, half, quantity, size, value)
