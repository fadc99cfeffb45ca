"""How long `forecast` takes on a fleet as a whole, part by part, and on histories that are long.

    python tests/benchmarks/fleet.py                   100 and 1 000 engines, and the two long histories
    python tests/benchmarks/fleet.py --engines 10000   1 000 and 10 000 engines
    python tests/benchmarks/fleet.py --write DIR       only write the fleet of 1 000 engines there

Sister engines of 20 types, 8 places of one wall each, 6 openings; clean readings. Then one engine of 5 places whose
both walls and clearance were read at 300 openings, and one shell read 10 000 times. Every case is a process of its
own: processor seconds of every part (`time.process_time`: other work on the machine counts less) and peak memory.
"""

from __future__ import annotations

import argparse
import datetime as dt
import multiprocessing
import resource
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pandas as pd

import wearcast.forecasting.run as forecasting
from wearcast.doubts.doubt import doubt
from wearcast.forecasting.check import check
from wearcast.lives.build import build
from wearcast.records.read import read

SEED = 20261128
TYPES, PLACES, OPENINGS = 20, 8, 6
GOALS = {1000: (10.0, 1.0), 10000: (100.0, 3.0)}
GOAL_LONG = (10.0, 1.0)
GOAL_GROWTH = 11.0
FIRST, RUN = dt.date(2012, 3, 1), dt.date(2026, 11, 1)
NEW_MM, LIMIT_MM = 8.0, 7.95

T = TypeVar("T")


def write_fleet(folder: Path, engines: int, rng: np.random.Generator) -> Path:
    """A fleet of sister engines, 8 places x 6 openings each, as a folder of CSV files."""
    engine = np.repeat(np.arange(engines), PLACES * OPENINGS)
    place = np.tile(np.repeat(np.arange(PLACES), OPENINGS), engines)
    opening = np.tile(np.arange(OPENINGS), engines * PLACES)
    hours = np.cumsum(rng.uniform(6000, 12000, (engines, OPENINGS)), axis=1).round()
    rate = 0.5e-6 * np.exp(
        0.2 * rng.normal(size=(engines, 1))
        + 0.15 * rng.normal(size=PLACES)
        + 0.3 * rng.normal(size=(engines, PLACES))
    )
    counter_h = hours[engine, opening]
    wear_mm = (
        0.002
        + rate[engine, place] * counter_h
        + 0.001 * rng.normal(size=(engines, OPENINGS))[engine, opening]
    )
    days = (counter_h / 6000 * 365.25).astype(int)
    readings = pd.DataFrame(
        {
            "vessel": _named("Vessel", engine), "engine": "ME", "bearing": "main", "position": place + 1,
            "half": "lower", "point": "crown", "quantity": "wall",
            "value": (NEW_MM - wear_mm + 0.005 * rng.normal(size=len(engine))).round(3), "unit": "mm",
            "date": np.datetime64(FIRST) + days, "counter_h": counter_h,
        }
    )  # fmt: skip
    each, at = np.repeat(np.arange(engines), PLACES), np.tile(np.arange(PLACES), engines)
    events = pd.DataFrame(
        {
            "vessel": _named("Vessel", each), "engine": "ME", "bearing": "main", "position": at + 1,
            "half": "lower", "date": FIRST, "counter_h": 0, "event": "fitted", "shell_size": "standard",
        }
    )  # fmt: skip
    return _write(folder, engines, readings, events, ("lower",))


