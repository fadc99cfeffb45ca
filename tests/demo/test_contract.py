"""The demo keeps the record set's contract.

All values here are the demo's own inventions; nothing is checked against a published figure.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date
from itertools import pairwise

import pytest

from wearcast.records.tables import TABLES


def test_columns_and_choices_are_the_contract_s(tables):
    for name, rows in tables.items():
        table = TABLES[name]
        assert set(rows[0]) == {column.name for column in table.columns} & set(rows[0])
        for column in table.columns:
            assert column.name in rows[0] or not column.required
            for row in rows:
                cell = row.get(column.name, "")
                assert cell or not column.filled, (name, column.name, row)
                assert not column.choices or not cell or cell in column.choices


def test_no_reading_key_stands_twice(tables):
    key = (
        "vessel", "engine", "date", "bearing", "position", "half", "point", "quantity", "state", "instrument",
    )  # fmt: skip
    assert max(Counter(tuple(row[k] for k in key) for row in tables["readings"]).values()) == 1


def test_dates_are_iso_and_none_lies_after_october_2026(tables):
    for name in ("readings", "events"):
        assert max(date.fromisoformat(row["date"]) for row in tables[name]) < date(2026, 11, 1)
    last = defaultdict(str)
    for row in tables["readings"]:
        last[row["vessel"]] = max(last[row["vessel"]], row["date"])
    assert all(day >= "2026-09-01" for day in last.values())
    assert all("2027-01-01" <= row["date"] <= "2031-12-31" for row in tables["windows"])


def test_dials_rise_as_fast_as_the_stated_use_and_fall_only_at_the_counter_change(tables):
    change = next(row for row in tables["events"] if row["event"] == "counter_change")
    stated = {row["vessel"]: (row["in_service"], float(row["hours_per_year"])) for row in tables["engines"]}
    seen = defaultdict(set)
    for row in tables["readings"] + [row for row in tables["events"] if row["event"] != "counter_change"]:
        after = row["vessel"] == change["vessel"] and row["date"] > change["date"]
        seen[row["vessel"]].add((row["date"], float(row["counter_h"]) + after * float(change["counter_h"])))
    for vessel, points in seen.items():
        start, per_year = stated[vessel]
        ordered = sorted(points)
        assert len({day for day, _ in ordered}) == len(ordered)  # one dial reading a day
        for (day, hours), (next_day, next_hours) in pairwise(ordered):
            days = (date.fromisoformat(next_day) - date.fromisoformat(day)).days
            assert 0 < next_hours - hours < 24 * days
            assert abs((next_hours - hours) * 365.25 / days - per_year) < 600
        years = (date.fromisoformat(ordered[-1][0]) - date.fromisoformat(start)).days / 365.25
        assert ordered[-1][1] / years == pytest.approx(per_year, rel=0.03)


def test_a_renewal_has_found_and_left_readings_of_that_half_and_of_the_clearance(tables):
    renewals = [row for row in tables["events"] if row["event"] == "renewal"]
    assert len(renewals) > 40
    for event in renewals:
        here = [
            row
            for row in tables["readings"]
            if all(row[k] == event[k] for k in ("vessel", "date", "bearing", "position", "counter_h"))
        ]
        for quantity, half in (("wall", event["half"]), ("clearance", "")):
            states = {row["state"] for row in here if (row["quantity"], row["half"]) == (quantity, half)}
            assert states == {"as_found", "as_left"}


def test_every_wall_and_clearance_has_a_limit_of_its_size(tables):
    limits = {(x["bearing"], x["half"], x["quantity"], x["shell_size"], x["point"]) for x in tables["limits"]}
    for size in ("standard", "U50"):
        assert {("main", half, "wall", size, "") for half in ("upper", "lower")} <= limits
        assert {("main", "", "clearance", size, "")} <= limits
        assert {("main", "", "journal_diameter", size, point) for point in ("v1", "h1")} <= limits
    for row in tables["readings"]:
        point = row["point"] if row["quantity"] == "journal_diameter" else ""
        assert (row["bearing"], row["half"], row["quantity"], "standard", point) in limits


def test_fitted_rows_give_every_first_shell_its_size(tables):
    fitted = [row for row in tables["events"] if row["event"] == "fitted"]
    assert len(fitted) == 4 * (2 * 7 + 2 * 6 + 1)
    assert {row["shell_size"] for row in fitted} == {"standard"}


def test_readings_come_in_hundredths_until_2018_and_in_thousandths_after(tables):
    for row in tables["readings"]:
        if row["quantity"] == "wall" and row["value"] != "7982":
            assert len(row["value"].partition(".")[2]) == (2 if row["date"] < "2018-01-01" else 3)
