"""The record of one place as one table: a line a reading or event, in order of date."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wearcast.book.history import Told

HEADS = ("date", "hours", "shell", "where", "state", "value", "gauge", "by", "from")
STARTS = ("fitted", "renewal")


def lines_of(rows: Sequence[Told], ids: bool) -> list[tuple[str, ...]]:
    """The cells of each line, as `HEADS` names them; with ids the row's own comes first."""
    return [((f"{row.table} {row.id}",) if ids else ()) + tuple(_line(row, rows)) for row in rows]


def heads(ids: bool) -> tuple[str, ...]:
    """The names of the columns."""
    return (("id",) if ids else ()) + HEADS


def csv_of(rows: Sequence[Told], ids: bool) -> str:
    """The same as CSV."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(heads(ids))
    writer.writerows(lines_of(rows, ids))
    return text.getvalue()


def _line(row: Told, rows: Sequence[Told]) -> Iterator[str]:
    now = row.now
    yield now.get("date", "")
    yield now.get("counter_h", "")
    yield _shell(row, rows)
    yield " ".join(now[name] for name in ("half", "point") if name in now).replace("_", " ")
    yield now.get("state", "").replace("_", " ")
    yield _value(row)
    yield now.get("instrument", "")
    yield now.get("measured_by", "") or row.added_by
    yield row.came_in


def _value(row: Told) -> str:
    """What was read or done; what stood there before a correction in brackets."""
    now = row.now
    if row.table == "events":
        words = [now.get("event", "").replace("_", " "), now.get("shell_size", ""), now.get("finding", "")]
        said = " ".join(word for word in words if word)
    else:
        quantity = now.get("quantity", "").replace("_", " ")
        said = f"{now.get('value', '')} {now.get('unit', '')}" + (
            f" {quantity}" if quantity != "wall" else ""
        )
    changed = [one for one in row.corrections if one.action == "replace"]
    said += "".join(f" ({one.column.casefold()} was {one.old or 'empty'})" for one in changed)
    said += " (confirmed)" if any(one.action == "confirm" for one in row.corrections) else ""
    return said + (" (withdrawn)" if row.withdrawn else "")


def _shell(row: Told, rows: Sequence[Told]) -> str:
    """The number of the shell a reading is of: 1 for the first fitted, 2 after one renewal."""
    now = row.now
    if row.table == "events" or not now.get("half"):
        return ""
    day = now.get("date", "")
    begun = [
        other.now
        for other in rows
        if other.table == "events" and not other.withdrawn and other.now.get("event") in STARTS
        and other.now.get("half", "") in ("", now["half"])
        and (other.now.get("date", ""), "as_left") <= (day, now.get("state", ""))
    ]  # fmt: skip
    fitted = any(one.get("event") == "fitted" for one in begun)
    return str(max(len(begun) + (0 if fitted else 1), 1))
