"""Packs forged by a hand that also rewrites the manifests: the first sentence names what differs, and what it does."""

from __future__ import annotations

from hashlib import sha256

import pandas as pd
import pytest

from wearcast.evidence.first_said import first_said
from wearcast.evidence.repeat import repeat


def first_line(pack) -> str:
    found = repeat(pack)
    assert not found.came_out
    return first_said(found.differences, found.faults)


def forged_input(opened, change, name: str, old: str, new: str) -> None:
    """Another text in a file given, and its hash in the list to match."""
    path = opened / "data" / "input" / name
    before = sha256(path.read_bytes()).hexdigest()
    change(path, old, new)
    change(opened / "data" / "input-files.csv", before, sha256(path.read_bytes()).hexdigest())


def test_an_eased_limit_is_named_with_the_early_date_it_moves(opened, closed, change) -> None:
    forged_input(opened, change, "limits.csv", "7.950", "7.940")
    said = first_line(closed())
    assert said.startswith("A limit differs: ")
    assert "recorded 7.95, from the records in the pack 7.94" in said
    assert "It moves Alder 2 main" in said
    assert "early date (one chance in ten) recorded 20" in said


def test_a_reading_taken_out_of_the_records_is_named_with_its_place(opened, closed) -> None:
    path = opened / "data" / "input" / "readings.csv"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    listed = opened / "data" / "input-files.csv"
    before = sha256(path.read_bytes()).hexdigest()
    path.write_text("".join(lines[:17] + lines[18:]), encoding="utf-8")
    text = listed.read_text(encoding="utf-8").replace(before, sha256(path.read_bytes()).hexdigest())
    listed.write_text(text, encoding="utf-8")
    said = first_line(closed())
    assert said.startswith("A reading differs: Alder 2 main 3 lower wall")
    assert "It moves Alder 2 main" in said


def test_a_gauge_made_better_is_named(opened, closed, change) -> None:
    change(
        opened / "data" / "gauges.csv", "ball micrometer 4,wall,stated,3", "ball micrometer 4,wall,stated,1"
    )
    said = first_line(closed())
    assert said.startswith("A gauge differs: ")
    assert "No early date of this engine hangs on it." in said


@pytest.mark.parametrize(
    ("table", "column", "said"),
    [
        ("forecast", "hours_to_limit_p10", "A figure of the forecast"),
        ("plan", "p_limit_before_until", "A figure of the plan"),
        ("order", "on_hand", "A figure of the order"),
    ],
)
def test_a_forged_answer_is_named_with_its_place(opened, closed, table: str, column: str, said: str) -> None:
    path = opened / "data" / f"{table}.csv"
    rows = pd.read_csv(path, dtype=str, keep_default_na=False)
    rows.loc[0, column] = f"{float(rows.loc[0, column]) * 1.5 + 1:.9g}"
    path.write_text(rows.to_csv(index=False, lineterminator="\n"), encoding="utf-8")
    line = first_line(closed())
    assert line.startswith(f"{said} differs: ")
    assert "main" in line
    assert column.replace("_", " ") in line


def test_an_accepted_risk_made_larger_is_found(opened, closed, change) -> None:
    settings = opened / "data" / "settings.toml"
    change(settings, "risk = 0.1\n", "risk = 0.3\n")
    found = repeat(closed())
    assert not found.came_out
    assert any(one.file == "readme.txt" for one in found.differences), "what has been eased names the setting"


def test_nothing_is_said_of_a_sound_pack(packed) -> None:
    found = repeat(packed)
    assert first_said(found.differences, found.faults) == ""
