"""The committed example is what the README's command makes today."""

from __future__ import annotations

import re
import shlex
import sys
from pathlib import Path

import pytest
from shown_commands import ROOT, blocks, same_word

from wearcast.cli.main import run

EXAMPLE = ROOT / "reports" / "example"
COMMAND = next(
    line
    for block in blocks((ROOT / "README.md").read_text(encoding="utf-8"), "sh")
    for line in block.splitlines()
    if "reports/example" in line
)


def words(page: Path) -> list[str]:
    """What can be read on a page: neither scripts nor styles nor the paths of drawings."""
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    return re.sub(r"<[^>]*>", " ", text).split()


def test_the_example_says_what_the_command_says_today(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stamp, *arguments = shlex.split(COMMAND)
    name, value = stamp.split("=")
    monkeypatch.setenv(name, value)
    arguments[arguments.index("sample_data")] = str(ROOT / "sample_data")
    arguments[arguments.index("reports/example")] = str(tmp_path)
    monkeypatch.setattr(sys, "argv", arguments)
    with pytest.raises(SystemExit) as stop:
        run()
    assert stop.value.code == 0
    made = sorted(path.name for path in tmp_path.iterdir())
    assert made == sorted(path.name for path in EXAMPLE.glob("*.html"))
    for page in made:
        kept, now = words(EXAMPLE / page), words(tmp_path / page)
        kept = [word for word in kept if "sample_data" not in word]
        now = [word for word in now if "sample_data" not in word]
        assert len(kept) == len(now), page
        moved = [pair for pair in zip(kept, now, strict=True) if not same_word(*pair)]
        assert len(moved) <= len(kept) // 100, moved[:10]  # figures that fall just across a rounding


def test_the_example_is_small() -> None:
    assert sum(path.stat().st_size for path in EXAMPLE.iterdir()) < 2_000_000
    assert (EXAMPLE / "shaft-line.png").stat().st_size < 200_000
