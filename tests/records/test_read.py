"""A sound record set, from a folder and from a workbook, gives the canonical frames."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from wearcast.errors import WrongUse
from wearcast.records.read import read
from wearcast.records.tables import TABLES

DAY = dt.date(2026, 1, 1)
Make = Callable[..., Path]

READINGS = [
    {"value": "7.982", "date": "2024-05-17"},
    {"value": "7979", "unit": "um", "position": "4", "point": "p45_fore", "state": "As_Left"},
    {"quantity": "clearance", "half": "", "value": "0.0094", "unit": "in"},
    {"quantity": "wear", "half": "", "bearing": "other", "value": "0"},
    {"quantity": "web_deflection", "half": "", "bearing": "big_end", "point": "top", "value": "-0.03"},
]


@pytest.fixture(params=["folder", "workbook"])
def make(request: pytest.FixtureRequest) -> Make:
    found: Make = request.getfixturevalue(f"record_{request.param}")
    return found


def test_a_sound_record_set_has_no_faults(make: Make) -> None:
    records = read(make(readings=READINGS), DAY)
    assert records.faults == ()
    assert records.readings["row"].tolist() == [2, 3, 4, 5, 6]
    assert records.readings["point"].tolist() == ["crown", "p45_fore", "", "", "top"]
    assert records.readings["state"].tolist() == ["", "as_left", "", "", ""]


def test_lengths_come_in_millimetres_too(make: Make) -> None:
    records = read(make(readings=READINGS), DAY)
    expected = [7.982, 7.979, 0.0094 * 25.4, 0.0, -0.03]
    assert records.readings["value_mm"].tolist() == expected
    assert records.limits["limit_mm"].tolist() == [7.95]


def test_every_contract_column_is_there_in_canonical_form(make: Make) -> None:
    records = read(make(), DAY)
    for table in TABLES.values():
        frame = records.tables[table.name]
        for column in table.columns:
            kind = frame[column.name].dtype
            if column.cell == "number":
                assert kind == np.float64
            elif column.cell == "date":
                assert kind == np.dtype("datetime64[ns]")
            else:
                assert pd.api.types.is_string_dtype(frame[column.name])
                assert all(isinstance(cell, str) for cell in frame[column.name])


def test_files_are_named_with_their_digest(make: Make) -> None:
    import hashlib

    path = make()
    records = read(path, DAY)
    for file in records.files:
        data = (path / file.name if path.is_dir() else path).read_bytes()
        assert file.sha256 == hashlib.sha256(data).hexdigest()


@pytest.mark.parametrize("name", ["nowhere", "nowhere.xlsx"])
def test_a_path_that_is_not_there_is_wrong_use(tmp_path: Path, name: str) -> None:
    with pytest.raises(WrongUse, match="no such folder or file"):
        read(tmp_path / name)


def test_a_file_of_another_kind_is_wrong_use(tmp_path: Path) -> None:
    (tmp_path / "fleet.ods").write_bytes(b"x")
    with pytest.raises(WrongUse, match=r"expected a folder of CSV files or an \.xlsx"):
        read(tmp_path / "fleet.ods")


def test_an_empty_number_of_the_first_main_stands_for_one(make: Make) -> None:
    assert read(make(), DAY).engines["first_main"].tolist() == [1.0]
