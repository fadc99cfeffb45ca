"""`wearcast mapping draft` as a user calls it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

from wearcast.cli.main import run
from wearcast.records.mapping import read_mapping


def call(monkeypatch: pytest.MonkeyPatch, *arguments: object) -> int:
    monkeypatch.setattr(sys, "argv", ["wearcast", "mapping", "draft", *map(str, arguments)])
    try:
        run()
    except SystemExit as stop:
        return int(stop.code or 0)
    return 0


def test_a_draft_is_printed_or_written(
    shapes: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path, out = shapes["wide"].write(tmp_path), tmp_path / "draft.toml"
    assert call(monkeypatch, path) == 0
    printed = capsys.readouterr().out
    assert call(monkeypatch, path, "--out", out, "--sheet", "lower shells") == 0
    assert out.read_text(encoding="utf-8") == printed
    assert read_mapping(out).sheet == "lower shells"
    assert "check every line; 6 say" in capsys.readouterr().out


def test_a_file_that_is_none_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert call(monkeypatch, tmp_path / "none.csv") == 2
    assert "there is no such file" in capsys.readouterr().err
