"""Dials to total hours: common practice, no source, but for the arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearcast.lives.hours import DialChange, hours_per_year, total_hours

NAN = float("nan")


def hours(days: list[int], dial: list[float], changes: list[DialChange] | None = None):
    return total_hours(np.array(days, dtype=np.int64), np.array(dial, dtype=float), changes or [])


def test_the_first_dial_shows_total_hours() -> None:
    total, conflicts = hours([0, 300, 700], [1000, 6000, 12000])
    assert total.tolist() == [1000, 6000, 12000]
    assert conflicts == ()


def test_a_change_carries_the_total_to_the_next_dial() -> None:
    total, conflicts = hours([0, 400, 900], [52000, 120, 9000], [DialChange(300, 52310, 0, 2)])
    assert total.tolist() == [52000, 52430, 61310]
    assert conflicts == ()


def test_a_change_before_the_first_reading_counts() -> None:
    total, _ = hours([500], [600], [DialChange(400, 20000, 0, 2)])
    assert total.tolist() == [20600]


def test_two_changes_add_up_whatever_their_order_in_the_table() -> None:
    changes = [DialChange(800, 7000, 500, 3), DialChange(400, 20000, 0, 2)]
    total, conflicts = hours([100, 500, 900], [15000, 600, 700], changes)
    assert total.tolist() == [15000, 20600, 27200]
    assert conflicts == ()


@pytest.mark.parametrize(("dial", "total"), [(20000.0, 20000.0), (19990.0, 19990.0), (5.0, 20005.0)])
def test_on_the_day_of_a_change_the_dial_that_does_not_fall_is_taken(dial: float, total: float) -> None:
    found, conflicts = hours([100, 400], [19000, dial], [DialChange(400, 20000, 0, 2)])
    assert found[1] == total
    assert conflicts == ()


def test_on_the_day_of_a_change_a_reading_that_fits_both_dials_is_refused() -> None:
    found, conflicts = hours([400], [15], [DialChange(400, 20, 0, 2)])
    assert np.isnan(found[0])
    assert conflicts[0].kind == "two_dials"


def test_a_fall_names_the_two_readings() -> None:
    total, conflicts = hours([0, 400, 800], [1000, 9000, 5000])
    assert [(c.index, c.other, c.kind, c.gain_h) for c in conflicts] == [(2, 1, "counter_fall", -4000)]
    assert np.isnan(total[2])


def test_one_mistyped_dial_is_blamed_and_not_all_that_follow_it() -> None:
    total, conflicts = hours([0, 400, 800, 1200], [1000, 90000, 5000, 9000])
    assert [c.index for c in conflicts] == [1]
    assert conflicts[0].kind == "hours_per_day"
    assert total[[0, 2, 3]].tolist() == [1000, 5000, 9000]


@pytest.mark.parametrize(("gain_h", "refused"), [(24 * 11, False), (24 * 11 + 1, True)])
def test_more_than_24_hours_a_day_with_a_day_of_tolerance_is_refused(gain_h: float, refused: bool) -> None:
    _, conflicts = hours([0, 10], [1000, 1000 + gain_h])
    assert bool(conflicts) is refused
    if refused:
        assert conflicts[0].kind == "hours_per_day"
        assert conflicts[0].days == 10


def test_a_reading_that_contradicts_a_change_names_the_change() -> None:
    _, conflicts = hours([0, 390], [8000, 9500], [DialChange(400, 9000, 0, 2)])
    assert [(c.index, c.other) for c in conflicts] == [(1, -1)]


@given(
    st.lists(st.tuples(st.integers(0, 40), st.floats(0, 24)), min_size=1, max_size=30),
    st.integers(0, 20000),
    st.randoms(),
)
def test_a_running_engine_never_conflicts_and_keeps_its_hours(steps, start, random) -> None:
    """Any engine that runs at most 24 h a day, its dial replaced anywhere, gives its true hours back."""
    days = np.cumsum([step[0] for step in steps])
    true_h = start + np.cumsum([step[0] * step[1] for step in steps])
    when = random.randrange(len(steps))
    change_day, change_h = int(days[when]), float(true_h[when])
    later = days > change_day
    dial = np.where(later, true_h - change_h, true_h)
    keep = days != change_day  # on the day itself the dial meant may be either
    order = list(range(int(keep.sum())))
    random.shuffle(order)
    changes = [DialChange(change_day, change_h, 0.0, 2)]
    total, conflicts = total_hours(days[keep][order].astype(np.int64), dial[keep][order], changes)
    assert conflicts == ()
    np.testing.assert_allclose(total, true_h[keep][order], rtol=0, atol=1e-6)


@given(
    st.lists(st.tuples(st.integers(0, 3000), st.floats(0, 60000)), min_size=1, max_size=25),
)
def test_what_is_kept_never_falls_and_never_gains_more_than_24_hours_a_day(points) -> None:
    days = np.array([p[0] for p in points], dtype=np.int64)
    dial = np.array([p[1] for p in points])
    total, conflicts = total_hours(days, dial)
    kept = np.isfinite(total)
    assert kept.sum() + len(conflicts) == len(points)
    assert kept.any()
    order = np.lexsort((total[kept], days[kept]))
    gain, gap = np.diff(total[kept][order]), np.diff(days[kept][order])
    assert (gain >= 0).all()
    assert (gain <= 24 * (gap + 1) + 1e-9).all()
    for conflict in conflicts:
        assert conflict.other != conflict.index
        assert kept[conflict.other]


def test_stated_hours_a_year_and_spread_are_taken_as_they_are() -> None:
    use = hours_per_year(np.array([0, 3000]), np.array([0.0, 50000.0]), 5200, 500)
    assert (use.hours_per_year, use.sd_h, use.years) == (5200, 500, 1)


def test_without_a_statement_the_counter_of_the_last_24_months_tells() -> None:
    days = np.array([0, 1000, 1400, 1700])
    use = hours_per_year(days, np.array([0.0, 9000.0, 14000.0, 18200.0]), NAN, NAN)
    assert use.hours_per_year == pytest.approx((18200 - 9000) / (700 / 365.25))
    assert use.years == pytest.approx(700 / 365.25)


def test_under_12_months_of_counter_gives_no_dates() -> None:
    use = hours_per_year(np.array([0, 300]), np.array([0.0, 4000.0]), NAN, NAN)
    assert not use.known
    assert "spans less than 12" in use.text


def test_spread_is_10_percent_and_said_where_nothing_tells_it() -> None:
    use = hours_per_year(np.array([0, 400]), np.array([0.0, 5000.0]), 5000, NAN)
    assert use.sd_h == pytest.approx(500)
    assert "assumed" in use.text


def test_spread_comes_from_the_years_of_the_counter() -> None:
    days = np.array([0, 365.25, 730.5, 1095.75, 1461]).round().astype(int)
    use = hours_per_year(days, np.array([0.0, 5000.0, 11000.0, 16000.0, 22000.0]), 5500, NAN)
    assert use.sd_h == pytest.approx(np.std([5000, 6000, 5000, 6000], ddof=1), rel=0.01)


def test_years_that_no_reading_marks_tell_nothing_of_the_spread() -> None:
    days = np.array([0, 1200, 2400])
    use = hours_per_year(days, np.array([0.0, 16000.0, 33000.0]), 5000, NAN)
    assert use.sd_h == pytest.approx(500)
    assert "assumed" in use.text
