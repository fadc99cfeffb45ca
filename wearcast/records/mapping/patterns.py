"""Texts with braces: ``Main bearing {position}`` takes the 3 out of ``Main bearing 3``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

LONGEST = 400
"""Characters of a text that is looked at."""

_BRACES = re.compile(r"\{(\w+)\}")
SHAPES: Mapping[str, str] = {
    "position": r"[A-Za-z]?\d{1,2}[A-Za-z]?",
    "date": r"[\d./-]{8,10}",
    "counter_h": r"\d[\d .,\u2009\u00a0]{0,12}",
}
"""What may stand for each name in braces."""


def plain(text: str) -> str:
    """What two spellings of one text share: case and blanks do not count.

    >>> plain(" Main\\n bearing  1 ")
    'main bearing 1'
    """
    return " ".join(text.split()).casefold()


def names_in(pattern: str) -> tuple[str, ...]:
    """The names in braces.

    >>> names_in("Opening of {date}, {counter_h} h")
    ('date', 'counter_h')
    """
    return tuple(_BRACES.findall(pattern))


def matched(pattern: str, text: str) -> Mapping[str, str] | None:
    """What stands for each name in braces, or None where the text is another.

    >>> matched("Main {position}, lower", "MAIN  3, lower")
    {'position': '3'}
    >>> matched("Main {position}", "Main bearings") is None
    True
    """
    text = " ".join(text.split())
    found = _expression(pattern).fullmatch(text) if len(text) <= LONGEST else None
    return {name: value.strip() for name, value in found.groupdict().items()} if found else None


@lru_cache(maxsize=1024)
def _expression(pattern: str) -> re.Pattern[str]:
    parts = _BRACES.split(" ".join(pattern.split()))
    text = "".join(
        rf"(?P<{part}>{SHAPES[part]})" if index % 2 else re.escape(part) for index, part in enumerate(parts)
    )
    return re.compile(text, re.IGNORECASE)
