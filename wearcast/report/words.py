"""Lives in words, text for charts, and file names made of what users wrote."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from wearcast.lives.shells import STANDARD, Life, same_size
from wearcast.words import page_text, part_words, point_words

_LONGEST_NAME = 80


def life_words(life: Life) -> str:
    """Which of the lives at a place, and its size where that is not the standard one."""
    size = "" if same_size(life.shell_size, STANDARD) else f" ({life.shell_size})"
    return f"{part_words(life.quantity)}\N{NO-BREAK SPACE}{life.shell_no}{size}"


STATISTICIANS = {
    "log-likelihood": "weight of evidence",
    "(Holm p ": "(p, corrected for all places compared, ",
    "PIT in ten equal parts": "Where readings fell in the range forecast, in ten equal parts",
    "the mean pinball loss, smaller is better: the distance": "smaller is better: the mean distance",
    "the range's quantiles": "the range's parts",
}
"""Words of statisticians and what a page says for them; the method part alone uses theirs."""


def spoken(text: str) -> str:
    """The text in words of the trade: points and sizes as people say them, no terms of statistics.

    >>> spoken("lower at crown, crown_fore: shell size u50, log-likelihood 17.7 higher")
    'lower at crown, crown, fore: shell size U50, weight of evidence 17.7 higher'
    """
    for theirs, ours in STATISTICIANS.items():
        text = text.replace(theirs, ours)
    text = re.sub(r"\b[a-z]\w*_(?:fore|aft|p|s)\b", lambda found: point_words(found[0]), text)
    return page_text(re.sub(r"(?<=shell size )[a-z]+\d+", lambda found: found[0].upper(), text))


def chart_text(text: str) -> str:
    """Text that plotly.js will show letter by letter: it reads a few tags and entities in what it draws.

    >>> chart_text("<b>A & B</b>")
    '&lt;b&gt;A &amp; B&lt;/b&gt;'
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def slug(text: str) -> str:
    """Text as part of a file name or an anchor: small letters, digits and hyphens, nothing else.

    >>> slug("Ossel Brae"), slug("../../Å/ß"), slug("<script>")
    ('ossel-brae', 'a', 'script')
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")


def anchor_of(bearing: str, position: str) -> str:
    """The anchor of a position's section.

    >>> anchor_of("big_end", "2")
    'big-end-2'
    """
    return slug(f"{bearing} {position}") or "position"


def file_names(engines: Iterable[tuple[str, str]]) -> dict[tuple[str, str], str]:
    """A page name for each vessel and engine, unlike any other even where case does not count.

    >>> list(file_names([("Tarn Ivelle", "ME"), ("tarn ivelle!", "me"), ("船", "1")]).values())
    ['tarn-ivelle-me.html', 'tarn-ivelle-me-2.html', 'vessel-1.html']
    """
    taken = {"index"}
    names: dict[tuple[str, str], str] = {}
    for vessel, engine in engines:
        stem = f"{slug(vessel) or 'vessel'}-{slug(engine) or 'engine'}"[:_LONGEST_NAME].strip("-")
        name, number = stem, 1
        while name in taken:
            number += 1
            name = f"{stem}-{number}"
        taken.add(name)
        names[(vessel, engine)] = f"{name}.html"
    return names
