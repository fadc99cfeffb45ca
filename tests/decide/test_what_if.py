"""Changes to try: what they touch, and what is refused."""

from __future__ import annotations

import datetime as dt

import pytest

import wearcast
from wearcast.cli.what_if_options import what_if_from
from wearcast.decide.what_if import ChangedLimit, MovedWindow, UseOf, WhatIf, changed_records
from wearcast.errors import WrongUse

RUN = dt.date(2026, 1, 1)


@pytest.fixture
def records(record_folder):
    windows = [{"date": "2027-01-01"}, {"date": "2028-01-01"}]
    return wearcast.read(record_folder(windows=windows), RUN)


def test_each_change_touches_its_cells_alone(records) -> None:
    case = WhatIf(
        hours_per_year=(UseOf("Alder", 6000.0),),
        moved_windows=(MovedWindow("", dt.date(2027, 1, 1), dt.date(2027, 6, 1)),),
        limits=(ChangedLimit("main", "lower", "wall", "standard", 7.940),),
    )
    made = changed_records(records, case)
    assert made.engines["hours_per_year"].tolist() == [6000.0]
    assert [str(day.date()) for day in made.windows["date"]] == ["2027-06-01", "2028-01-01"]
    assert made.limits["limit_mm"].tolist() == [7.940]
    assert made.limits["limit_source"].tolist()[0].endswith("(changed: what if)")
    assert made.readings is records.readings
    assert records.limits["limit_mm"].tolist() == [7.950]


@pytest.mark.parametrize(
    ("case", "said"),
    [
        (WhatIf(hours_per_year=(UseOf("Birch", 6000.0),)), "no engine of 'Birch'; there are Alder"),
        (WhatIf(moved_windows=(MovedWindow("Alder", RUN, RUN),)), "there are 2027-01-01, 2028-01-01"),
        (
            WhatIf(limits=(ChangedLimit("main", "upper", "wall", "standard", 7.9),)),
            "no row of the limits table",
        ),
        (WhatIf(limits=(ChangedLimit("main", "lower", "wall", "standard", 7.99),)), "wrong side"),
    ],
)
def test_what_is_not_there_is_refused_in_words(records, case: WhatIf, said: str) -> None:
    with pytest.raises(WrongUse, match=said):
        changed_records(records, case)


def test_impossible_changes_are_refused() -> None:
    with pytest.raises(WrongUse, match="lead time"):
        WhatIf(lead_time_days=-1)
    with pytest.raises(WrongUse, match="8784"):
        WhatIf(hours_per_year=(UseOf("", 9000.0),))


def test_options_are_read_as_written() -> None:
    made = what_if_from(
        ["Merrow Dain=6500", "6000"], 90, 0.05, 0.99, None, ["Ossel Brae 2027-03-15 2027-09-01"],
        ["main lower wall U50 8.205", "big_end clearance standard 0.3"],
    )  # fmt: skip
    assert made.hours_per_year == (UseOf("Merrow Dain", 6500.0), UseOf("", 6000.0))
    assert made.moved_windows == (MovedWindow("Ossel Brae", dt.date(2027, 3, 15), dt.date(2027, 9, 1)),)
    assert made.limits == (
        ChangedLimit("main", "lower", "wall", "U50", 8.205),
        ChangedLimit("big_end", "", "clearance", "standard", 0.3),
    )
    assert not WhatIf().any
    assert not WhatIf(risk=0.2).touches_forecast
    assert "accepted risk 0.05" in str(made)
