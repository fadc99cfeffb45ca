"""What moved, in words."""

from __future__ import annotations

from datetime import date

from wearcast.decide.moved import Move
from wearcast.words import place_words


def move_in_words(one: Move) -> str:
    """Then and now, and how much of it came from what, the most first."""
    said = [f"early date {_on(one.then)}, now {_on(one.now)}{_by(one)}"]
    was, is_ = one.statements
    if was != is_:
        said.append(f"{was or 'nothing said'}, now {is_ or 'nothing said'}")
    opened, opens = one.openings
    if opened != opens:
        said.append(f"to open {opened or 'at no window'}, now {opens or 'at no window'}")
    return f"{_place(one)}: {'; '.join(said)}. Days by cause: {_causes(one) or 'none'}."


def move_in_short(one: Move) -> str:
    """The same in one line: what was said where that is another, and the dates."""
    was, is_ = one.statements
    said = f"{was or 'nothing said'}, now {is_ or 'nothing said'}; " if was != is_ else ""
    causes = f": {_causes(one)}" if one.days else ""
    return f"{_place(one)}: {said}early date {_on(one.then)}, now {_on(one.now)}{_by(one)}{causes}."


def _place(one: Move) -> str:
    vessel, engine, bearing, position, half, quantity = one.key
    return f"{vessel} {engine} {place_words(bearing, position, half)} {quantity.replace('_', ' ')}"


def _causes(one: Move) -> str:
    return ", ".join(
        f"{cause} {'new' if days is None else f'{days:+d}'}" for cause, days in one.steps if days != 0
    )


def _on(on: date | None) -> str:
    return "none" if on is None else on.isoformat()


def _by(one: Move) -> str:
    if not one.days:
        return ""
    way = "sooner" if one.days < 0 else "later"
    return f", {abs(one.days)} days {way}"
