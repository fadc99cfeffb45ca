"""Readings side by side, each worked out by hand (all records invented)."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from wearcast.forecasting.run import Forecast, forecast
from wearcast.records.read import read
from wearcast.report.companion_tables import side_by_side
from wearcast.report.companions import Companions
from wearcast.report.gather import cut_by_engine
from wearcast.report.sheets import engine_sheet
from wearcast.report.view import SideBySide

AT = {"date": "2025-03-01", "counter_h": "46000"}
MAIN = {"bearing": "main", "position": "3"}
THROW = {"bearing": "big_end", "half": "", "quantity": "web_deflection"}


def loose(text: str) -> str:
    """The text with ordinary spaces and signs."""
    return text.replace("\u00a0", " ").replace("\u202f", " ").replace("\u2212", "-")


def throw(position: str, top: str, **more: str) -> list[dict[str, str]]:
    points = {
        "bottom_p": "0.000",
        "port": "0.004",
        "top": top,
        "starboard": "0.001",
        "bottom_s": "0.002",
        **more,
    }
    return [
        {**AT, **THROW, "position": position, "point": point, "value": value}
        for point, value in points.items()
    ]


@pytest.fixture(scope="module")
def sections(tmp_path_factory: pytest.TempPathFactory, write_folder: Any) -> dict[str, SideBySide]:
    readings = [
        *throw("2", "-0.040"),
        *throw("3", "-0.050", bottom_s="0.030"),
        {**AT, **MAIN, "half": "lower", "value": "7.970"},
        {**AT, **MAIN, "half": "upper", "value": "7.990"},
        {**AT, **MAIN, "half": "", "quantity": "clearance", "value": "0.40", "point": ""},
        {**AT, **MAIN, "half": "", "quantity": "journal_diameter", "point": "v1", "value": "219.990"},
        {**AT, **MAIN, "half": "", "quantity": "journal_diameter", "point": "h1", "value": "219.996"},
    ]
    web = {
        "bearing": "big_end",
        "half": "",
        "quantity": "web_deflection",
        "new_min": "-0.01",
        "new_max": "0.01",
    }
    limits = [
        {}, {"half": "upper"},
        {
            "half": "", "quantity": "clearance", "new_min": "0.22", "new_max": "0.25", "limit": "0.33",
            "limit_side": "max",
        },
        {**web, "limit": "0.08", "limit_side": "max"}, {**web, "limit": "-0.08", "limit_side": "min"},
    ]  # fmt: skip
    folder = write_folder(
        tmp_path_factory.mktemp("beside") / "one",
        readings=readings, limits=limits, engines=[{"housing_bore_mm": "236.220"}],
    )  # fmt: skip
    made = forecast(read(folder, run_date=dt.date(2026, 1, 1)))
    sheet = engine_sheet(cut_by_engine(made)[0], "x.html", "1")
    shaft = SideBySide(sheet.shaft.table, sheet.shaft.said, sheet.shaft.notes)
    return {section.table.anchor: section for section in (shaft, *sheet.beside)}


def test_deflections_stand_throw_by_throw_beside_their_limit(sections: dict[str, SideBySide]) -> None:
    """Bottom is the mean of its two readings: -0.040 - 0.001 = -0.041; port less starboard 0.003."""
    row = [loose(cell) for cell in sections["shaft"].table.rows[0]]
    assert row[:7] == ["2", "2 and 3", "2025-03-01", "", "-0.041", "+0.003", "+2"]
    assert row[8] == "\u00b1 0.080"


def test_what_the_signs_say_and_what_does_not_close_is_said(sections: dict[str, SideBySide]) -> None:
    said = " ".join(map(loose, sections["shaft"].findings))
    assert "the shaft stands high at main 3" in said
    assert "Throw 3: first and last reading differ by 30 µm; measure again." in said
    assert any("webs opening are plus" in text.lower() for text in sections["shaft"].cautions)


def test_clearance_stands_against_what_walls_and_journal_leave(sections: dict[str, SideBySide]) -> None:
    """H - d - t - t = 236.220 - 219.993 - 7.990 - 7.970 = 0.267 mm; 0.400 read is 133 µm more."""
    row = [loose(cell) for cell in sections["walls-clearance"].table.rows[0]]
    assert row[:7] == ["Main 3", "2025-03-01", "7.990", "7.970", "0.400", "0.267", "+133"]
    (said,) = map(loose, sections["walls-clearance"].findings)
    assert said.startswith("Main 3: clearance 0.400 mm on 2025-03-01 is 133 µm above")
    assert sections["walls-clearance"].cautions[0].startswith("Do not average clearance and walls")


def test_journals_have_mean_and_ovality(sections: dict[str, SideBySide]) -> None:
    row = [loose(cell) for cell in sections["journals"].table.rows[0]]
    assert row[:6] == ["Main 3", "2025-03-01", "219.993", "8.0", "-6", ""]


def test_an_engine_without_such_readings_has_no_such_section(fleet: Forecast) -> None:
    assert side_by_side(Companions(fleet), ("Birch", "2")) == ()
