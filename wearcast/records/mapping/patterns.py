"""Texts with braces: ``Main bearing {position}`` takes the 3 out of ``Main bearing 3``."""

from __future__ import annotations

import re
from collections.abc import Mapping

LONGEST = 200
"""Characters that may stand for a name."""

_BRACES = re.compile(r"\{(\w+)\}")


def plain(text: str) -> str:
    """What two spellings of one heading share: case and blanks do not count.

    >>> plain(" Main\\n bearing  1 ")
    'main bearing 1'
    """
    return " ".join(text.split()).casefold()


def names_in(pattern: str) -> tuple[str, ...]:
    """The columns in braces.

    >>> names_in("{bearing} {position}, lower")
    ('bearing', 'position')
    """
    return tuple(_BRACES.findall(pattern))


def matched(pattern: str, text: str) -> Mapping[str, str] | None:
    """What stands for each name in braces, or None where the text is another.

    >>> matched("Main {position} / {point}", "MAIN  3 / crown")
    {'position': '3', 'point': 'crown'}
    >>> matched("Main {position}", "Big end 3") is None
    True
    """
    parts = _BRACES.split(" ".join(pattern.split()))
    text = " ".join(text.split())
    if len(text) > LONGEST * len(parts) + sum(map(len, parts)):
        return None
    found = _fitted([_folded(part) for part in parts[::2]], text, _folded(text), 0, 0, set())
    return dict(zip(parts[1::2], found, strict=True)) if found is not None else None


def _fitted(
    fixed: list[str], text: str, folded: str, part: int, at: int, in_vain: set[tuple[int, int]]
) -> list[str] | None:
    """The shortest texts between the fixed ones from here on; no place is tried twice, so that it always ends."""
    if not folded.startswith(fixed[part], at):
        return None
    at += len(fixed[part])
    if part == len(fixed) - 1:
        return [] if at == len(text) else None
    if (part, at) not in in_vain and at < len(text) and text[at] != " ":
        for end in range(at + 1, min(at + LONGEST, len(text)) + 1):
            if text[end - 1] != " ":
                rest = _fitted(fixed, text, folded, part + 1, end, in_vain)
                if rest is not None:
                    return [text[at:end], *rest]
    in_vain.add((part, at))
    return None


def _folded(text: str) -> str:
    """The text without regard to case, sign by sign, so that its length stays."""
    return "".join(one if len(one.casefold()) > 1 else one.casefold() for one in text)
