"""The forecast table against the rules of its columns (data contract; common practice where no source is named)."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

import wearcast
from wearcast.forecasting.table import COLUMNS

RUN = dt.date(2026, 1, 1)
NEW = 7.9925
HOURS = [f"hours_to_limit_p{q}" for q in ("05", "10", "25", "50", "75", "90", "95")]


@pytest.fixture
def table_of(record_folder):
    def make(as_of=None, settings=None, leave_out_faulty=False, **tables) -> pd.DataFrame:
        records = wearcast.read(record_folder(**tables), RUN)
        return wearcast.forecast(records, as_of, settings, leave_out_faulty).table

    return make


def worn(position: int, *ages_h: int, rate: float = 1.0, start: int = 2012, **more) -> list[dict]:
    """Readings of a shell that wears evenly at `rate` µm per 1000 h, 5000 h a year."""
    return [
        {
            "position": str(position),
            "value": f"{NEW - rate * age / 1e6:.4f}",
            "date": f"{start + age // 5000}-{1 + (age % 5000) * 11 // 5000:02d}-15",
            "counter_h": str(age),
            **more,
        }
        for age in ages_h
    ]


FLEET = [row for position in range(1, 6) for row in worn(position, 10_000, 20_000, 30_000, 40_000)]


SLOWER = [row for position in range(1, 6) for row in worn(position, 10_000, 20_000, 30_000, 40_000, rate=0.7)]


def test_columns_are_the_contracts_in_order(table_of) -> None:
    table = table_of(readings=FLEET)
    assert tuple(table.columns) == COLUMNS
    assert len(COLUMNS) == len(set(COLUMNS)) == 52
    assert table["position"].tolist() == ["1", "2", "3", "4", "5"]


def test_a_steady_wear_is_read_back(table_of) -> None:
    """Truth planted: 1 µm per 1000 h, allowance 42.5 µm, 40 000 h run: 2 500 h are left."""
    table = table_of(readings=FLEET)
    assert table["wear_rate_um_per_kh"].to_numpy() == pytest.approx(np.ones(5), abs=0.1)
    assert table["estimate_mm"].to_numpy() == pytest.approx(np.full(5, NEW - 0.040), abs=0.003)
    assert (table["hours_to_limit_p05"] < 2500).all()
    assert (table["hours_to_limit_p95"] > 2500).all()
    assert table["own_rate_um_per_kh"].to_numpy() == pytest.approx(np.ones(5), rel=1e-6)
    assert table["own_hours_p50"].to_numpy() == pytest.approx(np.full(5, 2500), rel=1e-6)


def test_quantiles_rise_and_dates_follow_them(table_of) -> None:
    table = table_of(readings=FLEET)
    hours = table[HOURS].to_numpy()
    assert (np.diff(hours, axis=1) >= 0).all()
    assert (table["date_p10"] <= table["date_p50"]).all()
    assert (table["date_p50"] <= table["date_p90"]).all()
    assert (table["date_p10"] >= table["as_of_date"]).all()


def test_open_ends_are_empty_and_said(table_of) -> None:
    table = table_of(readings=worn(1, 10_000, rate=0.01))
    row = table.iloc[0]
    assert np.isnan(row["hours_to_limit_p95"])
    assert "no upper bound from these readings" in row["reasons"]


def test_past_the_limit_is_zero_hours_and_today(table_of) -> None:
    table = table_of(readings=FLEET + worn(6, 20_000, 30_000, 40_000, rate=2.0))
    row = table.set_index("position").loc["6"]
    assert row["statement"] == "past limit"
    assert row["hours_to_limit_p50"] == 0
    assert row["date_p50"] == row["as_of_date"]


def test_a_single_last_reading_at_the_limit_is_past_limit(table_of) -> None:
    """Any undoubted reading of the last opening at or beyond the limit, whatever the estimate says."""
    rows = worn(1, 10_000, 20_000, rate=1.2)
    rows.append({**rows[-1], "counter_h": "30000", "date": "2018-01-15", "value": "7.9500"})
    others = [row for row in FLEET[4:] if row["counter_h"] != "40000"]
    row = table_of(readings=others + rows).set_index("position").loc["1"]
    assert row["estimate_mm"] > 7.950
    assert row["statement"] == "past limit"


def test_damage_overrides_the_trend(table_of) -> None:
    event = {"event": "finding", "finding": "bond failure", "position": "2", "date": "2019-06-01", "counter_h": "37000",
             "shell_size": ""}  # fmt: skip
    table = table_of(readings=FLEET, events=[event]).set_index("position")
    assert table.loc["2", "statement"] == "damage noted"
    assert (table["statement"] == "damage noted").sum() == 1


def test_a_finding_on_the_day_of_renewal_is_of_the_shell_taken_out(table_of) -> None:
    on = {"date": "2019-06-01", "counter_h": "37000", "position": "2"}
    events = [
        {**on, "event": "finding", "finding": "bond failure", "shell_size": ""},
        {**on, "event": "renewal", "shell_size": "standard"},
    ]
    rows = [row for row in FLEET if not (row["position"] == "2" and row["counter_h"] == "40000")]
    assert "damage noted" not in table_of(readings=rows, events=events)["statement"].tolist()


def test_fewer_than_two_openings_past_running_in_are_few(table_of) -> None:
    table = table_of(readings=FLEET[4:] + worn(1, 1500, 40_000)).set_index("position")
    assert table.loc["1", "rests_on"] == "few own readings"
    assert table.loc["2", "rests_on"] == "own readings"
    assert (
        table.loc["1", "own_readings"] == 1
    )  # the reading at 1 500 h is running-in, shown but not in the line
    assert table.loc["1", "readings"] == 2


def test_a_shell_just_renewed_is_forecast_from_its_sisters(table_of) -> None:
    renewal = {
        "event": "renewal",
        "position": "2",
        "date": "2020-01-20",
        "counter_h": "40050",
        "shell_size": "standard",
    }
    row = table_of(readings=FLEET, events=[renewal]).set_index("position").loc["2"]
    assert (row["shell_no"], row["readings"], row["borrowed"]) == (2, 0, 1.0)
    assert row["rests_on"] == "sisters alone"
    assert "no reading of this shell yet" in row["reasons"]
    assert row["hours_to_limit_p05"] > 10_000
    assert row["shell_h"] == pytest.approx(0, abs=1)


def test_borrowed_falls_with_the_shells_own_readings(table_of) -> None:
    table = table_of(readings=FLEET[4:] + worn(1, 40_000)).set_index("position")
    assert 0 < table.loc["2", "borrowed"] < table.loc["1", "borrowed"] <= 1


WINDOWS = [{"date": "2020-06-01", "name": "first"}, {"date": "2022-06-01", "name": "second"}]


@pytest.mark.parametrize(
    ("rate", "said"),
    [
        (1.0, "limit falls before next window"),
        (0.85, "limit falls before following window"),
        (0.4, "limit falls later"),
    ],
)
def test_windows_are_compared_with_the_early_date(table_of, rate, said) -> None:
    rows = [row for p in range(1, 6) for row in worn(p, 10_000, 20_000, 30_000, 40_000, rate=rate)]
    table = table_of(readings=rows, windows=WINDOWS)
    row = table.iloc[0]
    assert row["statement"] == said
    assert (row["next_window"], row["following_window"]) == (dt.date(2020, 6, 1), dt.date(2022, 6, 1))
    assert 0 <= row["p_limit_before_next_window"] < row["p_limit_before_following_window"] <= 1
    expected = [w for w in (dt.date(2020, 6, 1), dt.date(2022, 6, 1)) if w <= row["date_p10"]]
    assert row["open_at"] == (expected[-1] if expected else None)
    assert ("before any window" in row["reasons"]) is (not expected)


@pytest.mark.parametrize(("rate", "said"), [(0.4, "limit falls later"), (0.95, "limit falls within a year")])
def test_without_a_window_a_limit_near_is_said(table_of, rate, said) -> None:
    rows = [row for p in range(1, 6) for row in worn(p, 10_000, 20_000, 30_000, 40_000, rate=rate)]
    assert set(table_of(readings=rows)["statement"]) == {said}


@pytest.mark.parametrize(("rate", "urgent"), [(0.4, False), (1.0, True)])
def test_without_a_yearly_use_a_limit_near_is_said_too(table_of, rate, urgent) -> None:
    rows = [{**row, "date": "2020-01-15"} for p in range(1, 6) for row in worn(p, 40_000, rate=rate)]
    table = table_of(readings=rows, engines=[{"engine": "1", "hours_per_year": ""}], windows=WINDOWS)
    assert (table["statement"] != "limit falls later").all() == urgent


def test_without_yearly_use_there_are_hours_and_no_dates(table_of) -> None:
    rows = [row for p in range(1, 4) for row in worn(p, 10_000)]
    table = table_of(readings=rows, engines=[{"hours_per_year": ""}])
    assert table["date_p10"].isna().all()
    assert table["hours_to_limit_p10"].notna().all()


def test_carrying_forward_shortens_and_widens(table_of) -> None:
    now = table_of(readings=FLEET)
    later = table_of(as_of=dt.date(2020, 7, 1), readings=FLEET, engines=[{"hours_per_year_sd": "1500"}])
    assert (later["hours_to_limit_p50"] < now["hours_to_limit_p50"]).all()
    assert (later["estimate_u_um"] > now["estimate_u_um"]).all()
    assert later["reasons"].str.contains("hours carried forward").all()


def test_as_of_uses_only_what_was_known(table_of) -> None:
    early = table_of(as_of=dt.date(2016, 2, 1), readings=FLEET)
    assert (early["readings"] == 2).all()
    known = [row for row in FLEET if row["date"] <= "2016-02-01"]
    alone = table_of(as_of=dt.date(2016, 2, 1), readings=known)
    numbers = [*HOURS, "estimate_mm", "wear_rate_um_per_kh"]
    pd.testing.assert_frame_equal(early[numbers], alone[numbers])


def test_row_order_does_not_matter(table_of) -> None:
    pd.testing.assert_frame_equal(
        table_of(readings=FLEET), table_of(readings=FLEET[::-1]), check_exact=False, rtol=1e-6, atol=1e-6
    )


def test_inches_give_the_same_forecast(table_of) -> None:
    inches = [{**row, "value": f"{float(row['value']) / 25.4:.10f}", "unit": "in"} for row in FLEET]
    mm = [{**row, "value": f"{float(row['value']):.10f}"} for row in FLEET]
    numbers = [*HOURS, "estimate_mm"]
    pd.testing.assert_frame_equal(
        table_of(readings=mm)[numbers], table_of(readings=inches)[numbers], check_exact=False, rtol=1e-4
    )


@pytest.mark.parametrize(("unit", "factor", "digits"), [("um", 1e3, 0), ("in", 1 / 25.4, 5)])
@pytest.mark.parametrize("step", [0.001, 0.01])
def test_the_same_readings_in_another_unit_give_the_same_hours(table_of, unit, factor, digits, step) -> None:
    """The step is the gauge's: as written in whole um, or in inches of 5 decimals, hours agree to 1 %."""
    rng = np.random.default_rng(7)
    mm = [
        {**row, "value": f"{step * round((float(row['value']) + rng.normal(0, 0.004)) / step):.3f}"}
        for position in range(1, 6)
        for row in worn(position, 10_000, 20_000, 30_000, 40_000, rate=0.5)
    ]
    other = [{**row, "value": f"{float(row['value']) * factor:.{digits}f}", "unit": unit} for row in mm]
    hours = table_of(readings=mm)[HOURS].to_numpy()
    assert table_of(readings=other)[HOURS].to_numpy() == pytest.approx(hours, rel=0.01, nan_ok=True)


