"""One report: every class is fitted once, and each of its posteriors found once a date."""

from __future__ import annotations

import pickle
import shutil
from collections import Counter
from dataclasses import fields
from hashlib import sha256
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from typer.testing import CliRunner

from wearcast.cli.main import app
from wearcast.forecasting import at
from wearcast.wear import known

PACKAGE = Path(known.__file__).parents[1]
SAMPLE = Path(__file__).parents[2] / "sample_data"


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo, cut to the walls of its main bearings, some of them doubted; of crankpins only events are left."""
    folder = tmp_path_factory.mktemp("once") / "demo"
    shutil.copytree(SAMPLE, folder)
    table = pd.read_csv(folder / "readings.csv", dtype=str, keep_default_na=False)
    table[(table["bearing"] == "main") & (table["quantity"] == "wall")].to_csv(
        folder / "readings.csv", index=False
    )
    return folder


@pytest.mark.parametrize("as_of", ["", "2026-06-01"])
def test_a_report_fits_each_class_once_and_finds_no_posterior_twice(
    records: Path, as_of: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fits: list[bool] = []  # whether readings are doubted
    posteriors: Counter[str] = Counter()
    screen, posterior = at.screen, known.posterior

    def counted_screen(*given: Any, **more: Any) -> Any:
        made = screen(*given, **more)
        fits.append(bool(made.left_out.any()))
        return made

    def counted_posterior(readings: Any, estimate: Any, series: Any) -> Any:
        given = (*(getattr(readings, one.name) for one in fields(readings)), series)
        posteriors[sha256(b"|".join(pickle.dumps(one) for one in given)).hexdigest()] += 1
        return posterior(readings, estimate, series)

    monkeypatch.setattr(at, "screen", counted_screen)
    monkeypatch.setattr(known, "posterior", counted_posterior)
    asked = ["--as-of", as_of] if as_of else []
    told = CliRunner().invoke(
        app, ["report", str(records), "--out", str(tmp_path / "pages"), "--no-backtest", *asked]
    )
    assert told.exit_code == 0, told.output
    assert len(fits) == 4  # upper and lower walls of mains and crankpins
    assert any(fits)
    assert set(posteriors.values()) == {1}
    # Of each class, and where readings are doubted with them once more, at the last counter reading, from which dated
    # chances are reckoned, and where the engines stand; of new shells at the last.
    assert len(posteriors) == 2 * (len(fits) + sum(fits)) + len(fits)


def test_nothing_else_fits_or_finds_posteriors() -> None:
    """The backtest hides readings, the estimators are given arrays: both ask what the forecast asks."""
    allowed = {"wear", "estimators"}
    found = [
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        if path.relative_to(PACKAGE).parts[0] not in allowed
        and any(name in path.read_text(encoding="utf-8") for name in (" posterior(", "=posterior("))
    ]
    assert found == []
