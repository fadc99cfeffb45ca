"""Numbers at the edge of what they can be, and any cells, through the Python door: a refusal or a result."""

from __future__ import annotations

import contextlib
import csv
import datetime as dt
import io
import os
import random
from collections.abc import Callable
from pathlib import Path

import hypothesis
import pytest
from hypothesis import strategies as st
from mutated_files import NASTY, SOUND

import wearcast
from wearcast.decide.order import longest_years
from wearcast.decide.steps import horizon_from
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


# --- any cells

MORE = int(os.environ.get("WEARCAST_EXAMPLES", "0"))
"""Set it for a long search with fresh examples; without it the same few are tried each time."""

QUICK = wearcast.Settings(follow_changes=False)
WORDS = st.sampled_from([word for word in NASTY if len(word) < 100 and word.isprintable()])


def number(least: float, most: float) -> st.SearchStrategy[str]:
    return st.floats(max(least, -1e7), min(most, 1e7)).map(lambda value: f"{value:.6g}")


def cell(column: Column) -> st.SearchStrategy[str]:
    """What such a cell holds, or anything."""
    kinds = [WORDS, st.just("")]
    if column.cell == "number":
        kinds = [number(column.least, column.most), number(7.5, 8.1), number(0, 60_000), *kinds]
    elif column.cell == "date":
        kinds = [st.dates().map(str), st.dates(RUN.replace(year=2014), RUN).map(str), *kinds]
    elif column.choices:
        kinds = [st.sampled_from(column.choices)] * 4 + kinds
    else:
        kinds = [st.sampled_from(["Alder", "ME", "1", "2", "3", "standard", "U25", "Bramble Six"]), *kinds]
    return st.one_of(kinds)


ANY = st.sampled_from([(table, column) for table in TABLES for column in TABLES[table].columns]).flatmap(
    lambda at: st.tuples(
        st.just((at[0], at[1].name)), st.tuples(cell(at[1]), st.sampled_from((None, 0, 1, 2, 3, 5, 8)))
    )
)


@hypothesis.settings(
    max_examples=MORE or 12,
    deadline=None,
    derandomize=not MORE,
    suppress_health_check=[hypothesis.HealthCheck.too_slow, hypothesis.HealthCheck.data_too_large],
)
@hypothesis.given(
    changed=st.lists(ANY, min_size=1, max_size=4).map(dict),
    faulty=st.booleans(),
    ask=st.sampled_from(sorted(ASKED)),
)
def test_any_cells_are_refused_or_worked_with(
    tmp_path_factory: pytest.TempPathFactory,
    changed: dict[tuple[str, str], tuple[str, int | None]],
    faulty: bool,
    ask: str,
) -> None:
    folder: Path = written(tmp_path_factory.mktemp("any") / "records", changed)
    records = wearcast.read(folder, RUN)
    with contextlib.suppress(InputRefused, WrongUse):
        made = wearcast.forecast(records, settings=QUICK, leave_out_faulty=faulty)
        assert len(made.table) == len(made.rows)
        assert all(query.text for query in made.queries)
        ASKED[ask](records)
    assert set(SOUND) == set(TABLES)


@pytest.mark.parametrize("days", [float("nan"), float("inf"), 1e308, 1e20, -1.0])
def test_nobody_looks_ahead_beyond_all_engines(days: float, tmp_path: Path) -> None:
    records = wearcast.read(written(tmp_path / "records", {}), RUN)
    for ask in (
        lambda: horizon_from(RUN, days),
        lambda: longest_years(records, days),
        lambda: wearcast.WhatIf(lead_time_days=days),
    ):
        with pytest.raises(WrongUse, match=r"days; expected 0 to 36,600"):
            ask()
