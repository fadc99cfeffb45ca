"""How fast a record book takes and gives a million readings.

    .venv/bin/python tests/benchmarks/book.py [--readings 1000000] [--book postgresql://...]

Prints one table with its seed and date, and beside each time the ratio to reading the same CSV folder: a ratio stays
where the machine is busy.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np

from wearcast.book.add import add
from wearcast.book.create import create
from wearcast.book.verify import verify
from wearcast.records.read import read as read_records
from wearcast.sources import read

SEED = 20261125
POSITIONS, POINTS = 8, ("crown", "p45", "s45")
GOALS_S = {"add to an empty book": 60.0, "read, as forecast does": 5.0}


def write_folder(folder: Path, readings: int, seed: int = SEED) -> None:
    """Engines with openings every year, each of all positions, halves and points."""
    random = np.random.default_rng(seed)
    a_year = POSITIONS * 2 * len(POINTS)
    years = 20
    engines = -(-readings // (a_year * years))
    lines = [
        "vessel,engine,bearing,position,half,point,quantity,value,unit,date,counter_h,state,instrument,measured_by"
    ]
    for number in range(engines):
        for year in range(years):
            day = (date(2004, 1, 5) + timedelta(days=365 * year + number % 200)).isoformat()
            values = 7.99 - 0.002 * year + random.normal(0, 0.004, a_year)
            at = iter(values.tolist())
            lines += [
                f"Vessel {number // 2:04d},ME{number % 2 + 1},main,{position},{half},{point},wall,"
                f"{next(at):.3f},mm,{day},"
                f"{6000 * (year + 1)},as_found,BM-{number % 7},A. Bell"
                for position in range(1, POSITIONS + 1)
                for half in ("upper", "lower")
                for point in POINTS
            ]
    (folder / "readings.csv").write_text("\n".join(lines[: readings + 1]) + "\n", encoding="utf-8")
    rows = [
        f"Vessel {n // 2:04d},ME{n % 2 + 1},Bramble Six,flywheel,6000,{POSITIONS}" for n in range(engines)
    ]
    header = "vessel,engine,engine_type,numbered_from,hours_per_year,mains"
    (folder / "engines.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    header = "engine_type,bearing,half,quantity,shell_size,new_min,new_max,limit,limit_side,unit,limit_source"
    rows = [
        f"Bramble Six,main,{half},wall,standard,7.985,8.000,7.950,min,mm,Manual B6 rev 2"
        for half in ("upper", "lower")
    ]
    (folder / "limits.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Wall and processor time [s]."""
    wall, processor = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - processor


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--readings", type=int, default=1_000_000)
    parser.add_argument(
        "--book", default="", help="a PostgreSQL URL of an empty database; else a file of its own"
    )
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "records"
        folder.mkdir()
        write_folder(folder, asked.readings)
        opening = Path(name) / "opening"
        opening.mkdir()
        head, *_, last = (folder / "readings.csv").read_text(encoding="utf-8").splitlines()
        cells = last.split(",")
        cells[head.split(",").index("date")] = "2025-06-01"
        cells[head.split(",").index("counter_h")] = "150000"
        (opening / "readings.csv").write_text(f"{head}\n{','.join(cells)}\n", encoding="utf-8")
        book = asked.book or str(Path(name) / "million.book")
        create(book)
        steps: list[tuple[str, Callable[[], object]]] = [
            ("read the CSV folder", lambda: read_records(folder)),
            ("add to an empty book", lambda: add(book, folder, "A. Bell")),
            ("read, as forecast does", lambda: read(book)),
            ("verify", lambda: verify(book)),
            ("add the same folder again", lambda: add(book, folder, "A. Bell")),
            ("add one opening", lambda: add(book, opening, "A. Bell")),
        ]
        today = datetime.now(tz=UTC).date()
        kind = "PostgreSQL" if asked.book else "SQLite"
        print(f"{asked.readings:,} readings, {kind}, seed {SEED}, {today}.\n")
        print("| what | wall s | processor s | times the folder | goal s |\n|---|---|---|---|---|")
        base = 0.0
        for what, work in steps:
            wall, processor = timed(work)
            base = base or processor
            goal = f"{GOALS_S[what]:.0f}" if what in GOALS_S else ""
            print(f"| {what} | {wall:.1f} | {processor:.1f} | {processor / base:.1f} | {goal} |", flush=True)


if __name__ == "__main__":
    main()
