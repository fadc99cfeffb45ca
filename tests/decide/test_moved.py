"""What moved and why: steps that add up, and the cause that was planted named first."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from wearcast.book.add import add
from wearcast.book.create import create
from wearcast.decide.brief import MovedPlace, brief
from wearcast.decide.brief_words import said
from wearcast.decide.moved import CORRECTIONS, HOURS, LIMITS, OWN, SISTERS, Moved, moved
from wearcast.sources import day_before_last_import, read

THEN, NOW = dt.date(2024, 3, 1), dt.date(2026, 3, 1)
PLANTED = (OWN, SISTERS, HOURS, CORRECTIONS, LIMITS)
PLACE = ("Anna", "ME", "main", "1", "lower", "wall")
OPENINGS = 4
SEEDS = int(os.environ.get("WEARCAST_MOVED", "10"))
"""Fleets, every cause in turn; 50 and more by hand."""


def written(folder: Path, rng: np.random.Generator, cause: str, now: bool) -> Path:
    """Two sisters of two mains; `now` also with what the cause adds or changes."""
    dates = [dt.date(2012 + 3 * k, 2, 1) for k in range(OPENINGS)]
    hours = np.cumsum(rng.integers(14_000, 16_000, (2, OPENINGS)), axis=1)
    rate = rng.uniform(0.5, 0.9, (2, 2))
    value = 7.995 - 0.003 - rate[..., None] * hours[:, None] * 1e-6 + rng.normal(0, 0.002, (2, 2, OPENINGS))
    if now and cause == CORRECTIONS:
        value[0, 0, -1] -= 0.008
    rows = [
        (vessel, main, dates[k], hours[e, k], value[e, m, k])
        for e, vessel in enumerate(("Anna", "Bela"))
        for m, main in enumerate("12")
        for k in range(OPENINGS)
    ]
    on = dt.date(2024, 6, 1)
    if now and cause in (OWN, SISTERS):
        e, vessel = (0, "Anna") if cause == OWN else (1, "Bela")
        at = hours[e, -1] + 16_600  # as its yearly use has it
        drop = 0.024 if cause == OWN else 0.035
        rows += [(vessel, main, on, at, value[e, m, -1] - drop) for m, main in enumerate("12")]
    readings = pd.DataFrame(rows, columns=["vessel", "position", "date", "counter_h", "value"])
    readings = readings.assign(engine="ME", bearing="main", half="lower", quantity="wall", unit="mm")
    events = pd.DataFrame(
        [("Anna", "ME", "", on, hours[0, -1] + 25_000, "counter")] if now and cause == HOURS else [],
        columns=["vessel", "engine", "bearing", "date", "counter_h", "event"],
    )
    limit = 7.900 if now and cause == LIMITS else 7.890  # nothing planted reaches it
    engines = pd.DataFrame(
        {
            "vessel": ["Anna", "Bela"],
            "engine": "ME",
            "engine_type": "Fern Six",
            "hours_per_year": 5000,
            "numbered_from": "free_end",
        }
    )
    limits = pd.DataFrame(
        [("Fern Six", "main", "lower", "wall", "standard", 7.985, 8.0, limit, "min", "mm", "invented sheet 1, 2010")],
        columns=["engine_type", "bearing", "half", "quantity", "shell_size", "new_min", "new_max", "limit",
                 "limit_side", "unit", "limit_source"],
    )  # fmt: skip
    folder.mkdir(parents=True)
    for name, table in {"readings": readings, "events": events, "engines": engines, "limits": limits}.items():
        table.to_csv(folder / f"{name}.csv", index=False, float_format="%.3f")
    return folder


def between(tmp_path: Path, seed: int) -> Moved:
    cause = PLANTED[seed % len(PLANTED)]
    sets = [
        read(written(tmp_path / f"{seed}" / name, np.random.default_rng(seed), cause, now), run)
        for name, now, run in (("then", False, THEN), ("now", True, NOW))
    ]
    return moved(*sets)


@pytest.mark.parametrize("seed", range(SEEDS))
def test_steps_add_up_and_the_planted_cause_is_named_first(tmp_path: Path, seed: int) -> None:
    made = between(tmp_path, seed)
    assert len(made.moves) == 4
    for one in made.moves:
        assert one.days is not None
        assert sum(days for _, days in one.steps if days is not None) == one.days
    (mine,) = (one for one in made.moves if one.key == PLACE)
    assert mine.days
    assert mine.steps[0][0] == PLANTED[seed % len(PLANTED)]


def test_the_same_records_have_moved_nothing(tmp_path: Path) -> None:
    records = read(written(tmp_path / "one", np.random.default_rng(3), OWN, True), NOW)
    assert moved(records, records).notable == ()


def test_what_another_version_stated_is_the_programs_own_change(tmp_path: Path) -> None:
    records = read(written(tmp_path / "one", np.random.default_rng(3), OWN, True), NOW)
    (as_is,) = (one for one in moved(records, records).moves if one.key == PLACE)
    assert as_is.now is not None
    stated = {PLACE: as_is.now + dt.timedelta(days=90)}
    (mine,) = (one for one in moved(records, records, stated=stated).moves if one.key == PLACE)
    assert mine.steps[0] == ("another version of the program", -90)
    assert mine.days == -90


def test_the_brief_carries_what_moved_most_with_its_cause(tmp_path: Path) -> None:
    then = read(written(tmp_path / "then", np.random.default_rng(0), OWN, False), THEN)
    now = read(written(tmp_path / "now", np.random.default_rng(0), OWN, True), NOW)
    made = brief(now, then=then)
    told = {line.move.key: text for line, text in said(made) if isinstance(line, MovedPlace)}
    assert 1 <= len(told) <= 3
    assert "days sooner: own readings -" in told[PLACE]
    assert not any(isinstance(line, MovedPlace) for line, _ in said(brief(now)))


def test_a_book_knows_the_day_before_what_was_added_last(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = tmp_path / "fleet.book"
    assert day_before_last_import(tmp_path) is None
    for day, now in ((THEN, False), (NOW, True)):
        noon = dt.datetime(day.year, day.month, day.day, 12, tzinfo=dt.UTC)
        monkeypatch.setenv("SOURCE_DATE_EPOCH", str(int(noon.timestamp())))
        if not now:
            create(book)
        add(book, written(tmp_path / str(day), np.random.default_rng(0), OWN, now), "A. Bell")
        assert day_before_last_import(book) == (THEN if now else None)
