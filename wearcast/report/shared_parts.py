"""Figures of one page say much alike: what they share is written once, and they point to it."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from typing import Any

PART = "="
"""The one key of an object that stands for a shared part; its value is the number of the part."""

SHORTEST = 24
"""Letters below which pointing to a part saves nothing."""


def share_parts(content: Mapping[str, Any]) -> tuple[dict[str, Any], list[Any]]:
    """The content with every object and list that occurs more than once replaced by its number, and these parts.

    A part may point to parts before it, never to later ones. draw.js puts them back.

    >>> axis = {"color": "#123456", "ticks": "outside"}
    >>> share_parts({"a": axis, "b": {"x": axis}, "c": [1]})
    ({'a': {'=': 0}, 'b': {'x': {'=': 0}}, 'c': [1]}, [{'color': '#123456', 'ticks': 'outside'}])
    """
    seen: Counter[str] = Counter()
    for value in content.values():
        _count(value, seen)
    parts: list[Any] = []
    numbers: dict[str, int] = {}

    def shared(value: Any) -> Any:
        if not isinstance(value, dict | list):
            return value
        written = _written(value)
        if seen[written] < 2 or len(written) < SHORTEST:
            return _inside(value)
        if written not in numbers:
            part = _inside(value)  # its own parts come first
            numbers[written] = len(parts)
            parts.append(part)
        return {PART: numbers[written]}

    def _inside(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: shared(inner) for key, inner in value.items()}
        return [shared(inner) for inner in value]

    return {key: shared(value) for key, value in content.items()}, parts


def _count(value: Any, seen: Counter[str]) -> None:
    """Count every object and list, those inside one that was met before only once."""
    if not isinstance(value, dict | list):
        return
    written = _written(value)
    seen[written] += 1
    if seen[written] == 1:
        for inner in value.values() if isinstance(value, dict) else value:
            _count(inner, seen)


def _written(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
