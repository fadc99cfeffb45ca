"""Words of a page with links in them, and where the page of a place is."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from wearcast.decide.brief import Spot
from wearcast.lives.history import EngineKey
from wearcast.report.words import anchor_of
from wearcast.words import bearing_words


@dataclass(frozen=True)
class Told:
    """A run of words; a link where `href` is not empty."""

    text: str
    href: str = ""


@dataclass(frozen=True)
class Ways:
    """Where places are shown, seen from one page.

    Attributes
    ----------
    pages : mapping
        File names of the pages there are, by engine.
    here : EngineKey or None
        The engine whose page this is; None on the page of the fleet.
    """

    pages: Mapping[EngineKey, str] = field(default_factory=dict)
    here: EngineKey | None = None

    def to(self, spot: Spot) -> str:
        """The address of a place, of an engine where the position is empty; empty where no page shows it."""
        key = (spot[0], spot[1])
        anchor = f"#{anchor_of(spot[2], spot[3])}" if spot[3] else ""
        if key == self.here:
            return anchor or "#content"
        return f"{self.pages[key]}{anchor}" if key in self.pages else ""

    def linked(self, text: str, spots: Iterable[Spot]) -> tuple[Told, ...]:
        """The text with the names of the places in it as links, each where it is first named after the last.

        >>> ways = Ways({("Ossel Brae", "ME"): "o.html"})
        >>> [one.href for one in ways.linked("open main 12 and main 1.", [("Ossel Brae", "ME", "main", "1")])]
        ['', 'o.html#main-1', '']
        """
        found: list[tuple[int, int, str]] = []
        at = 0
        for spot in dict.fromkeys(spots):
            name = rf"(?<!\w){re.escape(bearing_words(spot[2], spot[3]))}(?!\w)"
            place = re.compile(name).search(text, at) if spot[3] and (href := self.to(spot)) else None
            if place:
                found.append((*place.span(), href))
                at = place.end()
        parts, last = [], 0
        for start, end, href in found:
            parts += [Told(text[last:start]), Told(text[start:end], href)]
            last = end
        return tuple(part for part in (*parts, Told(text[last:])) if part.text)
