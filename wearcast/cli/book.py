"""`wearcast book`: the record book, in which readings are kept for years and nothing is overwritten."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.options import Quiet, parse_day

if TYPE_CHECKING:
    from wearcast.book.add import Added
    from wearcast.queries import Query

app = typer.Typer(
    name="book",
    help="Keep readings in a record book: one .book file, or a PostgreSQL database by its URL.\n\n"
    "Rows are only added; a correction is a new row that names the old one. A password is best kept out of the URL, "
    "in the environment (PGPASSWORD) or in .pgpass.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

Book = Annotated[
    str, typer.Argument(metavar="BOOK", help="A .book file or a postgresql:// URL.", show_default=False)
]
By = Annotated[
    str,
    typer.Option(
        "--by", metavar="NAME", help="Who enters this, as it shall stand in the book.", show_default=False
    ),
]


@app.command("create")
def create(book: Book, quiet: Quiet = False) -> None:
    """Make an empty book."""
    from wearcast.book.create import create as make

    address = make(book)
    if not quiet:
        typer.echo(f"Made {address}. Next: wearcast book add {address} RECORDS --by NAME")


@app.command("add", short_help="Add record sets or sheets: all rows or none, nothing twice.")
def add(
    book: Book,
    records: Annotated[
        list[str],
        typer.Argument(
            metavar="RECORDS...",
            help="Folders of CSV files or workbooks, or folders of sheets; a part of a record set will do, such as one "
            "opening.",
            show_default=False,
        ),
    ],
    by: By,
    mapping: Annotated[
        Path | None,
        typer.Option(
            "--mapping",
            metavar="FILE",
            help="TOML file that says what the texts of sheets of another layout mean.",
            show_default=False,
        ),
    ] = None,
    each: Annotated[
        bool, typer.Option("--each", help="Add each by itself: what is refused does not keep out the others.")
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would be added, and keep nothing.")
    ] = False,
    quiet: Quiet = False,
) -> None:
    """Add readings and the other tables: all rows or none, and nothing twice."""
    from wearcast.book.add import add_all, sources_in
    from wearcast.book.address import address_of
    from wearcast.cli.book_words import all_added_words, say
    from wearcast.cli.show import busy
    from wearcast.sources import stops_since

    sources = sources_in(records, mapping is not None)
    parts = [[one] for one in sources] if each else [sources]
    added: dict[str, Added] = {}
    refused = 0
    with busy("Reading and adding", quiet):
        for part in parts:
            try:
                with _nothing_added("" if len(parts) == 1 else str(part[0])):
                    added |= dict(
                        zip(map(str, part), add_all(book, part, by, mapping, dry_run=dry_run), strict=True)
                    )
            except typer.Exit:
                refused += 1
        brought = [one.import_id for one in added.values() if one.import_id]
        stops = stops_since(book, brought) if brought and not dry_run else []
    if not quiet and added:
        say(all_added_words(added, address_of(book), refused, dry_run))
        if dry_run:
            _tell_expected(book, [name for name, one in added.items() if one.rows.get("readings")], mapping)
    _tell_stops(stops, quiet)
    if refused:
        raise typer.Exit(1)


def _tell_expected(book: str, sources: Sequence[str], mapping: Path | None) -> None:
    """Reading by reading whether what would be added is as expected from what the book holds."""
    from wearcast.cli.came_back import look, show_came_back
    from wearcast.cli.show import busy, console
    from wearcast.errors import WrongUse

    for source in sources:
        try:
            with busy("Comparing with what was expected", quiet=False):
                made = look(source, book, mapping=mapping)
        except WrongUse:
            continue  # a book that holds nothing yet expects nothing
        typer.echo("")
        show_came_back(made, console())


def _tell_stops(stops: Sequence[Query], quiet: bool) -> None:
    """What came in and would stop a forecast, in the words a forecast would use."""
    from wearcast.cli.show import console, show_query

    if stops and not quiet:
        out = console()
        out.print("\nBrought in and kept, but a forecast refuses it until it is mended or left out:\n")
        for stop in stops:
            show_query(stop, out)


@app.command("hours", short_help="Add the running hours of an engine on a date.")
def hours(
    book: Book,
    vessel: Annotated[str, typer.Option("--vessel", metavar="V", help="Vessel.", show_default=False)],
    engine: Annotated[str, typer.Option("--engine", metavar="E", help="Engine.", show_default=False)],
    on: Annotated[
        date,
        typer.Option("--date", metavar="D", parser=parse_day, help="When it was read.", show_default=False),
    ],
    dial: Annotated[
        str, typer.Option("--hours", metavar="H", help="The dial as read, in hours.", show_default=False)
    ],
    by: By,
    quiet: Quiet = False,
) -> None:
    """Add the dial of an engine on a date, nothing opened: it moves the standing, the yearly use and the dates."""
    from wearcast.book.address import address_of
    from wearcast.book.hours import add_hours
    from wearcast.cli.book_words import added_words, say

    with _nothing_added():
        added = add_hours(book, vessel, engine, on, dial, by)
    if not quiet:
        say(added_words(added, address_of(book)))


@app.command("list", short_help="List the imports and the last digest.")
def list_(book: Book) -> None:
    """List the imports: who added what when, and the digest after the last."""
    from wearcast.book.address import address_of
    from wearcast.book.connect import reading
    from wearcast.book.heads import heads_of
    from wearcast.cli.book_words import show_imports

    address = address_of(book)
    with reading(address) as connection:
        heads = heads_of(connection)
    show_imports(heads, address)


@app.command("history", short_help="Tell all that is known of a bearing or a reading.")
def history(
    book: Book,
    vessel: Annotated[str, typer.Option("--vessel", metavar="V", help="Vessel.")] = "",
    engine: Annotated[str, typer.Option("--engine", metavar="E", help="Engine.")] = "",
    bearing: Annotated[str, typer.Option("--bearing", metavar="B", help="Kind of bearing (main).")] = "",
    position: Annotated[str, typer.Option("--position", metavar="P", help="Position (3).")] = "",
    half: Annotated[str, typer.Option("--half", metavar="H", help="upper or lower; both if left out.")] = "",
    number: Annotated[
        int | None,
        typer.Option("--id", metavar="ID", help="One reading by its id in the book.", show_default=False),
    ] = None,
    event: Annotated[
        int | None, typer.Option("--event-id", metavar="ID", help="One event by its id.", show_default=False)
    ] = None,
    csv_file: Annotated[
        Path | None,
        typer.Option(
            "--csv", metavar="FILE", help="Write the table of a bearing as CSV.", show_default=False
        ),
    ] = None,
    ids: Annotated[bool, typer.Option("--ids", help="With the id of each row, for corrections.")] = False,
) -> None:
    """Tell all that is known of one bearing, or of one reading: what came when from whom, what was corrected."""
    from wearcast.book.history import Bearing, of_bearing, of_row
    from wearcast.cli.book_words import show_history, show_record
    from wearcast.cli.history_table import csv_of
    from wearcast.outputs import write_whole

    where = (vessel, engine, bearing, position)
    asked = [number is not None, event is not None, any((*where, half))]
    if sum(asked) != 1 or (asked[2] and not all(where)):
        raise typer.BadParameter(
            "name one bearing by --vessel, --engine, --bearing and --position, or one row by --id or --event-id"
        )
    if number is not None:
        rows = of_row(book, "readings", number)
    elif event is not None:
        rows = of_row(book, "events", event)
    else:
        rows = of_bearing(book, Bearing(*where, half))
    if csv_file is not None:
        write_whole(csv_file, csv_of(rows, ids))
    elif asked[2] and rows:
        show_record(rows, ids)
    else:
        show_history(rows, with_place=not asked[2])
    if not rows:
        raise typer.Exit(1)


@app.command("correct", short_help="Take corrections down; the old value stays.")
def correct(
    book: Book,
    corrections: Annotated[
        Path,
        typer.Argument(
            metavar="CORRECTIONS",
            help="A CSV file of the corrections table (or a workbook with it); row is the id in the book.",
            show_default=False,
        ),
    ],
    by: By,
    quiet: Quiet = False,
) -> None:
    """Take corrections down: replace, withdraw or confirm rows, each with its reason and name."""
    from wearcast.book.address import address_of
    from wearcast.book.correct import correct as correct_in
    from wearcast.cli.book_words import corrected_words, say

    with _nothing_added():
        done = correct_in(book, corrections, by)
    if not quiet:
        say(corrected_words(done, address_of(book)))


@app.command("export", short_help="Write the book as a record set again.")
def export(
    book: Book,
    out: Annotated[
        Path, typer.Option("--out", metavar="FOLDER", help="Folder for the CSV files.", show_default=False)
    ],
    as_known_on: Annotated[
        date | None,
        typer.Option(
            "--as-known-on",
            metavar="DATE",
            parser=parse_day,
            help="Only what had been added by the end of that day (UTC).",
            show_default=False,
        ),
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Write the book as a record set again: rows as they came, corrections beside them."""
    from wearcast.book.export import export as export_from
    from wearcast.outputs import write_all

    files = export_from(book, as_known_on)
    stale = [one for one in _tables_in(out) if one not in files]
    if stale:
        raise typer.BadParameter(
            f"{out} holds {', '.join(stale)} from elsewhere; name an empty folder", param_hint="--out"
        )
    write_all({out / name: text for name, text in files.items()})
    if not quiet:
        typer.echo(
            f"Wrote {', '.join(files)} to {out}. The row of each reading and event there is its id in the book."
        )


