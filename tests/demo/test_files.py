"""The shipped demo is what its generator makes, the same everywhere."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

from demo_fleet import DEFAULT_SEED, demo_files

from wearcast.records.read import read

SAMPLE_DATA = Path(__file__).parents[2] / "sample_data"


def test_the_same_seed_gives_the_same_bytes(files):
    assert demo_files(DEFAULT_SEED) == files


def test_another_seed_gives_another_fleet_with_the_same_stories(files, truth):
    other = demo_files(DEFAULT_SEED - 1)
    assert other["readings.csv"] != files["readings.csv"]
    assert [x["story"] for x in json.loads(other["truth.json"])["stories"]] == [
        x["story"] for x in truth["stories"]
    ]


def test_committed_sample_data_is_what_the_generator_makes(files):
    for name, text in files.items():
        assert (SAMPLE_DATA / name).read_bytes() == text.encode(), name
    assert {path.name for path in SAMPLE_DATA.iterdir() if path.is_file()} == set(files)


def test_the_reader_refuses_nothing(tables):
    records = read(SAMPLE_DATA, date(2026, 11, 25))
    assert records.faults == ()
    assert {name: len(records.tables[name]) for name in tables} == {
        name: len(rows) for name, rows in tables.items()
    }
