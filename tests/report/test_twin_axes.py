"""What stands under a chart: total hours, hours since fitted and the month (all records invented)."""

from __future__ import annotations

from itertools import pairwise

import pytest

from wearcast.forecasting.run import Forecast
from wearcast.report.gather import EngineRecords, cut_by_engine
from wearcast.report.layout import layout
from wearcast.report.positions import places_of
from wearcast.report.trends import Trend
from wearcast.report.twin_axes import MOST_TICKS, calendar_of, round_hours


@pytest.fixture(scope="module")
def records(fleet: Forecast) -> EngineRecords:
    return cut_by_engine(fleet)[0]


def trend(records: EngineRecords, bearing: str, position: str, size: str = "standard") -> Trend:
    place = next(
        one for one in places_of(records) if (one.spot.bearing, one.spot.position) == (bearing, position)
    )
    return next(one for one in place.trends if one.shell_size == size)


@pytest.mark.parametrize("axis", [(0.0, 900.0), (-1500.0, 114_000.0), (70_000.0, 91_000.0), (0.0, 7.0)])
def test_strokes_are_round_inside_and_few(axis: tuple[float, float]) -> None:
    hours = round_hours(axis)
    assert 2 <= len(hours) <= MOST_TICKS
    assert all(axis[0] < h <= axis[1] for h in hours)
    steps = {round(b - a, 9) for a, b in pairwise(hours)}
    assert len(steps) == 1


def test_a_month_is_that_of_the_counter_and_then_of_the_yearly_use(records: EngineRecords) -> None:
    """Alder: 16 500 h on 2019-04-01, 21 000 h on 2020-03-01, as of 2025-03-01 at 46 000 h, 5000 h a year."""
    calendar = calendar_of(records)
    assert calendar.month_at(16_500) == "2019-04"
    assert calendar.month_at(18_750) == "2019-09"  # half way: 335 days / 2 after 2019-04-01
    assert calendar.month_at(46_000) == "2025-03"
    assert calendar.month_at(51_000) == "2026-03"
    assert calendar.month_at(-1.0) == ""


def test_shell_hours_count_from_the_fitting_of_the_shell_in_service(records: EngineRecords) -> None:
    """Main 3 was renewed at 21 000 h."""
    for tick in trend(records, "main", "3").ticks:
        expected = "" if tick.hours < 21_000 else f"{tick.hours - 21_000:,.0f}".replace(",", "\u202f")
        assert tick.shell_h == expected


def test_a_shell_taken_out_ages_no_further(records: EngineRecords) -> None:
    """The standard shell of main 6 ended at 27 000 h."""
    ticks = trend(records, "main", "6").ticks
    assert any(tick.hours > 27_000 for tick in ticks)
    assert all(tick.shell_h == "" for tick in ticks if tick.hours > 27_000)


def test_the_chart_names_its_three_axes(records: EngineRecords) -> None:
    made = layout(trend(records, "main", "3"))
    names = [one["text"] for one in made["annotations"] if one["xref"] == "paper" and one["x"] == 0]
    assert names == ["total h<br>shell h<br>month"]
    assert all(text.count("<br>") == 2 for text in made["xaxis"]["ticktext"])
    assert len(made["xaxis"]["tickvals"]) == len(made["xaxis"]["ticktext"])
