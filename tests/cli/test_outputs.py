"""Files a spreadsheet or a program will open."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from wearcast.cli.outputs import csv_text, json_text, write_all, write_whole
from wearcast.errors import OutputFailed


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_text_that_a_spreadsheet_would_run_is_written_as_text(start: str) -> None:
    text = csv_text(pd.DataFrame({"vessel": [f"{start}1+1"], "value": [-1.5]}))
    assert text.split("\n", 1)[1].lstrip('"').startswith("'" + start)
    assert text.rstrip().endswith("-1.5")


def test_json_has_null_for_what_cannot_be_said() -> None:
    frame = pd.DataFrame({"a": [float("nan")], "b": [pd.NaT], "c": [pd.Timestamp("2024-05-17").date()]})
    expected = [{"a": None, "b": None, "c": "2024-05-17"}]
    assert json.loads(json_text(frame.to_dict("records"))) == expected


def test_a_file_is_replaced_whole(tmp_path: Path) -> None:
    target = tmp_path / "deep" / "f.csv"
    write_whole(target, "one\n")
    write_whole(target, b"two\n")
    assert target.read_bytes() == b"two\n"
    assert [path.name for path in target.parent.iterdir()] == ["f.csv"]


def test_a_failed_write_leaves_no_part_behind(tmp_path: Path) -> None:
    (tmp_path / "f.csv").mkdir()
    with pytest.raises(OutputFailed, match=r"cannot be written .* Nothing was changed there"):
        write_whole(tmp_path / "f.csv", "x")
    assert [path.name for path in tmp_path.iterdir()] == ["f.csv"]


def test_of_several_files_none_is_moved_if_one_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "b.html").mkdir()
    (tmp_path / "a.html").write_text("old", encoding="utf-8")
    with pytest.raises(OutputFailed, match=r"b\.html: cannot be written"):
        write_all({tmp_path / "a.html": "new", tmp_path / "b.html": "new"})
    assert (tmp_path / "a.html").read_text(encoding="utf-8") == "old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.html", "b.html"]