def write_long(folder: Path, openings: int, places: int, rng: np.random.Generator) -> Path:
    """One engine whose walls and clearances were read at very many openings."""
    hours = np.cumsum(rng.uniform(0.5, 1.5, openings)) * (70000 / openings)
    rows = []
    for place in range(places):
        wear = {half: 0.002 + 0.4e-6 * hours * rng.uniform(0.7, 1.3) for half in ("upper", "lower")}
        for half, worn in wear.items():
            rows.append((place, half, "wall", NEW_MM - worn + 0.005 * rng.normal(size=openings)))
        gap = 0.1 + wear["upper"] + wear["lower"] + 0.015 * rng.normal(size=openings)
        rows.append((place, "", "clearance", gap))
    readings = pd.concat(
        [
            pd.DataFrame(
                {
                    "vessel": "Vessel 00000", "engine": "ME", "bearing": "main", "position": place + 1, "half": half,
                    "point": "" if half == "" else "crown", "quantity": quantity, "value": value.round(3),
                    "unit": "mm", "date": np.datetime64(FIRST) + (hours / 6000 * 365.25).astype(int),
                    "counter_h": hours.round(),
                }
            )
            for place, half, quantity, value in rows
        ]
    )  # fmt: skip
    events = pd.DataFrame(
        [
            ("Vessel 00000", "ME", "main", place + 1, half, FIRST, 0, "fitted", "standard")
            for place in range(places)
            for half in ("upper", "lower")
        ],
        columns=list(_EVENT),
    )
    return _write(folder, 1, readings, events, ("upper", "lower"))


def write_one_shell(folder: Path, count: int, rng: np.random.Generator) -> Path:
    """One shell, read very many times (every few hours)."""
    hours = np.cumsum(rng.uniform(0.5, 1.5, count)) * (70000 / count)
    readings = pd.DataFrame(
        {
            "vessel": "Vessel 00000", "engine": "ME", "bearing": "main", "position": 1, "half": "lower",
            "point": "crown", "quantity": "wall",
            "value": (NEW_MM - 0.002 - 0.4e-6 * hours + 0.005 * rng.normal(size=count)).round(3), "unit": "mm",
            "date": np.datetime64(FIRST) + (hours / 6000 * 365.25).astype(int), "counter_h": hours.round(),
        }
    )  # fmt: skip
    events = pd.DataFrame(
        [("Vessel 00000", "ME", "main", 1, "lower", FIRST, 0, "fitted", "standard")], columns=list(_EVENT)
    )
    return _write(folder, 1, readings, events, ("lower",))


_EVENT = ("vessel", "engine", "bearing", "position", "half", "date", "counter_h", "event", "shell_size")


def _named(word: str, number: Any) -> list[str]:
    return [f"{word} {k:05d}" for k in number]


def _write(
    folder: Path, engines: int, readings: pd.DataFrame, events: pd.DataFrame, halves: tuple[str, ...]
) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    number = np.arange(engines)
    types = [f"Type {k % TYPES:02d}" for k in number]
    pd.DataFrame(
        {
            "vessel": _named("Vessel", number), "engine": "ME", "engine_type": types,
            "numbered_from": "free_end", "hours_per_year": 6000,
            "hours_per_year_sd": 500,
        }
    ).to_csv(folder / "engines.csv", index=False)  # fmt: skip
    readings.to_csv(folder / "readings.csv", index=False)
    events.to_csv(folder / "events.csv", index=False)
    limits = [
        {
            "engine_type": of, "bearing": "main", "half": half, "quantity": "wall", "shell_size": "standard",
            "new_min": 7.99, "new_max": 8.0, "limit": LIMIT_MM, "limit_side": "min", "unit": "mm",
            "limit_source": "benchmark",
        }
        for of in sorted(set(types))
        for half in halves
    ]  # fmt: skip
    if len(halves) > 1:
        gap = {
            "half": "",
            "quantity": "clearance",
            "new_min": 0.1,
            "new_max": 0.14,
            "limit": 0.3,
            "limit_side": "max",
        }
        limits.append(limits[0] | gap)
    pd.DataFrame(limits).to_csv(folder / "limits.csv", index=False)
    windows = [
        {"vessel": vessel, "date": f"{year}-06-01", "name": f"docking {year}", "kind": "docking"}
        for vessel in _named("Vessel", number)
        for year in (2027, 2029, 2032)
    ]
    pd.DataFrame(windows).to_csv(folder / "windows.csv", index=False)
    return folder


