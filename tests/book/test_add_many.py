"""Many sheets at once: all or none, or each by itself; a dry run keeps nothing; what would stop a forecast is told."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from wearcast.book.add import add_all, sources_in
from wearcast.book.create import create
from wearcast.book.hours import add_hours
from wearcast.book.verify import verify
from wearcast.errors import InputRefused
from wearcast.sources import read, stops_since


@pytest.fixture
def fleet(tmp_path: Path, record_folder) -> Path:
    address = tmp_path / "fleet.book"
    create(address)
    add_all(address, [record_folder(readings=[{"position": "7"}])], "A. Bell")
    return address


def part(folder: Path, name: str, **cells: str) -> Path:
    row = {"vessel": "Alder", "engine": "1", "bearing": "main", "position": "1", "half": "lower", "quantity": "wall",
           "value": "7.980", "unit": "mm", "date": "2024-05-17", "counter_h": "12000"} | cells  # fmt: skip
    (folder / name).mkdir()
    text = ",".join(row) + "\n" + ",".join(row.values()) + "\n"
    (folder / name / "readings.csv").write_text(text, encoding="utf-8")
    return folder / name


def test_several_sources_come_in_together_or_not_at_all(fleet: Path, tmp_path: Path) -> None:
    good, bad = part(tmp_path, "one"), part(tmp_path, "two", position="2", value="worn")
    with pytest.raises(InputRefused) as refused:
        add_all(fleet, [good, bad], "A. Bell")
    assert "worn" in str(refused.value.faults[0])
    assert len(read(fleet).readings) == 1
    added = add_all(fleet, [good, part(tmp_path, "three", position="3")], "A. Bell")
    assert [one.import_id for one in added] == [2, 3]
    assert len(read(fleet).readings) == 3
    assert verify(fleet).whole


def test_a_source_that_only_misfits_the_book_keeps_out_the_others(fleet: Path, tmp_path: Path) -> None:
    strange = part(tmp_path, "two", vessel="Birch")
    with pytest.raises(InputRefused):
        add_all(fleet, [part(tmp_path, "one"), strange], "A. Bell")
    assert len(read(fleet).readings) == 1


def test_a_dry_run_says_what_would_come_and_keeps_nothing(fleet: Path, tmp_path: Path) -> None:
    before = verify(fleet).digest
    (would,) = add_all(fleet, [part(tmp_path, "one")], "A. Bell", dry_run=True)
    assert would.rows == {"readings": 1}
    assert verify(fleet).digest == before


def test_of_a_folder_each_sheet_is_added_and_a_record_set_stays_one(tmp_path: Path) -> None:
    for name in ("b.xlsx", "a.xlsx", "c.csv", "~lock.xlsx"):
        (tmp_path / name).write_text("")
    assert [Path(one).name for one in sources_in([tmp_path], mapped=True)] == ["a.xlsx", "b.xlsx", "c.csv"]
    assert [Path(one).name for one in sources_in([tmp_path], mapped=False)] == ["a.xlsx", "b.xlsx"]
    (tmp_path / "readings.csv").write_text("")
    assert sources_in([tmp_path], mapped=False) == [tmp_path]


def test_what_would_stop_a_forecast_is_told_when_it_comes_in(fleet: Path, tmp_path: Path) -> None:
    (added,) = add_all(fleet, [part(tmp_path, "one", date="2025-05-17", counter_h="11000")], "A. Bell")
    assert added.import_id is not None
    (stop,) = stops_since(fleet, [added.import_id])
    assert stop.kind == "counter_fall"
    (sound,) = add_all(fleet, [part(tmp_path, "two", position="2")], "A. Bell")
    assert sound.import_id is not None
    assert stops_since(fleet, [sound.import_id]) == []


def test_hours_of_an_engine_are_an_event_of_the_book_and_stand_once(fleet: Path) -> None:
    day = dt.date(2025, 1, 1)
    assert add_hours(fleet, "Alder", "1", day, "15 500", "A. Bell").rows == {"events": 1}
    assert add_hours(fleet, "Alder", "1", day, "15500", "A. Bell").import_id is None
    with pytest.raises(InputRefused):
        add_hours(fleet, "Alder", "2", day, "100", "A. Bell")
    (event,) = read(fleet).events.to_dict("records")
    assert (event["event"], event["counter_h"]) == ("counter", 15500)
