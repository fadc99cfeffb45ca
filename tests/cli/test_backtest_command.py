"""The backtest on the command line: eight liners of published wear."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

from wearcast.backtesting.table import COLUMNS, WEAR
from wearcast.cli.main import app

LINERS = Path(__file__).parents[1] / "record_sets" / "marine_liners"


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory):
    out = tmp_path_factory.mktemp("backtest") / "readings.csv"
    return CliRunner().invoke(app, ["backtest", str(LINERS), "--csv", str(out)]), out


def test_it_prints_both_runs_in_at_most_100_columns(done) -> None:
    printed, _ = done
    assert printed.exit_code == 0
    lines = printed.stdout.splitlines()
    assert max(map(len, lines)) <= 100
    assert lines[0] == "How far to trust the forecast"
    assert "Each shell's last reading hidden" in printed.stdout
    assert "Each shell's last two openings hidden" in printed.stdout


def test_it_writes_one_row_a_hidden_reading(done) -> None:
    _, out = done
    table = pd.read_csv(out)
    assert tuple(table.columns) == COLUMNS
    assert (table["run"] == 1).sum() == 8  # one a liner
    assert table[list(WEAR)].notna().all().all()
    assert (table["hours_taken"] > 0).all()


def test_quiet_prints_nothing() -> None:
    printed = CliRunner().invoke(app, ["backtest", str(LINERS), "--quiet"])
    assert (printed.exit_code, printed.output) == (0, "")
