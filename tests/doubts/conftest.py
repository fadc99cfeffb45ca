"""One engine with limits for what is read, histories built from rows, and the invented fleets of the studies."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest

from wearcast.doubts.doubt import doubt
from wearcast.lives.build import build
from wearcast.lives.history import History
from wearcast.queries import Query
from wearcast.records.read import read

LIMITS = [
    *({"half": half} for half in ("upper", "lower")),
    {"half": "", "quantity": "clearance", "new_min": "0.220", "new_max": "0.250", "limit": "0.330",
     "limit_side": "max"},
    {"half": "", "quantity": "journal_diameter", "new_min": "219.995", "new_max": "220.005", "limit": "219.960"},
    {"half": "", "quantity": "journal_diameter", "shell_size": "U50", "new_min": "219.495", "new_max": "219.505",
     "limit": "219.460"},
    {"half": "", "bearing": "thrust", "quantity": "axial_clearance", "new_min": "0.30", "new_max": "0.45",
     "limit": "0.80", "limit_side": "max"},
    {"half": "", "bearing": "thrust", "quantity": "axial_clearance", "new_min": "0.30", "new_max": "0.45",
     "limit": "0.25", "limit_side": "min"},
    {"half": "", "bearing": "big_end", "quantity": "web_deflection", "new_min": "-0.030", "new_max": "0.030",
     "limit": "0.080", "limit_side": "max"},
    {"half": "", "bearing": "big_end", "quantity": "web_deflection", "new_min": "-0.030", "new_max": "0.030",
     "limit": "-0.080", "limit_side": "min"},
]  # fmt: skip
"""Invented; what is left out is filled in by `record_folder`."""

ENGINE = {"housing_bore_mm": "236.220", "stroke_mm": "300"}

Rows = Iterable[Mapping[str, Any]]


@pytest.fixture
def history_of(record_folder: Callable[..., Path]) -> Callable[..., History]:
    """``history_of(readings, events=(), corrections=None, more_limits=(), engine={})``."""

    def make(
        readings: Rows,
        events: Rows = (),
        corrections: Rows | None = None,
        more_limits: Rows = (),
        engine: Mapping[str, str] | None = None,
    ) -> History:
        folder = record_folder(
            readings=list(readings),
            events=list(events),
            limits=[*LIMITS, *more_limits],
            engines=[ENGINE | dict(engine or {})],
            corrections=corrections,
        )
        return build(read(folder))

    return make


@pytest.fixture
def doubted(history_of: Callable[..., History]) -> Callable[..., dict[str, list[Query]]]:
    """As `history_of`; gives the queries by kind."""

    def make(*args: Any, **more: Any) -> dict[str, list[Query]]:
        found: dict[str, list[Query]] = {}
        for query in doubt(history_of(*args, **more)).queries:
            found.setdefault(query.kind, []).append(query)
        return found

    return make


@pytest.fixture
def counted() -> Callable[[History], dict[int, bool]]:
    """Whether each row of the readings table counts."""

    def make(history: History) -> dict[int, bool]:
        readings = history.readings
        measured = (readings["table"] == "readings").to_numpy()
        rows = readings["row"].to_numpy()[measured].tolist()
        return dict(zip(rows, doubt(history).counted[measured].tolist(), strict=True))

    return make


@pytest.fixture
def planted_slips(monkeypatch: pytest.MonkeyPatch) -> Any:
    """The study of planted slips as a module."""
    monkeypatch.syspath_prepend(str(Path(__file__).parents[1] / "studies"))
    import planted_slips as study

    return study
