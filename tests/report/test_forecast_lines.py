"""Lines of the forecast: the last reading, dates, sisters, and what stood at the limit when it came out."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from wearcast.forecasting.run import Forecast, forecast
from wearcast.records.read import read
from wearcast.report.forecast_lines import forecast_table
from wearcast.report.gather import EngineRecords, cut_by_engine
from wearcast.report.sheets import engine_sheet
from wearcast.report.sisters import sister_rates
from wearcast.report.view import ForecastLine


def loose(text: str) -> str:
    """The text with ordinary spaces."""
    return text.replace("\u00a0", " ").replace("\u202f", " ")


@pytest.fixture(scope="module")
def engines(fleet: Forecast) -> tuple[EngineRecords, ...]:
    return cut_by_engine(fleet)


def line(records: EngineRecords, place: str, what: str) -> ForecastLine:
    return next(
        one for one in forecast_table(records).lines if one.place == place and one.what.startswith(what)
    )


def test_the_last_reading_stands_below_the_estimate_as_read(engines: tuple[EngineRecords, ...]) -> None:
    """Of the points read at the last opening the one nearest its limit: 7.971 at the crown, 7.973 fore."""
    main = line(engines[0], "Main 3", "lower wall")
    assert loose(main.read) == "read 7.971 mm, crown, 2025-03-01"
    assert loose(main.limit) == "at least 7.950 mm"


def _walls(tmp_path: Path, write_folder: Any, values: list[str], **more: Any) -> EngineRecords:
    rows = [
        {
            "date": f"{2018 + 2 * k}-06-01",
            "counter_h": str(10_000 * (k + 1)),
            "value": value,
            "state": "as_found",
        }
        for k, value in enumerate(values)
    ]
    folder = write_folder(tmp_path / "one", readings=rows, **more)
    return cut_by_engine(forecast(read(folder, run_date=dt.date(2026, 1, 1))))[0]


def test_a_doubted_last_reading_is_said_to_be_doubted(tmp_path: Path, write_folder: Any) -> None:
    records = _walls(tmp_path, write_folder, ["7.985", "7.976", "7967"])
    assert loose(line(records, "Main 3", "lower wall").read) == (
        "read 7967.000 mm, crown, 2022-06-01, doubted and not counted"
    )


def test_past_limit_stands_with_the_reading_that_says_so(tmp_path: Path, write_folder: Any) -> None:
    records = _walls(tmp_path, write_folder, ["7.985", "7.968", "7.949"])
    main = line(records, "Main 3", "lower wall")
    assert main.statement == "past limit"
    assert any("7.949 mm" in loose(text) and "2022-06-01" in text for text in main.behind)


def test_a_shell_taken_out_past_its_limit_is_said_to_be(tmp_path: Path, write_folder: Any) -> None:
    events = [{"date": "2022-06-01", "counter_h": "30000", "event": "renewal"}]
    records = _walls(tmp_path, write_folder, ["7.985", "7.968", "7.949"], events=events)
    (section,) = [one for one in engine_sheet(records, "x.html", "1").positions if one.rates]
    said = {loose(one.shell): loose(one.reason) for one in section.rates}
    assert said["shell 1"] == "Ended 2022-06-01, taken out at 7.949 mm, 1 µm past the limit."


def test_sisters_are_those_read_at_the_same_place_and_numbered_from_the_same_end(
    engines: tuple[EngineRecords, ...],
) -> None:
    records, other = engines[0], engines[1]
    row = next(
        row for row in records.table_rows if (row.bearing, row.position, row.half) == ("main", "3", "lower")
    )
    theirs = next(
        one for one in other.table_rows if (one.bearing, one.position, one.half) == ("main", "3", "lower")
    )
    assert sister_rates(records, row) == (theirs.wear_rate_um_per_kh,)
    turned = replace(records.engine, facts={**records.engine.facts, "numbered_from": "flywheel"})
    assert sister_rates(replace(records, engine=turned), row) == ()


def test_hours_carried_forward_are_about(tmp_path: Path, write_folder: Any) -> None:
    rows = [{"date": "2020-06-01", "counter_h": "10000"}, {"date": "2022-06-01", "counter_h": "20000"}]
    folder = write_folder(tmp_path / "one", readings=rows)
    made = forecast(read(folder, run_date=dt.date(2026, 1, 1)), as_of=dt.date(2024, 6, 1))
    sheet = engine_sheet(cut_by_engine(made)[0], "x.html", "1")
    told = loose({fact.label: fact.text for fact in sheet.facts}["Running hours"])
    # 731 days at 5000 h a year: 10 007 h
    assert told == "about 30 010 h, carried forward from 20 000 h on 2022-06-01"
    assert loose(sheet.since).startswith("The as-of date lies 579 days before this run: about 7 930 h more")


def test_what_has_run_since_the_last_counter_reading_is_said(engines: tuple[EngineRecords, ...]) -> None:
    """Last read 2025-03-01, run on 2026-01-01: 306 days at 5000 h a year are 4190 h."""
    sheet = engine_sheet(engines[0], "x.html", "1")
    assert loose(sheet.since) == (
        "Last counter reading 306 days before this run: about 4 190 h more have probably run. "
        "Hours below count from 2025-03-01."
    )
    use = loose({fact.label: fact.text for fact in sheet.facts}["Hours per year"])
    assert use == "5 000 ± 400 h a year, as typed in"


def test_dates_before_the_run_are_marked(engines: tuple[EngineRecords, ...], fleet: Forecast) -> None:
    later = replace(fleet.history.records, run_date=dt.date(2100, 1, 1))
    records = replace(engines[0], forecast=replace(fleet, history=replace(fleet.history, records=later)))
    dates = [on for one in forecast_table(records).lines for on in one.dates if "-" in on]
    assert dates
    assert all(on.startswith("already by ") for on in dates)
    now = [on for one in forecast_table(engines[0]).lines for on in one.dates if on[:4] > "2026"]
    assert not any("already" in on for on in now)


def test_windows_that_end_before_the_date_are_said_to(engines: tuple[EngineRecords, ...]) -> None:
    said = {loose(one.open_at) for one in forecast_table(engines[0]).lines}
    assert "Windows are listed to 2028-06-01 only; the 10 % date falls after that." in said


def test_every_window_ahead_stands_with_its_chance(engines: tuple[EngineRecords, ...]) -> None:
    records = engines[0]
    for line in forecast_table(records).lines:
        row = records.forecast.rows[line.row]
        told = () if row.statement == "damage noted" else ("next", "following")
        ahead = {which: getattr(row, f"{which}_window") for which in told}
        assert {one.which: one.window[:10] for one in line.chances} == {
            which: str(on) for which, on in ahead.items() if on is not None
        }
        assert all(one.chance.endswith("%") for one in line.chances)
