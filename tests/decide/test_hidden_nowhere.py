"""Small fleets as new users bring them: nothing urgent is hidden, and the sentence that must be seen is there.

All names and figures are invented; 5000 h a year, limit 7.950 mm, last read on 2020-01-15 at 40 000 h.
"""

from __future__ import annotations

import datetime as dt

import pytest

import wearcast
from wearcast.decide.order import order
from wearcast.decide.plan import plan

RUN = dt.date(2020, 1, 15)
NEW = 7.9925


def worn(position, *ages, rate=1.0, engine="1", **cells):
    return [
        {
            "engine": engine, "position": str(position), "date": f"{2012 + age // 5000}-01-15", "counter_h": str(age),
            "value": f"{NEW - rate * age / 1e6:.4f}", **cells,
        }
        for age in ages
    ]  # fmt: skip


AGES = (10_000, 20_000, 30_000, 40_000)
SOUND = [row for p in (1, 2, 4) for row in worn(p, *AGES, rate=0.3)]
PAST = worn(3, *AGES, rate=1.1)
NEAR = worn(3, *AGES, rate=1.05)
DAMAGE = {"event": "finding", "finding": "bond failure", "position": "2", "date": "2019-06-01", "counter_h": "37000",
          "shell_size": ""}  # fmt: skip
UNDATED = [{"hours_per_year": ""}]


@pytest.fixture
def read(record_folder):
    return lambda run=RUN, **tables: wearcast.read(record_folder(**tables), run)


@pytest.mark.parametrize("windows", [None, [{"date": "2020-10-15"}]], ids=["no window", "a window"])
@pytest.mark.parametrize(
    ("tables", "said"),
    [
        ({"readings": SOUND + PAST}, "main 3 lower wall: past limit"),
        (
            {"readings": SOUND + NEAR},
            "main 3 lower wall: limit may be passed (reached by now with a chance of",
        ),
        ({"readings": SOUND, "events": [DAMAGE]}, "main 2 lower wall: damage noted"),
    ],
    ids=["past", "within hours of it", "damage"],
)
def test_the_plan_names_what_is_past_with_or_without_a_window(read, tables, said, windows) -> None:
    warnings = plan(read(windows=windows, **tables)).warnings
    (mine,) = (text for text in warnings if said in text)
    assert (
        "no window is listed" if windows is None else "the first window is 2020-10-15, in 274 days"
    ) in mine


def test_the_plan_names_what_is_past_without_a_yearly_use(read) -> None:
    rows = [{**row, "date": "2020-01-15"} for row in SOUND + PAST if row["counter_h"] == "40000"]
    warnings = plan(read(readings=rows, engines=UNDATED)).warnings
    assert any("no yearly use is known" in text for text in warnings)
    assert any("main 3 lower wall: past limit" in text for text in warnings)


def test_a_place_the_first_window_comes_too_late_for_is_told_the_date_and_the_shell(read) -> None:
    rows = SOUND + worn(3, *AGES, rate=0.98)
    spares = [{"on_hand": "0"}]
    said = plan(read(readings=rows, windows=[{"date": "2021-12-01"}], spares=spares)).warnings
    (mine,) = (text for text in said if "main 3" in text)
    assert "before the first window (2021-12-01" in mine
    assert "an opening by 2020-" in mine
    assert "a shell in store: none of its size is held" in mine


def test_a_shell_with_decades_left_is_not_ordered_for_the_last_window_somebody_typed(read) -> None:
    """Some 100 000 h left at 5000 h a year, and one window listed next year."""
    made = order(
        read(readings=SOUND, windows=[{"date": "2021-03-01"}], spares=[{"on_hand": "0"}]), n_draws=500
    )
    (line,) = made.lines
    assert (line.quantity, line.driving) == (0, ())
    assert line.by == "not before 2025-01-14"


def test_orders_are_parted_by_vessel_and_stand_at_the_day_of_the_run(read) -> None:
    other = [{**row, "vessel": "Birch"} for row in SOUND]
    engines = [{}, {"vessel": "Birch"}]
    tables = {"readings": SOUND + PAST + other, "engines": engines, "spares": [{"on_hand": "0"}]}
    made = order(read(dt.date(2020, 4, 1), **tables), n_draws=500)
    (line,) = made.lines
    assert made.stand.as_of == dt.date(2020, 4, 1)
    assert line.arrives_by == dt.date(2020, 4, 1) + dt.timedelta(days=60)
    assert str(line.to_vessels[0]) == "1 for Alder, the first by 2020-04-01 (main 3)"
    assert "to hold" not in line.would_change  # it is past its limit: no reading to come shows it to hold


def test_an_order_says_which_reading_would_make_it_one_fewer(read) -> None:
    tables = {"readings": SOUND + NEAR, "spares": [{"on_hand": "0"}]}
    (line,) = order(read(dt.date(2020, 2, 1), **tables), n_draws=500).lines
    assert line.would_change.startswith("0 if a reading shows Alder 1 main 3 to hold")


def test_an_unknown_lead_time_is_not_taken_for_no_need(read) -> None:
    (needed,) = order(read(readings=SOUND + PAST), n_draws=500).lines
    (not_yet,) = order(read(readings=SOUND), n_draws=500).lines
    assert (needed.by, not_yet.by) == ("order now", "lead time unknown")
    assert any("no row in the spares table" in text for text in needed.reasons)


def test_a_shell_needed_twice_in_the_period_counts_twice(read) -> None:
    """It wears out in four years; the next order is thought about in twelve."""
    fast = [row for p in (1, 2) for row in worn(p, 5_000, 10_000, 15_000, rate=2.0)]
    (line,) = order(
        read(dt.date(2015, 1, 15), readings=fast, spares=[{"on_hand": "0"}]), None, 4383.0, n_draws=500
    ).lines
    assert line.needed(0.50) > len(line.takers)


FITTED = [
    {"event": "fitted", "date": "2012-01-15", "counter_h": "0", "half": "lower", "position": p} for p in "123"
]
UPPER = [{**row, "half": "upper"} for p in (1, 2, 3) for row in worn(p, *AGES, rate=0.3)]


def test_shells_of_a_kind_nobody_ever_read_may_be_past_their_limit_and_are_not_said_to_be(read) -> None:
    """64 000 h, beyond a design life of 60 000 h; nothing stands behind that but a prior."""
    limits = [{}, {"half": "upper"}]
    old = [{**row, "counter_h": str(int(1.6 * int(row["counter_h"])))} for row in UPPER]
    records = read(readings=old, events=FITTED, limits=limits, engines=[{"hours_per_year": "8000"}])
    unread = [row for row in wearcast.forecast(records).rows if row.half == "lower"]
    assert {(row.statement, row.rests_on) for row in unread} == {("limit may be passed", "sisters alone")}
    for row in unread:
        assert "nothing of this kind was ever read" in " ".join(map(str, row.reasons))
        assert f"main {row.position} lower wall: limit may be passed" in " ".join(plan(records).warnings)
    (line,) = (one for one in order(records, n_draws=500).lines if one.part.half == "lower")
    assert (line.by, line.needed(0.05)) == ("order now", 0)  # possible needs, not certain ones
