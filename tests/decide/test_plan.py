"""What to open: the stories of the demo, and small fleets whose answer is plain."""

from __future__ import annotations

import datetime as dt
from collections import Counter

import numpy as np
import pytest
from demo_results import demo_planned

import wearcast
from wearcast.decide.plan import plan, plan_at
from wearcast.decide.plan_rows import COLUMNS
from wearcast.decide.what_if import ChangedLimit, MovedWindow, WhatIf

RUN = dt.date(2020, 1, 15)
NEW = 7.9925


@pytest.fixture(scope="module")
def demo_plan():
    return demo_planned()


def test_the_table_has_its_columns_and_a_row_a_shell_and_window(demo, demo_plan) -> None:
    table = demo_plan.table
    assert tuple(table.columns) == COLUMNS
    shells = demo.forecast.table.groupby("vessel").size()
    windows = {key[0]: len(found) for key, found in demo.forecast.windows.items()}
    assert table.groupby("vessel").size().to_dict() == {v: shells[v] * windows[v] for v in windows}


def test_story_i_decides_before_its_window(demo_plan, truth) -> None:
    """Ossel Brae big end 2: its true limit falls between two windows; it is opened at the first of them."""
    story = next(one for one in truth["stories"] if one["story"] == "I")
    opening = next(
        one for one in demo_plan.planned if one.key[0] == story["vessel"] and str(one) == "big end 2"
    )
    shell = next(
        one
        for one in truth["shells"]
        if (one["vessel"], one["bearing"], one["position"], one["half"])
        == ("Ossel Brae", "big_end", "2", "upper")
        and one["removed_h"] is None
    )
    reached = dt.date(2026, 9, 14) + dt.timedelta(days=365.25 * shell["true_hours_to_limit"] / 5200)
    assert opening.must
    assert opening.window.on == dt.date(2027, 3, 15)
    assert opening.window.on < reached < opening.until


def test_openings_allowed_are_kept(demo_plan) -> None:
    opened = Counter((one.key, one.window) for one in demo_plan.planned)
    limited = {(key, window): n for (key, window), n in opened.items() if window.max_openings is not None}
    assert all(n <= window.max_openings for (_, window), n in limited.items())
    assert any(n == window.max_openings for (_, window), n in limited.items()), (
        "nothing would be over it anyway"
    )


def test_what_the_windows_cannot_keep_is_told(demo_plan) -> None:
    """Merrow Dain has more bearings at their limit than her first port stay has openings."""
    assert any("Merrow Dain ME main 7" in text for text in demo_plan.warnings)
    left_out = [one for one in demo_plan.openings if one.must and not one.planned]
    assert any(one.key[0] == "Merrow Dain" and str(one) == "main 7" for one in left_out)


def test_damage_is_opened_at_the_first_window(demo_plan) -> None:
    opening = next(one for one in demo_plan.planned if one.key[0] == "Merrow Dain" and str(one) == "main 2")
    assert opening.window.on == dt.date(2027, 2, 22)
    assert any("damage noted" in text for text in opening.why)


def test_a_place_that_wears_fast_is_opened_again(demo_plan) -> None:
    """A new shell on the overloaded seat of Merrow Dain main 5 lasts some 15 000 h, hardly two windows."""
    on = [one.window.on for one in demo_plan.planned if one.key[0] == "Merrow Dain" and str(one) == "main 5"]
    assert len(on) >= 2


def test_chances_are_those_of_the_forecast_table_at_the_first_window(demo, demo_plan) -> None:
    """Before the following window."""
    first = {key: found[0] for key, found in demo.forecast.windows.items()}
    compared = 0
    for row in demo_plan.rows:
        if row.window != first[row.key]:
            continue
        expected = demo.row_of_life[row.life].p_limit_before_following_window
        assert row.chance == pytest.approx(expected, abs=1e-9, nan_ok=True)
        compared += 1
    assert compared > 120


def test_the_crew_is_told_what_to_read_with_which_gauge(demo_plan) -> None:
    opening = next(one for one in demo_plan.planned if str(one) == "main 3")
    lines = [str(one) for one in opening.read]
    assert "wall thickness lower at crown, as found: digital ball micrometer BM-4" in lines
    assert any(line.startswith("clearance, as found") for line in lines)
    assert any("as left" in line for line in lines)
    assert "marks and part identity" in opening.photograph


