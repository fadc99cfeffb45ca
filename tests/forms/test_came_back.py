"""What came back from an opening, held against what was known: what is told, and that nothing is written."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wearcast.cli.main import run
from wearcast.forms.came_back import Came, CameBack, came_back
from wearcast.forms.came_back_words import headline, to_ask
from wearcast.records.read import read
from wearcast.settings import Settings

RUN = dt.date(2026, 6, 1)
AGES = (10_000, 20_000, 30_000, 40_000)
OPENED: dict[str, Any] = {"date": "2026-05-20", "counter_h": "50000", "instrument": "bm 1"}


def wall(position: int, age: int, rate: float = 0.4, **cells: Any) -> dict[str, Any]:
    off = np.random.default_rng([position, age]).normal(0, 0.002)
    row = {"date": f"{2014 + age // 5000}-01-15", "counter_h": str(age), "instrument": "BM-1", "u_um": "2"}
    return row | {"position": str(position), "value": f"{7.9925 - rate * age / 1e6 + off:.3f}", **cells}


FLEET = [
    wall(position, age, vessel=vessel)
    for vessel in ("Alder", "Birch")
    for position in range(1, 6)
    for age in AGES
]
AS_EXPECTED = [wall(position, 50_000, **OPENED) for position in range(1, 6)]


class Looked:
    """Writes what is known and what came; called, it tells the readings that came, by position, and the whole."""

    def __init__(self, write_folder: Any, folder: Path) -> None:
        self._write, self.folder = write_folder, folder
        self.known = write_folder(folder / "known", readings=FLEET, engines=[{}, {"vessel": "Birch"}])

    def write(self, rows: list[dict[str, Any]], events: Any = None) -> Path:
        return self._write(self.folder / "came", readings=rows, engines=None, limits=None, events=events)

    def __call__(
        self, rows: list[dict[str, Any]], events: Any = None, known: Path | None = None
    ) -> tuple[dict[str, Came], CameBack]:
        part = read(self.write(rows, events), RUN, part=True)
        made = came_back(read(known or self.known, RUN), part, Settings(follow_changes=False))
        return {one.place.position: one for one in made.readings}, made


@pytest.fixture
def looked(write_folder: Any, tmp_path: Path) -> Looked:
    return Looked(write_folder, tmp_path)


def test_readings_of_a_sound_engine_are_as_expected_whatever_its_name_is_spelt_like(looked: Looked) -> None:
    told, made = looked([row | {"vessel": "ALDER"} for row in AS_EXPECTED])
    assert [one.plausible for one in told.values()] == [True] * 5
    assert {one.key for one in told.values()} == {("Alder", "1")}
    assert "5 readings; 5 could be compared with what was expected, none to ask about" in headline(made)


def test_the_range_is_that_of_the_form_for_the_same_dial(looked: Looked, tmp_path: Path) -> None:
    from wearcast.forecasting.run import forecast
    from wearcast.forms.asked import form_content

    told, _ = looked(AS_EXPECTED)
    before = forecast(read(looked.known, RUN), None, Settings(follow_changes=False))
    content = form_content(before, "Alder", "1", dt.date(2026, 5, 20), 50_000.0)
    printed = {one.position: one.expected for one in content.readings if one.state == "as_found"}
    for position, one in told.items():
        assert one.expected is not None
        assert (one.expected.low_mm, one.expected.high_mm) == pytest.approx(
            (printed[position].low_mm, printed[position].high_mm), abs=1e-6
        )


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (
            "7.952",
            "expected; wore faster of late. Measure again, with a second gauge, before it is closed up",
        ),
        ("7.949", "at or past the limit of 7.950 mm"),
        ("7.991", "Renewed and not written down? Else measure again: another point, gauge or unit?"),
        ("79.72", "perhaps a decimal slip. Not counted until it is replaced"),
    ],
    ids=["thinner", "past", "thicker", "slip"],
)
def test_a_reading_unlike_the_others_is_asked_about_alone(looked: Looked, value: str, said: str) -> None:
    told, made = looked([*AS_EXPECTED[:2], AS_EXPECTED[2] | {"value": value}, *AS_EXPECTED[3:]])
    assert [position for position, one in told.items() if not one.plausible] == ["3"]
    assert said in to_ask(told["3"], made)


def test_a_new_shell_is_held_against_the_makers_range(looked: Looked) -> None:
    renewed = {"date": "2026-05-20", "counter_h": "50000", "position": "3"}
    told, made = looked(
        [AS_EXPECTED[0], wall(3, 50_000, **OPENED, state="as_left") | {"value": "7.992"}], [renewed]
    )
    assert told["3"].new
    assert told["3"].plausible
    told, made = looked(
        [AS_EXPECTED[0], wall(3, 50_000, **OPENED, state="as_left") | {"value": "7.972"}], [renewed]
    )
    assert "is its size and part number as written?" in to_ask(told["3"], made)


def test_an_opening_entered_already_is_not_compared_with_itself(
    looked: Looked, write_folder: Any, tmp_path: Path
) -> None:
    odd = [*AS_EXPECTED[:4], AS_EXPECTED[4] | {"value": "7.952"}]
    alone, _ = looked(odd)
    engines = [{}, {"vessel": "Birch"}]
    both = write_folder(tmp_path / "entered", readings=[*FLEET, *odd], engines=engines)
    _, made = looked(odd, known=both)
    assert made.known_already == 5
    assert made.readings[4].expected == alone["5"].expected


def test_an_opening_from_before_the_last_is_held_against_what_was_known_then(looked: Looked) -> None:
    told, _ = looked([wall(2, 25_000, date="2019-01-15", instrument="BM-1")])
    assert told["2"].plausible
    told, _ = looked([wall(2, 25_000, date="2019-01-15", instrument="BM-1", value="7.965")])
    assert told["2"].towards


def called(monkeypatch: Any, capsys: Any, *words: object) -> tuple[int, str]:
    monkeypatch.setattr("sys.argv", ["wearcast", *map(str, words)])
    try:
        run()
        code = 0
    except SystemExit as stop:
        code = int(stop.code or 0)
    printed = capsys.readouterr()
    return code, " ".join((printed.out + printed.err).split())


def test_the_commands_tell_it_and_write_nothing(
    looked: Looked, monkeypatch: Any, capsys: Any, tmp_path: Path
) -> None:
    looked.write([*AS_EXPECTED[:2], AS_EXPECTED[2] | {"value": "7.991"}])
    book, came = tmp_path / "fleet.book", tmp_path / "came"
    called(monkeypatch, capsys, "book", "create", book)
    called(monkeypatch, capsys, "book", "add", book, tmp_path / "known", "--by", "A. Bell")
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    for words in (
        ["check", came, "--against", book],
        ["book", "add", book, came, "--by", "A. Bell", "--dry-run"],
    ):
        code, out = called(monkeypatch, capsys, *words)
        assert code == 0
        assert "main 3 lower wall: 7.991 mm; " in out
        assert "Renewed and not written down?" in out
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_an_engine_that_is_not_known_is_named(
    looked: Looked, monkeypatch: Any, capsys: Any, tmp_path: Path
) -> None:
    looked.write(AS_EXPECTED)
    came = tmp_path / "came" / "readings.csv"
    came.write_text(came.read_text().replace("Alder", "Aldar"))
    code, out = called(monkeypatch, capsys, "check", tmp_path / "came", "--against", tmp_path / "known")
    assert code == 2
    assert "Aldar 1: no such engine in these records. Did you mean Alder?" in out
