"""The commands as a user calls them: exit codes, streams, files whole or not at all."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pytest

from wearcast.cli.main import run

LINERS = Path(__file__).parents[1] / "record_sets" / "marine_liners"


@dataclass(frozen=True)
class Done:
    """What a command left: exit code and both streams."""

    returncode: int
    stdout: str
    stderr: str


@pytest.fixture
def wearcast(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Done]:
    """Call the command line in this process, as the installed script does."""

    def call(*arguments: object, **environment: str) -> Done:
        with monkeypatch.context() as patch:
            patch.setattr(sys, "argv", ["wearcast", *map(str, arguments)])
            for name, value in environment.items():
                patch.setenv(name, value)
            code = 0
            try:
                run()
            except SystemExit as stop:
                code = int(stop.code or 0)
        printed = capsys.readouterr()
        return Done(code, printed.out, printed.err)

    return call


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with the readings of its main bearings' walls alone."""
    folder = tmp_path_factory.mktemp("mains") / "demo"
    shutil.copytree(LINERS.parents[2] / "sample_data", folder)
    table = pd.read_csv(folder / "readings.csv", dtype=str, keep_default_na=False)
    kept = (table["bearing"] == "main") & (table["quantity"] == "wall")
    table[kept].to_csv(folder / "readings.csv", index=False)
    events = pd.read_csv(folder / "events.csv", dtype=str, keep_default_na=False)
    events[events["bearing"].isin(["main", ""])].to_csv(folder / "events.csv", index=False)
    return folder


@pytest.fixture
def faulty(tmp_path: Path) -> Path:
    """The liners with one reading that is no number, and beside them a second engine that is in order."""
    folder = tmp_path / "faulty"
    shutil.copytree(LINERS, folder)
    readings = folder / "readings.csv"
    lines = readings.read_text(encoding="utf-8").splitlines()
    second = [line.replace("Liner study,E1", "Liner study,E2", 1) for line in lines[1:]]
    lines[10] = lines[10].replace(",mm,", " mm,mm,")
    readings.write_text("\n".join(lines + second) + "\n", encoding="utf-8")
    engines = (folder / "engines.csv").read_text(encoding="utf-8").splitlines()
    both = [*engines, engines[1].replace("E1", "E2", 1)]
    (folder / "engines.csv").write_text("\n".join(both) + "\n", encoding="utf-8")
    return folder


def test_forecast_prints_at_most_100_columns_and_ends_well(wearcast) -> None:
    done = wearcast("forecast", LINERS)
    assert done.returncode == 0
    assert done.stderr == ""
    assert max(map(len, done.stdout.splitlines())) <= 100
    assert "other 1 wear" in done.stdout
    assert "Traceback" not in done.stdout


def test_forecast_shows_the_ten_soonest_and_all_where_asked(wearcast, demo: Path) -> None:
    def rows(*more: str) -> list[tuple[str, str]]:
        lines = wearcast("forecast", demo, *more).stdout.splitlines()
        return [(line[:10], line) for line in lines if re.match(r"\d{4}-\d\d-\d\d  .* ME ", line)]

    soonest, every = rows("--as-of", "2024-01-01"), rows("--as-of", "2024-01-01", "--all")
    assert len(soonest) < 11 < len(every)
    assert [day for day, _ in every] == sorted(day for day, _ in every)
    assert every[: len(soonest)] == soonest


def test_what_is_asked_for_alone_is_forecast_from_the_whole_fleet(
    wearcast, demo: Path, tmp_path: Path
) -> None:
    wearcast("forecast", demo, "--quiet", "--csv", tmp_path / "all.csv")
    asked = ("--vessel", "merrow dain", "--bearing", "main 5")
    done = wearcast("forecast", demo, *asked, "--csv", tmp_path / "one.csv")
    every, one = pd.read_csv(tmp_path / "all.csv"), pd.read_csv(tmp_path / "one.csv")
    mine = every[(every["vessel"] == "Merrow Dain") & (every["bearing"] == "main") & (every["position"] == 5)]
    pd.testing.assert_frame_equal(one, mine.reset_index(drop=True))
    assert "Ossel Brae" not in done.stdout
    done = wearcast("forecast", demo, "--vessel", "Merow Dain")
    assert done.returncode == 2
    assert "Did you mean Merrow Dain" in done.stderr


def test_another_yearly_use_moves_dates_and_no_hours(wearcast, tmp_path: Path) -> None:
    wearcast("forecast", LINERS, "--quiet", "--csv", tmp_path / "given.csv")
    done = wearcast("forecast", LINERS, "--hours-per-year", "3000", "--csv", tmp_path / "case.csv")
    given, case = pd.read_csv(tmp_path / "given.csv"), pd.read_csv(tmp_path / "case.csv")
    assert "What if: every engine at 3000 h a year" in done.stdout
    pd.testing.assert_series_equal(given["hours_to_limit_p10"], case["hours_to_limit_p10"])
    assert not given["date_p50"].equals(case["date_p50"])


def test_forecast_writes_csv_and_json_with_the_same_rows(wearcast, tmp_path: Path) -> None:
    done = wearcast("forecast", LINERS, "--csv", tmp_path / "f.csv", "--json", tmp_path / "f.json", "--quiet")
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    table = pd.read_csv(tmp_path / "f.csv")
    rows = json.loads((tmp_path / "f.json").read_text(encoding="utf-8"))
    assert list(table.columns) == list(rows[0])
    assert len(table) == len(rows) == 8
    late = [row["own_hours_p95"] for row in rows]
    assert [value is None for value in late] == table["own_hours_p95"].isna().tolist()


