"""What was assumed, as a note that knows which engine or places it is said of."""

from __future__ import annotations

from dataclasses import dataclass, replace

from wearcast.lives.shells import Place


@dataclass(frozen=True)
class Note:
    """One assumption.

    Attributes
    ----------
    text : str
        A sentence; without its full stop where places follow.
    engine : (vessel, engine) or None
        The one it is said of; None where it is said of all, or of places.
    places : tuple of Place
        In the order of the shaft.
    """

    text: str
    engine: tuple[str, str] | None = None
    places: tuple[Place, ...] = ()

    def __str__(self) -> str:
        """The note with all its places."""
        return f"{self.text}: {'; '.join(map(str, self.places))}." if self.places else self.text

    def about(self, engine: tuple[str, str]) -> str:
        """The note where one engine is spoken of: of places only its own; empty where it is not said of it."""
        if self.engine not in (None, engine):
            return ""
        if not self.places:
            return self.text
        mine = (
            replace(place, vessel="", engine="")
            for place in self.places
            if (place.vessel, place.engine) == engine
        )
        return str(replace(self, places=own)) if (own := tuple(mine)) else ""
