"""The deciding commands as a user calls them, on the liners of one engine and on the demo."""

from __future__ import annotations

import sys
from pathlib import Path

import pandas as pd
import pytest

from wearcast.cli.main import run
from wearcast.decide import compare_rows, order_lines, plan_rows

LINERS = Path(__file__).parents[1] / "record_sets" / "marine_liners"
COLUMNS = {"plan": plan_rows.COLUMNS, "order": order_lines.COLUMNS, "compare": compare_rows.COLUMNS}


@pytest.fixture
def call(monkeypatch, capsys):
    def run_it(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["wearcast", *map(str, arguments)])
        code = 0
        try:
            run()
        except SystemExit as stop:
            code = int(stop.code or 0)
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return run_it


@pytest.mark.parametrize("command", ["plan", "order", "compare"])
def test_a_command_prints_within_the_width_and_writes_its_columns(call, tmp_path: Path, command: str) -> None:
    code, out, err = call(command, LINERS, "--csv", tmp_path / "out.csv")
    assert (code, err) == (0, "")
    assert "No forecast extends a limit or an interval" in " ".join(out.split())
    assert max(len(line) for line in out.splitlines()) <= 100
    assert list(pd.read_csv(tmp_path / "out.csv").columns) == list(COLUMNS[command])


@pytest.mark.parametrize(
    ("command", "option", "value"), [("plan", "--risk", "0.2"), ("order", "--lead-time", "300")]
)
def test_a_what_if_writes_both_cases(call, tmp_path: Path, command: str, option: str, value: str) -> None:
    code, out, _ = call(command, LINERS, option, value, "--csv", tmp_path / "case.csv")
    assert code == 0
    assert "What if:" in out
    assert {file.name for file in tmp_path.iterdir()} == {"case.csv", "case-as-given.csv"}


def test_a_limit_tried_is_no_limit(call) -> None:
    code, out, _ = call("compare", LINERS, "--limit", "other wear standard 3.0")
    assert code == 0
    assert "The maker's limit holds until the maker changes it." in out


def test_a_wrong_option_is_told_and_nothing_is_written(call, tmp_path: Path) -> None:
    code, out, err = call("plan", LINERS, "--move-window", "soon", "--csv", tmp_path / "out.csv")
    assert code == 2
    assert out == ""
    assert "write vessel, old date and new date" in " ".join(err.replace("│", " ").split())
    assert not (tmp_path / "out.csv").exists()
    code, _, err = call("order", LINERS, "--risk", "1.5", "--quiet")
    assert code == 2
    assert "risk is 1.5" in err
