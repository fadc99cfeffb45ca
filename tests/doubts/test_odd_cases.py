"""Records at the edge of what can be read: none of the families may fall over, and none may see things."""

from __future__ import annotations

import pytest

from wearcast.doubts.doubt import doubt

WEAR_LIMIT = {
    "quantity": "wear",
    "half": "",
    "new_min": "0",
    "new_max": "0",
    "limit": "4",
    "limit_side": "max",
}

CASES = {
    "one reading": ([{}], []),
    "fitted at an unknown time, its new wall measured": (
        [{}, {"date": "2025-01-01", "counter_h": "15000", "value": "7.975"}],
        [{"event": "fitted", "date": "", "counter_h": "", "new_value": "7.990", "unit": "mm"}],
    ),
    "a wear of zero": ([{"quantity": "wear", "half": "", "value": "0"}], []),
    "points off the crown alone": (
        [{"point": "p45"}, {"point": "p45", "date": "2025-01-01", "counter_h": "15000", "value": "7.975"}],
        [],
    ),
    "a clearance without walls": ([{"quantity": "clearance", "half": "", "value": "0.240"}], []),
    "a bore without clearance": ([{"quantity": "housing_bore", "half": "", "value": "236.221"}], []),
    "a deflection at one point": (
        [{"bearing": "big_end", "quantity": "web_deflection", "half": "", "point": "top", "value": "0"}],
        [],
    ),
    "a place without number": ([{"position": "port aft"}], []),
    "two openings on one day of one dial": ([{"state": "as_found"}, {"state": "as_left"}], []),
}


@pytest.mark.parametrize("case", CASES)
def test_odd_records_raise_no_query(history_of, case) -> None:
    readings, events = CASES[case]
    found = doubt(history_of(readings, events, more_limits=[WEAR_LIMIT]))
    assert found.queries == ()
    assert found.counted.all()
