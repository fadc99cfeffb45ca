"""What the README and the guide show is what the commands print, and CI runs the README's own test command."""

from __future__ import annotations

import re
import shlex
import shutil
import sys
from pathlib import Path

import pytest
from shown_commands import PAGES, ROOT, Shown, blocks, missing_line, shown

from wearcast.cli.main import app, run
from wearcast.records.tables import TABLES

README = (ROOT / "README.md").read_text(encoding="utf-8")
SHOWN_ON = "1795600000"
"""The pages were printed on 2026-11-25; what ran since the last counter reading depends on the day."""


def printed(told: Shown, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setattr(sys, "argv", shlex.split(told.command))
    with pytest.raises(SystemExit) as stop:
        run()
    streams = capsys.readouterr()
    assert stop.value.code == 0, f"{told.page}: $ {told.command}\n{streams.err}"
    return streams.out


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the demo records, as after unpacking; commands may leave their files there."""
    shutil.copytree(ROOT / "sample_data", tmp_path / "sample_data")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", SHOWN_ON)
    return tmp_path


@pytest.mark.parametrize("page", PAGES, ids=[page.stem for page in PAGES])
def test_each_shown_output_is_what_the_command_prints(page, desk, capsys, monkeypatch) -> None:
    """The commands of a page are run in turn in one folder; the lines shown stand together in the output."""
    for told in shown(page):
        line = missing_line(told.lines, printed(told, capsys, monkeypatch))
        assert line is None, f"{told.page}: $ {told.command}: not printed (any more): {line!r}"


def test_every_command_is_shown_somewhere() -> None:
    text = "\n".join(page.read_text(encoding="utf-8") for page in PAGES)
    for command in app.registered_commands:
        assert re.search(rf"wearcast {command.name}\b", text), command.name
    for group in app.registered_groups:
        for command in group.typer_instance.registered_commands:
            assert re.search(rf"wearcast {group.name} {command.name}\b", text), (group.name, command.name)


def test_ci_runs_the_test_command_of_the_readme() -> None:
    commands = [text.strip() for text in blocks(README, "sh")]
    test_command = next(command for command in commands if command.endswith("-m pytest"))
    assert test_command in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert test_command in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_python_example_runs(desk, capsys) -> None:
    (code,) = blocks(README, "python")
    exec(compile(code, "README.md", "exec"), {})
    assert "hours_to_limit_p10" in capsys.readouterr().out


def test_every_column_of_every_table_is_named() -> None:
    section = README.split("## The record set", 1)[1].split("\n## ", 1)[0]
    for table in TABLES.values():
        (row,) = [line for line in section.splitlines() if line.startswith(f"| {table.name} |")]
        named = re.findall(r"[a-z_]+", row.split("|")[2].replace("(walls)", ""))
        assert named == [column.name for column in table.columns]
        bold = re.findall(r"[a-z_]+", " ".join(re.findall(r"\*\*(.*?)\*\*", row)))
        assert set(bold) == {column.name for column in table.columns if column.filled}


def test_cautions_stand_in_the_readme() -> None:
    for word in ("starting air", "turning gear", "oil-mist", "enclosed space", "never use a forecast"):
        assert word in README.lower()


def test_a_shown_line_that_is_not_printed_is_found() -> None:
    assert missing_line(("a 100 b", "...", "c"), "a 102 b\nx\nc\n") is None
    assert missing_line(("a 100 b",), "a 200 b\n") == "a 100 b"
    assert missing_line(("2026-01-01",), "2026-05-01") == "2026-01-01"
