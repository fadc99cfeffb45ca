"""Forecasts that the report tests draw (all records invented)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from wearcast.forecasting.run import Forecast, forecast
from wearcast.records.read import read
from wearcast.report.sheets import render

VERSION = "0.0.0+test"
NASTY = "</script><script>alert(1)</script>"

LIMITS: list[dict[str, Any]] = [
    {"overlay_um": "30"},
    {"half": "upper"},
    {"shell_size": "U50", "new_min": "8.235", "new_max": "8.250", "limit": "8.200"},
    {"half": "", "quantity": "clearance", "new_min": "0.22", "new_max": "0.25", "limit": "0.33", "limit_side": "max"},
    {
        "bearing": "thrust", "half": "", "quantity": "axial_clearance", "new_min": "0.30", "new_max": "0.45",
        "limit": "0.80", "limit_side": "max",
    },
    {
        "bearing": "thrust", "half": "", "quantity": "axial_clearance", "new_min": "0.30", "new_max": "0.45",
        "limit": "0.25", "limit_side": "min",
    },
]  # fmt: skip

EVENTS: list[dict[str, Any]] = [
    {"date": "2016-01-10", "counter_h": "0", "event": "fitted"},
    {"date": "2020-03-01", "counter_h": "21000", "new_value": "7.996", "unit": "mm"},
    {"date": "2022-06-01", "counter_h": "32000", "event": "finding", "finding": "scoring", "remark": "light"},
    {"position": "6", "date": "2021-05-05", "counter_h": "27000", "event": "regrind", "shell_size": "U50"},
    {"position": "6", "date": "2021-05-05", "counter_h": "27000", "event": "renewal", "shell_size": "U50"},
]


def _wall(date: str, counter_h: int, value: str, **more: Any) -> dict[str, Any]:
    return {"date": date, "counter_h": str(counter_h), "value": value, **more}


DEFLECTION = {"half": "", "bearing": "big_end", "position": "2", "quantity": "web_deflection"}

READINGS: list[dict[str, Any]] = [
    _wall("2016-04-01", 1200, "7.991"),
    _wall("2017-04-01", 6500, "7.984"),
    _wall("2018-04-01", 11500, "7.975", u_um="5"),
    _wall("2019-04-01", 16500, "7.968"),
    _wall("2020-03-01", 21000, "7.962", state="as_found"),
    _wall("2021-03-01", 26000, "7.990"),
    _wall("2022-03-01", 31000, "7.983"),
    _wall("2023-03-01", 36000, "7.979", instrument="ball micrometer 1", remark="<img src=x onerror=alert(2)>"),
    _wall("2024-03-01", 41000, "7982"),
    _wall("2025-03-01", 46000, "7.971"),
    _wall("2022-03-01", 31000, "7.985", point="crown_fore"),
    _wall("2023-03-01", 36000, "7.981", point="crown_fore"),
    _wall("2025-03-01", 46000, "7.973", point="crown_fore"),
    _wall("2021-05-05", 27000, "7.960", position="6", state="as_found"),
    _wall("2021-05-05", 27000, "8.244", position="6", state="as_left"),
    _wall("2025-03-01", 46000, "8.225", position="6"),
    _wall("2025-03-01", 46000, "0.26", half="", quantity="clearance"),
    _wall("2025-03-01", 46000, "0.41", half="", bearing="thrust", position="7", quantity="axial_clearance"),
    _wall("2025-03-01", 46000, "-0.012", **DEFLECTION, point="top"),
    _wall("2025-03-01", 46000, "0.004", **DEFLECTION, point="port"),
    _wall("2025-03-01", 9000, "7.985", vessel=NASTY),
    _wall("2025-09-01", 12000, "7.981", vessel=NASTY),
]  # fmt: skip

CORRECTIONS: list[dict[str, Any]] = [
    {"row": "3", "old": "7.984", "new": "7.983", "action": "replace", "reason": "misread <b>"},
    {
        "row": "9",
        "column": "remark",
        "old": "<img src=x onerror=alert(2)>",
        "new": "calm & <i>",
        "action": "replace",
    },
]

ENGINES: list[dict[str, Any]] = [
    {"hours_per_year_sd": "400", "duty": "generator"},
    {"vessel": NASTY, "engine": "A&B", "hours_per_year": ""},
    {"vessel": "Birch", "engine": "2"},
]


@pytest.fixture(scope="session")
def fleet(tmp_path_factory: pytest.TempPathFactory, write_folder: Callable[..., Path]) -> Forecast:
    """Three engines: one with every kind of thing, one of two readings and bad names, one never read."""
    readings = [{**row, "engine": "A&B"} if row.get("vessel") == NASTY else row for row in READINGS]
    events = [
        *EVENTS,
        {"vessel": "Birch", "engine": "2", "date": "2024-01-01", "counter_h": "50", "event": "opened"},
    ]
    folder = write_folder(
        tmp_path_factory.mktemp("report") / "fleet",
        readings=readings, engines=ENGINES, limits=LIMITS, events=events, corrections=CORRECTIONS,
        windows=[{}, {"date": "2028-06-01", "name": "<em>yard</em>"}],
    )  # fmt: skip
    return forecast(read(folder, run_date=dt.date(2026, 1, 1)))


@pytest.fixture(scope="session")
def pages(fleet: Forecast) -> dict[str, str]:
    """Its pages."""
    return render(fleet, VERSION)


@pytest.fixture(scope="session")
def page(pages: dict[str, str]) -> str:
    """The page of the engine with everything."""
    return pages["alder-1.html"]
