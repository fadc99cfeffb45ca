"""The demo record set and its truth as file texts."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from demo_fleet.tables import DEFAULT_SEED, Rows, build
from demo_fleet.truth import truth_of

TRUTH_FILE = "truth.json"


def demo_files(seed: int = DEFAULT_SEED) -> dict[str, str]:
    """The demo as file texts by file name: one CSV a table, and the truth beside them.

    Examples
    --------
    >>> sorted(demo_files())
    ['engines.csv', 'events.csv', 'limits.csv', 'readings.csv', 'spares.csv', 'truth.json', 'windows.csv']
    """
    fleet = build(seed)
    files = {f"{name}.csv": _csv(rows) for name, rows in fleet.tables.items()}
    files[TRUTH_FILE] = _json(truth_of(fleet, seed))
    return files


def _csv(rows: Rows) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def _json(truth: dict[str, Any]) -> str:
    """One line a shell, opening, story or reading, so that a change shows as a line."""
    parts = [f" {json.dumps(key)}: {_value(value)}" for key, value in truth.items()]
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _value(value: Any) -> str:
    if not isinstance(value, list):
        return json.dumps(value, ensure_ascii=False)
    return "[\n" + ",\n".join("  " + json.dumps(one, ensure_ascii=False) for one in value) + "\n ]"
