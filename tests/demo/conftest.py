"""The demo as written and its truth, made once."""

from __future__ import annotations

import csv
import json

import pytest
from demo_fleet import demo_files


@pytest.fixture(scope="module")
def files():
    return demo_files()


@pytest.fixture(scope="module")
def truth(files):
    return json.loads(files["truth.json"])


@pytest.fixture(scope="module")
def tables(files):
    return {
        name.removesuffix(".csv"): list(csv.DictReader(text.splitlines()))
        for name, text in files.items()
        if name.endswith(".csv")
    }


@pytest.fixture(scope="module")
def readings(tables, truth):
    """Readings with their truth and total hours, planted slips, opening G and opening H marked."""
    total_h = {(x["vessel"], x["date"]): x["total_h"] for x in truth["openings"]}
    marked = {
        row for story in truth["stories"] if story["story"] in "FGH" for row in story["rows"]["readings"]
    }
    return [
        {
            **row, "row": number, "true_mm": true["true_mm"], "true_position": true["true_position"],
            "total_h": total_h[row["vessel"], row["date"]], "sound": number not in marked,
        }
        for number, (row, true) in enumerate(zip(tables["readings"], truth["readings"], strict=True), start=2)
    ]  # fmt: skip
