"""The areas on the way to the limit, against straight lines drawn by hand (all figures invented)."""

from __future__ import annotations

from math import nan

import pytest

from wearcast.report.fan_shape import fan_areas, middle_way
from wearcast.report.trends import Fan

NOW_H = 50_000.0
WALL = Fan(
    hours=(55_000.0, 56_000.0, 58_000.0, 60_000.0, 64_000.0, 70_000.0, 80_000.0),
    limit_mm=7.950,
    now_mm=7.970,
    now_u_um=4.0,
)


def test_each_area_joins_the_interval_now_to_the_hours_at_the_limit() -> None:
    """90 %: 7.970 -/+ 1.645 x 0.004 mm now; the limit at the 5 and 95 % hours. Then 80 % (1.282), 50 % (0.674)."""
    areas = fan_areas(WALL, NOW_H, 100_000.0)
    for area, z, early_h, late_h in zip(
        areas, (1.645, 1.282, 0.674), (55e3, 56e3, 58e3), (80e3, 70e3, 64e3), strict=True
    ):
        expected = [(NOW_H, 7.970 - z * 0.004), (early_h, 7.950), (late_h, 7.950), (NOW_H, 7.970 + z * 0.004)]
        for corner, wanted in zip(area, expected, strict=True):
            assert corner == pytest.approx(wanted, abs=1e-9)


def test_a_side_past_the_edge_is_cut_where_the_edge_is() -> None:
    """At 65 000 h the late side, from 7.97658 mm to 7.950 mm at 80 000 h, is half way: 7.96329 mm."""
    area = fan_areas(WALL, NOW_H, 65_000.0)[0]
    assert area[2] == (65_000.0, 7.950)
    assert area[3] == pytest.approx((65_000.0, (7.97658 + 7.950) / 2), abs=1e-9)


def test_a_side_without_upper_end_stays_level() -> None:
    open_ended = Fan((*WALL.hours[:5], nan, nan), WALL.limit_mm, WALL.now_mm, WALL.now_u_um)
    area = fan_areas(open_ended, NOW_H, 100_000.0)[0]
    assert area[-2] == (100_000.0, pytest.approx(7.97658))
    assert area[-1] == (NOW_H, pytest.approx(7.97658))


def test_a_clearance_grows_towards_its_limit() -> None:
    clearance = Fan(WALL.hours, 0.330, 0.280, 10.0)
    area = fan_areas(clearance, NOW_H, 100_000.0)[0]
    assert area[0] == (NOW_H, pytest.approx(0.29645))
    assert area[-1] == (NOW_H, pytest.approx(0.26355))


def test_what_may_be_past_the_limit_begins_at_the_limit() -> None:
    past = Fan((NOW_H, NOW_H, *WALL.hours[2:]), 7.950, 7.953, 4.0)
    assert fan_areas(past, NOW_H, 100_000.0)[0][:2] == ((NOW_H, 7.950), (NOW_H, 7.950))


def test_the_middle_way_runs_to_the_50_percent_hours() -> None:
    assert middle_way(WALL, NOW_H, 100_000.0) == ((NOW_H, 7.970), (60_000.0, pytest.approx(7.950)))
    assert middle_way(WALL, NOW_H, 55_000.0)[1] == (55_000.0, pytest.approx(7.960))
    assert middle_way(Fan((nan,) * 7, 7.95, 7.97, 4.0), NOW_H, 55_000.0) == ()
