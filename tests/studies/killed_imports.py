"""Imports killed at random moments: afterwards a book verifies and holds all of an import or nothing of it.

    .venv/bin/python tests/studies/killed_imports.py [--times 200] [--book postgresql://...]

A child process adds a record set and is killed (SIGKILL) after a random part of the time an import takes. Prints its
counts with seed and date.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

from wearcast.book.add import add
from wearcast.book.create import create
from wearcast.book.verify import verify
from wearcast.sources import read

SEED = 20261125
CHILD = """
import sys
import wearcast.book.add, wearcast.book.read, wearcast.records.workbook, alembic.script, sqlalchemy.dialects.sqlite
from wearcast.book.add import add
print("ready", flush=True)
sys.stdin.readline()
add(sys.argv[1], sys.argv[2], "A. Bell")
print("done", flush=True)
sys.stdin.readline()
"""


def one_kill(book: str, folder: Path, after_s: float) -> bool:
    """Start an import and kill it after a while; whether it said that it was done."""
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, book, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert child.stdin is not None
    assert child.stdout is not None
    child.stdout.readline()
    child.stdin.write("go\n")
    child.stdin.flush()
    time.sleep(after_s)
    os.kill(child.pid, signal.SIGKILL)
    said = child.stdout.read()
    child.wait()
    child.stdin.close()
    child.stdout.close()
    return "done" in said


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
