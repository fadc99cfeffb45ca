"""Charts as pages hold them: things at their hours and values, labels apart, the rate bent where it changed."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from wearcast.forecasting.run import Forecast
from wearcast.report.gather import EngineRecords, cut_by_engine
from wearcast.report.marks import Mark
from wearcast.report.positions import places_of
from wearcast.report.trend_drawing import key, trend_drawing
from wearcast.report.trend_frame import BESIDE, NARROW, WIDE, Frame, roomy, spread
from wearcast.report.trend_path import path_of
from wearcast.report.trends import Trend
from wearcast.words.reasons import Reason


@pytest.fixture(scope="module")
def records(fleet: Forecast) -> EngineRecords:
    return cut_by_engine(fleet)[0]


@pytest.fixture(scope="module")
def walls(records: EngineRecords) -> Trend:
    """Main 3 lower: renewed at 21 000 h, read to 46 000 h, one reading typed as 7982."""
    return trend(records, "main", "3", "lower", "wall")


def trend(records: EngineRecords, bearing: str, position: str, half: str, quantity: str) -> Trend:
    (place,) = [
        one for one in places_of(records) if (one.spot.bearing, one.spot.position) == (bearing, position)
    ]
    return next(one for one in place.trends if (one.half, one.quantity) == (half, quantity))


def drawn(of: Trend) -> ElementTree.Element:
    return ElementTree.fromstring(str(trend_drawing(of, "a", "b")))


def with_class(tree: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    return [one for one in tree.iter() if name in (one.get("class") or "").split()]


def at(one: ElementTree.Element, axis: str) -> float:
    found = re.search(rf"--{axis}:(-?[\d.]+)", one.get("style") or "")
    assert found
    return float(found[1])


def test_readings_stand_at_their_hours_and_values(walls: Trend) -> None:
    (left, right), (low, high) = walls.hours_axis, walls.value_axis
    dots = {
        dot.findtext("title", "").split(" ")[0]: dot
        for dot in with_class(drawn(walls), "dot")
        if "now" not in (dot.get("class") or "")
    }
    one = dots["7.979"]
    assert at(one, "x") == pytest.approx(100 * (36_000 - left) / (right - left), abs=0.01)
    assert at(one, "y") == pytest.approx(100 * (high - 7.979) / (high - low), abs=0.01)
    assert "ball micrometer 1" in one.findtext("title", "")
    assert "2023-03-01" in one.findtext("title", "")


def test_a_doubted_reading_is_hollow_and_held_at_the_edge(walls: Trend) -> None:
    (slip,) = with_class(drawn(walls), "open")
    assert slip.findtext("title", "").startswith("7982 mm")
    assert 0 < at(slip, "y") < 5


def test_readings_of_shells_taken_out_are_paler_and_have_no_bars(walls: Trend) -> None:
    tree = drawn(walls)
    past = with_class(tree, "past")
    serving = [dot for dot in with_class(tree, "dot") if dot not in past]
    assert past
    assert all(at(dot, "x") <= at(other, "x") for dot in past for other in serving)
    assert len(with_class(tree, "bar")) == len(serving) - 2  # neither the slip nor the estimate


def test_the_life_in_service_fills_the_width(walls: Trend) -> None:
    """Fitted at 21 000 h of 46 000 h: the lives before are there, but not in view."""
    start, end = walls.present_axis
    assert walls.hours_axis[0] < start < 21_000
    assert (46_000 - 21_000) / (end - start) > 0.5
    tree = drawn(walls)
    assert tree.get("data-earlier")
    x0, width = map(float, (tree.get("data-view") or "").split())
    (layer,) = with_class(tree, "layer")
    assert [float(one) for one in (layer.get("viewBox") or "").split()] == pytest.approx(
        [10 * x0, 0, 10 * width, 300], abs=0.06
    )


def test_charts_of_a_place_share_their_hours_and_a_row_of_places_its_values(records: EngineRecords) -> None:
    for place in places_of(records):
        assert len({one.present_axis for one in place.trends}) <= 1
    lower = [trend(records, "main", "3", "lower", "wall"), trend(records, "main", "6", "lower", "wall")]
    assert lower[0].value_axis == lower[1].value_axis


def test_the_limit_carries_its_unit_and_both_sides_are_hatched(records: EngineRecords) -> None:
    tree = drawn(trend(records, "thrust", "7", "", "axial_clearance"))
    assert len(with_class(tree, "hatch")) == 2
    (beside,) = with_class(tree, "right")
    assert {"limit 0.800 mm", "limit 0.250 mm"} <= {one.text for one in beside}


def test_as_of_and_the_next_window_keep_their_labels_however_many_there_are() -> None:
    frame = Frame((0.0, 100.0), (0.0, 100.0), (0.0, 1.0))
    crowd = [Mark(50.0 + k / 10, f"event {k}", "finding") for k in range(8)]
    marks = [
        *crowd,
        Mark(50.4, "as of", "as_of"),
        Mark(51.0, "next", "window"),
        Mark(52.0, "later", "window"),
    ]
    found = roomy(frame, marks)
    assert {"as of", "next"} <= {one.text for one in found}
    shown = sorted(one.hours for one in found)
    assert all(b - a >= 100 * WIDE - 1e-9 for a, b in pairwise(shown))
    narrow = sorted(one.hours for one, room in found.items() if room == "")
    assert all(b - a >= 100 * NARROW - 1e-9 for a, b in pairwise(narrow))


def test_labels_beside_a_chart_stay_apart_and_on_it() -> None:
    placed = spread([(97.0, "limit"), (96.0, "overlay"), (99.0, "other")])
    assert all(b[0] - a[0] >= BESIDE - 1e-9 for a, b in pairwise(placed))
    assert placed[-1][0] <= 100


def test_the_trend_is_bent_where_the_rate_changed(records: EngineRecords, walls: Trend) -> None:
    """Twice as fast since 2023-03-01, 36 000 h: twice as steep from there on, through the same estimate."""
    row = next(one for one in records.table_rows if (one.position, one.half) == ("3", "lower"))
    limit = walls.limits[0]
    straight = path_of(records, row, limit)
    assert len(straight) == 2
    since = Reason.of("changed_rate", way="step", factor=2.0, since=date(2023, 3, 1))
    bent = path_of(records, replace(row, reasons=(*row.reasons, since)), limit)
    (h0, w0), (h1, w1), (h2, w2) = bent
    assert (h1, h2) == (36_000.0, 46_000.0)
    assert (h0, h2, w2) == (straight[0][0], *straight[1])
    assert (w1 - w2) / (h2 - h1) == pytest.approx(2 * (w0 - w1) / (h1 - h0))


def test_an_own_line_that_says_no_direction_is_not_drawn(walls: Trend) -> None:
    def pale(says: bool) -> Trend:
        strands = tuple(
            replace(one, line=replace(one.line, says_way=says)) if one.line else one for one in walls.strands
        )
        return replace(walls, strands=strands)

    assert with_class(drawn(pale(True)), "own")
    assert "own line, 90 % range" in [item.name for item in key(pale(True))]
    assert not with_class(drawn(pale(False)), "own")
    assert "own line, 90 % range" not in [item.name for item in key(pale(False))]


def test_hours_of_engine_and_shell_and_the_month_stand_under_one_another(walls: Trend) -> None:
    tree = drawn(walls)
    (names,) = with_class(tree, "names")
    assert [one.text for one in names] == ["total h", "shell h", "month"]
    (below,) = with_class(tree, "below")
    told = {one[0].text: [inner.text for inner in one] for one in below}
    assert told["40\u202f000"] == ["40\u202f000", "19\u202f000", "2023-12"]
