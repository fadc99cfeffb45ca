"""Words put together: lists, counts, sentences, and text as pages set it."""

from __future__ import annotations

import re
from collections.abc import Iterable


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
