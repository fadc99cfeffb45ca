"""`wearcast form` as a user calls it, and the choice of places."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from wearcast.cli.main import run
from wearcast.errors import WrongUse
from wearcast.forecasting.run import Forecast
from wearcast.forms.asked import form_content
from wearcast.forms.places import CLOSED
from wearcast.records.read import read

OPENING = dt.date(2026, 3, 1)


@pytest.fixture
def call(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., tuple[int, str, str]]:
    """Call the command line in this process: exit code and both streams."""

    def run_with(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["wearcast", *map(str, arguments)])
        monkeypatch.setenv("SOURCE_DATE_EPOCH", "1767225600")
        code = 0
        try:
            run()
        except SystemExit as stop:
            code = int(stop.code or 0)
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return run_with


def test_the_command_writes_a_form_that_is_recognised(
    call: Callable[..., tuple[int, str, str]], result: Forecast, tmp_path: Path
) -> None:
    out = tmp_path / "birch.xlsx"
    options = ("--vessel", "Birch", "--engine", "1", "--opening", OPENING, "--out", out)
    code, printed, _ = call("form", result.history.records.source, *options)
    assert code == 0
    assert "values to read" in printed
    (fault,) = read(out, dt.date(2026, 4, 1), part=True).faults
    assert "no value and nothing done" in fault.text
    before = out.read_bytes()
    assert call("form", result.history.records.source, *options)[0] == 0
    assert out.read_bytes() == before


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"--vessel": "Brich"}, "Did you mean Birch"),
        ({"--opening": "01.03.2026"}, "is no date"),
        ({"--out": "form.pdf"}, "a form is a workbook"),
        ({"--place": "main 9"}, "not read before on this engine"),
    ],
)
def test_wrong_use_is_said_and_nothing_written(
    call: Callable[..., tuple[int, str, str]],
    result: Forecast,
    tmp_path: Path,
    changed: dict[str, str],
    words: str,
) -> None:
    options = {
        "--vessel": "Birch",
        "--engine": "1",
        "--opening": "2026-03-01",
        "--out": str(tmp_path / "f.xlsx"),
    }
    given = [text for option in (options | changed).items() for text in option]
    code, _, errors = call("form", result.history.records.source, *given)
    assert code == 2
    assert words in " ".join(errors.split())
    assert not list(tmp_path.glob("f.*"))


def test_a_form_for_one_main_asks_for_it_and_for_what_follows_closing_up(result: Forecast) -> None:
    content = form_content(result, "Birch", "1", OPENING, places=["Main 2"])
    assert {(one.bearing, one.position) for one in content.readings if one.part != CLOSED} == {("main", "2")}
    closed = {(one.bearing, one.position, one.quantity) for one in content.readings if one.part == CLOSED}
    assert closed == {("big_end", "1", "web_deflection"), ("thrust", "3", "axial_clearance")}
    assert {(bearing, position) for bearing, position, _, _ in content.shells} == {("main", "2")}
    far = form_content(result, "Birch", "1", OPENING, places=["main 3"])
    assert "web_deflection" not in {one.quantity for one in far.readings}


def test_a_place_that_was_never_read_is_refused_with_those_that_were(result: Forecast) -> None:
    with pytest.raises(WrongUse, match=r"Did you mean main 1\?|Did you mean main"):
        form_content(result, "Birch", "1", OPENING, places=["mian 1"])
