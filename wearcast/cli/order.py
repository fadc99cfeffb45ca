"""`wearcast order`: which shells to order, how many, and by when."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.deciding import Asked, deciding

if TYPE_CHECKING:
    from rich.console import Console

    from wearcast.decide.order import Order
    from wearcast.decide.what_if import WhatIf
    from wearcast.records.records import RecordSet
    from wearcast.settings import Settings


PLACES = 10
"""Places that need a part shown unless all are asked for."""


@deciding
def order(
    asked: Asked,
    review_days: Annotated[
        float | None,
        typer.Option(
            "--review-days",
            metavar="N",
            min=0,
            help="How long after this order the next one is thought about (365).",
            show_default=False,
        ),
    ] = None,
    both_halves: Annotated[
        bool,
        typer.Option(
            "--both-halves", help="Renew both halves of a bearing together; parts sold in pairs always are."
        ),
    ] = False,
    every: Annotated[
        bool,
        typer.Option("--all", help=f"Every part and every place, not the {PLACES} likeliest to need one."),
    ] = False,
) -> None:
    """Say how many shells of each part to order, and the last date to order them."""

    def run(records: RecordSet, settings: Settings, case: WhatIf) -> Order:
        from wearcast.decide.order import REVIEW_DAYS
        from wearcast.decide.order import order as run_order

        days = REVIEW_DAYS if review_days is None else review_days
        return run_order(records, settings, days, both_halves, case, asked.leave_out_faulty)

    def show(result: Order, out: Console) -> None:
        show_order(result, out, every)

    asked.decide("Forecasting and counting", run, show)


def show_order(result: Order, out: Console, every: bool = False) -> None:
    """The parts in one table, then what drives each and why; both cases where a change is tried."""
    from wearcast.cli.decisions import CLOSING, plain_table, say, say_what_if
    from wearcast.cli.show import show_padded
    from wearcast.decide.sections import order_rows
    from wearcast.words import stated_share

    what = f"As of {result.stand.as_of}, for a service of {stated_share(result.service)}"
    say([f"{what}; the next order is thought about {result.review_days:.0f} days after this one."], out, "")
    if result.only:
        alone = " ".join(filter(None, (result.only.vessel, result.only.engine, result.only.bearing)))
        say(
            [f"Numbers are of the whole fleet, whose store is one; places and shares are of {alone} alone."],
            out,
            "",
        )
    say_what_if(result.what_if, out)
    out.print()
    table = plain_table()
    table.add_column("part", no_wrap=True)
    for title in ("needed\n50 - 95 %", "in store,\non order", "least on\nboard", "order"):
        table.add_column(title, justify="right", no_wrap=True)
    table.add_column("by")
    given = (
        {}
        if result.as_given is None
        else {(row.part, row.part_reference): row for row in order_rows(result.as_given)}
    )
    if given:
        table.add_column("as given:\norder", justify="right")
        table.add_column("by")
    rows = order_rows(result)
    for row in rows:
        before = given.get((row.part, row.part_reference))
        table.add_row(
            row.part,
            row.needed,
            row.in_store,
            row.minimum,
            row.quantity,
            row.by,
            *((before.quantity, before.by) if before else ()),
        )
    show_padded(table, out)
    out.print()
    quiet = [
        row for row in rows if not every and row.quantity == "0" and not row.driven_by and len(rows) > PLACES
    ]
    for row in (one for one in rows if one not in quiet):
        reference = f" ({row.part_reference})" if row.part_reference else ""
        out.print(f"{row.part}{reference}: {row.headline}", style="bold")
        say([f"{one}." for one in row.to_vessels], out)
        most = len(row.driven_by) if every else PLACES
        left = f"; {len(row.driven_by) - most} more (--all)" if len(row.driven_by) > most else ""
        needed = f"Needed by {row.covered_until} at: {', '.join(row.driven_by[:most])}{left}."
        say([needed] if row.driven_by else [], out)
        say([f"Would be {row.would_change}."] if row.would_change else [], out)
        say(row.reasons, out)
        out.print()
    if quiet:
        say([f"{len(quiet)} more parts of which nothing is needed; --all shows them."], out, "")
    say([f"Counts are half shells unless the part is a pair. {CLOSING}"], out, "")