@app.command("verify", short_help="Find anything changed, missing or put in.")
def verify(
    book: Book,
    expect: Annotated[
        str,
        typer.Option(
            "--expect",
            metavar="DIGEST",
            help="A digest the book had, kept elsewhere (every report prints it): finds a book cut off or made anew.",
            show_default=False,
        ),
    ] = "",
) -> None:
    """Go through every row and file; name the first that was changed, taken out or put in."""
    from wearcast.book.address import address_of
    from wearcast.book.verify import verify as verify_book
    from wearcast.cli.book_words import say, verified_words

    found = verify_book(book, expect)
    say(verified_words(found, address_of(book), bool(expect)))
    if not found.whole:
        raise typer.Exit(1)


@app.command("backup", short_help="Copy the book into one file, also while others write.")
def backup(
    book: Book,
    out: Annotated[
        str,
        typer.Option(
            "--out", metavar="FILE", help="A new .book file, or an empty database.", show_default=False
        ),
    ],
    quiet: Quiet = False,
) -> None:
    """Copy the book into one file, also while others write, and verify the copy."""
    from wearcast.book.address import address_of
    from wearcast.book.backup import backup as copy
    from wearcast.cli.book_words import extent, say

    copied = copy(book, out)
    if not quiet:
        say(
            [
                f"Copied to {address_of(out)}, and the copy verified: {extent(copied)}.",
                copied.digest,
            ]
        )


