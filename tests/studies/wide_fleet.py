"""Fleets of any number of sisters with 14 positions each, for the size and the speed of what is drawn of them."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

Row = dict[str, Any]

POSITIONS = [("main", k) for k in range(1, 9)] + [("big_end", k) for k in range(1, 7)]
"""Eight mains and six big ends: 14 places, each with two walls and a clearance."""

SEED = 20261125

OPENINGS = 6
FIRST = date(2014, 3, 1)
HOURS_PER_YEAR = 6000.0
LAST = date(2026, 6, 1)
"""No reading is later; a run that reads these records is dated after it."""

VALUES = {
    "upper": {"quantity": "wall", "new_min": 7.985, "new_max": 8.000, "limit": 7.950, "limit_side": "min"},
    "lower": {"quantity": "wall", "new_min": 7.985, "new_max": 8.000, "limit": 7.950, "limit_side": "min"},
    "": {"quantity": "clearance", "new_min": 0.22, "new_max": 0.25, "limit": 0.33, "limit_side": "max"},
}
COMMON = {"unit": "mm", "engine_type": "Octa", "limit_source": "invented book, rev. 2, 2019-05-01"}


def wide_fleet(engines: int, seed: int = SEED) -> dict[str, list[Row]]:
    """Tables of a fleet: straight wear of every place, a renewal in some, readings at six openings."""
    random = np.random.default_rng(seed)
    tables: dict[str, list[Row]] = {
        "readings": [], "engines": [], "events": [], "windows": [], "spares": [],
        "limits": [
            {**COMMON, **facts, "bearing": bearing, "half": half, "shell_size": "standard"}
            for bearing in ("main", "big_end")
            for half, facts in VALUES.items()
        ],
    }  # fmt: skip
    for bearing in ("main", "big_end"):
        for half in ("upper", "lower"):
            tables["spares"].append(
                {"engine_type": "Octa", "bearing": bearing, "half": half, "shell_size": "standard", "on_hand": 1,
                 "lead_time_days": 120}
            )  # fmt: skip
    for k in range(engines):
        _one_engine(f"Vessel {k + 1:02d}", tables, random)
    return tables


def _one_engine(vessel: str, tables: dict[str, list[Row]], random: np.random.Generator) -> None:
    who = {"vessel": vessel, "engine": "ME"}
    tables["engines"].append(
        {**who, "engine_type": "Octa", "numbered_from": "free_end", "hours_per_year": HOURS_PER_YEAR,
         "hours_per_year_sd": 400, "mains": 8, "throws": 6, "deflection_sign": "opening_plus"}
    )  # fmt: skip
    for name, day in (
        ("docking", "2027-09-01"),
        ("port stay", "2029-03-01"),
        ("special survey", "2031-09-01"),
    ):
        tables["windows"].append({**who, "date": day, "name": name, "kind": "docking"})
    days = [FIRST + timedelta(days=int(d)) for d in np.linspace(500, (LAST - FIRST).days, OPENINGS)]
    for bearing, position in POSITIONS:
        rate = {half: max(random.normal(0.7, 0.2), 0.1) for half in ("upper", "lower")}
        start = {half: random.uniform(7.986, 7.999) for half in rate}
        renewed_at = OPENINGS // 2 if random.random() < 0.3 else None
        since_h = 0.0
        for opening, day in enumerate(days):
            counter_h = round((day - FIRST).days / 365.25 * HOURS_PER_YEAR)
            age_kh = (counter_h - since_h) / 1000.0
            wall = {half: start[half] - rate[half] * age_kh / 1000.0 for half in rate}
            where = {
                **who,
                "bearing": bearing,
                "position": position,
                "date": day.isoformat(),
                "counter_h": counter_h,
            }
            _read(tables["readings"], where, wall, "as_found", random)
            if opening == renewed_at:
                since_h = float(counter_h)
                start = {half: random.uniform(7.986, 7.999) for half in rate}
                _read(tables["readings"], where, start, "as_left", random)
                tables["events"] += [
                    {**where, "half": half, "event": "renewal", "shell_size": "standard"} for half in start
                ]


def _read(
    rows: list[Row], where: Row, wall: dict[str, float], state: str, random: np.random.Generator
) -> None:
    """Both walls and the clearance they leave, as read."""
    for half, true in wall.items():
        value = f"{true + random.normal(0, 0.003):.3f}"
        rows.append(
            {**where, "half": half, "quantity": "wall", "value": value, "unit": "mm", "state": state, "u_um": 4,
             "instrument": "ball micrometer BM-1"}
        )  # fmt: skip
    gap = 0.235 + sum(7.9925 - true for true in wall.values()) + random.normal(0, 0.008)
    rows.append(
        {**where, "half": "", "quantity": "clearance", "value": f"{gap:.2f}", "unit": "mm", "state": state,
         "u_um": 12, "instrument": "lift dial LD-1"}
    )  # fmt: skip


def write_wide_fleet(folder: Path, engines: int) -> Path:
    """Write the fleet as a record set of CSV files."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in wide_fleet(engines).items():
        if rows:
            columns = list(dict.fromkeys(column for row in rows for column in row))
            with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
                writer = csv.DictWriter(file, columns)
                writer.writeheader()
                writer.writerows(rows)
    return folder
