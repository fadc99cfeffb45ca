"""The vessel, engine or bearing that alone is asked for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from wearcast.errors import InputRefused, WrongUse
from wearcast.lives.history import EngineKey, History
from wearcast.lives.shells import engine_key
from wearcast.records.cells import did_you_mean
from wearcast.records.names import folded


@dataclass(frozen=True)
class Only:
    """What alone is asked for, in any spelling of its names; empty is everything.

    Attributes
    ----------
    bearing : str
        A kind (``main``) or a place (``main 5``).
    """

    vessel: str = ""
    engine: str = ""
    bearing: str = ""

    def __bool__(self) -> bool:
        return bool(self.vessel or self.engine or self.bearing)

    def holds(self, vessel: str, engine: str, bearing: str = "", position: str = "") -> bool:
        """Whether a place is asked for; what is of a whole fleet, vessel or engine concerns all its places.

        >>> only = Only("merrow-dain", bearing="Main 5")
        >>> only.holds("Merrow Dain", "ME", "main", "5"), only.holds("Merrow Dain", "ME", "main", "4")
        (True, False)
        >>> only.holds("Merrow Dain", "ME"), only.holds("Ossel Brae", "ME", "main", "5")
        (True, False)
        """
        asked = (self.vessel, self.engine, self.bearing)
        named = ((vessel,), (engine,), (bearing, f"{bearing} {position}"))
        return all(
            not one or not mine[0] or _plain(one) in map(_plain, mine)
            for one, mine in zip(asked, named, strict=True)
        )

    def among(self, places: Iterable[tuple[str, str, str, str]]) -> Only:
        """The same, where some of the places (vessel, engine, bearing, position) are asked for.

        Raises
        ------
        WrongUse
            If none is; what there is is named.
        """
        there = list(dict.fromkeys(places))
        if not self or any(self.holds(*one) for one in there):
            return self
        engines = list(dict.fromkeys(" ".join(one[:2]) for one in there))
        bearings = list(dict.fromkeys(_place(*one[2:]) for one in there))
        asked = " ".join(filter(None, (self.vessel, self.engine, self.bearing)))
        known = "; ".join(filter(None, (", ".join(engines), ", ".join(filter(None, bearings)))))
        said = f"{asked}: these records hold no such engine or bearing in service. {self._nearest(there)}"
        raise WrongUse(f"{said.rstrip()} They hold: {known}.")

    def _nearest(self, there: Iterable[tuple[str, str, str, str]]) -> str:
        """What was perhaps meant, asked of the first name that nothing there has."""
        for asked, names in (
            (self.vessel, [one[0] for one in there]),
            (self.engine, [one[1] for one in there]),
            (self.bearing, [name for one in there for name in (_place(*one[2:]), _place(one[2]))]),
        ):
            if asked and not any(_plain(asked) == _plain(name) for name in names):
                return did_you_mean(asked, names)
        return ""


def keys_of(only: Only, engines: Iterable[EngineKey]) -> tuple[EngineKey, ...]:
    """The engines asked for."""
    there = list(engines)
    only = Only(only.vessel, only.engine).among((*key, "", "") for key in there)
    return tuple(key for key in there if only.holds(*key))


def refuse_if_asked(only: Only, history: History) -> None:
    """Refuse what is asked for where all of it is of engines that are refused.

    Raises
    ------
    InputRefused
        With the faults of these engines.
    """
    asked = [key for key in (*history.engines, *history.refused) if only.holds(*key)]
    if asked and all(key in history.refused for key in asked):
        mine = [
            one
            for one in history.left_out
            if any(only.holds(*key) for key in one.engines or (engine_key(one),))
        ]
        raise InputRefused(mine)


def _place(bearing: str, position: str = "") -> str:
    return f"{bearing.replace('_', ' ')} {position}".strip()


def _plain(text: str) -> str:
    return folded(text.replace("_", " "))
