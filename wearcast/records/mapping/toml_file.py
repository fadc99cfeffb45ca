"""A mapping from its TOML file, every key of it checked; and as one."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, NoReturn

from wearcast.door.bounds import TurnedAway
from wearcast.door.trees import toml_of
from wearcast.errors import WrongUse
from wearcast.records.cells import did_you_mean, one_of, visible
from wearcast.records.mapping import mapping as data
from wearcast.records.mapping.meaning import NOTHING, OPEN, PLACE, meaning_of_words
from wearcast.records.mapping.patterns import SHAPES, names_in

VERSION = 2
CHOICES: Mapping[str, tuple[str, ...]] = {
    "table": ("readings", "events"),
    "decimal": (".", ",", OPEN),
    "date_order": ("day month year", "month day year", OPEN),
    "loose": (NOTHING, OPEN),
}
KEYS = ("mapping", *CHOICES, "sheets", "marks", "given", "files", "texts")
GIVEN = ("vessel", "engine", "date", "counter_h", "unit", *PLACE, "instrument", "measured_by", "conditions")
OF_ONE_FILE = ("date", "counter_h")
"""Given for one file only: another sheet is of another opening."""


def read_mapping(path: str | Path) -> data.Mapping:
    """A mapping from a TOML file.

    Raises
    ------
    WrongUse
        If the file cannot be read, is no TOML, or says something that is no mapping; in words.
    """
    path = Path(path)
    try:
        given = toml_of(path)
    except TurnedAway as away:
        raise WrongUse(f"{path}: cannot be read as a mapping: {away}") from None
    return _mapping(path.name, given)


def _mapping(name: str, found: dict[str, Any]) -> data.Mapping:
    for key in found:
        if key not in KEYS:
            _refuse(name, key, f"no key of a mapping. {did_you_mean(key, KEYS)} Known: {', '.join(KEYS)}.")
    if found.get("mapping") != VERSION or isinstance(found["mapping"], bool):
        _refuse(name, "mapping", f"expected the line mapping = {VERSION}, the version of this layout.")
    texts = _texts(name, found)
    given = _given(name, "given", found.get("given", {}))
    for key in OF_ONE_FILE:
        if key in given:
            advice = f'Write it for each file: [files."NAME"] {key} = "..."'
            _refuse(name, f"given.{key}", f"another sheet is of another opening. {advice}")
    files = {
        file: _given(name, f"files.{file}", said) for file, said in _section(name, found, "files").items()
    }
    chosen = {key: _choice(name, found, key, choices) for key, choices in CHOICES.items()}
    still = [key for key, value in {**chosen, **given, **texts}.items() if value == OPEN]
    still += [
        f"{key} of {file}" for file, said in files.items() for key, value in said.items() if value == OPEN
    ]
    return data.Mapping(
        name=name,
        table=chosen["table"] or "readings",
        sheets=_list(name, found, "sheets"),
        decimal=chosen["decimal"],  # type: ignore[arg-type]
        date_order=chosen["date_order"],  # type: ignore[arg-type]
        loose=chosen["loose"],
        given=given,
        files=files,
        texts=texts,
        marks=_list(name, found, "marks"),
        unanswered=tuple(still),
    )


def _refuse(name: str, key: str, text: str) -> NoReturn:
    raise WrongUse(f"{name}: {visible(key)}: {text}")


def _choice(name: str, found: dict[str, Any], key: str, choices: tuple[str, ...]) -> str:
    value = found.get(key, "")
    if not isinstance(value, str) or value not in ("", *choices):
        _refuse(
            name, key, f"found {visible(repr(value))}; expected {one_of([repr(one) for one in choices])}."
        )
    return value


def _list(name: str, found: dict[str, Any], key: str) -> tuple[str, ...]:
    value = found.get(key, [])
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        _refuse(name, key, 'expected a list of texts, such as ["-", "n/a"].')
    return tuple(value)


def _section(name: str, found: dict[str, Any], key: str) -> dict[str, Any]:
    value = found.get(key, {})
    if not isinstance(value, dict):
        _refuse(name, key, f"expected a section, [{key}].")
    return value


def _given(name: str, where: str, found: Any) -> dict[str, str]:
    if not isinstance(found, dict):
        _refuse(name, where, f"expected a section, [{where}].")
    for key in found:
        if key not in GIVEN:
            _refuse(name, f"{where}.{key}", f"no column that can be given. {did_you_mean(key, GIVEN)}")
    return {key: _text(name, f"{where}.{key}", value) for key, value in found.items()}


def _text(name: str, key: str, value: Any) -> str:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return f"{value:.12g}"
    if hasattr(value, "isoformat"):
        return str(value.isoformat())
    if not isinstance(value, str):
        _refuse(name, key, f"found {visible(repr(value))}; expected a text in quotes, a number or a date.")
    return value.strip()


def _texts(name: str, found: dict[str, Any]) -> dict[str, str]:
    texts = {key: _text(name, f"texts.{key}", value) for key, value in _section(name, found, "texts").items()}
    for text, ours in texts.items():
        for brace in names_in(text):
            if brace not in SHAPES or names_in(text).count(brace) > 1:
                _refuse(name, text, f"in braces stand {one_of(SHAPES)}, each once.")
        meaning = meaning_of_words(ours.split())
        if ours != OPEN and not meaning.known:
            strange = " ".join(meaning.rest) or "nothing said"
            advice = 'expected words of the readings table, such as "main lower", "wall mm", "counter_h" or "nothing"'
            _refuse(name, f'texts."{text}"', f"found {visible(strange)}; {advice}.")
    return texts


def written(mapping: data.Mapping, comments: Mapping[str, str], head: Iterable[str]) -> str:
    """The mapping as TOML; `comments` by key stand in the lines above."""
    lines = [*(f"# {one}" for one in head), f"mapping = {VERSION}"]

    def line(key: str, value: str) -> Iterable[str]:
        if value == OPEN and key in comments:
            yield f"# {comments[key]}"
        yield f"{key if re.fullmatch('[a-z_]+', key) else quoted(key)} = {quoted(value)}"

    for key in CHOICES:
        value = str(getattr(mapping, key))
        if value and not (key == "table" and value == "readings"):
            lines += line(key, value)
    for key in ("sheets", "marks"):
        if getattr(mapping, key):
            lines.append(f"{key} = [{', '.join(map(quoted, getattr(mapping, key)))}]")
    if mapping.given:
        lines += [
            "",
            "[given]  # where the sheet does not say it; holds for every sheet read by this mapping",
        ]
        lines += [one for key, value in mapping.given.items() for one in line(key, value)]
    for file, said in mapping.files.items():
        lines += ["", f"[files.{quoted(file)}]"]
        lines += [one for key, value in said.items() for one in line(key, value)]
    lines += ["", "[texts]  # text in the sheet = what it means, in words of the readings table"]
    ordered = sorted(mapping.texts.items(), key=lambda item: item[1] != OPEN)
    lines += [one for key, value in ordered for one in line(key, value)]
    return "\n".join(lines) + "\n"


_ORDINARY = re.compile(r"[\x20-\x7e\u00a0-\ud7ff\ue000-\uffff]*")


def quoted(text: str) -> str:
    """A text as TOML writes it.

    >>> quoted('a "b"')
    '"a \\\\"b\\\\""'
    """
    if _ORDINARY.fullmatch(text):
        return json.dumps(text, ensure_ascii=False)
    signs = (
        sign if _ORDINARY.fullmatch(sign) and sign not in '"\\' else f"\\U{ord(sign):08x}" for sign in text
    )
    return f'"{"".join(signs)}"'
