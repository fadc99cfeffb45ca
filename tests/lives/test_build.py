"""Record sets to histories: the data contract's rules on hours, lives, sizes and as-of."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

import wearcast
from wearcast.errors import InputRefused, WrongUse
from wearcast.lives.build import build

RUN = dt.date(2026, 1, 1)


@pytest.fixture
def history_of(record_folder):
    def make(as_of=None, leave_out_faulty=False, **tables):
        return build(wearcast.read(record_folder(**tables), RUN), as_of, leave_out_faulty)

    return make


def read(value: float, on: str, hours: float, **more) -> dict:
    return {"value": f"{value:.3f}", "date": on, "counter_h": str(hours), **more}


def kinds_of(refused: pytest.ExceptionInfo[InputRefused]) -> list[str]:
    return [fault.kind for fault in refused.value.faults]


def test_a_falling_dial_names_both_rows(history_of) -> None:
    with pytest.raises(InputRefused) as refused:
        history_of(readings=[read(7.98, "2020-01-01", 9000), read(7.97, "2021-01-01", 5000)])
    (fault,) = refused.value.faults
    assert (fault.kind, fault.rows, fault.file, fault.column) == (
        "counter_fall",
        (3, 2),
        "readings.csv",
        "counter_h",
    )
    assert "9000 h on 2020-01-01 (readings, row 2)" in fault.text
    assert "5000 h on 2021-01-01" in fault.text


def test_more_than_24_hours_a_day_names_both_rows(history_of) -> None:
    with pytest.raises(InputRefused) as refused:
        history_of(readings=[read(7.98, "2020-01-01", 9000), read(7.97, "2020-02-01", 9900)])
    (fault,) = refused.value.faults
    assert (fault.kind, fault.rows, fault.evidence) == ("hours_per_day", (3, 2), 900)


def test_faults_of_every_table_come_together(history_of) -> None:
    with pytest.raises(InputRefused) as refused:
        history_of(
            readings=[
                read(7.98, "2020-01-01", 9000),
                read(7.97, "2021-01-01", 5000),
                {"value": "7.98 mm"},
            ],
            limits=[{"limit_source": ""}],
        )
    assert {"counter_fall", "not_understood"} <= set(kinds_of(refused))
    assert {fault.file for fault in refused.value.faults} == {"readings.csv", "limits.csv"}


def test_left_out_rows_are_listed_and_the_rest_goes_on(history_of) -> None:
    history = history_of(
        leave_out_faulty=True,
        readings=[
            read(7.98, "2020-01-01", 9000),
            read(7.97, "2021-01-01", 5000),
            read(7.97, "2022-01-01", 18000),
        ],
    )
    assert [fault.kind for fault in history.left_out] == ["counter_fall"]
    assert history.readings["total_h"].tolist() == [9000, 18000]


def test_a_counter_change_event_carries_the_hours_on(history_of) -> None:
    history = history_of(
        readings=[read(7.98, "2020-01-01", 9000), read(7.97, "2021-01-01", 400)],
        events=[
            {
                "event": "counter_change", "bearing": "", "position": "", "half": "", "shell_size": "",
                "date": "2020-12-01", "counter_h": "13000", "new_counter_h": "0",
            }
        ],
    )  # fmt: skip
    assert history.readings["total_h"].tolist() == [9000, 13400]
    assert history.engines[("Alder", "1")].as_of_h == 13400


RENEWED = {"date": "2021-01-01", "counter_h": "14000", "event": "renewal", "shell_size": "standard"}


def test_an_empty_state_at_a_renewal_is_refused(history_of) -> None:
    with pytest.raises(InputRefused) as refused:
        history_of(
            readings=[read(7.98, "2020-01-01", 9000), read(7.95, "2021-01-01", 14000)],
            events=[RENEWED],
        )
    (fault,) = refused.value.faults
    assert (fault.kind, fault.column, fault.rows) == ("not_understood", "state", (3,))


def test_found_and_left_at_a_renewal_belong_to_the_old_and_the_new_shell(history_of) -> None:
    history = history_of(
        readings=[
            read(7.98, "2020-01-01", 9000),
            read(7.95, "2021-01-01", 14000, state="as_found"),
            read(7.993, "2021-01-01", 14000, state="as_left"),
            read(7.985, "2023-01-01", 24000),
        ],
        events=[RENEWED],
    )
    table = history.readings
    assert [history.lives[k].shell_no for k in table["life"]] == [1, 1, 2, 2]
    assert table["shell_h"].tolist() == [9000, 14000, 0, 10000]
    assert table["new_wall"].tolist() == [False, False, True, False]


def test_a_new_wall_of_the_events_table_is_a_reading_at_age_0(history_of) -> None:
    history = history_of(
        readings=[read(7.985, "2023-01-01", 24000)],
        events=[{**RENEWED, "new_value": "7.994", "unit": "mm"}],
    )
    row = history.readings.loc[history.readings["table"] == "events"].iloc[0]
    assert (row["value_mm"], row["tau_h"], bool(row["new_wall"]), row["row"]) == (7.994, 0, True, 2)
    assert row["wear_um"] == pytest.approx((7.9925 - 7.994) * 1000)


def test_wear_is_counted_from_the_middle_of_new_in_the_direction_of_the_limit(history_of) -> None:
    history = history_of(
        readings=[
            read(7.982, "2024-01-01", 9000),
            read(0.255, "2024-01-01", 9000, quantity="clearance", half=""),
        ],
        limits=[
            {},
            {
                "half": "", "quantity": "clearance", "new_min": "0.220", "new_max": "0.250", "limit": "0.330",
                "limit_side": "max",
            },
        ],
    )  # fmt: skip
    assert history.readings["wear_um"].tolist() == pytest.approx([10.5, 20.0])
    assert sorted(one.limit.allowance_um for one in history.series) == pytest.approx([42.5, 95.0])


def test_a_reading_without_a_limit_of_its_size_is_refused(history_of) -> None:
    with pytest.raises(InputRefused) as refused:
        history_of(
            readings=[read(8.24, "2023-01-01", 24000)],
            events=[
                {**RENEWED, "event": "regrind", "half": "", "shell_size": "U50"},
                {**RENEWED, "shell_size": "U50"},
            ],
        )
    (fault,) = refused.value.faults
    assert fault.kind == "limit_size"
    assert "only standard" in fault.text


@pytest.mark.parametrize(("size", "refused_"), [("standard", True), ("U50", False), ("u50", False)])
def test_a_shell_must_match_the_ground_journal_and_cannot_be_left_out(history_of, size, refused_) -> None:
    tables = {
        "readings": [read(7.98, "2020-01-01", 9000)],
        "events": [
            {**RENEWED, "event": "regrind", "half": "", "shell_size": "U50"},
            {**RENEWED, "shell_size": size},
        ],
    }
    if not refused_:
        assert len(history_of(**tables).lives) == 2
        return
    for leave_out in (False, True):
        with pytest.raises(InputRefused) as refused:
            history_of(leave_out_faulty=leave_out, **tables)
        assert kinds_of(refused) == ["journal_size"]
        assert refused.value.faults[0].rows == (3, 2)


def test_a_shell_of_another_size_needs_a_regrind(history_of) -> None:
    with pytest.raises(InputRefused) as refused:
        history_of(
            readings=[read(7.98, "2020-01-01", 9000)],
            events=[{**RENEWED, "event": "fitted", "date": "2018-01-01", "counter_h": "0"},
                    {**RENEWED, "shell_size": "U25"}],
        )  # fmt: skip
    assert kinds_of(refused) == ["journal_size"]


def test_a_measured_journal_of_another_size_refuses_the_shell(history_of) -> None:
    journal = {
        "half": "", "quantity": "journal_diameter", "new_min": "219.97", "new_max": "220.00", "limit": "219.90",
    }  # fmt: skip
    with pytest.raises(InputRefused) as refused:
        history_of(
            readings=[read(219.48, "2021-01-01", 14000, quantity="journal_diameter", half="", point="v1",
                           state="as_left"), read(7.98, "2020-01-01", 9000)],
            limits=[{}, journal],
            events=[RENEWED],
        )  # fmt: skip
    assert kinds_of(refused) == ["journal_size"]
    assert "219.480 mm" in refused.value.faults[0].text


def test_as_of_sets_later_rows_aside_and_says_so(history_of) -> None:
    history = history_of(
        as_of=dt.date(2022, 6, 1),
        readings=[
            read(7.98, "2020-01-01", 9000),
            read(7.97, "2022-01-01", 19000),
            read(7.96, "2024-01-01", 29000),
        ],
        engines=[{"hours_per_year": "5000", "hours_per_year_sd": "500"}],
    )
    assert history.readings["total_h"].tolist() == [9000, 19000]
    engine = history.engines[("Alder", "1")]
    years = 151 / 365.25
    assert engine.as_of_h == pytest.approx(19000 + 5000 * years)
    assert engine.as_of_sd_h == pytest.approx(500 * np.sqrt(years + years**2))
    said = " ".join(history.assumptions)
    assert "1 readings" in said
    assert "carried forward" in said


def test_each_engine_stands_at_its_last_counter_reading_of_any_kind(history_of) -> None:
    history = history_of(
        readings=[read(7.98, "2020-01-01", 9000)],
        events=[{**RENEWED, "event": "opened", "shell_size": "", "date": "2021-05-05", "counter_h": "15555"}],
    )
    engine = history.engines[("Alder", "1")]
    assert (engine.as_of, engine.as_of_h) == (dt.date(2021, 5, 5), 15555)


def test_secondary_faults_of_an_event_not_understood_are_not_reported(history_of) -> None:
    """A renewal with a mistyped date would make its readings look out of place; only the date is told."""
    with pytest.raises(InputRefused) as refused:
        history_of(
            readings=[read(7.98, "2020-01-01", 9000), read(7.97, "2021-01-01", 400)],
            events=[
                {
                    "event": "counter_change", "bearing": "", "position": "", "half": "", "shell_size": "",
                    "date": "01/12/2020", "counter_h": "13000", "new_counter_h": "0",
                }
            ],
        )  # fmt: skip
    assert [(fault.file, fault.kind) for fault in refused.value.faults] == [("events.csv", "not_understood")]


def test_inches_and_micrometres_give_the_same_wear(history_of) -> None:
    for unit, value in (("mm", "7.9756"), ("um", "7975.6"), ("in", "0.314")):
        history = history_of(readings=[{"value": value, "unit": unit}])
        assert history.readings["wear_um"].iloc[0] == pytest.approx(16.9, abs=1e-9)


def test_a_point_without_a_row_of_its_own_is_trended_and_never_governs(history_of) -> None:
    history = history_of(
        readings=[read(7.98, "2020-01-01", 9000), read(7.97, "2020-01-01", 9000, point="p45")]
    )
    assert {(one.point, one.governs) for one in history.series} == {("crown", True), ("p45", False)}
    assert np.isfinite(history.readings["wear_um"]).all()


COUNTER = {"bearing": "", "position": "", "half": "", "event": "counter"}


def test_a_report_of_running_hours_moves_the_standing_and_the_yearly_use(history_of) -> None:
    told = [read(7.98, "2020-01-01", 9000), read(7.975, "2022-01-01", 19000)]
    dialled = [{"hours_per_year": ""}]
    before = history_of(readings=told, engines=dialled).engines
    report = {**COUNTER, "date": "2023-01-01", "counter_h": "27 000"}
    after = history_of(readings=told, events=[report], engines=dialled).engines
    ((key, then),) = before.items()
    assert after[key].as_of == dt.date(2023, 1, 1)
    assert (then.as_of_h, after[key].as_of_h) == (19000, 27000)
    assert after[key].use.hours_per_year > then.use.hours_per_year


def test_a_report_of_running_hours_is_of_the_whole_engine(history_of) -> None:
    with pytest.raises(InputRefused) as refused:
        history_of(readings=[read(7.98, "2020-01-01", 9000)],
                   events=[{**COUNTER, "bearing": "main", "date": "2023-01-01", "counter_h": ""}])  # fmt: skip
    assert {fault.column for fault in refused.value.faults} == {"bearing", "counter_h"}


def test_a_reading_without_a_dial_has_the_hours_of_its_date_and_that_is_said(history_of) -> None:
    ends = [
        {**COUNTER, "date": day, "counter_h": hours}
        for day, hours in (("2020-01-01", "9000"), ("2024-01-01", "29000"))
    ]
    history = history_of(readings=[read(7.98, "2022-01-01", 0) | {"counter_h": ""}], events=ends)
    (reading,) = history.readings.to_dict("records")
    assert reading["total_h"] == pytest.approx(19007, abs=2)
    assert reading["hours_sd_h"] > 0
    assert any(
        "hours taken from dates" in said and "2022-01-01" in said for said in map(str, history.placing)
    )


def test_a_reading_whose_hours_cannot_be_had_is_refused_with_what_would_settle_it(history_of) -> None:
    with pytest.raises(InputRefused) as refused:
        history_of(readings=[read(7.98, "2022-01-01", 0) | {"counter_h": ""}, read(7.99, "2020-01-01", 9000)])
    (fault,) = refused.value.faults
    assert (fault.column, fault.rows) == ("counter_h", (2,))
    assert "an event counter" in fault.suggestion


def test_a_quantity_without_any_limit_is_watched_and_stops_nothing(history_of) -> None:
    cam = read(0.31, "2020-01-01", 9000) | {
        "bearing": "camshaft",
        "quantity": "clearance",
        "half": "",
        "point": "",
    }
    history = history_of(readings=[read(7.98, "2020-01-01", 9000), cam])
    assert len(history.readings) == 2
    assert any("no limit given; watched, not forecast" in said for said in history.assumptions)


@pytest.mark.parametrize("day", [dt.date.max, dt.date.min, dt.date(1949, 12, 31)])
def test_an_as_of_that_no_engine_sees_is_refused(history_of, day: dt.date) -> None:
    with pytest.raises(WrongUse, match="expected a date between 1950 and 2100"):
        history_of(day)
