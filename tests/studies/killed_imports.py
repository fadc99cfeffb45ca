"""Imports killed at random moments: afterwards a book verifies and holds all of an import or nothing of it.

    .venv/bin/python tests/studies/killed_imports.py [--times 200] [--book postgresql://...]

A child process adds a record set and is killed (SIGKILL) after a random part of the time an import takes. Prints its
counts with seed and date.
"""

from __future__ import annotations

import argparse
import multiprocessing
import random
import tempfile
import time
from collections import Counter
from datetime import UTC, datetime
from multiprocessing.connection import Connection
from pathlib import Path

from wearcast.book.add import add
from wearcast.book.create import create
from wearcast.book.verify import verify
from wearcast.sources import read

SEED = 20261125
PRELOADED = [
    "wearcast.book.add",
    "wearcast.records.mapping",
    "alembic.script",
    "psycopg",
    "sqlalchemy.dialects.sqlite",
]


def _import(told: Connection, book: str, folder: str) -> None:
    told.send("ready")
    add(book, folder, "A. Bell")
    told.send("done")


def one_kill(book: str, folder: Path, after_s: float) -> bool:
    """Start an import and kill it after a while; whether it said that it was done."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(
        PRELOADED
    )  # so that the time is spent in the import, not in loading the program
    ours, theirs = context.Pipe()
    child = context.Process(target=_import, args=(theirs, book, str(folder)))
    child.start()
    theirs.close()
    assert ours.recv() == "ready"
    time.sleep(after_s)
    child.kill()
    child.join()
    try:
        return bool(ours.recv() == "done")
    except EOFError:
        return False
    finally:
        ours.close()
        child.close()


def write_rows(folder: Path, number: int, rows: int) -> None:
    """A record set that no import before it held."""
    folder.mkdir(exist_ok=True)
    limit = "Bramble Six,main,lower,wall,standard,7.985,8.000,7.950,min,mm,Manual B6 rev 2"
    (folder / "engines.csv").write_text(
        f"vessel,engine,engine_type,numbered_from\nVessel {number},ME,Bramble Six,flywheel\n",
        encoding="utf-8",
    )
    (folder / "limits.csv").write_text(
        "engine_type,bearing,half,quantity,shell_size,new_min,new_max,limit,limit_side,unit,limit_source\n"
        + limit
        + "\n",
        encoding="utf-8",
    )
    lines = ["vessel,engine,bearing,position,half,quantity,value,unit,date,counter_h"]
    lines += [
        f"Vessel {number},ME,main,{row % 9 + 1},lower,wall,7.98,mm,"
        f"{2000 + row // 90}-01-{row % 90 // 9 + 1:02d},{6000 * (row // 90)}"
        for row in range(rows)
    ]
    (folder / "readings.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def study(book: str, times: int, rows: int, work: Path, seed: int = SEED) -> Counter[str]:
    """Kill imports and count how they ended.

    Raises
    ------
    AssertionError
        If a book does not verify, or holds a part of an import.
    """
    chance = random.Random(seed)
    write_rows(work / "first", 0, rows)
    begun = time.perf_counter()
    add(book, work / "first", "A. Bell")
    lasts_s = time.perf_counter() - begun
    counts: Counter[str] = Counter()
    for number in range(1, times + 1):
        before = verify(book)
        folder = work / "next"
        write_rows(folder, number, rows)
        done = one_kill(book, folder, chance.uniform(0.0, 1.3 * lasts_s))
        after = verify(book, before.digest)
        assert after.whole, after.trouble
        added = after.rows - before.rows
        assert added in (0, rows + 1), added  # the readings and the engine; the limit is known
        assert added or not done, "an import that was told done is there"
        assert len(read(book).readings) == after.rows - after.imports - 1
        counts["all of it" if added else "nothing of it"] += 1
    return counts


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--rows", type=int, default=2000)
    parser.add_argument(
        "--book", default="", help="a PostgreSQL URL of an empty database; else a file of its own"
    )
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        book = asked.book or str(Path(name) / "fleet.book")
        create(book)
        counts = study(book, asked.times, asked.rows, Path(name))
    kind = "PostgreSQL" if asked.book else "SQLite"
    print(
        f"{kind}, {asked.times} imports of {asked.rows} readings killed, seed {SEED}, {datetime.now(tz=UTC).date()}:"
    )
    print(", ".join(f"{what} {count}" for what, count in sorted(counts.items())) + "; every book verified.")


if __name__ == "__main__":
    main()
