"""Running hours entered by hand: one dial reading of one engine, as an event of the book."""

from __future__ import annotations

import csv
import io
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from wearcast.book.add import Added, add
from wearcast.records.tables import TABLES


def add_hours(book: str | Path, vessel: str, engine: str, on: date, hours: str, by: str) -> Added:
    """Add the dial of an engine on a date.

    Raises
    ------
    InputRefused, WrongUse, OutputFailed
        As `add` does; nothing is added then.
    """
    cells = {
        "vessel": vessel,
        "engine": engine,
        "date": on.isoformat(),
        "counter_h": hours,
        "event": "counter",
    }
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, [column.name for column in TABLES["events"].columns], lineterminator="\n")
    writer.writeheader()
    writer.writerow(cells)
    with TemporaryDirectory() as folder:
        entered = Path(folder) / "hours by hand"
        entered.mkdir()
        (entered / "events.csv").write_text(text.getvalue(), encoding="utf-8")
        return add(book, entered, by)
