"""Windows by date across vessels: what to open at each, and what is said once a window."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isfinite

from wearcast.decide.openings import Opening
from wearcast.decide.plan import Plan
from wearcast.forecasting.statements import DAMAGE, MAY_BE_PAST, PAST, URGENT
from wearcast.forecasting.words import place_in_words
from wearcast.report.first_view import Openings, ToOpenView, WindowsView, WindowView
from wearcast.report.linked import Told, Ways
from wearcast.words import chance, counted, page_text, stated_share, tied

SOON = 6
"""Windows shown before any is unfolded (layout)."""


def windows_view(plan: Plan, ways: Ways) -> WindowsView:
    """The openings of a plan by date."""
    windows: dict[tuple[str, str], list[Opening]] = {}
    for one in sorted(plan.openings, key=lambda one: (one.window.on, one.key)):
        windows.setdefault((str(one.window), one.key[0]), []).append(one)
    found = [_window(plan, ways, vessel, openings) for (_, vessel), openings in windows.items()]
    places = [(place_in_words(row), row.key[:4]) for row in plan.stand.forecast.rows]
    return WindowsView(
        f"In brackets the chance that the limit is reached before the window after; {stated_share(plan.risk)} is "
        "accepted. A maker's fixed hours come first.",
        tuple(found[:SOON]),
        tuple(found[SOON:]),
        tuple(
            ways.linked(page_text(said), [spot for name, spot in places if said.startswith(name)][-1:])
            for said in sorted(plan.warnings, key=_urgency)
        ),
        "" if found else "No window is given, so nothing can be planned.",
    )


def _window(plan: Plan, ways: Ways, vessel: str, openings: Sequence[Opening]) -> WindowView:
    window = openings[0].window
    on, _, name = str(window).partition(" ")
    most = "" if window.max_openings is None else f"at most {counted(window.max_openings, 'bearing')}"

    def of(found: Iterable[Opening]) -> Openings:
        several = list(found)
        return tuple(
            (engine, tuple(_opening(plan, ways, one) for one in several if one.key[1] == engine))
            for engine in dict.fromkeys(one.key[1] for one in several)
        )

    return WindowView(
        on,
        ", ".join(filter(None, (name, most))),
        vessel,
        of(one for one in openings if one.planned),
        of(one for one in openings if one.must and not one.planned),
        of(one for one in openings if not (one.planned or one.must)),
    )


def _opening(plan: Plan, ways: Ways, one: Opening) -> ToOpenView:
    damaged = any(row.must_open and row.statement == DAMAGE for row in one.rows)
    return ToOpenView(
        place=Told(str(one), ways.to((*one.key, one.bearing, one.position))),
        chance=tied(chance(one.chance)) if isfinite(one.chance) and not damaged else "",
        because=", ".join(_because(one, plan.risk)),
    )


def _urgency(said: str) -> int:
    """What is needed at once before what may be, and that before what windows leave."""
    first = (f": {statement}" in said for statement in (DAMAGE, PAST, MAY_BE_PAST))
    return next((k for k, holds in enumerate(first) if holds), 3)


def _because(one: Opening, risk: float) -> list[str]:
    """What asks for an opening beside its chance."""
    at_once = [row.statement for row in one.rows if row.must_open and row.statement in URGENT]
    said = list(dict.fromkeys(at_once))
    if any(row.fixed_chance > risk for row in one.rows):
        said.append("maker's fixed hours")
    if any(reason.startswith("last opened") for reason in one.why):
        said.append("five years")
    if one.planned and not one.must:
        said.append("early: openings are scarce later")
    return said
