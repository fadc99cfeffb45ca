"""Names of places, points and events in words, and file names made of what users wrote."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from datetime import date

from wearcast.lives.shells import STANDARD, Life, same_size
from wearcast.quantities import QUANTITIES
from wearcast.queries import KINDS

EVENT_WORDS = {
    "fitted": "fitted",
    "renewal": "renewed",
    "refit": "refitted",
    "regrind": "reground",
    "counter_change": "counter changed",
    "finding": "finding",
    "opened": "opened, nothing read",
}

STATE_WORDS = {"as_found": "as found", "as_left": "as left"}

POINT_WORDS = {
    "p45": "45° port",
    "s45": "45° starboard",
    "bottom_p": "bottom, port side",
    "bottom_s": "bottom, starboard side",
}

END_WORDS = {"flywheel": "flywheel end", "free_end": "free end"}

INFERRED = {
    "unit_slip": "a ",
    "decimal_slip": "a ",
    "end_swap": "",
    "half_swap": "",
    "repeated_set": "a ",
    "unrecorded_renewal": "an ",
    "date_mismatch": "",
    "alignment_query": "",
}
"""Kinds of query that are one explanation of what was found, with the article of their titles."""

_LONGEST_NAME = 80


def bearing_words(bearing: str, position: str) -> str:
    """A bearing and its position.

    >>> bearing_words("big_end", "2")
    'big end 2'
    """
    return f"{bearing.replace('_', ' ')} {position}".strip()


def point_words(point: str) -> str:
    """A reading point.

    >>> point_words("p45_fore"), point_words("crown_aft"), point_words("v1")
    ('45° port, fore', 'crown, aft', 'v1')
    """
    if point in POINT_WORDS:
        return POINT_WORDS[point]
    root, _, end = point.partition("_")
    words = POINT_WORDS.get(root, root)
    return f"{words}, {end.replace('_', ' ')}" if end else words


def quantity_words(half: str, quantity: str) -> str:
    """A quantity with its half.

    >>> quantity_words("lower", "wall")
    'lower wall thickness'
    """
    return " ".join(filter(None, (half, QUANTITIES[quantity].title)))


def part_words(quantity: str) -> str:
    """What a life of a quantity is a life of.

    >>> part_words("wall"), part_words("journal_diameter"), part_words("clearance")
    ('shell', 'journal', 'assembly')
    """
    if quantity in ("wall", "wear"):
        return "shell"
    return {"journal_diameter": "journal", "housing_bore": "housing"}.get(quantity, "assembly")


def life_words(life: Life) -> str:
    """Which of the lives at a place, and its size where that is not the standard one."""
    size = "" if same_size(life.shell_size, STANDARD) else f" ({life.shell_size})"
    return f"{part_words(life.quantity)}\N{NO-BREAK SPACE}{life.shell_no}{size}"


def capital(text: str) -> str:
    """The text with its first letter as a sentence begins.

    >>> capital("big end 2")
    'Big end 2'
    """
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """The text as a sentence.

    >>> sentence("no window given"), sentence("Done.")
    ('No window given.', 'Done.')
    """
    text = capital(text.strip())
    return text if not text or text[-1] in ".!?" else f"{text}."


def listed(parts: Iterable[str], last: str = "and") -> str:
    """Several things in a row of words.

    >>> listed(["a"]), listed(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    several = list(parts)
    return f" {last} ".join([", ".join(several[:-1]), several[-1]]) if len(several) > 1 else "".join(several)


def counted(number: int, one: str, many: str = "") -> str:
    """A number of things.

    >>> counted(1, "reading"), counted(3, "reading")
    ('1 reading', '3 readings')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def tied(text: str) -> str:
    """The text with every number kept on one line with its unit.

    >>> tied("7.950 mm at 41 h, 10 %") == "7.950\\N{NO-BREAK SPACE}mm at 41\\N{NO-BREAK SPACE}h, 10\\N{NO-BREAK SPACE}%"
    True
    """
    return re.sub(r"(?<=\d) (?=(?:mm|µm|h|%)(?!\w))", "\N{NO-BREAK SPACE}", text)


def page_text(text: str) -> str:
    """A text of another part of the program as pages write it: µm, thousands apart, units kept with their numbers.

    >>> page_text("40 um past 79902 h (79 902 h)") == tied("40 µm past 79902 h (79\N{NARROW NO-BREAK SPACE}902 h)")
    True
    """
    text = re.sub(r"(?:(?<=\d )|(?<=\d\N{NO-BREAK SPACE})|(?<=\bin ))um\b", "µm", text)
    return tied(re.sub(r"(?<=\d) (?=\d{3}(?!\d))", "\N{NARROW NO-BREAK SPACE}", text))


def kind_words(kind: str) -> str:
    """The title of a kind of query; one that only explains what was found is put as a guess.

    >>> kind_words("end_swap"), kind_words("unit_slip"), kind_words("outlier")
    ('perhaps written from the other end', 'perhaps a unit slip', 'out of line with the other readings')
    """
    title = KINDS[kind].title
    return f"perhaps {INFERRED[kind]}{title}" if kind in INFERRED else title


def unit_words(unit: str) -> str:
    """A unit as it is printed.

    >>> unit_words("um"), unit_words("mm")
    ('µm', 'mm')
    """
    return "µm" if unit == "um" else unit


def chart_text(text: str) -> str:
    """Text that plotly.js will show letter by letter: it reads a few tags and entities in what it draws.

    >>> chart_text("<b>A & B</b>")
    '&lt;b&gt;A &amp; B&lt;/b&gt;'
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def day(on: date | None) -> str:
    """A date, or that there is none."""
    return "date not known" if on is None or on != on else on.isoformat()  # noqa: PLR0124  (NaT)


def month(on: date) -> str:
    """Year and month of a date, where there is no room for the day.

    >>> month(date(2024, 5, 17))
    '2024-05'
    """
    return on.isoformat()[:7]


def slug(text: str) -> str:
    """Text as part of a file name or an anchor: small letters, digits and hyphens, nothing else.

    >>> slug("Ossel Brae"), slug("../../Å/ß"), slug("<script>")
    ('ossel-brae', 'a', 'script')
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")


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
