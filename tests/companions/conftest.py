"""One engine with a full set of limits, and histories built from rows."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest

from wearcast.lives.build import build
from wearcast.lives.history import History
from wearcast.records.read import read


def limit(**more: str) -> dict[str, str]:
    return {"half": "", **more}


LIMITS = [
    *(
        {"half": half, "shell_size": size, "new_min": low, "new_max": high, "limit": least}
        for half in ("upper", "lower")
        for size, low, high, least in (
            ("standard", "7.985", "8.000", "7.950"),
            ("U50", "8.235", "8.250", "8.200"),
        )
    ),
    *(
        limit(
            quantity="clearance", shell_size=size, new_min="0.220", new_max="0.250", limit="0.330", limit_side="max"
        )
        for size in ("standard", "U50")
    ),
    limit(quantity="journal_diameter", new_min="219.995", new_max="220.005", limit="219.960"),
    limit(quantity="journal_diameter", shell_size="U50", new_min="219.495", new_max="219.505", limit="219.460"),
    limit(
        bearing="thrust", quantity="axial_clearance", new_min="0.30", new_max="0.45", limit="0.80", limit_side="max"
    ),
    limit(
        bearing="thrust", quantity="axial_clearance", new_min="0.30", new_max="0.45", limit="0.25", limit_side="min"
    ),
    limit(
        bearing="big_end", quantity="web_deflection", new_min="-0.030", new_max="0.030", limit="0.080",
        limit_side="max",
    ),
    limit(
        bearing="big_end", quantity="web_deflection", new_min="-0.030", new_max="0.030", limit="-0.080",
        limit_side="min",
    ),
]  # fmt: skip
"""Invented, with the identity 220 + 2 · 8 + 0.22 = 236.22 in them."""

ENGINE = {"housing_bore_mm": "236.220", "stroke_mm": "300", "deflection_sign": "opening_plus"}

Rows = Iterable[Mapping[str, Any]]


@pytest.fixture
def history_of(record_folder: Callable[..., Path]) -> Callable[..., History]:
    """``history_of(readings=[{...}], events=[{...}], engine={...}, limits=[...])``."""

    def make(
        readings: Rows,
        events: Rows = (),
        engine: Mapping[str, str] | None = None,
        limits: Rows = LIMITS,
    ) -> History:
        folder = record_folder(
            readings=readings, events=list(events), limits=limits, engines=[ENGINE | dict(engine or {})]
        )
        return build(read(folder))

    return make


@pytest.fixture
def opening() -> Callable[..., list[dict[str, str]]]:
    """``opening(date, hours, clearance=…, upper=…, lower=…, journal=…)``: rows of one place at one opening."""

    def make(
        date: str, hours: int, state: str = "as_found", position: str = "3", **values: str
    ) -> list[dict[str, str]]:
        kinds = {
            "clearance": {"quantity": "clearance", "half": ""},
            "upper": {"half": "upper"},
            "lower": {"half": "lower"},
            "journal": {"quantity": "journal_diameter", "half": "", "point": "v1"},
            "housing": {"quantity": "housing_bore", "half": ""},
        }
        return [
            {
                "date": date, "counter_h": str(hours), "state": state, "position": position,
                **kinds[name], "value": value,
            }
            for name, value in values.items()
        ]  # fmt: skip

    return make
