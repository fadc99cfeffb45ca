"""Settings: every one can be overridden from a file, nothing else can, and a moved prior moves the forecast."""

from __future__ import annotations

import datetime as dt
import json
import re
from dataclasses import FrozenInstanceError, fields
from pathlib import Path
from typing import Any

import pytest

import wearcast
from wearcast.errors import WrongUse
from wearcast.settings import Settings, read_settings
from wearcast.wear.priors import Priors
from wearcast.wear.thresholds import Thresholds

RUN = dt.date(2026, 1, 1)
SECTIONS = {"priors": Priors(), "thresholds": Thresholds()}


@pytest.fixture
def toml(tmp_path: Path):
    def write(text: str) -> Path:
        path = tmp_path / "settings.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def other(value: Any) -> Any:
    """Another value of the same kind, still a share where the value is one."""
    if isinstance(value, bool):
        return not value
    return value + 1 if isinstance(value, int) else round(0.9 * value, 6)


def every_setting() -> list[tuple[str, str, Any]]:
    return list(Settings().rows())


def test_every_field_has_one_printed_row() -> None:
    names = [(section, name) for section, name, _ in every_setting()]
    inner = [(section, one.name) for section, values in SECTIONS.items() for one in fields(values)]
    general = [("general", one.name) for one in fields(Settings) if one.name not in SECTIONS]
    assert sorted(names) == sorted(inner + general)
    assert len(names) == len(set(names))


def test_all_settings_round_trip_through_a_file(toml) -> None:
    changed = [(section, name, other(value)) for section, name, value in every_setting()]
    text = "".join(
        f"{name} = {json.dumps(value)}\n" for section, name, value in changed if section == "general"
    )
    for section in SECTIONS:
        text += f"[{section}]\n"
        text += "".join(
            f"{name} = {json.dumps(value)}\n" for where, name, value in changed if where == section
        )
    assert read_settings(toml(text)).rows() == tuple(changed)


@pytest.mark.parametrize(("section", "name", "value"), every_setting())
def test_each_setting_alone_leaves_the_others(toml, section: str, name: str, value: Any) -> None:
    head = "" if section == "general" else f"[{section}]\n"
    found = read_settings(toml(f"{head}{name} = {json.dumps(other(value))}\n"))
    expected = [(s, n, other(v) if (s, n) == (section, name) else v) for s, n, v in every_setting()]
    assert found.rows() == tuple(expected)
    assert all(type(a[2]) is type(b[2]) for a, b in zip(found.rows(), every_setting(), strict=True))


def test_a_mean_may_be_zero(toml) -> None:
    assert read_settings(toml("[priors]\nrunning_in_mean = 0\n")).priors.running_in_mean == 0.0


def test_an_empty_file_is_the_defaults(toml) -> None:
    assert read_settings(toml("")) == Settings()


def test_a_whole_number_will_do_for_a_decimal_one(toml) -> None:
    found = read_settings(toml("[priors]\ndesign_life_kh = 50\n")).priors.design_life_kh
    assert found == 50.0
    assert isinstance(found, float)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("risc = 0.1\n", "risc is no setting. Known here: .*risk"),
        ("[priors]\ndesign_life = 50\n", r"priors\.design_life is no setting. Known here: design_life_kh"),
        ("[forecast]\nrisk = 0.1\n", "forecast is no setting"),
        ("priors = 3\n", r"priors must be a section, \[priors\]"),
        ('risk = "small"\n', "risk is 'small'; expected a number"),
        ("[thresholds]\ndoubted_sd = true\n", r"thresholds\.doubted_sd is True; expected a number"),
        ("[thresholds]\ndoubted_sd = [4.0]\n", "expected a number"),
        ("[risk]\nvalue = 0.1\n", "risk is .*expected a number"),
        ("risk = 1.5\n", "risk is 1.5; expected a share between 0 and 1"),
        ("service = 0\n", "service is 0; expected a number from"),
        ("[priors]\nrate_sd = -1\n", r"priors\.rate_sd is -1; expected a number from"),
        ("[priors]\ndesign_life_kh = nan\n", "expected a number from"),
        ("[priors]\nrate_sd = inf\n", "expected a number from"),
        ("[thresholds]\nend_swap_positions = 4.5\n", "expected a whole number"),
        ("risk 0.1\n", "not TOML"),
    ],
)
def test_what_is_no_setting_is_refused_by_name(toml, text: str, words: str) -> None:
    with pytest.raises(WrongUse, match=words):
        read_settings(toml(text))


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    with pytest.raises(WrongUse, match="cannot be read as settings"):
        read_settings(tmp_path / "none.toml")
    (tmp_path / "binary.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(WrongUse, match="cannot be read as settings"):
        read_settings(tmp_path / "binary.toml")


def test_settings_do_not_change_under_a_forecast() -> None:
    with pytest.raises(FrozenInstanceError):
        Settings().risk = 0.2  # type: ignore[misc]


@pytest.fixture
def records(record_folder):
    rows = [
        {
            "position": str(position),
            "value": f"{7.9925 - 0.0009 * years - 0.001 * (position - 2):.4f}",
            "date": f"{2012 + years}-05-17",
            "counter_h": str(5000 * years),
        }
        for position in (1, 2, 3)
        for years in (2, 4)
    ]
    return wearcast.read(record_folder(readings=rows), RUN)


@pytest.mark.parametrize(
    ("text", "column", "rises"),
    [
        # A longer life lowers the rate expected before any reading, and less uneven wear the early risk.
        ("[priors]\ndesign_life_kh = 240\n", "hours_to_limit_p50", True),
        ("[priors]\nrate_mean = 2.0\nrate_sd = 0.2\n", "wear_rate_um_per_kh", True),
        ("[priors]\nuneven_wear_median = 0.2\n", "hours_to_limit_p05", True),
        ("[priors]\nengine_rate_median = 1.0\nplace_rate_median = 1.0\n", "wear_rate_u_um_per_kh", True),
        ("[priors]\nrunning_in_mean = 0.3\nrunning_in_sd = 0.02\n", "wear_rate_um_per_kh", False),
    ],
)
def test_a_prior_from_a_file_moves_the_forecast(records, toml, text: str, column: str, rises: bool) -> None:
    before = wearcast.forecast(records).table[column]
    after = wearcast.forecast(records, settings=read_settings(toml(text))).table[column]
    moved = after - before if rises else before - after
    assert (moved > 0.02 * before).all()


def test_a_threshold_from_a_file_moves_the_own_line(records, toml) -> None:
    settings = read_settings(toml("[thresholds]\nrunning_in_h = 15000\n"))
    assert (wearcast.forecast(records).table["own_readings"] == 2).all()
    assert (wearcast.forecast(records, settings=settings).table["own_readings"] == 1).all()


def test_every_setting_is_printed_in_the_report(records, toml) -> None:
    from wearcast.report.sheets import render

    settings = read_settings(toml("risk = 0.07\n[priors]\nrate_mean = 1.375\n"))
    page = render(wearcast.forecast(records, settings=settings), "1")["index.html"]
    for _, name, _ in settings.rows():
        assert re.sub(r"_(um_per_kh|um|kh|h)$", "", name).replace("_", " ") in page, name
    assert "1.375" in page
    assert "0.07" in page
