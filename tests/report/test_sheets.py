"""What an engine's page says, as plain values: each fact where it belongs."""

from __future__ import annotations

from typing import Any

import pytest

from wearcast.forecasting.run import Forecast
from wearcast.report import inks
from wearcast.report.axes import hours_axis
from wearcast.report.fans import fan_traces
from wearcast.report.figures import figure
from wearcast.report.gather import EngineRecords, cut_by_engine
from wearcast.report.positions import places_of
from wearcast.report.sheets import engine_sheet
from wearcast.report.trends import Trend, trends_of
from wearcast.report.view import ChartView, EngineSheet, PositionSection
from wearcast.words import NO_UPPER_BOUND, NOT_SAID, exact_mm, hours


@pytest.fixture(scope="module")
def records(fleet: Forecast) -> EngineRecords:
    return cut_by_engine(fleet)[0]


@pytest.fixture(scope="module")
def sheet(records: EngineRecords) -> EngineSheet:
    return engine_sheet(records, "alder-1.html", "1")


def loose(text: str) -> str:
    """The text with ordinary spaces."""
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def place(sheet: EngineSheet, title: str) -> PositionSection:
    return next(one for one in sheet.positions if one.title == title)


def chart(sheet: EngineSheet, title: str, of: str) -> ChartView:
    return next(one for one in place(sheet, title).charts if one.title == of)


def trend(
    records: EngineRecords, bearing: str, position: str, half: str, quantity: str, size: str = "standard"
) -> Trend:
    lives = records.forecast.history.lives
    here = [
        k for k in records.lives if (lives[k].place.bearing, lives[k].place.position) == (bearing, position)
    ]
    return next(
        one
        for one in trends_of(records, here, hours_axis(records))
        if (one.half, one.quantity) == (half, quantity)
    )


def figure_of(records: EngineRecords, *of: str) -> dict[str, Any]:
    """The chart as a notebook gets it."""
    return figure(trend(records, *of))


def test_positions_stand_along_the_shaft_and_the_unread_are_named(sheet: EngineSheet) -> None:
    titles = [one.title for one in sheet.positions]
    assert titles == [
        "Main 1", "Big end 1", "Main 2", "Throw 2", "Big end 2", "Main 3", "Big end 3", "Main 4", "Big end 4", "Main 5",
        "Big end 5", "Main 6", "Big end 6", "Main 7", "Thrust 7",
    ]  # fmt: skip
    assert [one.title for one in sheet.positions if not one.none] == [
        "Throw 2",
        "Main 3",
        "Main 6",
        "Thrust 7",
    ]
    assert sheet.ends == ("free end", "flywheel end")


def test_the_forecast_table_prints_the_rows_of_the_forecast(fleet: Forecast, sheet: EngineSheet) -> None:
    mine = fleet.table[fleet.table["vessel"] == "Alder"].reset_index(drop=True)
    assert len({line.row for line in sheet.forecast.lines}) == len(sheet.forecast.lines) == len(mine)
    for line in sheet.forecast.lines:
        row = fleet.table.iloc[line.row]
        assert (row["vessel"], row["engine"]) == ("Alder", "1")
        assert line.statement == row["statement"]
        assert exact_mm(row["limit_mm"]) in line.limit
        assert ("at least" in line.limit) == (row["limit_side"] == "min")
        for text, q in zip(line.hours, (10, 50, 90), strict=True):
            value = row[f"hours_to_limit_p{q}"]
            assert text == hours(value) if value == value else text in (NO_UPPER_BOUND, NOT_SAID)  # noqa: PLR0124
        for reason in str(row["reasons"]).replace("own line: no own line", "no own line").split("; "):
            assert reason == NO_UPPER_BOUND or any(
                reason[1:] in loose(note) for note in (*line.behind, *line.notes)
            )


