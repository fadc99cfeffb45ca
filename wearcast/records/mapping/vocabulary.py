"""Words that people write in their sheets, and what they usually mean (judgement, from the languages of the trade).

A text is understood only where every word of it is known; what is not known is asked.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from dataclasses import replace
from functools import lru_cache
from importlib.resources import files

from wearcast.records.mapping.meaning import Meaning, meaning_of_words

_WORDS = tomllib.loads((files("wearcast.records.mapping") / "words.toml").read_text(encoding="utf-8"))
_PHRASES = {tuple(one.split()): ours for ours, words in _WORDS.items() for one in words.split("|")}
_LONGEST = max(map(len, _PHRASES))
MARKS = (
    "-",
    "--",
    "---",
    "—",
    "–",
    "/",
    "x",
    "n/a",
    "n.a.",
    "n.a",
    "n/m",
    "na",
    "nil",
    "new",
    "neu",
    "nieuw",
)
"""Written in the place of a number where nothing was measured."""

_HUNDREDTHS = re.compile(r"(?:1\s*/\s*100|0[.,]01)\s*mm|mm\s*/\s*100", re.IGNORECASE)
_INCH = re.compile(r"[\[(]\s*in\.?\s*[\])]|(?<=\d)\s*\"", re.IGNORECASE)
_DEGREES = re.compile(r"°\s*C?\b|(?<=[\[( ])C(?=[\]) ]|$)")
_CELSIUS = re.compile(r"\d\s*(?:°\s*|deg\.?\s*)C\b", re.IGNORECASE)
_PLACE = re.compile(r"[a-z]?\d{1,2}[a-z]?")
_DATE = re.compile(r"\b(\d{4}-\d{2}-\d{2}|\d{1,2}[./-]\d{1,2}[./-]\d{4})\b")
_HOURS = re.compile(
    r"\b(\d{1,3}(?:[ .,\u2009\u00a0]?\d{3})+|\d+)\s*(?=(?:hours|hrs|h|std|uur|horas)\b)", re.IGNORECASE
)
_SIGNS = re.compile(r"[^\W_]+|#")


def tokens(text: str) -> list[str]:
    """The words of a text without case, accents and signs.

    >>> tokens("Wandstärke [µm], Nr. 3")
    ['wandstarke', 'μm', 'nr', '3']
    """
    plain = unicodedata.normalize("NFKD", text.casefold().replace("µ", "μ"))
    return _SIGNS.findall("".join(sign for sign in plain if not unicodedata.combining(sign)).replace("'", ""))


@lru_cache(maxsize=4096)
def understood(text: str) -> tuple[str, Meaning]:
    """A text with braces where its number, date or hours stood, and what it means.

    >>> pattern, meaning = understood("Main bearing 3, lower (mm)")
    >>> pattern, meaning.words, meaning.facts["position"]
    ('Main bearing {position}, lower (mm)', 'main lower mm', '3')
    >>> understood("Harl Sound")[1].rest, understood("22 °C")[1].known
    (('?harl', '?sound'), False)
    """
    pattern, facts = text.replace("{", "(").replace("}", ")"), {}
    for name, shape in (("date", _DATE), ("counter_h", _HOURS)):
        found = shape.search(pattern)
        if found:
            facts[name] = found[1]
            pattern = f"{pattern[: found.start(1)]}{{{name}}}{pattern[found.end(1) :]}"
    bare = re.sub(r"\{\w+\}", " ", pattern) if facts else pattern
    bare = _CELSIUS.sub(" celsius ", bare)  # no number of a bearing
    bare = _DEGREES.sub(" ", _INCH.sub(" inch ", _HUNDREDTHS.sub(" hundredths ", bare)))
    words, numbers = _translated(tokens(bare), said_hours="counter_h" in facts)
    if len(numbers) == 1:
        place = re.compile(
            rf"(?<!\w){re.escape(numbers[0])}(?!\w)|(?<=[A-Za-z]){re.escape(numbers[0])}(?!\w)", re.IGNORECASE
        )
        at = place.search(pattern)
        if at:
            facts["position"] = at[0]
            pattern = f"{pattern[: at.start()]}{{position}}{pattern[at.end() :]}"
    else:
        words += [f"?{number}" for number in numbers]
    meaning = meaning_of_words(words)
    label = "" if meaning.label in facts else meaning.label
    return pattern, replace(meaning, facts={**meaning.facts, **facts}, label=label)


def _translated(words: list[str], said_hours: bool) -> tuple[list[str], list[str]]:
    """Their words as ours, and the numbers among them."""
    ours: list[str] = []
    numbers: list[str] = []
    at = 0
    while at < len(words):
        for length in range(min(_LONGEST, len(words) - at), 0, -1):
            phrase = tuple(words[at : at + length])
            if phrase in _PHRASES:
                ours += [_PHRASES[phrase]] if _PHRASES[phrase] else []
                at += length
                break
        else:
            word = words[at]
            stuck = re.fullmatch(r"(mb|main|no|nr|cyl|brg|pos)(\d{1,2})", word)
            if stuck:
                ours.append(_PHRASES[(stuck[1],)])
                numbers.append(stuck[2])
            elif _PLACE.fullmatch(word):
                numbers.append(word)
            elif not (said_hours and word in ("h", "std", "uur")):
                ours.append(f"?{word}")  # theirs, though it be a word of ours
            at += 1
    return ours, numbers
