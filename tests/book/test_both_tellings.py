"""One reading told by several sheets: the book keeps every telling, it counts once, and their order says nothing."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from books import engines, readings

import wearcast
from wearcast.book.add import add
from wearcast.book.correct import correct
from wearcast.book.create import create
from wearcast.doubts.doubt import doubt
from wearcast.errors import InputRefused
from wearcast.lives.build import build
from wearcast.records.names import folded
from wearcast.sources import read

OPENINGS = [("2014-05-04", "8000", 7.984), ("2017-05-04", "26000", 7.975), ("2020-05-04", "44000", 7.967)]
SHOP = {"instrument": "BM-1", "u_um": "4"}
TELLINGS = {
    "shop": SHOP,
    "office": {"remark": "light scoring", "measured_by": "B. Cole"},
    "capitals": {**SHOP, "vessel": "MERROW-DAIN", "engine": "me", "instrument": "bm 1"},
    "no dial": {"counter_h": "", "remark": "from the log"},
    "another u": {"instrument": "BM-1", "u_um": "6"},
    "um": {"unit": "um", "point": "crown", "state": "as_found"},
}


def sheet(folder: Path, telling: str, openings: list[tuple[str, str, float]]) -> Path:
    cells = TELLINGS[telling]
    scale, digits = (1000, 0) if cells.get("unit") == "um" else (1, 3)
    rows = [
        {"date": on, "counter_h": hours, "position": str(k), "value": f"{(mm - 0.001 * k) * scale:.{digits}f}", **cells}
        for on, hours, mm in openings
        for k in (1, 2)
    ]  # fmt: skip
    return readings(folder, rows)


def book_of(folder: Path, *tellings: str) -> str:
    """A book with the office's tables, to which sheets of overlapping openings were added one after the other."""
    book = str(folder / f"{' then '.join(tellings)}.book")
    create(book)
    add(book, engines(folder / f"office {'-'.join(tellings)}"), "A. Bell")
    for telling in tellings:
        part = OPENINGS[:2] if telling == min(tellings) else OPENINGS[1:]
        part = OPENINGS[1:2] if telling == "no dial" else part  # hours of no other date can be had
        add(book, sheet(folder / f"{telling} of {'-'.join(tellings)}", telling, part), "A. Bell")
    return book


def counted(book: str) -> pd.DataFrame:
    history = build(read(book))
    used = history.readings[doubt(history).counted]
    names = [
        "vessel",
        "engine",
        "position",
        "date",
        "total_h",
        "value_mm",
        "u_um",
        "instrument",
        "wear_um",
        "hours_sd_h",
    ]
    used = used.assign(instrument=used["instrument"].map(folded))
    return used[names].sort_values(["date", "position"]).reset_index(drop=True)


@pytest.mark.parametrize("pair", list(itertools.combinations(sorted(TELLINGS), 2)), ids=" ".join)
def test_two_sheets_that_overlap_say_the_same_in_either_order_and_no_reading_twice(
    tmp_path: Path, pair: tuple[str, str]
) -> None:
    one, other = (counted(book_of(tmp_path, *names)) for names in (pair, pair[::-1]))
    pd.testing.assert_frame_equal(one, other)
    assert len(one) == (4 if "no dial" in pair else 6)  # two places an opening


def test_the_forecast_of_either_order_is_the_same(tmp_path: Path) -> None:
    one, other = (
        wearcast.forecast(book_of(tmp_path, *names)).table
        for names in (("office", "shop"), ("shop", "office"))
    )
    assert len(one) == 2
    for name in one.columns:
        if one[name].dtype == float:
            np.testing.assert_allclose(one[name], other[name], rtol=1e-6, err_msg=name)
        else:
            assert one[name].tolist() == other[name].tolist(), name


def test_both_tellings_stay_with_the_file_of_each_and_the_first_is_completed(tmp_path: Path) -> None:
    book = book_of(tmp_path, "office", "shop")
    table = read(book).readings
    twice = table[table["date"] == "2017-05-04"]
    assert len(twice) == 4
    assert set(twice["instrument"]) == {"BM-1"}
    assert set(twice["remark"]) == {"light scoring"}
    assert set(twice["u_um"]) == {4.0}
    came = [read(book).origins["readings"].words((row,)) for row in twice["row"]]
    assert len(set(came)) == 4


def test_a_telling_that_says_nothing_new_is_not_kept_again(book: str, tmp_path: Path) -> None:
    add(book, sheet(engines(tmp_path / "in"), "shop", OPENINGS), "A. Bell")
    again = add(book, sheet(tmp_path / "again", "capitals", OPENINGS), "A. Bell")
    assert (again.import_id, again.already) == (None, {"readings": 6})


def test_what_was_withdrawn_does_not_come_back_in_other_words(book: str, tmp_path: Path) -> None:
    add(book, sheet(engines(tmp_path / "in"), "shop", OPENINGS), "A. Bell")
    header = "table,row,column,old,new,action,reason,by,date\n"
    told = tmp_path / "withdrawn.csv"
    told.write_text(
        f"{header}readings,2,value,7.983,,withdraw,wrong bearing,A. Bell,2024-06-01\n", encoding="utf-8"
    )
    correct(book, told, "A. Bell")
    again = add(book, sheet(tmp_path / "office list", "office", OPENINGS), "A. Bell")
    assert again.already["readings"] == 1
    assert len(counted(book)) == 5


def test_another_dial_of_the_same_reading_is_still_refused(book: str, tmp_path: Path) -> None:
    add(book, sheet(engines(tmp_path / "in"), "shop", OPENINGS), "A. Bell")
    other = [(OPENINGS[0][0], "9000", OPENINGS[0][2])]
    with pytest.raises(InputRefused, match="another counter_h"):
        add(book, sheet(tmp_path / "again", "office", other), "A. Bell")
