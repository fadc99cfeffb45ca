"""Invented fleets as record sets, clean, with what is true of every row: for planting slips at known rows.

Nothing here is taken from the code under study: walls wear along straight lines with running-in and an uneven
part, clearances follow from H = d + t_upper + t_lower + c, and every opening has its common gauge error.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

Row = dict[str, Any]

MAINS = range(1, 8)
HOUSING_MM, JOURNAL_MM, NEW_MM, LEAST_MM = 236.220, 220.000, (7.985, 8.000), 7.950
SHARED = {"engine_type": "Hexa", "unit": "mm", "limit_source": "invented book, rev. 1, 2020-01-01"}
LIMITS = [
    *(
        {"bearing": "main", "half": half, "quantity": "wall", "new_min": 7.985, "new_max": 8.0, "limit": 7.950,
         "limit_side": "min"}
        for half in ("upper", "lower")
    ),
    {"bearing": "main", "quantity": "clearance", "new_min": 0.22, "new_max": 0.25, "limit": 0.33, "limit_side": "max"},
    {"bearing": "main", "quantity": "journal_diameter", "new_min": 219.995, "new_max": 220.005, "limit": 219.960,
     "limit_side": "min"},
    {"bearing": "thrust", "quantity": "axial_clearance", "new_min": 0.30, "new_max": 0.45, "limit": 0.80,
     "limit_side": "max"},
    {"bearing": "thrust", "quantity": "axial_clearance", "new_min": 0.30, "new_max": 0.45, "limit": 0.25,
     "limit_side": "min"},
    {"bearing": "big_end", "quantity": "web_deflection", "new_min": -0.03, "new_max": 0.03, "limit": 0.08,
     "limit_side": "max"},
    {"bearing": "big_end", "quantity": "web_deflection", "new_min": -0.03, "new_max": 0.03, "limit": -0.08,
     "limit_side": "min"},
]  # fmt: skip

COLUMNS = {
    "readings": (
        "vessel", "engine", "bearing", "position", "half", "point", "quantity", "value", "unit", "date", "counter_h",
        "state", "instrument", "u_um", "temperature_c",
    ),
    "engines": (
        "vessel", "engine", "engine_type", "numbered_from", "hours_per_year", "mains", "throws", "first_main",
        "deflection_sign", "housing_bore_mm", "stroke_mm", "in_service",
    ),
    "limits": (
        "engine_type", "bearing", "half", "quantity", "shell_size", "new_min", "new_max", "limit", "limit_side",
        "unit", "limit_source",
    ),
    "events": (
        "vessel", "engine", "bearing", "position", "half", "date", "counter_h", "event", "shell_size",
    ),
}  # fmt: skip


@dataclass(frozen=True)
class Gauge:
    """How well things are read: standard deviations [µm], rounding [mm], and the u written down ("" for none)."""

    wall_um: float = 6.0
    opening_um: float = 3.0
    clearance_um: float = 12.0
    step_mm: float = 0.001
    stated_u: str = ""


@dataclass
class Fleet:
    """Tables as lists of rows, and the openings: (vessel, date) with the reading rows (from 0) of each."""

    readings: list[Row] = field(default_factory=list)
    engines: list[Row] = field(default_factory=list)
    events: list[Row] = field(default_factory=list)
    openings: list[tuple[str, str]] = field(default_factory=list)

    def rows_of(self, vessel: str, day: str, **where: str) -> list[int]:
        """Rows (from 0) of one opening."""
        return [
            k
            for k, row in enumerate(self.readings)
            if row["vessel"] == vessel
            and row["date"] == day
            and all(row[name] == v for name, v in where.items())
        ]

    def write(self, folder: Path) -> Path:
        """The fleet as a folder of CSV files."""
        folder.mkdir(parents=True, exist_ok=True)
        limits = [SHARED | {"shell_size": "standard"} | row for row in LIMITS]
        tables = {"readings": self.readings, "engines": self.engines, "limits": limits, "events": self.events}
        for name, rows in tables.items():
            with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
                writer = csv.DictWriter(file, COLUMNS[name], restval="", extrasaction="ignore")
                writer.writeheader()
                writer.writerows(rows)
        return folder


def clean_fleet(
    rng: np.random.Generator, n_engines: int, n_openings: int, gauge: Gauge | None = None
) -> Fleet:
    """A fleet without a slip: every opening reads walls, clearances, journals now and then, axial, deflections.

    Where no gauge is given each engine has its own: a third reads to 0.01 mm, half state their uncertainty.
    """
    fleet = Fleet()
    for k in range(n_engines):
        own = gauge or Gauge(
            step_mm=0.01 if rng.random() < 1 / 3 else 0.001, stated_u="6" if rng.random() < 0.5 else ""
        )
        _Engine(fleet, f"Invented {k + 1}", rng, own).run(n_openings)
    return fleet


@dataclass
class _Shell:
    new_mm: float
    rate: float
    fitted_kh: float
    uneven_um: float = 0.0

    def wall_mm(self, kh: float) -> float:
        """True wall after running-in, steady and uneven wear."""
        age = kh - self.fitted_kh
        return self.new_mm - (4 * (1 - np.exp(-age / 0.5)) + self.rate * age + self.uneven_um) / 1000


class _Engine:
    """One engine with its shells, opened again and again."""

    def __init__(self, fleet: Fleet, vessel: str, rng: np.random.Generator, gauge: Gauge) -> None:
        self.fleet, self.vessel, self.rng, self.gauge = fleet, vessel, rng, gauge
        self.bore_mm = {p: HOUSING_MM + rng.normal(0, 0.003) for p in MAINS}
        self.journal_mm = {p: JOURNAL_MM + rng.normal(0, 0.002) for p in MAINS}
        self.rate = {
            (p, half): mean * (1 + 0.2 * rng.normal())
            for p in MAINS
            for half, mean in (("upper", 0.3), ("lower", 0.9))
        }
        self.shells = {key: self._new(key, 0.0) for key in self.rate}
        self.bend_mm = {throw: rng.normal(0, 0.012) for throw in range(1, 7)}
        self.axial_mm = float(rng.uniform(0.34, 0.42))
        fleet.engines.append({
            "vessel": vessel, "engine": "ME", "engine_type": "Hexa", "numbered_from": "free_end",
            "hours_per_year": 5000, "mains": 7, "throws": 6, "first_main": 1, "deflection_sign": "opening_plus",
            "housing_bore_mm": HOUSING_MM, "stroke_mm": 300, "in_service": "2010-01-01",
        })  # fmt: skip

    def _new(self, key: tuple[int, str], kh: float) -> _Shell:
        rate = max(self.rate[key] * (1 + 0.1 * self.rng.normal()), 0.05)
        return _Shell(float(self.rng.uniform(*NEW_MM)), rate, kh)

    def run(self, n_openings: int) -> None:
        """All openings of the engine in order."""
        kh, before = 0.0, 0.0
        for _ in range(n_openings):
            kh += float(self.rng.uniform(4, 9))
            self._wear_on(kh - before)
            before = kh
            self._opening(kh)

    def _wear_on(self, gap_kh: float) -> None:
        for shell in self.shells.values():
            shell.uneven_um += float(self.rng.normal(0, 0.4 * gap_kh**0.5))

    def _opening(self, kh: float) -> None:
        rng = self.rng
        day = (date(2010, 1, 1) + timedelta(days=round(kh * 1000 / 5000 * 365.25))).isoformat()
        self.at: Row = {"vessel": self.vessel, "engine": "ME", "date": day, "counter_h": round(kh * 1000)}
        self.fleet.openings.append((self.vessel, day))
        self.common = {"wall": rng.normal(0, self.gauge.opening_um), "clearance": rng.normal(0, 4.0),
                       "journal_diameter": rng.normal(0, 2.0)}  # fmt: skip
        chosen = sorted(rng.choice(list(MAINS), size=int(rng.integers(4, 8)), replace=False).tolist())
        journals = rng.random() < 0.3
        for p in chosen:
            due = [h for h in ("upper", "lower") if self.shells[p, h].wall_mm(kh) < LEAST_MM + 0.012]
            self._walls(p, kh, "as_found", ("upper", "lower"))
            self._clearance(p, kh, "as_found")
            if journals:
                for point in ("v1", "h1"):
                    self._read(p, "", "journal_diameter", point, self._journal_mm(p, kh), 5.0, "as_found")
            if due:
                for half in due:
                    self.shells[p, half] = self._new((p, half), kh)
                    self.fleet.events.append(
                        self.at | {"bearing": "main", "position": p, "half": half, "event": "renewal",
                                   "shell_size": "standard"}
                    )  # fmt: skip
                self._walls(p, kh, "as_left", due)
                self._clearance(p, kh, "as_left")
        axial = self.axial_mm + 0.0023 * kh + rng.normal(0, 0.008)
        self._write("thrust", 7, "", "axial_clearance", "", axial, "as_left", "dial")
        if rng.random() < 0.3:
            self._deflections()

    def _walls(self, p: int, kh: float, state: str, halves: Any) -> None:
        for half in halves:
            self._read(p, half, "wall", "crown", self.shells[p, half].wall_mm(kh), self.gauge.wall_um, state)

    def _journal_mm(self, p: int, kh: float) -> float:
        return self.journal_mm[p] - 0.0001 * kh

    def _clearance(self, p: int, kh: float, state: str) -> None:
        walls = sum(self.shells[p, half].wall_mm(kh) for half in ("upper", "lower"))
        true = self.bore_mm[p] - self._journal_mm(p, kh) - walls
        self._read(p, "", "clearance", "", true, self.gauge.clearance_um, state)

    def _read(
        self, p: int, half: str, quantity: str, point: str, true_mm: float, sd_um: float, state: str
    ) -> None:
        value = true_mm + (self.common[quantity] + self.rng.normal(0, sd_um)) / 1000
        self._write("main", p, half, quantity, point, value, state, f"{quantity} gauge")

    def _deflections(self) -> None:
        for throw, bend in self.bend_mm.items():
            for point, share in (
                ("bottom_p", 0),
                ("port", 0.5),
                ("top", 1),
                ("starboard", 0.5),
                ("bottom_s", 0),
            ):
                value = 0.0 if point == "bottom_p" else share * bend + self.rng.normal(0, 0.002)
                self._write("big_end", throw, "", "web_deflection", point, value, "as_left", "web gauge")

    def _write(
        self, bearing: str, p: int, half: str, quantity: str, point: str, value: float, state: str, gauge: str
    ) -> None:
        step = self.gauge.step_mm
        digits = 2 if step == 0.01 else 3
        stated = {"wall": self.gauge.stated_u, "clearance": "13" if self.gauge.stated_u else ""}
        self.fleet.readings.append(
            self.at | {
                "bearing": bearing, "position": p, "half": half, "quantity": quantity, "point": point,
                "value": f"{round(value / step) * step:.{digits}f}", "unit": "mm", "state": state,
                "instrument": gauge, "u_um": stated.get(quantity, ""),
            }
        )  # fmt: skip
