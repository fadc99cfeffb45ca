"""Records that once led astray: each a small set, each with the sentence or figure it must give."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

import wearcast
from wearcast.errors import InputRefused, WrongUse

RUN = dt.date(2026, 1, 1)
NEW = 7.9925
SISTERS = [{"engine": "1"}, {"engine": "2"}]


def worn(engine: str, position: int, *ages_h: int, rate: float = 1.0, **more) -> list[dict]:
    return [
        {
            "engine": engine,
            "position": str(position),
            "value": f"{NEW - rate * age / 1e6:.3f}",
            "date": f"{2012 + age // 5000}-{1 + (age % 5000) * 11 // 5000:02d}-15",
            "counter_h": str(age),
            **more,
        }
        for age in ages_h
    ]


def fleet(mains: int, *ages_h: int) -> list[dict]:
    """Two sisters whose positions wear differently, so that the ends can be told apart."""
    ages = ages_h or (8_000, 16_000, 24_000, 32_000)
    return [
        row
        for engine in ("1", "2")
        for position in range(1, mains + 1)
        for row in worn(engine, position, *ages, rate=0.4 + 0.13 * position)
    ]


@pytest.fixture
def result_of(record_folder):
    def make(leave_out_faulty=False, as_of=None, **tables):
        records = wearcast.read(record_folder(**tables), RUN)
        return wearcast.forecast(records, as_of, leave_out_faulty=leave_out_faulty)

    return make


def opening(rows: list[dict], engine: str, counter_h: str) -> list[dict]:
    return [row for row in rows if (row["engine"], row["counter_h"]) == (engine, counter_h)]


def confirmations(rows: list[dict], chosen: list[dict]) -> list[dict]:
    return [{"row": str(rows.index(row) + 2), "old": row["value"], "action": "confirm"} for row in chosen]


def shift(rows: list[dict], chosen: list[dict], mm: float) -> None:
    for row in chosen:
        row["value"] = f"{float(row['value']) + mm:.3f}"


def test_an_opening_that_over_reads_is_one_query_and_left_out(result_of) -> None:
    rows = fleet(4)
    shift(rows, opening(rows, "1", "24000"), 0.048)
    result = result_of(readings=rows, engines=SISTERS)
    kinds = [query.kind for query in result.queries]
    assert kinds.count("opening_error") == 1
    (query,) = [query for query in result.queries if query.kind == "opening_error"]
    assert len(query.rows) == 4
    assert "over-read by about" in query.text
    assert int(result.doubted.sum()) == 4


def test_an_opening_confirmed_whole_is_kept_and_asked_about_no_more(result_of) -> None:
    rows = fleet(4)
    chosen = opening(rows, "1", "24000")
    shift(rows, chosen, 0.048)
    result = result_of(readings=rows, engines=SISTERS, corrections=confirmations(rows, chosen))
    assert [query.kind for query in result.queries if query.kind in ("opening_error", "outlier")] == []
    assert not result.doubted.any()


def reversed_opening(rows: list[dict], mains: int) -> list[dict]:
    chosen = opening(rows, "1", "32000")
    values = [row["value"] for row in chosen]
    for row, value in zip(chosen, reversed(values), strict=True):
        row["value"] = value
    assert len(chosen) == mains
    return chosen


def test_an_opening_written_from_the_other_end_is_asked_about(result_of) -> None:
    rows = fleet(7)
    chosen = reversed_opening(rows, 7)
    result = result_of(readings=rows, engines=SISTERS)
    (query,) = [query for query in result.queries if query.kind == "end_swap"]
    assert query.rows == tuple(rows.index(row) + 2 for row in chosen)
    assert query.evidence > 4


def test_a_swapped_opening_confirmed_whole_is_kept(result_of) -> None:
    rows = fleet(7)
    chosen = reversed_opening(rows, 7)
    result = result_of(readings=rows, engines=SISTERS, corrections=confirmations(rows, chosen))
    asked = {row for query in result.queries if query.kind == "end_swap" for row in query.rows}
    assert not asked & {rows.index(row) + 2 for row in chosen}
    assert not result.doubted.any()


def test_one_outlier_among_three_positions_is_no_error_of_the_gauge(result_of) -> None:
    rows = fleet(3)
    shift(rows, opening(rows, "1", "24000")[:1], -0.065)
    result = result_of(readings=rows, engines=SISTERS)
    assert [query.kind for query in result.queries] == ["outlier"]
    assert int(result.doubted.sum()) == 1


def test_banks_of_a_vee_engine_are_in_order_and_not_turned_round(result_of) -> None:
    labels = ["A1", "A2", "A10", "B1", "B2", "B10"]
    rows = [
        {**row, "position": label}
        for k, label in enumerate(labels)
        for row in worn("1", 1, 8000, 16_000, rate=1 + k / 9)
    ]
    result = result_of(readings=rows)
    assert result.table["position"].tolist() == labels
    assert not result.classes[0].one.one_row


def test_a_new_wall_of_a_shell_fitted_at_an_unknown_time_is_not_used(result_of) -> None:
    events = [
        {"engine": "1", "position": "1", "event": "fitted", "date": "", "counter_h": "", "new_value": "7.995",
         "unit": "mm"}
    ]  # fmt: skip
    result = result_of(readings=worn("1", 1, 30_000, 38_000), events=events)
    (row,) = result.table.to_dict("records")
    assert (row["shell_no"], row["readings"]) == (1, 2)
    assert np.isnan(row["shell_h"])
    assert "fitted at an unknown time" in row["reasons"]
    assert any("New wall told by the event not used" in text for text in result.assumptions)


def test_a_shell_fitted_and_never_read_has_a_row(result_of) -> None:
    events = [{"engine": "1", "position": "6", "event": "fitted", "date": "2012-01-01", "counter_h": "0"}]
    table = result_of(readings=fleet(3), engines=SISTERS, events=events).table
    (row,) = table[table["position"] == "6"].to_dict("records")
    assert (row["readings"], row["rests_on"]) == (0, "sisters alone")
    assert row["hours_to_limit_p50"] > 0


def test_a_lost_event_leaves_its_shell_without_a_forecast(result_of) -> None:
    events = [{"engine": "1", "position": "2", "event": "renewal", "date": "15/02/20", "counter_h": "30000"}]
    result = result_of(readings=fleet(3), engines=SISTERS, events=events, leave_out_faulty=True)
    table = result.table.set_index(["engine", "position"])
    lost = table.loc[("1", "2")]
    assert np.isnan(lost["hours_to_limit_p50"])
    assert lost["date_p10"] is None
    assert lost["open_at"] is None
    assert (lost["statement"], lost["rests_on"]) == ("limit may be passed", "readings disagree")
    assert "history incomplete: events.csv, row 2" in lost["reasons"]
    assert np.isfinite(table.loc[("1", "1"), "hours_to_limit_p50"])


def test_past_limit_says_which_reading(result_of) -> None:
    rows = worn("1", 1, 10_000, 20_000, 30_000, 42_600)
    (row,) = result_of(readings=rows).table.to_dict("records")
    assert row["statement"] == "past limit"
    assert "read 7.950 mm at crown on 2020-06-15, limit 7.950 mm" in row["reasons"]


def test_a_point_without_a_limit_is_said_not_to_govern(result_of) -> None:
    rows = worn("1", 1, 10_000, 20_000) + worn("1", 1, 10_000, 20_000, point="s45")
    (row,) = result_of(readings=rows).table.to_dict("records")
    assert row["governing_point"] == "crown"
    assert "s45 without a limit of its own: trended, does not govern" in row["reasons"]


def test_without_a_governing_point_nothing_is_forecast(result_of) -> None:
    rows = worn("1", 1, 10_000, 20_000, point="s45")
    windows = [{"date": "2027-01-01"}, {"date": "2029-01-01"}]
    (row,) = result_of(readings=rows, windows=windows).table.to_dict("records")
    assert row["statement"] == "no limit given"
    assert np.isnan(row["limit_mm"])
    assert "trended, never forecast" in row["reasons"]


def test_an_axial_clearance_below_its_minimum_is_past_limit(result_of) -> None:
    axial = {"bearing": "thrust", "position": "7", "half": "", "quantity": "axial_clearance"}
    limit = {
        "bearing": "thrust", "half": "", "quantity": "axial_clearance", "new_min": "0.300", "new_max": "0.450",
        "limit": "0.800", "limit_side": "max",
    }  # fmt: skip
    rows = [
        {**row, **axial, "value": value}
        for row, value in zip(worn("1", 7, 5_000, 15_000), ("0.36", "0.24"), strict=True)
    ]
    (row,) = result_of(
        readings=rows, limits=[{}, limit, {**limit, "limit": "0.250", "limit_side": "min"}]
    ).table.to_dict("records")
    assert row["statement"] == "past limit"
    assert "read 0.240 mm" in row["reasons"]


def test_rates_in_the_table_are_never_negative(result_of) -> None:
    rows = [row for position in range(1, 4) for row in worn("1", position, 8000, 16_000, 24_000, rate=-0.4)]
    assert (result_of(readings=rows).table["wear_rate_um_per_kh"] > 0).all()


def test_nothing_left_names_what_was_refused(result_of) -> None:
    with pytest.raises(InputRefused) as refused:
        result_of(readings=[{"value": "OK"}], leave_out_faulty=True)
    assert refused.value.faults[0].found == '"OK"'


def test_as_of_before_the_first_reading_says_when_that_was(result_of) -> None:
    with pytest.raises(WrongUse, match="no reading up to 2010-01-01; the first is of 2013-07-15"):
        result_of(readings=worn("1", 1, 8000), as_of=dt.date(2010, 1, 1))


def test_a_shell_past_its_limit_is_past_it_whatever_the_yearly_use(result_of) -> None:
    """Read below the limit of 7.950 mm at the only date there is a use of none to be known by."""
    worn_out = worn("1", 1, 8_000, 16_000, 24_000, 32_000, rate=1.6)
    unknown = [{"engine": "1", "hours_per_year": ""}, {"engine": "2", "hours_per_year": ""}]
    sisters = worn("2", 1, 8_000, 16_000, 24_000, 32_000, rate=1.5)
    table = result_of(readings=worn_out + sisters, engines=unknown).table
    (row,) = table[table["engine"] == "1"].to_dict("records")
    assert row["statement"] == "past limit"
    assert row["hours_to_limit_p10"] == 0
    assert row["date_p10"] == row["as_of_date"]
