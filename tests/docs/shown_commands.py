"""Console blocks of Markdown pages: what was typed and what was shown."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "wearcast" / "guide"
PAGES = (ROOT / "README.md", *sorted(GUIDE.glob("*.md")))
NUMBER = re.compile(r"^\d+(\.\d+)?$")
DIGEST = re.compile(r"^[0-9a-f]{8,64}[,.;:]?$")


@dataclass(frozen=True)
class Shown:
    """One command with the lines shown under it."""

    page: str
    command: str
    lines: tuple[str, ...]


def blocks(text: str, kind: str) -> list[str]:
    """The fenced blocks of one kind."""
    return re.findall(rf"```{kind}\n(.*?)```", text, flags=re.DOTALL)


def shown(page: Path) -> Iterator[Shown]:
    """Every command of the console blocks of a page, in order."""
    for block in blocks(page.read_text(encoding="utf-8"), "console"):
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, *lines = part.rstrip("\n").splitlines()
            yield Shown(page.name, command, tuple(lines))


def missing_line(lines: tuple[str, ...], printed: str) -> str | None:
    """The first shown line that does not follow in what was printed; dots stand for what is left out."""
    out, at = printed.splitlines(), 0
    for line in lines:
        if line.strip() == "...":
            continue
        want = _words(line)
        while at < len(out):
            have = _words(out[at])
            at += 1
            if len(want) == len(have) and all(map(same_word, want, have)):
                break
        else:
            return line
    return None


def same_word(told: str, now: str) -> bool:
    """Equal, or what another build of the libraries may move: 3 % in figures, 60 days in dates; any digest."""
    if told == now:
        return True
    if re.fullmatch(r"\d{4}-\d\d-\d\d", told) and re.fullmatch(r"\d{4}-\d\d-\d\d", now):
        return abs((date.fromisoformat(told) - date.fromisoformat(now)).days) <= 60
    if NUMBER.match(told) and NUMBER.match(now):
        return abs(float(told) - float(now)) <= max(0.03 * abs(float(told)), 10)
    return bool(DIGEST.match(told) and DIGEST.match(now) and len(told) == len(now))


def _words(line: str) -> list[str]:
    return re.sub(r"(?<=\d) (?=\d{3}\b)", "", line).split()