def test_readings_are_shown_as_typed_with_row_unit_and_use(sheet: EngineSheet) -> None:
    walls = place(sheet, "Main 3").readings[0]
    assert walls.title == "Lower wall thickness"
    by_row = {line.row: line for line in walls.lines}
    slip = by_row["10"]
    assert (slip.value, slip.unit, slip.date, slip.total_h) == ("7982", "mm", "2024-03-01", "41\u202f000")
    assert (slip.use, slip.queries) == ("not counted", ("perhaps a unit slip",))
    assert by_row["2"].use == "running-in"
    assert by_row["4"].u == "5 stated"
    assert by_row["5"].u == "6.0 assumed"
    assert by_row["5"].use == "in the line"
    assert by_row["9"].instrument == "ball micrometer 1"
    new_wall = next(line for line in walls.lines if "events" in line.row)
    assert (new_wall.value, new_wall.use, new_wall.state) == ("7.996", "new", "as left")
    assert place(sheet, "Main 3").rows_from == "readings.csv"


def test_a_corrected_value_keeps_the_old_one_beside_it(sheet: EngineSheet) -> None:
    walls = place(sheet, "Main 3").readings[0]
    corrected = next(line for line in walls.lines if line.row == "3")
    assert (corrected.old_values, corrected.value) == (("7.984",), "7.983")
    assert corrected.changes[0].why == "misread <b>; A. Bell, 2025-01-01"


def test_each_shell_has_its_own_line_and_only_the_governing_one_a_band(records: EngineRecords) -> None:
    walls = trend(records, "main", "3", "lower", "wall")
    assert {(strand.life.shell_no, strand.point) for strand in walls.strands} == {
        (1, "crown"),
        (2, "crown"),
        (2, "crown_fore"),
    }
    removed = next(s for s in walls.strands if s.life.shell_no == 1)
    assert removed.line is not None
    assert removed.line.ahead == 0
    assert max(removed.line.hours) == 21_000
    assert min(removed.line.hours) == 6_500  # running-in is not in the line
    banded = [s for s in walls.strands if s.line is not None and s.line.lower_mm]
    assert len(banded) == 1
    assert banded[0].governs


def test_the_own_line_and_its_band_are_those_of_the_fit(records: EngineRecords, fleet: Forecast) -> None:
    """Against numpy's polyfit and the textbook band z ± t·s·√(1/n + d²/Sxx) (Draper & Smith 1998; from memory)."""
    import numpy as np
    from scipy import stats

    walls = trend(records, "main", "3", "lower", "wall")
    strand = next(one for one in walls.strands if one.line is not None and one.line.lower_mm)
    line = strand.line
    assert line is not None
    hours_read = np.array([dot.hours for dot in strand.dots if dot.source.in_line])
    value_mm = np.array([dot.value_mm for dot in strand.dots if dot.source.in_line])
    n = len(hours_read)
    assert n >= 3
    slope, level = np.polyfit(hours_read, value_mm, 1)
    at = np.array(line.hours)
    np.testing.assert_allclose(line.line_mm, level + slope * at, atol=1e-9)
    s = np.sqrt(((value_mm - level - slope * hours_read) ** 2).sum() / (n - 2))
    d = at - hours_read.mean()
    half = (
        stats.t.ppf(0.95, n - 2) * s * np.sqrt(1 / n + d**2 / ((hours_read - hours_read.mean()) ** 2).sum())
    )
    ends = np.sort([line.lower_mm, line.upper_mm], axis=0)
    np.testing.assert_allclose(ends[1] - ends[0], 2 * half, rtol=1e-6)


def test_shell_sizes_have_charts_of_their_own(sheet: EngineSheet) -> None:
    titles = [one.title for one in place(sheet, "Main 6").charts]
    assert titles == ["Lower wall thickness, size standard", "Lower wall thickness, size U50"]
    assert "no shell of this size is in service here now" in place(sheet, "Main 6").charts[0].finding
    sound = loose(place(sheet, "Main 6").charts[1].finding)
    assert "8.200 mm (at least)" in sound
    assert "Readings suggest the limit is reached" in sound
    assert "Statement: limit falls " in sound


def test_the_finding_says_readings_limit_rate_statement_and_doubt(sheet: EngineSheet) -> None:
    text = loose(chart(sheet, "Main 3", "Lower wall thickness").finding)
    assert "shell 2, in service since 2020-03-01 (21 000 h)" in text
    assert "Limit 7.950 mm (at least)." in text
    assert "By its own line it wears" in text
    assert "Damage noted: how far its wear is from the limit says nothing of it." in text
    assert "Readings suggest the limit is reached" not in text
    assert "Found here: scoring (2022-06-01)." in text
    assert "Queried and drawn hollow: 7982 mm (readings row 10, beyond the axis, not counted)." in text
    assert "Before it: 1 earlier shell, until 2020-03-01." in text


