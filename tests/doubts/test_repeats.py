"""Copied sets and the chance that readings repeat anyway."""

from __future__ import annotations

import numpy as np
import pytest

from wearcast.doubts.repeats import repeat_chance


@pytest.mark.parametrize(("step_um", "u_um"), [(10.0, 6.0), (1.0, 6.0), (5.0, 3.0), (10.0, 20.0)])
def test_the_chance_of_one_repeat_is_that_of_rounding_two_draws(step_um, u_um) -> None:
    """A plain second way: draw, round, count."""
    rng = np.random.default_rng(3)
    true = rng.uniform(0, step_um, 400_000)
    first, second = (np.round((true + rng.normal(0, u_um, true.size)) / step_um) for _ in range(2))
    share = float(np.mean(first == second))
    assert repeat_chance(step_um, u_um) == pytest.approx(share, abs=4 * (share / true.size) ** 0.5)


def sheet(date: str, hours: int, values: list[str], **more: str) -> list[dict[str, str]]:
    return [
        {"date": date, "counter_h": str(hours), "position": str(p), "value": value, **more}
        for p, value in enumerate(values, start=1)
    ]


FIRST = ["7.981", "7.976", "7.988", "7.973", "7.984", "7.979", "7.982"]
OTHER = ["7.975", "7.978", "7.981", "7.970", "7.977", "7.966", "7.980"]


def test_a_whole_set_copied_from_an_earlier_opening(history_of, counted, doubted) -> None:
    rows = (
        sheet("2015-01-01", 9000, FIRST)
        + sheet("2017-01-01", 18000, OTHER)
        + sheet("2019-01-01", 27000, FIRST)
    )
    found = doubted(rows)
    (query,) = found["repeated_set"]
    assert query.rows == tuple(range(16, 23))
    assert "2015-01-01" in query.text
    assert query.evidence > 3
    counts = counted(history_of(rows))
    assert [row for row, yes in counts.items() if not yes] == list(range(16, 23))


def test_one_reading_that_differs_makes_it_no_copy(doubted) -> None:
    almost = [*FIRST[:-1], "7.983"]
    assert "repeated_set" not in doubted(
        sheet("2015-01-01", 9000, FIRST) + sheet("2019-01-01", 27000, almost)
    )


def test_three_coarse_readings_repeat_by_chance(doubted) -> None:
    """At 0.01 mm and u = 6 µm one reading in two repeats: (0.42)³ = 7 % is no evidence."""
    coarse = ["7.98", "7.97", "7.98"]
    assert repeat_chance(10.0, 6.0) ** 3 > 0.05
    assert not doubted(sheet("2015-01-01", 9000, coarse) + sheet("2016-01-01", 14000, coarse))


def test_a_confirmed_set_is_no_longer_asked_about(doubted) -> None:
    rows = sheet("2015-01-01", 9000, FIRST) + sheet("2019-01-01", 27000, FIRST)
    corrections = [{"row": str(9 + k), "old": value} for k, value in enumerate(FIRST)]
    assert "repeated_set" in doubted(rows)
    assert "repeated_set" not in doubted(rows, corrections=corrections)


def test_deflections_repeat_by_nature(doubted) -> None:
    def web(date: str, hours: int) -> list[dict[str, str]]:
        return [
            {"date": date, "counter_h": str(hours), "bearing": "big_end", "half": "", "quantity": "web_deflection",
             "position": str(throw), "point": point, "value": "0.01"}
            for throw in range(1, 7) for point in ("bottom_p", "port", "top", "starboard", "bottom_s")
        ]  # fmt: skip

    assert not doubted(
        [*web("2015-01-01", 9000), *web("2016-01-01", 14000), {"date": "2015-01-01", "counter_h": "9000"}]
    )


def test_one_opening_under_two_dates(history_of, counted, doubted) -> None:
    rows = sheet("2015-01-01", 9000, FIRST[:3]) + [
        row | {"position": str(4 + k)} for k, row in enumerate(sheet("2015-01-04", 9000, FIRST[3:]))
    ]
    (query,) = doubted(rows)["date_mismatch"]
    assert query.rows == (5, 6, 7, 8)
    assert query.evidence == 3.0
    assert all(counted(history_of(rows)).values())


def test_what_is_on_both_dates_counts_once(history_of, counted, doubted) -> None:
    rows = sheet("2015-01-01", 9000, FIRST) + sheet("2015-01-04", 9000, FIRST)
    found = doubted(rows)
    assert list(found) == ["date_mismatch"]
    assert [row for row, yes in counted(history_of(rows)).items() if not yes] == list(range(9, 16))


def test_day_and_month_exchanged(doubted) -> None:
    rows = sheet("2015-03-05", 9000, FIRST[:3]) + sheet("2015-05-03", 9000, OTHER[:3])
    (query,) = doubted(rows)["date_mismatch"]
    assert "day and month exchanged" in query.text


def test_a_dial_that_moved_is_another_opening(doubted) -> None:
    assert "date_mismatch" not in doubted(sheet("2015-01-01", 9000, FIRST) + sheet("2015-01-04", 9040, OTHER))