def test_a_clearance_is_forecast_upward(table_of) -> None:
    rows = [
        {
            **row,
            "half": "",
            "quantity": "clearance",
            "value": f"{0.235 + 2 * (NEW - float(row['value'])):.4f}",
        }
        for row in FLEET
    ]
    limit = {"half": "", "quantity": "clearance", "new_min": "0.220", "new_max": "0.250", "limit": "0.330",
             "limit_side": "max"}  # fmt: skip
    table = table_of(readings=rows, limits=[{}, limit])
    assert table["wear_rate_um_per_kh"].to_numpy() == pytest.approx(np.full(5, 2.0), abs=0.25)
    assert (table["hours_to_limit_p05"] < 7500).all()
    assert (table["hours_to_limit_p95"] > 7500).all()


def test_implausible_readings_are_queries_and_do_not_count(table_of) -> None:
    slip = {**FLEET[3], "value": "7982", "unit": "mm"}
    with_slip = table_of(readings=[*FLEET[:3], slip, *FLEET[4:]])
    without = table_of(readings=[*FLEET[:3], *FLEET[4:]])
    assert with_slip.loc[0, "queries"] == 1
    assert with_slip.loc[0, "readings"] == 3
    assert with_slip[HOURS].to_numpy() == pytest.approx(without[HOURS].to_numpy(), rel=1e-9)


