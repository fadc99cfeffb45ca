"""Small record sets for the tests: a row is a dict, what it leaves out is filled with a plain valid cell."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

RUN_DATE = dt.date(2026, 1, 1)

Row = Mapping[str, Any]
Tables = dict[str, Iterable[Row] | None]

DEFAULTS: dict[str, dict[str, Any]] = {
    "readings": {
        "vessel": "Alder", "engine": "1", "bearing": "main", "position": "3", "half": "lower",
        "quantity": "wall", "value": "7.982", "unit": "mm", "date": "2024-05-17", "counter_h": "12000",
    },
    "engines": {
        "vessel": "Alder", "engine": "1", "engine_type": "Hexa", "numbered_from": "free_end",
        "hours_per_year": "5000", "mains": "7", "throws": "6", "deflection_sign": "opening_plus",
    },
    "limits": {
        "engine_type": "Hexa", "bearing": "main", "half": "lower", "quantity": "wall", "shell_size": "standard",
        "new_min": "7.985", "new_max": "8.000", "limit": "7.950", "limit_side": "min", "unit": "mm",
        "limit_source": "invented book, rev. 1, 2020-01-01",
    },
    "events": {
        "vessel": "Alder", "engine": "1", "bearing": "main", "position": "3", "half": "lower",
        "date": "2020-03-01", "counter_h": "100", "event": "renewal", "shell_size": "standard",
        "new_value": "", "unit": "", "new_counter_h": "", "finding": "", "remark": "",
    },
    "windows": {"vessel": "Alder", "engine": "1", "date": "2027-01-01", "name": "docking", "kind": "docking"},
    "spares": {
        "engine_type": "Hexa", "bearing": "main", "half": "lower", "shell_size": "standard", "on_hand": "1",
        "lead_time_days": "60",
    },
    "gauges": {"instrument": "MIC-1", "calibrated_on": "2024-01-10", "due_on": "2025-01-10", "u_um": "2"},
    "corrections": {
        "table": "readings", "row": "2", "column": "value", "old": "7.982", "new": "", "action": "confirm",
        "reason": "measured again", "by": "A. Bell", "date": "2025-01-01",
    },
}  # fmt: skip
"""A valid row of every table (invented)."""

REQUIRED = ("readings", "engines", "limits")


def filled_tables(tables: Tables) -> dict[str, tuple[list[str], list[list[Any]]]]:
    """Header and rows of every table asked for; a required one left out gets one default row, None none."""
    wanted: Tables = {name: [{}] for name in REQUIRED} | tables
    result = {}
    for name, rows in wanted.items():
        if rows is None:
            continue
        merged = [DEFAULTS[name] | dict(row) for row in rows]
        header = list(dict.fromkeys([*DEFAULTS[name], *(key for row in merged for key in row)]))
        result[name] = (header, [[row.get(column, "") for column in header] for row in merged])
    return result


@pytest.fixture(scope="session")
def write_folder() -> Callable[..., Path]:
    """``write_folder(folder, separator=",", **tables)`` writes a record set as CSV files."""

    def write(folder: Path, separator: str = ",", **tables: Iterable[Row] | None) -> Path:
        folder.mkdir(exist_ok=True)
        for table, (header, rows) in filled_tables(tables).items():
            with (folder / f"{table}.csv").open("w", encoding="utf-8", newline="") as file:
                csv.writer(file, delimiter=separator).writerows([header, *rows])
        return folder

    return write


@pytest.fixture(scope="session")
def write_workbook() -> Callable[..., Path]:
    """``write_workbook(path, change=None, **tables)``; ``change(workbook)`` may alter it before it is saved."""

    def write(
        path: Path, change: Callable[[Any], None] | None = None, **tables: Iterable[Row] | None
    ) -> Path:
        import openpyxl

        workbook = openpyxl.Workbook()
        workbook.remove(workbook.worksheets[0])
        for table, (header, rows) in filled_tables(tables).items():
            sheet = workbook.create_sheet(table)
            for row in [header, *rows]:
                sheet.append([None if cell == "" else cell for cell in row])
        if change:
            change(workbook)
        workbook.save(path)
        return path

    return write


@pytest.fixture
def record_folder(tmp_path: Path, write_folder: Callable[..., Path]) -> Callable[..., Path]:
    """``record_folder(readings=[{...}, ...], events=[...], limits=None, separator=";", name="fleet")``."""

    def make(name: str = "records", **given: Any) -> Path:
        return write_folder(tmp_path / name, **given)

    return make


@pytest.fixture
def record_workbook(tmp_path: Path, write_workbook: Callable[..., Path]) -> Callable[..., Path]:
    """As `record_folder`, as sheets of one workbook; ``change(workbook)`` may alter it before it is saved."""

    def make(name: str = "records.xlsx", **given: Any) -> Path:
        return write_workbook(tmp_path / name, **given)

    return make


@pytest.fixture(scope="session")
def forecasts_made() -> dict[tuple[object, ...], Any]:
    """Forecasts of `forecast_once`, by the digests of the files, the date of the run and all that was asked."""
    return {}


@pytest.fixture(scope="module")
def forecast_once(forecasts_made: dict[tuple[object, ...], Any]) -> Iterator[None]:
    """While the tests of a module run, the program's own forecast of the same question is made once a process."""
    import wearcast.decide.stand
    import wearcast.forecasting.run
    from wearcast.settings import Settings
    from wearcast.sources import records_from

    made = wearcast.forecasting.run.forecast

    def forecast(
        records: Any,
        as_of: dt.date | None = None,
        settings: Settings | None = None,
        leave_out_faulty: bool = False,
    ) -> Any:
        records = records_from(records)
        told = (records.source, records.files, records.run_date, records.book_digest)
        asked = (*told, as_of, repr(settings or Settings()), leave_out_faulty)
        if asked not in forecasts_made:
            forecasts_made[asked] = made(records, as_of, settings, leave_out_faulty)
        return forecasts_made[asked]

    with pytest.MonkeyPatch.context() as patch:
        for module in (wearcast.forecasting.run, wearcast.decide.stand):
            patch.setattr(module, "forecast", forecast)
        yield


def pytest_ignore_collect(collection_path: Path) -> bool | None:
    """Studies and benchmarks are scripts; only their test files are collected."""
    script = collection_path.suffix == ".py" and not collection_path.name.startswith("test_")
    return True if script and collection_path.parent.name in ("studies", "benchmarks") else None
