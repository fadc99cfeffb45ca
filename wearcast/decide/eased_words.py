"""What has been eased, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple

import numpy as np
import pandas as pd

from wearcast.decide.eased import SETTING, ChangesByHand, Deed, Eased
from wearcast.words import bearing_words, capital, quantity_words
from wearcast.words.numbers import chance, hours

NOBODY = "nobody named"
NOTHING = "Nothing that was changed by hand moves a forecast away from action."

COLUMNS = (
    "what", "table", "row", "vessel", "engine", "bearing", "position", "half", "quantity", "column", "old", "new", "by",
    "on", "why", "approved_by", "hours_to_limit_p10_without", "hours_to_limit_p10", "date_p10_without", "date_p10",
    "p_limit_before_next_window_without", "p_limit_before_next_window", "shells_moved",
)  # fmt: skip


def eased_table(found: Sequence[Eased]) -> pd.DataFrame:
    """One row a change, of the shell it moves most; without it, and as it is."""
    rows = []
    for one in found:
        what, table, row, _, *rest = astuple(one.deed)
        both = [value for pair in (one.hours_p10, one.date_p10, one.p_next) for value in pair]
        rows.append((what, table, row, *one.key, *rest, *both, one.moved))
    return pd.DataFrame(rows, columns=list(COLUMNS))


def changes_said(changes: ChangesByHand) -> list[str]:
    """All of it, a sentence or two each; that there is nothing, where there is not."""
    others = [*changes.untried, *changes.settings]
    beyond = [f"{capital(one.what)}: {deed_words(one)} {untried_words(one)}".strip() for one in others]
    return [*map(said, changes.eased), *beyond] or [NOTHING]


def untried_words(deed: Deed) -> str:
    """That it was not worked out what would be without a change."""
    return (
        ""
        if deed.what == SETTING
        else "What would be without it was not worked out: there are many such changes."
    )


def said(one: Eased) -> str:
    """What was changed by whom, and what would be without it."""
    return f"{capital(one.deed.what)}: {deed_words(one.deed)} {effect_words(one)}"


def deed_words(deed: Deed) -> str:
    """One change by hand.

    >>> deed_words(Deed("setting changed", "settings", 0, ("",) * 6, "risk", "0.1", "0.2", "", "", "general", ""))
    'risk is 0.2, usual 0.1.'
    """
    if deed.what == SETTING:
        return f"{deed.column} is {deed.new}, usual {deed.old}."
    vessel, engine, bearing, position, half, quantity = deed.about
    of = " ".join(
        filter(None, (vessel, engine, bearing_words(bearing, position), quantity_words(half, quantity)))
    )
    change = f"{deed.old or 'empty'} → {deed.new}" if deed.new else (deed.old or "empty")
    by = f"by {deed.by} on {deed.on}" if deed.on else f"by {deed.by}"
    return (
        f"{of.strip()}, {deed.table} row {deed.row}, {deed.column} {change} ({deed.why}; {by}; "
        f"approved by: {deed.approved_by or NOBODY})."
    )


def effect_words(one: Eased) -> str:
    """What would be without it, beside what is."""
    vessel, engine, bearing, position, half, quantity = one.key
    place = f"{vessel} {engine} {bearing_words(bearing, position)} {quantity_words(half, quantity)}"
    without, now = (_early(h, day) for h, day in zip(one.hours_p10, one.date_p10, strict=True))
    chances = ""
    if all(map(np.isfinite, one.p_next)):
        before, since = (chance(p) for p in one.p_next)
        chances = f"; before the next window {before} instead of {since}"
    more = f" It moves {one.moved} shells so; this one most." if one.moved > 1 else ""
    would = f"Without it {place} would reach its limit with one chance in ten {without}"
    return f"{would}, instead of {now}{chances}.{more}"


def _early(early_h: float, on: object) -> str:
    return (
        f"by {on}" if on else ("not within 200 000 h" if np.isnan(early_h) else f"within {hours(early_h)} h")
    )
