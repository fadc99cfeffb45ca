"""Vessels and other names that look like markup: letter by letter on every page, in drawings and in data."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Callable
from html import unescape
from pathlib import Path

import pytest

from wearcast.forecasting.run import forecast
from wearcast.records.read import read
from wearcast.report.sheets import render

VESSEL = "<script>alert(1)</script>"
QUOTED = "Rook \"onmouseover=alert(2) x='"


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory, write_folder: Callable[..., Path]) -> dict[str, str]:
    readings = [
        {"vessel": vessel, "date": on, "counter_h": counter_h, "value": value, "remark": "</script>"}
        for vessel in (VESSEL, QUOTED)
        for on, counter_h, value in (("2022-03-01", "9000", "7.985"), ("2025-03-01", "26000", "7.971"))
    ]
    folder = write_folder(
        tmp_path_factory.mktemp("escaping") / "fleet",
        readings=readings,
        engines=[{"vessel": VESSEL}, {"vessel": QUOTED}],
        windows=[{"vessel": VESSEL, "name": "<svg onload=alert(3)>"}],
    )
    return render(forecast(read(folder, run_date=dt.date(2026, 1, 1))), "1")


def test_no_markup_of_users_becomes_an_element(pages: dict[str, str]) -> None:
    for page in pages.values():
        assert "<script>alert" not in page
        assert "<svg onload" not in page
        for tag in re.findall(r"<[a-zA-Z][^>]*>", re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL)):
            outside_quotes = re.sub(r'"[^"]*"', "", tag)
            assert "onmouseover" not in outside_quotes


def test_names_are_read_as_they_were_written(pages: dict[str, str]) -> None:
    index = unescape(pages["index.html"])
    assert VESSEL in index
    assert QUOTED in index
    labels = [unescape(label) for label in re.findall(r'aria-label="([^"]*)"', pages["index.html"])]
    assert any(label.startswith(f"{VESSEL} 1, Main 3") for label in labels)
    assert any(label.startswith(f"{QUOTED} 1, Main 3") for label in labels)


def test_data_of_scripts_holds_no_tag(pages: dict[str, str]) -> None:
    for page in pages.values():
        for kind, text in re.findall(r"<script([^>]*)>(.*?)</script>", page, flags=re.DOTALL):
            if "application/json" in kind:
                assert not set("<>") & set(text)
                json.loads(text)