class Clock:
    """Processor seconds by part, added up over its calls."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}

    def timed(self, name: str, make: Callable[..., T]) -> Callable[..., T]:
        """The function, its time counted under a name."""

        def run(*given: Any, **named: Any) -> T:
            start = time.process_time()
            made = make(*given, **named)
            self.seconds[name] = self.seconds.get(name, 0.0) + time.process_time() - start
            return made

        return run


def measure(folder: Path, pipe: Any) -> None:
    """Seconds by part, whole seconds of `forecast` and `check`, and gigabytes; sent down a pipe."""
    start, clock = time.process_time(), Clock()
    records = clock.timed("read", read)(folder, RUN)
    forecasting.build = clock.timed("build", build)  # type: ignore[attr-defined]
    forecasting.doubt = clock.timed("doubt", doubt)  # type: ignore[attr-defined]
    forecasting.screened_class = clock.timed("fit", forecasting.screened_class)  # type: ignore[attr-defined]
    before = time.process_time()
    made = forecasting.forecast(records)
    rows = len(made.table)
    found = clock.seconds | {"rows": time.process_time() - before}
    found["rows"] -= sum(found.get(name, 0.0) for name in ("build", "doubt", "fit"))
    found["forecast, whole"] = time.process_time() - start
    before = time.process_time()
    check(records)
    found["check, whole"] = time.process_time() - before + found["read"]
    found["GB"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    found["readings"], found["rows of the table"] = len(records.readings), rows
    pipe.send(found)


def measured(write: Callable[[Path], Path]) -> dict[str, float]:
    """What a process of its own takes for a record set that is written for it."""
    with tempfile.TemporaryDirectory() as place:
        here, there = multiprocessing.get_context("spawn").Pipe()
        process = multiprocessing.get_context("spawn").Process(
            target=measure, args=(write(Path(place)), there)
        )
        process.start()
        there.close()
        found: dict[str, float] = here.recv()
        process.join()
    return found


PARTS = ("readings", "read", "build", "doubt", "fit", "rows", "forecast, whole", "check, whole", "GB")


def show(cases: dict[str, dict[str, float]], goals: dict[str, tuple[float, float]]) -> None:
    """Print a row a case."""
    print(f"| case | {' | '.join(PARTS)} | goal s, GB |")
    print("|---" * (len(PARTS) + 2) + "|")
    for name, found in cases.items():
        cells = [f"{found[part]:,.0f}" if part == "readings" else f"{found[part]:,.2f}" for part in PARTS]
        goal = "{:g}, {:g}".format(*goals[name]) if name in goals else ""
        print(f"| {name} | {' | '.join(cells)} | {goal} |")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--engines", type=int, default=1000)
    parser.add_argument("--write", type=Path, help="write the fleet here and stop")
    parser.add_argument("--skip-long", action="store_true", help="only the fleets")
    asked = parser.parse_args()
    if asked.write:
        write_fleet(asked.write, asked.engines, np.random.default_rng(SEED))
        return
    print(f"Seed {SEED}, {dt.date.today()}, processor seconds\n")
    cases, goals = {}, {}
    for n in (asked.engines // 10, asked.engines):
        cases[f"{n} engines"] = measured(
            lambda folder, n=n: write_fleet(folder, n, np.random.default_rng(SEED))
        )
        if n in GOALS:
            goals[f"{n} engines"] = GOALS[n]
    if not asked.skip_long:
        for name, write in (
            (
                "300 openings x 5 places",
                lambda folder: write_long(folder, 300, 5, np.random.default_rng(SEED)),
            ),
            (
                "10 000 readings of a shell",
                lambda folder: write_one_shell(folder, 10000, np.random.default_rng(SEED)),
            ),
        ):
            cases[name], goals[name] = measured(write), GOAL_LONG
    show(cases, goals)
    small, large = (cases[f"{n} engines"]["forecast, whole"] for n in (asked.engines // 10, asked.engines))
    print(f"\nTen times the engines take {large / small:.1f} times as long (goal {GOAL_GROWTH:g}).")


if __name__ == "__main__":
    main()
