"""What a text of a sheet means, in the words of the readings table.

The words are the contract's own: a bearing, half, quantity, unit, state or point says a fact; the name of a column
says that what stands beside or below belongs there; ``nothing`` says that no reading is taken there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from wearcast.quantities import BEARINGS, DEFLECTION_POINTS, HALVES, JOURNAL_POINTS, QUANTITIES
from wearcast.records.tables import STATES, TABLES, UNITS

NOTHING = "nothing"
OPEN = "?"
"""Stands in a mapping where a question is not answered yet."""

OPENING = "opening"
"""Says of a text that its date and hours in braces are those of the opening."""

HUNDREDTHS = "0.01mm"
"""A unit of many shop sheets; its values become micrometres, ten for one."""

PLACE = ("bearing", "position", "half", "point", "quantity", "state")
WHERE = ("crown", "p45", "s45", "fore", "aft", "port", "starboard", "top", "bottom", *JOURNAL_POINTS)
COLUMNS = tuple(column.name for column in TABLES["readings"].columns)
TEXTS_IN_BRACES = ("position", "date", "counter_h")

_FACTS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        word: (key, word)
        for key, words in (
            ("bearing", BEARINGS),
            ("half", HALVES),
            ("quantity", tuple(QUANTITIES)),
            ("unit", (*UNITS, HUNDREDTHS)),
            ("state", STATES),
            ("where", WHERE),
        )
        for word in words
    }
)


@dataclass(frozen=True)
class Meaning:
    """What a text says: facts, the column of what stands beside or below, and words that were not understood."""

    facts: Mapping[str, str] = field(default_factory=dict)
    label: str = ""
    nothing: bool = False
    rest: tuple[str, ...] = ()
    opening: bool = False

    @property
    def known(self) -> bool:
        """Whether it says anything, and all of it is understood."""
        return not self.rest and bool(self.facts or self.label or self.nothing or self.opening)

    @property
    def words(self) -> str:
        """The meaning as a mapping file writes it."""
        if self.nothing:
            return NOTHING
        said = [text for key, text in self.facts.items() if key not in TEXTS_IN_BRACES]
        named = self.label in PLACE and self.facts.keys() & {"bearing", "half", "quantity"}
        said += [self.label] if self.label and not named else []
        if not said:
            said = ["position" if "position" in self.facts else OPENING]
        return " ".join(said)


def meaning_of_words(words: list[str]) -> Meaning:
    """The meaning of words such as ``main lower mm``; words that are none of ours stay in `rest`."""
    facts: dict[str, str] = {}
    label, rest = "", []
    for word in words:
        parts = word.split("_") if word not in _FACTS else [word]
        if word in _FACTS or (len(parts) > 1 and all(part in WHERE for part in parts)):
            for key, value in (_FACTS[part] for part in parts):
                both = f"{facts[key]} {value}" if key == "where" and facts.get(key, value) != value else value
                if facts.get(key, both) != both and key != "where":
                    rest.append(word)  # two bearings, two halves: no fact
                else:
                    facts[key] = both
        elif word in COLUMNS and label in ("", *PLACE):
            label = word
        elif word == OPENING:
            pass
        elif word != NOTHING and not (word in PLACE and label):
            rest.append(word)
    return Meaning(facts, label, NOTHING in words, tuple(rest), OPENING in words)


def point_of(quantity: str, where: str) -> str | None:
    """The point that such words as ``fore`` mean for a quantity; None where that is not certain.

    >>> point_of("wall", "fore"), point_of("wall", "p45 aft"), point_of("wall", "port")
    ('crown_fore', 'p45_aft', None)
    >>> point_of("web_deflection", "bottom port"), point_of("clearance", "fore")
    ('bottom_p', None)
    """
    words = set(where.split())
    points = QUANTITIES[quantity].points
    if quantity == "web_deflection":
        found = {"bottom port": "bottom_p", "bottom starboard": "bottom_s"}.get(
            " ".join(sorted(words)), where
        )
        return found if found in DEFLECTION_POINTS else None
    if not words:
        return "crown" if quantity == "wall" else ""
    if quantity != "wall":
        return where if where in points else None
    end = {"fore", "aft"} & words
    at = words - end or {"crown"}
    name = "_".join([*at, *end])
    return name if len(at) == 1 and name in points else None
