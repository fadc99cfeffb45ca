"""Fleets drawn from the model, written out as record sets."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from simulate import FleetPlan, draw_fleet

import wearcast
from wearcast.records.records import RecordSet
from wearcast.wear.priors import Priors

RUN = dt.date(2026, 1, 1)
NEW_MM = 7.9925  # middle of the new wall of the limits these records get: 7.985 to 8.000
FIRST_DAY = dt.date(2010, 1, 4)
HOURS_PER_DAY = 14.0
PLAN = FleetPlan(
    n_engines=4, n_positions=6, n_openings=5, fewest_readings=2, allowance_um=42.5, measured_new_share=0.0,
    renewal_share=0.0,
)  # fmt: skip


def readings_of(plan: FleetPlan, seed: int) -> list[dict[str, Any]]:
    """Readings of one drawn fleet as rows; every engine of its own vessel, dates by hours run."""
    drawn = draw_fleet(plan, Priors(), np.random.default_rng(seed)).readings
    rows = []
    for k in range(drawn.n_readings):
        shell = drawn.series_shell[drawn.series[k]]
        hours = round(1000 * float(drawn.tau_kh[k]))
        rows.append(
            {
                "vessel": f"V{drawn.shell_engine[shell]}",
                "position": str(drawn.shell_position[shell] + 1),
                "value": f"{NEW_MM - drawn.z_um[k] / 1000:.5f}",
                # Sisters began one after another, so that their openings fall on different days.
                "date": str(
                    FIRST_DAY
                    + dt.timedelta(days=hours / HOURS_PER_DAY + 101 * int(drawn.shell_engine[shell]))
                ),
                "counter_h": str(hours),
            }
        )
    return rows


@pytest.fixture(scope="session")
def fleet_rows() -> Callable[[int], list[dict[str, Any]]]:
    return lambda seed: readings_of(PLAN, seed)


@pytest.fixture(scope="session")
def small_fleet() -> Callable[[int], list[dict[str, Any]]]:
    return lambda seed: readings_of(replace(PLAN, n_engines=3, n_positions=4, n_openings=4), seed)


@pytest.fixture
def records_of(record_folder) -> Callable[..., RecordSet]:
    """A record set of some rows of readings, their engines stated."""

    def make(rows: list[dict[str, Any]], **tables: Any) -> RecordSet:
        vessels = dict.fromkeys(row.get("vessel", "Alder") for row in rows)
        engines = [{"vessel": vessel, "hours_per_year": "5000"} for vessel in vessels]
        return wearcast.read(record_folder(readings=rows, engines=engines, **tables), RUN)

    return make
