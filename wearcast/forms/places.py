"""One value asked for, and the choice of places when only some bearings are opened."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wearcast.companions.web_deflection import mains_beside
from wearcast.errors import WrongUse
from wearcast.forms.expected import Band
from wearcast.lives.history import EngineAt
from wearcast.lives.limits import Limit
from wearcast.records.cells import did_you_mean
from wearcast.records.form_layout import place_label

FOUND, CLOSED, RENEWED = "as found", "after closing up", "only where a shell was put in or a journal reground"
PARTS = (FOUND, CLOSED, RENEWED)
"""The parts of the form, in the order of the work."""

Shell = tuple[str, str, str]
"""Bearing, position, and half or journal."""


@dataclass(frozen=True)
class Asked:
    """One value asked for.

    Attributes
    ----------
    part : str
        One of `PARTS`.
    expected : Band or None
        The values it should lie between [mm]; None where nothing tells.
    new : bool
        The expected values are those of a new shell, not forecast.
    limit : Limit or None
        The maker's limit, where it governs at this point.
    last : str
        What was read there last, and when; empty where it never was.
    """

    part: str
    bearing: str
    position: str
    half: str
    point: str
    quantity: str
    unit: str
    state: str
    expected: Band | None = None
    new: bool = False
    limit: Limit | None = None
    last: str = ""


def only_places(
    at: EngineAt, asked: Sequence[Asked], shells: Sequence[Shell], places: Sequence[str]
) -> tuple[list[Asked], tuple[Shell, ...]]:
    """What is asked for at some places of an engine.

    After a main was opened, the deflections of the throws beside it and the axial clearance belong to closing up
    (common practice, no source).

    Raises
    ------
    WrongUse
        If a place is none that was read before.
    """
    known = list(dict.fromkeys(place_label(one.bearing, one.position) for one in asked))
    wanted = {" ".join(place.replace("_", " ").split()).casefold() for place in places}
    strange = sorted(wanted - {label.casefold() for label in known})
    if strange:
        hint = did_you_mean(strange[0], known)
        raise WrongUse(
            f"--place {strange[0]}: not read before on this engine. {hint} Places: {', '.join(known)}."
        )
    mains = {label.split()[-1] for label in wanted if label.startswith("main ")}

    def named(bearing: str, position: str) -> bool:
        return place_label(bearing, position).casefold() in wanted

    def after_a_main(one: Asked) -> bool:
        if one.quantity == "web_deflection":
            return bool({f"{main:.0f}" for main in mains_beside(at, one.position)} & mains)
        return one.quantity == "axial_clearance" and bool(mains)

    kept = [
        one for one in asked
        if named(one.bearing, one.position) or (one.part == CLOSED and after_a_main(one))
    ]  # fmt: skip
    return kept, tuple(shell for shell in shells if named(shell[0], shell[1]))
