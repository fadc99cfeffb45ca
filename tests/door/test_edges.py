"""Numbers at the edge of what their quantity can have, through the Python door: a refusal or a result, nothing else."""

from __future__ import annotations

import contextlib
import csv
import datetime as dt
import io
import random
from collections.abc import Callable
from pathlib import Path

import pytest
from mutated_files import SOUND

import wearcast
from wearcast.errors import InputRefused, WrongUse
from wearcast.records.records import RecordSet
from wearcast.records.tables import TABLES, Column
from wearcast.settings import range_of

pytestmark = pytest.mark.slow
RUN = dt.date(2025, 1, 1)


def edges(column: Column) -> list[float]:
    return sorted({column.least, column.most, column.finest or column.least})


def written(folder: Path, changed: dict[tuple[str, str], tuple[str, int | None]]) -> Path:
    """The sound records with some cells changed: of one row, or of all."""
    folder.mkdir(exist_ok=True)
    for name, text in SOUND.items():
        header, *rows = csv.reader(io.StringIO(text, newline=""))
        for (table, column), (value, only) in changed.items():
            if table != name:
                continue
            if column not in header:
                header.append(column)
                rows = [[*row, ""] for row in rows]
            for number, row in enumerate(rows):
                if only is None or number == only % len(rows):
                    row[header.index(column)] = value
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([header, *rows])
    return folder


ASKED = {"engines": wearcast.compare, "windows": wearcast.plan, "spares": wearcast.order}
"""What a table matters most to; the others to the forecast."""


def asked(folder: Path, *questions: Callable[[RecordSet], object]) -> None:
    """What is asked of records; raises what it raises."""
    records = wearcast.read(folder, RUN)
    for ask in questions:
        with contextlib.suppress(InputRefused, WrongUse):
            ask(records)


NUMBERS = [(table, column) for table in TABLES for column in TABLES[table].columns if column.cell == "number"]


@pytest.mark.parametrize(
    ("table", "column"), NUMBERS, ids=[f"{table}-{column.name}" for table, column in NUMBERS]
)
def test_every_number_at_its_edge_is_refused_or_worked_with(
    table: str, column: Column, tmp_path: Path
) -> None:
    for value in edges(column):
        changed = {(table, column.name): (f"{value:.10g}", None)}
        asked(written(tmp_path / "records", changed), ASKED.get(table, wearcast.forecast))


@pytest.mark.parametrize("seed", range(8))
def test_several_numbers_at_their_edges_are_refused_or_worked_with(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    changed = {}
    for table, column in rng.sample(NUMBERS, 4):
        changed[table, column.name] = (f"{rng.choice(edges(column)):.10g}", rng.choice((None, 0, 1, 2)))
    asked(written(tmp_path / "records", changed), wearcast.forecast, *ASKED.values())


CHOICES = [(section, name) for section, name, value in wearcast.Settings().rows() if isinstance(value, float)]


@pytest.mark.parametrize("name", CHOICES, ids=[name for _, name in CHOICES])
def test_every_setting_at_its_edge_is_refused_or_worked_with(name: tuple[str, str], tmp_path: Path) -> None:
    records = wearcast.read(written(tmp_path / "records", {}), RUN)
    usual = next(value for section, one, value in wearcast.Settings().rows() if (section, one) == name)
    for value in range_of(name[1], usual):
        head = "" if name[0] == "general" else f"[{name[0]}]\n"
        (tmp_path / "s.toml").write_text(f"{head}{name[1]} = {value}\n", encoding="utf-8")
        with contextlib.suppress(WrongUse):
            wearcast.forecast(records, settings=wearcast.read_settings(tmp_path / "s.toml"))
