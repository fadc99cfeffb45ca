"""Names of places, points, quantities, events and queries in words."""

from __future__ import annotations

from wearcast.quantities import QUANTITIES
from wearcast.queries import KINDS

EVENT_WORDS = {
    "fitted": "fitted",
    "renewal": "renewed",
    "refit": "refitted",
    "regrind": "reground",
    "counter_change": "counter changed",
    "change": "changed",
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


def bearing_words(bearing: str, position: str) -> str:
    """A bearing and its position.

    >>> bearing_words("big_end", "2")
    'big end 2'
    """
    return f"{bearing.replace('_', ' ')} {position}".strip()


def place_words(bearing: str, position: str, half: str = "", point: str = "") -> str:
    """A bearing, its position, its half and the point read there, as far as they are given.

    >>> place_words("main", "3", "lower", "crown_fore"), place_words("big_end", "2")
    ('main 3 lower, crown fore', 'big end 2')
    """
    words = " ".join(filter(None, (bearing.replace("_", " "), position, half)))
    return f"{words}, {point.replace('_', ' ')}" if point else words


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
    return QUANTITIES[quantity].belongs_to


def kind_words(kind: str) -> str:
    """The title of a kind of query; one that only explains what was found is put as a guess.

    >>> kind_words("end_swap"), kind_words("unit_slip"), kind_words("outlier")
    ('perhaps written from the other end', 'perhaps a unit slip', 'out of line with the other readings')
    """
    one = KINDS[kind]
    return one.title if one.guess is None else f"perhaps {one.guess}{one.title}"


def unit_words(unit: str) -> str:
    """A unit as it is printed.

    >>> unit_words("um"), unit_words("mm")
    ('µm', 'mm')
    """
    return "µm" if unit == "um" else unit