def test_a_two_sided_limit_shows_both_sides(sheet: EngineSheet, records: EngineRecords) -> None:
    made = figure_of(records, "thrust", "7", "", "axial_clearance")
    hatched = [trace for trace in made["data"] if "fillpattern" in trace]
    assert len(hatched) == 2
    labels = [one["text"] for one in made["layout"]["annotations"]]
    assert "limit<br>0.800" in labels
    assert "limit<br>0.250" in labels
    finding = loose(chart(sheet, "Thrust 7", "Axial clearance").finding)
    assert "Limit 0.800 mm (at most) and 0.250 mm (at least)." in finding


def test_a_quantity_without_forecast_has_a_trend_alone(sheet: EngineSheet) -> None:
    shown = chart(sheet, "Throw 2", "Web deflection")
    assert [item.name for item in shown.key] == ["Port", "Top"]
    assert loose(shown.finding) == (
        "Web deflection: port, 1 reading, 0.004 mm at 46 000 h; top, 1 reading, \u22120.012 mm at 46 000 h."
    )
    assert place(sheet, "Throw 2").rates == ()
    lines = place(sheet, "Throw 2").readings[0].lines
    assert {(line.shell_h, line.shell) for line in lines} == {("", "")}
    assert "between main 2 and main 3" in place(sheet, "Throw 2").note


def markers(figure: dict[str, Any]) -> list[tuple[float, str, float]]:
    """Hours, marker and half bar of every reading drawn."""
    return [
        one
        for trace in figure["data"]
        if isinstance(trace.get("marker", {}).get("symbol"), list)
        for one in zip(
            trace["x"],
            trace["marker"]["symbol"],
            trace["error_y"]["array"] if "error_y" in trace else [0.0] * len(trace["x"]),
            strict=True,
        )
    ]


def test_doubted_readings_are_hollow_and_bars_are_one_u(records: EngineRecords) -> None:
    drawn = markers(figure_of(records, "main", "3", "lower", "wall"))
    assert (41_000.0, "triangle-up-open", 0.0) in drawn
    assert (26_000.0, "circle", 0.006) in drawn
    assert (31_000.0, "square", 0.006) in drawn
    assert [hours for hours, symbol, _ in drawn if symbol.endswith("-open")] == [41_000.0]


def test_shells_taken_out_are_drawn_paler_and_without_bars(records: EngineRecords) -> None:
    traces = [
        trace
        for trace in figure_of(records, "main", "3", "lower", "wall")["data"]
        if isinstance(trace.get("marker", {}).get("symbol"), list)
    ]
    earlier = [trace for trace in traces if max(trace["x"]) <= 21_000]
    serving = [trace for trace in traces if min(trace["x"]) >= 21_000]
    assert len(earlier) + len(serving) == len(traces)
    assert earlier
    assert serving
    assert all("error_y" not in trace and trace["opacity"] < 1 for trace in earlier)
    assert all("error_y" in trace and trace["opacity"] == 1 for trace in serving)
    only = figure_of(records, "main", "6", "lower", "wall")["data"]
    assert any("error_y" in trace for trace in only)


def test_the_limit_is_a_hatched_band_and_renewals_and_windows_are_verticals(records: EngineRecords) -> None:
    made = figure_of(records, "main", "3", "lower", "wall")
    band = next(trace for trace in made["data"] if "fillpattern" in trace)
    assert band["fillpattern"]["shape"] == "/"
    assert max(band["y"]) == 7.95
    names = [one["text"] for one in made["layout"]["annotations"] if one.get("textangle") == -90]
    assert names == [
        "2016-01 fitted",
        "2020-03 renewed",
        "2022-06 finding",
        "2025-03 as of",
        "2027-01 window",
        "2028-06 window",
    ]
    window = next(one for one in made["layout"]["shapes"] if one["line"]["dash"] == "dot")
    # 671 days at 5000 h a year after 46 000 h
    assert window["x0"] == pytest.approx(46_000 + 671 / 365.25 * 5000, abs=0.1)


