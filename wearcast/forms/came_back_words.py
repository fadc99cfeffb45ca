"""What came back from an opening, in words."""

from __future__ import annotations

from wearcast.forms.came_back import Came, CameBack
from wearcast.forms.expected import Band
from wearcast.queries import KINDS
from wearcast.units import UM_PER_MM
from wearcast.words import counted, kind_words, listed, mm, place_words, point_words, typed, whole

MOST = 3
"""Openings that are named one by one (judgement)."""


def name_of(one: Came, made: CameBack) -> str:
    """The place; engine and day before it where there are several openings."""
    return place_of(one) if len(made.openings) == 1 else f"{' '.join(one.key)}, {one.on}, {place_of(one)}"


def place_of(one: Came) -> str:
    """Bearing, half, quantity and point, and the state where it was closed up.

    The engine stands above.
    """
    place = f"{place_words(one.place.bearing, one.place.position, one.place.half)} {one.quantity.replace('_', ' ')}"
    said = [place, point_words(one.point) if one.point not in ("", "crown") else ""]
    return ", ".join(filter(None, (*said, "as left" if one.state == "as_left" else "")))


def range_of(band: Band | None) -> str:
    """The range expected [mm]."""
    return "" if band is None else f"{mm(band.low_mm)} to {mm(band.high_mm)}"


def headline(made: CameBack) -> str:
    """How many readings of which openings are as expected."""
    each = [f"{vessel} {engine}, {on}" for vessel, engine, on in made.openings]
    openings = listed(each) if len(each) <= MOST else f"{len(each)} openings from {each[0]} to {each[-1]}"
    known = [one for one in made.readings if one.expected is not None]
    asked = sum(not one.plausible for one in made.readings)
    said = (
        f"{openings}: {counted(len(made.readings), 'reading')}; {len(known)} could be compared with what was expected, "
        f"{asked or 'none'} to ask about."
    )
    if made.known_already:
        said += (
            f" {counted(made.known_already, 'reading')} of the same openings in the records were left aside, so that "
            "nothing is compared with itself."
        )
    return said


def to_ask(one: Came, made: CameBack) -> str:
    """A reading that is not as expected: by how much, and what to ask."""
    said = [f"{name_of(one, made)}: {mm(one.value_mm, one.past_mm)} mm"]
    band = one.expected
    if band is not None and one.outside:
        low = one.value_mm < band.low_mm
        off = (band.low_mm - one.value_mm) if low else (one.value_mm - band.high_mm)
        said.append(
            f"{typed(whole(off * UM_PER_MM))} µm {'below' if low else 'above'} the {range_of(band)} expected"
        )
    elif band is not None:
        said.append(f"within the {range_of(band)} expected")
    if one.past_mm is not None:
        said.append(f"at or past the limit of {mm(one.past_mm)} mm")
    if one.queries:
        said.append(listed(dict.fromkeys(kind_words(query.kind) for query in one.queries)))
    return f"{'; '.join(said)}. {_ask(one)}".rstrip()


def uncompared(made: CameBack) -> str:
    """How many readings nothing is known to compare with, and that is all there is to say of them."""
    number = sum(one.expected is None and one.plausible for one in made.readings)
    return f"Nothing is known to compare with: {counted(number, 'reading')}." if number else ""


def _ask(one: Came) -> str:
    slip = next((query for query in one.queries if KINDS[query.kind].draft == "factor"), None)
    if slip is not None:
        return slip.suggestion
    again = "Measure again, with a second gauge, before it is closed up."
    if one.new:
        return "A new shell: is its size and part number as written?" if one.outside else ""
    if one.past_mm is not None or one.towards:
        return f"{again} If it stands, it wears faster than the forecast had it." if one.towards else again
    if one.outside:
        return "Renewed and not written down? Else measure again: another point, gauge or unit?"
    return ""
