"""Write down a book as a released version made it, for `test_released.py`.

When a schema is released, with that version installed:

    .venv/bin/python tests/book/dump_book.py > tests/book/released/NUMBER.json

It fills a new book with every kind of row and odd text and writes its tables as JSON.
"""

from __future__ import annotations

import base64
import json
import os
import sqlite3
import sys
import tempfile
from contextlib import closing
from pathlib import Path
from typing import Any

from books import corrections, engines, readings, write

from wearcast.book import migrate
from wearcast.book.add import add
from wearcast.book.correct import correct
from wearcast.book.create import create
from wearcast.book.verify import verify


def fill(book: Path, folder: Path) -> None:
    """Three imports with every table, a correction of each kind, and texts that are easily spoiled."""
    os.environ["SOURCE_DATE_EPOCH"] = "1790000000"  # 2026-09-21
    odd = {"remark": 'ø "quoted", Ω\U0001f6a2 \\ %', "my own; column": "NULL", "instrument": "O'Neill's"}
    first = readings(
        engines(folder / "1"), [odd, {"position": "4", "value": "7982"}, {"position": "5"}, {"position": "6"}]
    )
    event = ["Merrow Dain", "ME", "main", "3", "lower", "2012-03-04", "0", "fitted", "standard"]
    write(first / "events.csv", [["vessel", "engine", "bearing", "position", "half", "date", "counter_h", "event",
                                  "shell_size"], event])  # fmt: skip
    write(
        first / "windows.csv",
        [["vessel", "date", "name", "kind"], ["Merrow Dain", "2027-03-01", "Docking", "docking"]],
    )
    spare = ["Bramble Six", "main", "lower", "standard", "2", "30"]
    write(
        first / "spares.csv",
        [["engine_type", "bearing", "half", "shell_size", "on_hand", "lead_time_days"], spare],
    )
    gauge = ["O'Neill's", "ball micrometer", "C 12", "2020-01-10", "2021-01-10", "Invented Metrology", "2"]
    write(
        first / "gauges.csv",
        [["instrument", "kind", "certificate", "calibrated_on", "due_on", "by", "u_um"], gauge],
    )
    add(book, first, "A. Bell")
    rows = [["readings", "3", "value", "7982", "7.982", "replace"], ["readings", "4", "value", "7.980", "", "withdraw"],
            ["readings", "5", "value", "7.980", "", "confirm"]]  # fmt: skip
    correct(book, corrections(folder / "c.csv", rows), "B. Cole")
    later = engines(folder / "2")
    table = (later / "engines.csv").read_text(encoding="utf-8").replace("6000", "5200")
    (later / "engines.csv").write_text(table, encoding="utf-8")
    add(book, readings(later, [{"date": "2022-05-04", "counter_h": "36000"}]), "A. Bell")


def dump(book: Path) -> dict[str, Any]:
    """Every table of a book."""
    with closing(sqlite3.connect(book)) as connection:
        names = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        tables = {}
        for name in sorted(set(names) - {"alembic_version"}):
            found = connection.execute(f'SELECT * FROM "{name}" ORDER BY 1')
            columns = [one[0] for one in found.description]
            tables[name] = [dict(zip(columns, map(_plain, row), strict=True)) for row in found]
    return {"schema": migrate.HEAD, "digest": verify(book).digest, "tables": tables}


def _plain(value: Any) -> Any:
    return {"base64": base64.b64encode(value).decode()} if isinstance(value, bytes) else value


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        create(Path(name) / "a.book")
        fill(Path(name) / "a.book", Path(name))
        json.dump(dump(Path(name) / "a.book"), sys.stdout, ensure_ascii=False, indent=1)
        sys.stdout.write("\n")