@app.command("upgrade", short_help="Bring a book of an earlier version up to date.")
def upgrade(book: Book) -> None:
    """Bring a book made by an earlier version to the tables of this one."""
    from wearcast.book.address import address_of
    from wearcast.book.create import upgrade as upgrade_book

    before, after = upgrade_book(book)
    done = "is up to date" if before == after else f"was brought from schema {before} to {after}"
    typer.echo(f"{address_of(book)} {done}.")


@contextmanager
def _nothing_added(of: str = "") -> Iterator[None]:
    """Tell refusals, and that the book is as it was."""
    from wearcast.errors import InputRefused

    try:
        yield
    except InputRefused as refused:
        from wearcast.cli.show import console, show_query

        out = console(stderr=True)
        number = len(refused.faults)
        what = f"Nothing was added of {of}" if of else "Nothing was added"
        out.print(f"{what}: {number} {'fault' if number == 1 else 'faults'}.\n")
        for fault in refused.faults:
            show_query(fault, out)
        out.print("Correct them and run the command again; the book is as it was.")
        raise typer.Exit(1) from None


def _tables_in(folder: Path) -> list[str]:
    """The files of a folder that would be read as tables of a record set."""
    from wearcast.records.tables import TABLES

    if not folder.is_dir():
        return []
    return sorted(
        path.name
        for path in folder.iterdir()
        if path.suffix.casefold() == ".csv" and path.stem.strip().casefold() in TABLES
    )
