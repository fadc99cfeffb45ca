"""How long a fleet takes from its records to its pages, how large these are, and what memory the drawing asks for.

    python tests/benchmarks/report.py                       50 engines x 14 positions, and 10 beside them
    python tests/benchmarks/report.py --engines 12 --beside 6
    python tests/benchmarks/report.py --records sample_data one record set, backtest included

Processor seconds of every part (`time.process_time`: other work on the machine counts less), bytes of the pages, and
the peak of traced memory while pages are drawn, forecast and decisions not counted. Tracing slows the drawing: it is
a run of its own.
"""

from __future__ import annotations

import argparse
import datetime as dt
import resource
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeVar

sys.path.insert(0, str(Path(__file__).parents[1] / "studies"))

from wide_fleet import LAST, POSITIONS, SEED, write_wide_fleet

from wearcast.backtesting.run import backtest_of
from wearcast.decide.compare import compare_at
from wearcast.decide.order import order_at
from wearcast.decide.plan import plan_at
from wearcast.decide.stand import stand_of
from wearcast.forecasting.run import forecast
from wearcast.records.read import read
from wearcast.report.decided import Decided
from wearcast.report.sheets import render_each
from wearcast.report.what_if import WhatIfSource

GOAL_S, GOAL_DRAW_S, GOAL_ENGINE_MB, GOAL_INDEX_MB = 90.0, 30.0, 2.0, 8.0
MB = 1e6

T = TypeVar("T")


class Clock:
    """Processor seconds by part."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}

    def part(self, name: str, make: Callable[[], T]) -> T:
        """What is made, timed."""
        start = time.process_time()
        made = make()
        self.seconds[name] = time.process_time() - start
        return made


def drawn(made: Any) -> Iterator[tuple[str, str]]:
    """Pages of a decided fleet, what-if worked out with them."""
    known, trust, one = made
    return render_each(known, "benchmark", (), trust, WhatIfSource(known, one.plan, one.order), one)


def decided(folder: Path, run: dt.date | None, with_backtest: bool, clock: Clock) -> Any:
    """All that a report of a folder shows."""
    records = clock.part("read", lambda: read(folder, run) if run else read(folder))
    known = clock.part("forecast", lambda: forecast(records))
    trust = clock.part("backtest", lambda: backtest_of(known)) if with_backtest else None
    stand = clock.part("stand", lambda: stand_of(known))
    plan = clock.part("plan", lambda: plan_at(stand, known.settings.risk))
    order = clock.part("order", lambda: order_at(stand, known.settings.service))
    compared = clock.part("compare", lambda: compare_at(stand))
    return known, trust, Decided(plan, order, compared)


def measure(folder: Path, run: dt.date | None, with_backtest: bool) -> dict[str, float]:
    """Seconds, sizes and memory of one record set, by the name of the row."""
    clock = Clock()
    made = decided(folder, run, with_backtest, clock)
    sizes = clock.part("draw all pages", lambda: {name: len(text.encode()) for name, text in drawn(made)})
    found = {f"{name}, s": seconds for name, seconds in clock.seconds.items()}
    parts = [clock.seconds[name] for name in ("forecast", "stand", "plan", "order", "compare")]
    found["forecast, stand, plan, order and compare, s"] = sum(parts)
    found["largest engine sheet, MB"] = max(size for name, size in sizes.items() if name != "index.html") / MB
    found["index, MB"] = sizes["index.html"] / MB
    tracemalloc.start()
    pages = drawn(made)
    last_sheet = 0
    for name, _ in pages:
        if name != "index.html":
            last_sheet = tracemalloc.get_traced_memory()[1]
    found["peak of traced memory, engine sheets, MB"] = last_sheet / MB
    found["peak of traced memory, index included, MB"] = tracemalloc.get_traced_memory()[1] / MB
    tracemalloc.stop()
    found["peak of the process, MB"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / MB
    return found


GOALS = {
    "forecast, stand, plan, order and compare, s": GOAL_S,
    "draw all pages, s": GOAL_DRAW_S,
    "largest engine sheet, MB": GOAL_ENGINE_MB,
    "index, MB": GOAL_INDEX_MB,
}


def show(columns: dict[str, dict[str, float]], goal_of: str) -> None:
    """Print a table, one column a record set; goals are those of the column named."""
    print(f"| what | {' | '.join(columns)} | goal |")
    print("|---" * (len(columns) + 2) + "|")
    for name in next(iter(columns.values())):
        cells = " | ".join(f"{values[name]:,.2f}" for values in columns.values())
        goal = f"{GOALS[name]:g}" if name in GOALS and goal_of else ""
        print(f"| {name} | {cells} | {goal} |")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--engines", type=int, default=50)
    parser.add_argument("--beside", type=int, default=10, help="a smaller fleet, to see what grows")
    parser.add_argument("--records", type=Path, help="a record set in place of the generated fleets")
    asked = parser.parse_args()
    print(f"Seed {SEED}, {dt.date.today()}, {len(POSITIONS)} positions an engine, processor seconds\n")
    if asked.records:
        show({asked.records.name: measure(asked.records, None, with_backtest=True)}, "")
        return
    run = LAST + dt.timedelta(days=60)
    columns = {}
    with tempfile.TemporaryDirectory() as folder:
        for n in (asked.beside, asked.engines):
            columns[f"{n} engines"] = measure(write_wide_fleet(Path(folder) / str(n), n), run, False)
    show(columns, f"{asked.engines} engines")


if __name__ == "__main__":
    main()
