"""What the tests of the record book share: small record sets of our own invention, written to a folder."""

from __future__ import annotations

import csv
from pathlib import Path

READINGS = [
    "vessel",
    "engine",
    "bearing",
    "position",
    "half",
    "quantity",
    "value",
    "unit",
    "date",
    "counter_h",
]


def engines(folder: Path, vessels: tuple[str, ...] = ("Merrow Dain",)) -> Path:
    """A folder with engines and limits."""
    folder.mkdir(parents=True, exist_ok=True)
    rows = [[vessel, "ME", "Bramble Six", "flywheel", "6000", "8"] for vessel in vessels]
    write(folder / "engines.csv",
          [["vessel", "engine", "engine_type", "numbered_from", "hours_per_year", "mains"], *rows])  # fmt: skip
    header = ["engine_type", "bearing", "half", "quantity", "shell_size", "new_min", "new_max", "limit",
              "limit_side", "unit", "limit_source"]  # fmt: skip
    limit = [
        "Bramble Six",
        "main",
        "lower",
        "wall",
        "standard",
        "7.985",
        "8.000",
        "7.950",
        "min",
        "mm",
        "Manual B6, rev 2",
    ]
    write(folder / "limits.csv", [header, limit])
    return folder


def readings(folder: Path, rows: list[dict[str, str]], name: str = "readings.csv") -> Path:
    """A folder with readings; what a row leaves out is that of a main lower wall."""
    folder.mkdir(parents=True, exist_ok=True)
    names = [*READINGS, *sorted({key for row in rows for key in row} - set(READINGS))]
    write(folder / name, [names, *([reading(**row).get(key, "") for key in names] for row in rows)])
    return folder


def reading(**cells: str) -> dict[str, str]:
    """One reading of a main lower wall, but for the cells given."""
    usual = {
        "vessel": "Merrow Dain", "engine": "ME", "bearing": "main", "position": "3", "half": "lower",
        "quantity": "wall", "value": "7.980", "unit": "mm", "date": "2020-05-04", "counter_h": "24000",
    }  # fmt: skip
    return usual | cells


def corrections(path: Path, rows: list[list[str]]) -> Path:
    """A corrections file: table, row, column, old, new, action of each."""
    header = ["table", "row", "column", "old", "new", "action", "reason", "by", "date"]
    write(path, [header, *([*row, "looked up in the log", "A. Bell", "2024-06-01"] for row in rows)])
    return path


def write(path: Path, rows: list[list[str]]) -> None:
    """A CSV file."""
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)