def test_a_last_reading_far_off_towards_the_limit_is_a_slip_or_a_fault_until_settled(table_of) -> None:
    rows = [dict(row) for row in SLOWER]
    rows[7]["value"] = f"{float(rows[7]['value']) - 0.060:.4f}"
    table = table_of(readings=rows, windows=WINDOWS).set_index("position")
    row = table.loc["2"]
    assert row["queries"] == 1
    assert "1 doubted reading held as a slip and as a fault coming on" in row["reasons"]
    beside = row["hours_to_limit_p10_with_doubted"], row["hours_to_limit_p10_without_doubted"]
    assert beside[0] <= row["hours_to_limit_p10"] < beside[1]
    assert row["p_limit_before_next_window"] >= 0.49


def test_a_confirmed_reading_ends_the_query_and_its_rate_goes_on(table_of) -> None:
    rows = [dict(row) for row in SLOWER]
    rows[7]["value"] = f"{float(rows[7]['value']) - 0.025:.4f}"
    asked = table_of(readings=rows).set_index("position").loc["2"]
    confirmed = [
        {"table": "readings", "row": "9", "column": "value", "old": rows[7]["value"], "action": "confirm"}
    ]
    row = table_of(readings=rows, corrections=confirmed).set_index("position").loc["2"]
    assert (asked["queries"], row["queries"]) == (1, 0)
    assert "its rate goes on" in row["reasons"]
    assert row["wear_rate_um_per_kh"] > 2.0
    assert row["hours_to_limit_p50"] <= asked["hours_to_limit_p50"]


