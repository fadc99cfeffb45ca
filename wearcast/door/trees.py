"""TOML and JSON from outside: bounded in depth and digits, so that reading them ends and every number is one."""

from __future__ import annotations

import json
import re
import tomllib
from math import isfinite
from pathlib import Path
from typing import Any

from wearcast.door import bounds
from wearcast.door.bounds import TurnedAway
from wearcast.door.files import text_of

_QUOTED = re.compile(r"\"(?:[^\"\\\n]|\\.)*\"|'[^'\n]*'|#[^\n]*")
_WHERE = "Look at the file, or write it anew."


def toml_of(path: Path) -> dict[str, Any]:
    """What a TOML file says.

    Raises
    ------
    TurnedAway
        If it cannot be read, is no TOML, or goes beyond the bounds.
    """
    text = text_of(path)
    _refuse_beyond(_QUOTED.sub("''", text))
    try:
        found = tomllib.loads(text)
        _refuse_deep(found)
        return found
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as problem:
        raise TurnedAway(f"not TOML: {_short(problem)}", _WHERE) from None


def _refuse_beyond(bare: str) -> None:
    """Of TOML less its texts: a key of many parts takes their number squared; hexadecimal has no end of digits."""
    b = bounds.BOUNDS
    digits = re.search(rf"(?<![\w-])[+-]?\d[0-9A-Fa-fxob_]{{{b.digits},}}", bare)
    if digits:
        raise TurnedAway(f"a number of over {b.digits} digits ({digits[0][:20]}...)", _WHERE)
    for number, line in enumerate(bare.split("\n"), start=1):
        if max(part.count(".") for part in line.split(",")) > b.nesting:
            raise TurnedAway(f"line {number} holds a name of over {b.nesting} parts", _WHERE)


def json_of(text: str | bytes) -> Any:
    """What a JSON text says; every number of it is finite.

    Raises
    ------
    ValueError
        If it is none, or goes beyond the bounds; in words.
    """
    try:
        found = json.loads(text, parse_int=_whole, parse_float=_number, parse_constant=_constant)
    except RecursionError:
        raise ValueError(f"nested more than {bounds.BOUNDS.nesting} levels deep") from None
    _refuse_deep(found)
    return found


def _refuse_deep(found: Any) -> None:
    level, depth = [found], 0
    while level:
        if depth > bounds.BOUNDS.nesting:
            raise ValueError(f"nested more than {bounds.BOUNDS.nesting} levels deep")
        for one in level:
            texts = [one, *one] if isinstance(one, dict) else [one]
            for text in texts:
                if isinstance(text, str):
                    unmixed(text)
        level = [
            inner
            for one in level
            if isinstance(one, dict | list)
            for inner in (one.values() if isinstance(one, dict) else one)
        ]
        depth += 1


def unmixed(text: str) -> str:
    """The text, if it can be written down in UTF-8 and by every database.

    Raises
    ------
    ValueError
        If it holds half a surrogate pair or a zero character.
    """
    if "\0" in text:
        raise ValueError("a text holds a zero character")
    try:
        text.encode()
    except UnicodeEncodeError:
        raise ValueError("a text holds half a character (a lone surrogate)") from None
    return text


def _whole(digits: str) -> int:
    if len(digits) > bounds.BOUNDS.digits:
        raise ValueError(f"a number of over {bounds.BOUNDS.digits} digits ({digits[:20]}...)")
    return int(digits)


def _number(digits: str) -> float:
    found = float(digits)
    if len(digits) > bounds.BOUNDS.digits or not isfinite(found):
        raise ValueError(
            f"a number of over {bounds.BOUNDS.digits} digits, or beyond all bounds ({digits[:20]}...)"
        )
    return found


def _constant(word: str) -> float:
    raise ValueError(f"{word} is no number")


def _short(problem: Exception) -> str:
    words = str(problem) or type(problem).__name__
    return "".join(c if c.isprintable() else "?" for c in words[:200]).rstrip(".")