def test_no_ink_stands_for_a_statement(records: EngineRecords) -> None:
    """Every colour of every chart is of the one scale, and the same for the same thing whatever is said of it."""
    known = {ink.light for ink in inks.ALL}

    def colours(value: Any) -> set[str]:
        if isinstance(value, dict):
            return set().union(*(colours(inner) for inner in value.values()))
        if isinstance(value, list | tuple):
            return set().union(*(colours(inner) for inner in value))
        return {value} if isinstance(value, str) and value.startswith("#") else set()

    trends = [one for place in places_of(records) for one in place.trends]
    assert len(trends) > 3
    for one in trends:
        assert colours(figure(one)) <= known


def test_rates_stand_side_by_side(sheet: EngineSheet, records: EngineRecords) -> None:
    lines = {(line.what, loose(line.shell)): line for line in place(sheet, "Main 3").rates}
    crown = lines[("lower wall thickness, crown", "shell 2")]
    assert crown.readings == "4"
    # By hand: hours 26, 31, 36, 46 kh, wear 0, 7, 11, 19 µm beyond the first; Sxy / Sxx = 201.25 / 218.75.
    assert crown.own == "0.92"
    # Median of the six pairwise slopes 1.4, 1.1, 0.95, 0.8, 0.8, 0.8.
    assert crown.theil_sen == "0.88"
    assert lines[("lower wall thickness, crown", "shell 1")].reason.startswith(
        "Ended 2020-03-01, taken out at"
    )
    assert loose(lines[("lower wall thickness, crown", "shell 1")].reason).endswith(
        "at 7.962 mm, 12 µm short of the limit."
    )


def test_assumptions_are_cut_to_the_engine(sheet: EngineSheet) -> None:
    text = " ".join(sheet.background.assumptions)
    assert "alert(1)" not in text
    assert "Birch" not in text
    assert "Alder 1: 5000 hours a year as stated" in text


def test_left_out_rows_are_listed(tmp_path: Any, write_folder: Any) -> None:
    import datetime as dt

    from wearcast.forecasting.run import forecast
    from wearcast.records.read import read

    rows = [{}, {"value": "n/a", "date": "2024-06-01", "counter_h": "12100"}]
    folder = write_folder(tmp_path / "faulty", readings=rows)
    result = forecast(read(folder, run_date=dt.date(2026, 1, 1)), leave_out_faulty=True)
    made = engine_sheet(cut_by_engine(result)[0], "x.html", "1")
    (entry,) = made.background.left_out.entries
    assert (entry.kind, entry.where) == ("Not understood", "readings.csv, row 3, value")


def test_the_fan_lies_at_the_hours_of_the_forecast(records: EngineRecords) -> None:
    walls = trend(records, "main", "3", "lower", "wall")
    row = next(row for row in records.table_rows if (row.position, row.half) == ("3", "lower"))
    right = walls.hours_axis[1]
    traces = fan_traces(walls)
    bars = [trace for trace in traces if trace["mode"] == "lines" and trace["y"] == [7.95, 7.95]]
    ends = [(5, 95), (10, 90), (25, 75)]
    ends = [pair for pair in ends if 46_000 + row.hours_at(pair[0]) < right]
    assert ends
    assert len(bars) == len(ends)
    for trace, (early, late) in zip(bars, ends, strict=True):
        start, end = (46_000 + row.hours_at(q) for q in (early, late))
        assert trace["x"] == [round(start, 1), round(min(end, right), 1)]
    estimate = next(trace for trace in traces if "error_y" in trace)
    assert estimate["x"] == [46_000.0]
    assert estimate["y"][0] == pytest.approx(row.estimate_mm, abs=1e-6)
    assert estimate["error_y"]["array"][0] == pytest.approx(row.estimate_u_um / 1000, abs=1e-6)
    arrows = [
        trace
        for trace in traces
        if trace["mode"] == "markers" and trace["marker"]["symbol"] == "triangle-right"
    ]
    last = 46_000 + row.hours_at(95)
    assert bool(arrows) == (not last <= right)
