"""What the README shows is what the commands print, and CI runs the README's own test command."""

from __future__ import annotations

import re
import shlex
import sys
from datetime import date
from pathlib import Path

import pytest

from wearcast.cli.main import run
from wearcast.records.tables import TABLES

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", README, flags=re.DOTALL)
CONSOLE = [text for kind, text in BLOCKS if kind == "console"]
SHOWN_ON = "1795600000"
"""The README was printed on 2026-11-25; what ran since the last counter reading depends on the day."""
NUMBER = re.compile(r"^\d[\d,.]*$")


def printed(command: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(ROOT)
    monkeypatch.setattr(sys, "argv", shlex.split(command))
    monkeypatch.setenv("SOURCE_DATE_EPOCH", SHOWN_ON)
    with pytest.raises(SystemExit) as stop:
        run()
    assert stop.value.code == 0
    return capsys.readouterr().out


def same_word(shown: str, now: str) -> bool:
    """Equal, or figures that another build of the libraries may move: 3 % in hours, 60 days in dates."""
    if shown == now:
        return True
    if re.fullmatch(r"\d{4}-\d\d-\d\d", shown) and re.fullmatch(r"\d{4}-\d\d-\d\d", now):
        return abs((date.fromisoformat(shown) - date.fromisoformat(now)).days) <= 60
    if NUMBER.match(shown) and NUMBER.match(now):
        return abs(float(shown) - float(now)) <= max(0.03 * abs(float(shown)), 10)
    return False


def words(line: str) -> list[str]:
    return re.sub(r"(?<=\d) (?=\d{3}\b)", "", line).split()


@pytest.mark.parametrize("block", CONSOLE, ids=[text.splitlines()[0] for text in CONSOLE])
def test_each_shown_output_is_what_the_command_prints(block, capsys, monkeypatch) -> None:
    """The lines shown stand together in the output; a line of dots stands for what is left out."""
    command, *shown = block.rstrip("\n").splitlines()
    out = printed(command.removeprefix("$ "), capsys, monkeypatch).splitlines()
    at = 0
    for line in shown:
        if line.strip() == "...":
            continue
        want = words(line)
        while at < len(out):
            have = words(out[at])
            at += 1
            if len(want) == len(have) and all(map(same_word, want, have)):
                break
        else:
            pytest.fail(f"not printed (any more): {line!r}")


def test_ci_runs_the_test_command_of_the_readme() -> None:
    commands = [text.strip() for kind, text in BLOCKS if kind == "sh"]
    test_command = next(command for command in commands if command.endswith("-m pytest"))
    assert test_command in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert test_command in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_python_example_runs(capsys, monkeypatch) -> None:
    monkeypatch.chdir(ROOT)
    (code,) = [text for kind, text in BLOCKS if kind == "python"]
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
