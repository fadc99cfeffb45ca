"""The demo is the same everywhere, and is written whole and only where it may be."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from wearcast.errors import WrongUse
from wearcast.records.demo import DEFAULT_SEED, demo_files, demo_tables, write_demo
from wearcast.records.read import read

SAMPLE_DATA = Path(__file__).parents[3] / "sample_data"


def test_the_same_seed_gives_the_same_bytes(files):
    assert demo_files(DEFAULT_SEED) == files


def test_another_seed_gives_another_fleet_with_the_same_stories(files, truth):
    other = demo_files(DEFAULT_SEED - 1)
    assert other["readings.csv"] != files["readings.csv"]
    assert [x["story"] for x in json.loads(other["truth.json"])["stories"]] == [
        x["story"] for x in truth["stories"]
    ]


def test_committed_sample_data_is_what_the_demo_writes(files):
    for name, text in files.items():
        assert (SAMPLE_DATA / name).read_bytes() == text.encode(), name
    assert {path.name for path in SAMPLE_DATA.glob("*.csv")} == {
        name for name in files if name.endswith(".csv")
    }


def test_write_demo_makes_the_folder_and_leaves_nothing_else(tmp_path, files):
    written = write_demo(tmp_path / "new" / "demo")
    assert sorted(path.name for path in (tmp_path / "new" / "demo").iterdir()) == sorted(files)
    assert [path.name for path in written] == sorted(files)


def test_write_demo_replaces_an_earlier_demo(tmp_path, files):
    write_demo(tmp_path)
    (tmp_path / "readings.csv").write_text("changed", encoding="utf-8")
    write_demo(tmp_path)
    assert (tmp_path / "readings.csv").read_bytes() == files["readings.csv"].encode()


@pytest.mark.parametrize("name", ["readings.csv", "truth.json", "notes.txt"])
def test_write_demo_refuses_a_folder_with_other_work_in_it(tmp_path, name):
    (tmp_path / name).write_text('{"made_by": "somebody"}', encoding="utf-8")
    with pytest.raises(WrongUse, match="holds no earlier demo"):
        write_demo(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_write_demo_refuses_a_file_as_folder(tmp_path):
    (tmp_path / "demo").write_text("", encoding="utf-8")
    with pytest.raises(WrongUse, match="is a file"):
        write_demo(tmp_path / "demo")


def test_python_tables_are_the_files(tables):
    assert demo_tables() == tables


def test_the_reader_refuses_nothing(tmp_path, tables):
    write_demo(tmp_path)
    records = read(tmp_path, date(2026, 11, 25))
    assert records.faults == ()
    assert {name: len(records.tables[name]) for name in tables} == {
        name: len(rows) for name, rows in tables.items()
    }
