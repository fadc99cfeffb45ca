"""Web deflections in figures, throw by throw, with what their signs say of the bearings."""

from __future__ import annotations

from math import isfinite
from typing import Any

from wearcast import words
from wearcast.companions.web_deflection import SIGN_NOTE
from wearcast.lives.history import EngineKey
from wearcast.lives.shells import engine_key
from wearcast.report.companions import Companions, last_of_each
from wearcast.report.view import PlainTable, SideBySide
from wearcast.words import exact_mm, rate, signed, signed_mm

LIKE_CONDITIONS = (
    "Compare only what was read under like conditions: hot or cold, afloat or docked, draught, coupled or not. "
    "The maker's alignment sheet governs."
)


def along_the_shaft(companions: Companions, key: EngineKey) -> SideBySide:
    """Web deflections throw by throw, and which main seems low or high."""
    said = [one.text for one in companions.heights if engine_key(one) == key and one.text]
    rows = last_of_each(companions.deflections, key, ["position"])
    open_ends = [
        f"Throw {row.position}: first and last reading differ by {abs(row.closure_um):.0f} µm; measure again."
        for row in rows
        if row.closes is False
    ]
    return SideBySide(
        PlainTable(
            "shaft",
            "Along the shaft",
            "Web deflections throw by throw, last measurement of each; webs opening are plus, in mm",
            (
                "Throw", "Between mains", "Date", "Conditions", "Top minus bottom", "Port minus starboard",
                "Closure, µm", "Drift of top minus bottom, µm per 1000 h", "Limit", "Limit from",
            ),
            tuple(map(_throw, rows)),
            "No web deflection was read.",
        ),
        tuple(words.page_text(text) for text in (*said, *open_ends)),
        (SIGN_NOTE, LIKE_CONDITIONS),
    )  # fmt: skip


def _throw(row: Any) -> tuple[str, ...]:
    past = ", past it" if row.past_limit else ""
    return (
        str(row.position),
        f"{row.main_before:.0f} and {row.main_after:.0f}" if isfinite(row.main_before) else "",
        words.day(row.date.date()),
        row.conditions if isinstance(row.conditions, str) else "",
        signed_mm(row.vertical_mm),
        signed_mm(row.horizontal_mm),
        signed(row.closure_um),
        f"{rate(row.drift_um_per_kh)} ± {rate(row.drift_u_um_per_kh)}"
        if isfinite(row.drift_u_um_per_kh)
        else "",
        (_limits(row.min_mm, row.max_mm) + past)
        if isfinite(row.min_mm) or isfinite(row.max_mm)
        else "none given",
        row.limit_source,
    )


def _limits(least_mm: float, most_mm: float) -> str:
    if least_mm == -most_mm:
        return f"±\N{NO-BREAK SPACE}{exact_mm(most_mm)}"
    ends = (("at least", least_mm), ("at most", most_mm))
    return " and ".join(f"{side} {exact_mm(value)}" for side, value in ends if isfinite(value))
