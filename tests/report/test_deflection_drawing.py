"""Web deflections along the shaft against plain arithmetic (all records invented).

Vertical is top less bottom, the bottom the mean of the two readings beside it; horizontal is port less starboard;
webs that open are plus: common practice, no source.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import pytest

from wearcast.forecasting.run import forecast
from wearcast.records.read import read
from wearcast.report.deflection_drawing import SCALE_HEIGHT, TOP, in_strokes
from wearcast.report.gather import cut_by_engine
from wearcast.report.sheets import engine_sheet
from wearcast.report.view import ShaftView

FIVE = ("bottom_p", "port", "top", "starboard", "bottom_s")
LAST = {"1": (0.000, 0.006, 0.020, 0.002, 0.004), "2": (0.000, -0.003, -0.041, 0.005, 0.030)}
"""mm, in the order of `FIVE`; throw 2 does not close: 30 µm."""
FIRST = {"1": (0.000, 0.002, 0.010, 0.002, 0.000), "2": (0.000, 0.000, -0.020, 0.000, 0.002)}


def made(
    write_folder: Callable[..., Path], folder: Path, limits: bool = True, said_of_it: str = "", **facts: str
) -> ShaftView:
    at = {"bearing": "big_end", "half": "", "quantity": "web_deflection", "conditions": said_of_it}
    readings = [
        {**at, "position": throw, "point": point, "value": f"{value:.3f}", "date": on, "counter_h": counter_h}
        for on, counter_h, measured in (("2020-03-01", "21000", FIRST), ("2025-03-01", "46000", LAST))
        for throw, values in measured.items()
        for point, value in zip(FIVE, values, strict=True)
    ]
    web = {
        "bearing": "big_end",
        "half": "",
        "quantity": "web_deflection",
        "new_min": "-0.03",
        "new_max": "0.03",
    }
    table = [{}]
    if limits:
        table += [
            {**web, "limit": "0.06", "limit_side": "max"},
            {**web, "limit": "-0.05", "limit_side": "min"},
        ]
    path = write_folder(folder, readings=readings, limits=table, engines=[facts])
    result = forecast(read(path, run_date=dt.date(2026, 1, 1)))
    return engine_sheet(cut_by_engine(result)[0], "x.html", "1").shaft


def tree_of(shaft: ShaftView) -> ElementTree.Element:
    assert shaft.drawing is not None
    return ElementTree.fromstring(str(shaft.drawing))


def said(tree: ElementTree.Element) -> list[str]:
    return ["".join(one.itertext()) for one in tree.iter("text")]


@pytest.fixture(scope="module")
def shaft(tmp_path_factory: pytest.TempPathFactory, write_folder: Callable[..., Path]) -> ShaftView:
    return made(write_folder, tmp_path_factory.mktemp("web") / "one", stroke_mm="300")


def test_the_last_measurement_stands_in_figures(shaft: ShaftView) -> None:
    """Throw 1: 0.020 - (0 + 0.004) / 2 = 0.018, 0.006 - 0.002 = 0.004; throw 2: -0.041 - 0.015 = -0.056, -0.008."""
    texts = said(tree_of(shaft))
    for figure in ("+0.018", "+0.004", "+4", "\u22120.056", "\u22120.008", "+30"):
        assert figure in texts


def _points(d: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", d)]


def test_lines_run_through_the_values_on_one_scale(shaft: ShaftView) -> None:
    """The scale reaches 1.15 times the largest of all values and limits, 0.060 mm, to either side of 0."""
    tree = tree_of(shaft)
    latest = next(one for one in tree.iter("g") if one.get("class") == "latest")
    earlier = [one for one in tree.iter("g") if one.get("class") == "earlier"]
    assert len(earlier) == 1

    def height(value_mm: float) -> float:
        return TOP + SCALE_HEIGHT / 2 * (1 - value_mm / (1.15 * 0.060))

    for group, vertical, across in (
        (latest, (0.018, -0.056), (0.004, -0.008)),
        (earlier[0], (0.010, -0.021), (0.0, 0.0)),
    ):
        drawn = {one.get("class"): one.get("d") or "" for one in group.iter("path")}
        for name, values in (("line-1", vertical), ("line-2", across)):
            assert [y for _, y in _points(drawn[name])] == pytest.approx(
                [height(v) for v in values], abs=0.06
            )


def test_a_throw_that_does_not_close_is_hollow(shaft: ShaftView) -> None:
    tree = tree_of(shaft)
    latest = next(one for one in tree.iter("g") if one.get("class") == "latest")
    assert len([one for one in latest.iter("circle") if one.get("class") == "open-1"]) == 1
    dots = next(one for one in latest.iter("path") if one.get("class") == "dots-1")
    assert (dots.get("d") or "").count("M") == 1
    assert any("Throw 2: first and last reading differ by 30" in text for text in shaft.said)


def test_limits_of_the_table_are_hatched_and_named(shaft: ShaftView) -> None:
    texts = said(tree_of(shaft))
    assert {"+0.060", "\u22120.050"} <= set(texts)
    assert texts.count("limit") == 2


def test_without_a_limit_none_is_drawn_and_that_is_said(
    write_folder: Callable[..., Path], tmp_path: Path
) -> None:
    shaft = made(write_folder, tmp_path / "one", limits=False)
    assert "limit" not in said(tree_of(shaft))
    assert any("No limit of the web deflection is given" in note for note in shaft.notes)
    assert not any("stroke" in note for note in shaft.notes)


def test_the_sign_of_the_form_is_turned_and_said(write_folder: Callable[..., Path], tmp_path: Path) -> None:
    shaft = made(write_folder, tmp_path / "one", deflection_sign="opening_minus")
    assert {"\u22120.018", "+0.056"} <= set(said(tree_of(shaft)))
    assert shaft.notes[0] == "The engine's form counts opening webs minus; here they are plus."


def test_the_share_of_the_stroke_is_words_alone() -> None:
    """300 mm: 1/10 000 is 0.030 mm, 1/5 000 is 0.060 mm; 0.056 mm is 1/5 400 of it (rounded to hundreds)."""
    text = in_strokes(0.056, 300.0).replace("\u202f", " ")
    assert "0.056 mm, is 1/5 400 of the stroke of 300 mm" in text
    assert "1/10 000 (0.030 mm)" in text
    assert "1/5 000 (0.060 mm)" in text
    assert "common practice, never a limit; the maker's value governs" in text
    assert in_strokes(0.056, float("nan")) == ""


def test_what_users_wrote_is_text_in_the_drawing(write_folder: Callable[..., Path], tmp_path: Path) -> None:
    nasty = "<script>alert(1)</script> & cold"
    tree = tree_of(made(write_folder, tmp_path / "one", said_of_it=nasty))
    assert nasty in said(tree)
    assert {one.tag for one in tree.iter()} <= {"svg", "g", "a", "path", "rect", "circle", "text", "tspan"}
