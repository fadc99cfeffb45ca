"""What the record book's commands say, in plain words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

import typer

from wearcast.cli.show import console, folded, show_padded

if TYPE_CHECKING:
    from wearcast.book.add import Added
    from wearcast.book.address import Address
    from wearcast.book.correct import Corrected
    from wearcast.book.heads import Head
    from wearcast.book.history import Correction, Told
    from wearcast.book.verify import Verified

ONE = {
    "readings": "reading", "events": "event", "engines": "engine", "limits": "limit", "windows": "window",
    "spares": "spare part", "gauges": "gauge", "corrections": "correction",
}  # fmt: skip


def say(lines: Iterable[str]) -> None:
    """Lines of at most 100 columns; a digest is never broken."""
    for line in lines:
        typer.echo(folded(line))


def counted(rows: Mapping[str, int]) -> str:
    """Rows by table: `12 readings, 1 event`.

    >>> counted({"readings": 12, "events": 1, "spares": 0})
    '12 readings, 1 event'
    """
    words = [f"{n} {ONE[name] + ('' if n == 1 else 's')}" for name, n in rows.items() if n]
    return ", ".join(words)


def all_added_words(added: Mapping[str, Added], address: Address, refused: int, dry_run: bool) -> list[str]:
    """What one or several imports added, in one summary; after a dry run what they would have."""
    if len(added) == 1 and not dry_run:
        return added_words(next(iter(added.values())), address)
    rows: dict[str, int] = {}
    already: dict[str, int] = {}
    differing: dict[str, int] = {}
    for one in added.values():
        for into, of in ((rows, one.rows), (already, one.already), (differing, one.differing)):
            for name, n in of.items():
                into[name] = into.get(name, 0) + n
    what = f"{len(added)} sources" if len(added) > 1 else next(iter(added))
    would = "Would add" if dry_run else "Added"
    lines = [f"{would} to {address} from {what}: {counted(rows) or 'nothing new'}."]
    lines += [f"In the book already, not added again: {counted(already)}."] if any(already.values()) else []
    lines += [f"Another value than the book's: {counted(differing)}."] if any(differing.values()) else []
    lines += [f"Refused, as listed above: {refused} of {len(added) + refused} sources."] if refused else []
    lines += dict.fromkeys(said for one in added.values() for said in one.said)
    if dry_run:
        return [*lines, "Nothing was kept (--dry-run)."]
    last = list(added.values())[-1]
    return [*lines, *_digest_words(last.digest, address, any(one.import_id for one in added.values()))]


def added_words(added: Added, address: Address) -> list[str]:
    """What an import added and what it did not."""
    if added.import_id is None:
        lines = [f"Nothing new: {address} is as it was."]
    else:
        lines = [f"Added to {address} as import {added.import_id}: {counted(added.rows)}."]
    if any(added.already.values()):
        lines.append(f"In the book already, not added again: {counted(added.already)}.")
    lines += added.said
    if any(added.differing.values()):
        lines.append(
            f"Another value than the book's: {counted(added.differing)}. Of each such pair neither counts until one is "
            f"corrected, withdrawn or confirmed: wearcast check {address} lists them."
        )
    elif added.import_id is not None:
        lines.append(f"See what is refused or doubted: wearcast check {address}")
    return [*lines, *_digest_words(added.digest, address, added.import_id is not None)]


def corrected_words(done: Corrected, address: Address) -> list[str]:
    """What a corrections file did."""
    held = [f"In the book already, not taken down again: {counted({'corrections': done.already})}."]
    if done.import_id is None:
        return [f"Nothing new: {address} is as it was.", *held, *_digest_words(done.digest, address, False)]
    lines = [
        f"Taken down in {address} as import {done.import_id}: {counted({'corrections': done.corrections})}. "
        "What stood there is kept."
    ]
    return [*lines, *(held if done.already else []), *done.said, *_digest_words(done.digest, address, True)]


def verified_words(found: Verified, address: Address, expected: bool) -> list[str]:
    """The outcome of a verification."""
    if not found.whole:
        lines = [f"{address} is not as it was written: {found.trouble}"]
        return [*lines, "Keep it as it is, and compare it with a backup that verifies."]
    lines = [
        f"{address} is as it was written: {extent(found)}, {found.files} original files.",
    ]
    if found.said:
        lines.append(found.said)
    lines += ["Last digest:", found.digest]
    if not expected:
        lines.append(
            "Whether its end was cut off, or the whole made anew, only a digest kept elsewhere tells (--expect DIGEST)."
        )
    return lines


def extent(found: Verified) -> str:
    """Rows and imports."""
    return f"{found.rows} rows in {found.imports} {'import' if found.imports == 1 else 'imports'}"


def _digest_words(digest: str, address: Address, new: bool) -> list[str]:
    lines = ["Last digest now:" if new else "Last digest:", digest]
    if new:
        lines.append(
            f"Keep it elsewhere: with it, wearcast book verify {address} --expect DIGEST proves the book."
        )
    return lines


def show_imports(heads: Sequence[Head], address: Address) -> None:
    """The imports as a table, and the last digest."""
    from rich.table import Table

    if not heads:
        typer.echo(f"{address} is empty.")
        return
    out = console()
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("import", "when (UTC)", "by", "from", "rows", "digest"):
        table.add_column(name, justify="right" if name == "import" else "left", no_wrap=name == "digest")
    for head in heads:
        rows = counted({name: head.rows(name) for name in ONE}) or "-"
        at = head.at.replace("T", " ").removesuffix("Z")
        table.add_row(str(head.id), at, head.by_name, head.source, rows, head.digest[:12])
    show_padded(table, out)
    say(["", "Last digest:", heads[-1].digest])


def show_record(rows: Sequence[Told], ids: bool) -> None:
    """The record of one place as one table."""
    from rich.table import Table

    from wearcast.cli.history_table import heads, lines_of

    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    for name in heads(ids):
        table.add_column(
            name, justify="right" if name in ("hours", "shell") else "left", no_wrap=name == "date"
        )
    for line in lines_of(rows, ids):
        table.add_row(*line)
    show_padded(table, console())


def show_history(rows: Sequence[Told], with_place: bool) -> None:
    """Rows in order of date, each with where it came from and what was corrected."""
    if not rows:
        typer.echo(
            "The book holds nothing there: check names and ids with wearcast book list, or without --half."
        )
        return
    for row in rows:
        say([_headline(row, with_place)])
        say([f"  id {row.id} of {row.table}; came in {row.came_in}; import {row.import_id}, added by {row.added_by} on "
             f"{row.added_at[:10]}"])  # fmt: skip
        for one in row.corrections:
            say([f"  {_correction(one)}"])


def _headline(row: Told, with_place: bool) -> str:
    cells = row.cells
    place = [cells.get(name, "").replace("_", " ") for name in ("bearing", "position")]
    names = (["vessel", "engine"] if with_place else []) + ["half", "point"]
    words = [cells.get(name, "").replace("_", " ") for name in names]
    words = words[:2] + place + words[2:] if with_place else words
    what = cells.get("event" if row.table == "events" else "quantity", "").replace("_", " ")
    if row.table == "readings":
        what += f" {cells.get('value', '')} {cells.get('unit', '')}"
    else:
        what += "".join(f", {cells[name]}" for name in ("shell_size", "finding") if name in cells)
    hours = f" at {cells['counter_h']} h" if "counter_h" in cells else ""
    state = " (withdrawn)" if row.withdrawn else ""
    extra = "".join(f", {cells[name].replace('_', ' ')}" for name in ("state", "instrument") if name in cells)
    date = cells.get("date") or "no date"
    return f"{date}{hours}: {' '.join(word for word in words if word)} {what}{extra}{state}".replace(
        ":  ", ": "
    )


def _correction(one: Correction) -> str:
    told = {
        "replace": f"corrected, {one.column}: {one.old or 'empty'} -> {one.new or 'empty'}",
        "withdraw": "withdrawn",
        "confirm": "confirmed",
    }.get(one.action, one.action)
    entered = f"entered by {one.entered_by} on {one.entered_at[:10]}"
    return f"{told} ({one.reason}; {one.by}, {one.date}; {entered})"