def test_makers_fixed_hours_are_said_and_never_extended(table_of) -> None:
    table = table_of(readings=FLEET, limits=[{"renew_at_h": "41000"}])
    assert table["reasons"].str.contains("maker's fixed 41000 h hold: 1000 h are left").all()


def test_one_engine_one_position_one_reading_gives_a_wide_range_and_says_why(table_of) -> None:
    (row,) = table_of(readings=worn(1, 10_000)).to_dict("records")
    assert row["rests_on"] == "few own readings"
    assert "one engine only" in row["reasons"]
    assert "one opening of this shell" in row["reasons"]
    assert row["hours_to_limit_p05"] > 0
    late = row["hours_to_limit_p95"]
    assert np.isnan(late) or late > 5 * row["hours_to_limit_p05"]


CLEARANCE_LIMIT = {
    "half": "", "quantity": "clearance", "new_min": "0.220", "new_max": "0.250", "limit": "0.330", "limit_side": "max",
}  # fmt: skip


@pytest.mark.parametrize(("off_mm", "disagree"), [(0.0, False), (0.12, True)])
def test_walls_that_contradict_the_clearance_are_said(table_of, off_mm, disagree) -> None:
    """The identity c = H - d - t_upper - t_lower with H - d fixed: the last clearance may not stand far off."""
    rows = [row for row in FLEET if row["position"] in ("1", "2")]
    upper = [{**row, "half": "upper"} for row in rows]
    clearance = [
        {
            **row, "half": "", "quantity": "clearance",
            "value": f"{0.235 + 2 * (NEW - float(row['value'])) + off_mm * (row is rows[3]):.3f}",
        }
        for row in rows
    ]  # fmt: skip
    # Measured again, for a last reading in doubt is set against nothing.
    confirmed = {"table": "readings", "row": "21", "column": "value", "old": clearance[3]["value"]}
    table = table_of(
        readings=rows + upper + clearance, limits=[{}, {"half": "upper"}, CLEARANCE_LIMIT], windows=WINDOWS,
        corrections=[confirmed | {"action": "confirm"}],
    )  # fmt: skip
    at_first = table[table["position"] == "1"]
    assert at_first["rests_on"].eq("readings disagree").any() == disagree
    assert at_first["reasons"].str.contains("above what").any() == disagree
    assert not table.loc[table["position"] == "2", "rests_on"].eq("readings disagree").any()