def test_less_risk_asks_for_no_fewer_openings(demo, demo_plan) -> None:
    assert len(plan_at(demo, 0.02).planned) >= len(demo_plan.planned) >= len(plan_at(demo, 0.5).planned)


# Small fleets: 5000 h a year, last read on 2020-01-15 at 40 000 h.


def worn(position: int, *ages_h: int, rate: float = 1.0, **more) -> list[dict]:
    return [
        {
            "position": str(position),
            "value": f"{NEW - rate * age / 1e6:.4f}",
            "date": f"{2012 + age // 5000}-{1 + (age % 5000) * 11 // 5000:02d}-15",
            "counter_h": str(age),
            **more,
        }
        for age in ages_h
    ]


AGES = (10_000, 20_000, 30_000, 40_000)
WINDOWS = [{"date": day} for day in ("2020-09-15", "2021-09-15", "2022-09-15", "2023-09-15")]


@pytest.fixture
def planned(record_folder):
    def make(what_if=None, horizon=5.0, **tables):
        tables.setdefault("windows", WINDOWS)
        return plan(wearcast.read(record_folder(**tables), RUN), None, horizon, what_if)

    return make


def openings(made) -> list[tuple[str, str]]:
    return [(str(one), one.window.on.isoformat()) for one in made.planned]


SLOW = [row for p in (1, 2) for row in worn(p, *AGES, rate=0.3)]


def test_shells_far_from_their_limit_are_left_alone(planned) -> None:
    assert openings(planned(readings=SLOW)) == []


def test_the_makers_fixed_hours_come_first(planned) -> None:
    """2 000 h are left of 42 000: they run out in June 2020, before any window; the first one is taken."""
    made = planned(readings=SLOW, limits=[{"renew_at_h": "42000"}])
    assert openings(made) == [("main 1", "2020-09-15"), ("main 2", "2020-09-15")]
    assert any("maker's fixed hours run out" in text for one in made.planned for text in one.why)
    assert all("before the first window" in text for text in made.warnings)


def test_fixed_hours_that_end_between_two_windows_open_at_the_one_before(planned) -> None:
    """8 000 h are left of 48 000: a year and seven months, between the windows of 2020 and 2021."""
    made = planned(readings=SLOW, limits=[{"renew_at_h": "47000"}])
    assert openings(made) == [("main 1", "2020-09-15"), ("main 2", "2020-09-15")]
    assert made.warnings == ()


def test_five_years_without_an_opening_are_told_as_from_memory(planned) -> None:
    made = planned(readings=SLOW, horizon=6.0)
    told = [row for row in made.rows if any("survey cycle, from memory" in text for text in row.reasons)]
    assert {(row.position, row.window.on.isoformat()) for row in told} == {
        ("1", "2024-09-14"),  # a year after the last one listed, as those are apart
        ("2", "2024-09-14"),
    }


def test_an_engine_without_windows_or_use_is_told(planned) -> None:
    assert "no window is listed ahead" in planned(readings=SLOW, windows=None).warnings[0]
    last = [row for row in SLOW if row["counter_h"] == "40000"]
    assert "no yearly use is known" in planned(readings=last, engines=[{"hours_per_year": ""}]).warnings[0]


def test_a_window_moved_and_a_limit_changed_show_both_cases(planned) -> None:
    fast = [row for p in (1, 2) for row in worn(p, *AGES, rate=0.8)]
    moved = MovedWindow("Alder", dt.date(2020, 9, 15), dt.date(2021, 3, 1))
    made = planned(what_if=WhatIf(moved_windows=(moved,)), readings=fast)
    assert "2020-09-15" in {day for _, day in openings(made.as_given)}
    assert "2020-09-15" not in {day for _, day in openings(made)}
    limit = ChangedLimit("main", "lower", "wall", "standard", 7.90)
    made = planned(what_if=WhatIf(limits=(limit,)), readings=fast)
    assert len(made.planned) < len(made.as_given.planned)


def test_worth_is_given_for_what_is_not_opened_before(planned) -> None:
    made = planned(readings=SLOW)
    assert all(0 <= row.narrows <= 1 and 0 <= row.calls <= 1 for row in made.rows)
    assert np.isfinite([row.chance for row in made.rows]).all()
