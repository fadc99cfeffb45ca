"""Texts with braces: ``Main bearing {position}`` takes the 3 out of ``Main bearing 3``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

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
    found = _expression(pattern).fullmatch(" ".join(text.split()))
    return {name: value.strip() for name, value in found.groupdict().items()} if found else None


@lru_cache(maxsize=1024)
def _expression(pattern: str) -> re.Pattern[str]:
    parts = _BRACES.split(" ".join(pattern.split()))
    text = "".join(
        rf"(?P<{part}>\S(?:.{{0,198}}?\S)?)" if index % 2 else re.escape(part)
        for index, part in enumerate(parts)
    )
    return re.compile(text, re.IGNORECASE | re.DOTALL)