def engine_of_row(folder: Path, row: int) -> tuple[str, str]:
    read = pd.read_csv(folder / "readings.csv", dtype=str)
    return read.loc[row - 2, "vessel"], read.loc[row - 2, "engine"]


def test_a_refused_reading_ends_with_1_and_refuses_its_engine_alone(
    wearcast, faulty: Path, tmp_path: Path
) -> None:
    done = wearcast("forecast", faulty, "--csv", tmp_path / "f.csv")
    vessel, engine = engine_of_row(faulty, 11)
    assert done.returncode == 1
    assert "readings.csv, row 11, value" in done.stderr
    assert f"Refused: {vessel} {engine}." in done.stderr
    assert "Traceback" not in done.stderr
    others = pd.read_csv(tmp_path / "f.csv", dtype=str)
    assert (vessel, engine) not in set(zip(others["vessel"], others["engine"], strict=True))
    assert len(others)


def test_what_is_asked_of_a_refused_engine_is_refused_and_nothing_is_written(
    wearcast, faulty: Path, tmp_path: Path
) -> None:
    vessel, engine = engine_of_row(faulty, 11)
    of = ("--vessel", vessel, "--engine", engine)
    done = wearcast("forecast", faulty, *of, "--csv", tmp_path / "f.csv")
    assert done.returncode == 1
    assert "readings.csv, row 11, value" in done.stderr
    assert not (tmp_path / "f.csv").exists()


def test_a_fault_that_may_be_any_engines_stops_them_all(wearcast, faulty: Path, tmp_path: Path) -> None:
    limits = (faulty / "limits.csv").read_text(encoding="utf-8")
    (faulty / "limits.csv").write_text(limits.replace(",mm,", ",furlong,", 1), encoding="utf-8")
    done = wearcast("forecast", faulty, "--csv", tmp_path / "f.csv")
    assert done.returncode == 1
    assert "limits.csv" in done.stderr
    assert not (tmp_path / "f.csv").exists()


def test_leaving_out_goes_on_and_lists_the_row(wearcast, faulty: Path) -> None:
    done = wearcast("forecast", faulty, "--leave-out-faulty")
    assert done.returncode == 0
    assert "readings.csv, row 11" in done.stdout


def test_check_lists_refusals_as_json_and_ends_with_1(wearcast, faulty: Path, tmp_path: Path) -> None:
    done = wearcast("check", faulty, "--json", tmp_path / "q.json")
    assert done.returncode == 1
    found = json.loads((tmp_path / "q.json").read_text(encoding="utf-8"))
    (query,) = [one for one in found if one["stops_run"]]
    assert list(query) == [
        "kind", "stops_run", "table", "rows", "vessel", "engine", "bearing", "position", "half", "evidence",
        "text", "suggestion",
    ]  # fmt: skip
    assert (query["kind"], query["stops_run"], query["table"], query["rows"]) == (
        "not_understood",
        True,
        "readings",
        [11],
    )


def test_check_of_sound_records_ends_with_0(wearcast) -> None:
    done = wearcast("check", LINERS)
    assert done.returncode == 0
    assert "Every row was understood" in done.stdout


@pytest.mark.parametrize(
    "arguments",
    [
        ["forecast", "no such folder"],
        ["forecast", LINERS, "--as-of", "17.05.2024"],
        ["forecast"],
        ["nonsense"],
        ["forecast", LINERS, "--settings", LINERS / "readings.csv"],
    ],
)
def test_wrong_use_ends_with_2_and_a_sentence(wearcast, arguments: list[object]) -> None:
    done = wearcast(*arguments)
    assert done.returncode == 2
    assert done.stderr.strip()
    assert "Traceback" not in done.stderr


def test_an_output_that_cannot_be_written_leaves_what_was_there(wearcast, tmp_path: Path) -> None:
    (tmp_path / "taken").mkdir()
    done = wearcast("forecast", LINERS, "--csv", tmp_path / "taken")
    assert done.returncode == 1
    assert "cannot be written" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]


def test_source_date_epoch_is_the_date_of_the_run(wearcast, tmp_path: Path) -> None:
    done = wearcast("forecast", LINERS, SOURCE_DATE_EPOCH="1000000000")  # 2001-09-09
    assert done.returncode == 1
    assert "2001-09-09" in done.stderr
    assert wearcast("forecast", LINERS, SOURCE_DATE_EPOCH="soon").returncode == 2


def test_settings_from_a_file_replace_the_defaults(wearcast, tmp_path: Path) -> None:
    settings = tmp_path / "settings.toml"
    settings.write_text("risk = 0.05\n[priors]\ndesign_life_kh = 50\n", encoding="utf-8")
    assert wearcast("forecast", LINERS, "--settings", settings).returncode == 0
    settings.write_text("[priors]\ndesign_life = 50\n", encoding="utf-8")
    done = wearcast("forecast", LINERS, "--settings", settings)
    assert done.returncode == 2
    assert "design_life is no setting" in done.stderr


def test_version_is_printed(wearcast) -> None:
    from wearcast.version import __version__

    assert wearcast("--version").stdout.strip() == f"wearcast {__version__}"


def test_the_installed_command_and_the_module_are_the_same_program() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "wearcast", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout.startswith("wearcast ")
