"""Tables as text that a spreadsheet or a program will open, and settings as the program reads them back."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from wearcast.settings import Settings, read_settings
from wearcast.texts import csv_text, json_text, toml_text


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_text_that_a_spreadsheet_would_run_is_written_as_text(start: str) -> None:
    text = csv_text(pd.DataFrame({"vessel": [f"{start}1+1"], "value": [-1.5]}))
    assert text.split("\n", 1)[1].lstrip('"').startswith("'" + start.replace("\r", "\n"))
    assert text.rstrip().endswith("-1.5")


def test_json_has_null_for_what_cannot_be_said() -> None:
    frame = pd.DataFrame({"a": [float("nan")], "b": [pd.NaT], "c": [pd.Timestamp("2024-05-17").date()]})
    expected = [{"a": None, "b": None, "c": "2024-05-17"}]
    assert json.loads(json_text(frame.to_dict("records"))) == expected


def test_settings_written_are_read_back(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text(toml_text(Settings(risk=0.05).rows()), encoding="utf-8")
    assert read_settings(path) == Settings(risk=0.05)
