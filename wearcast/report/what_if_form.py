"""The form of what if in words: what may be tried on a page, as recorded, and what stays as it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from wearcast.lives.history import EngineKey
from wearcast.report.what_if import WhatIfSource


@dataclass(frozen=True)
class Field:
    """One labelled input.

    Attributes
    ----------
    name : str
        Kind and place in the list the page carries: `use-0`, `window-3`, `risk`, `lead-1`.
    of : str
        What the label goes with, for those who hear it without its group; hidden to the eye.
    value : str
        As recorded; empty where nothing is.
    """

    name: str
    of: str
    label: str
    value: str
    is_date: bool = False


@dataclass(frozen=True)
class FieldGroup:
    """Inputs that belong together."""

    title: str
    fields: tuple[Field, ...]


@dataclass(frozen=True)
class WhatIfView:
    """The form of a page, and what the page carries for it.

    Attributes
    ----------
    stays : tuple of str
        What is not worked out anew, and why.
    payload : dict
        Plain values, for a JSON element of the page.
    """

    intro: str
    summary: str
    groups: tuple[FieldGroup, ...]
    stays: tuple[str, ...]
    payload: dict[str, Any]


INTRO = (
    "Try other values: dates, chances before windows, statements{more} on this sheet follow at once, worked out in "
    "the page from what it carries. Nothing recorded changes, and no limit, interval or maker's instruction is "
    "extended by it. The address of the page keeps the values, so that a link shows the same."
)

SUMMARY = "Try other hours per year and window dates{more}"

STAYS_FORECAST = (
    "Hours to the limit do not hang on these values and stay, and so do rates, queries and how far to trust it. Charts "
    "and what must be done first stay as recorded, and say so; dates in drawings and tables follow."
)

STAYS_PLAN = (
    "What to open is found anew by the rule of the plan. Openings offered only because a reading there would tell "
    "much are not: they need more of the forecast than a page can carry, and stay as recorded."
)

STAYS_ORDER = (
    "Order quantities need the joint forecast of all shells, which no page can carry: they stay as recorded. The "
    "last date to order moves by the days of a changed lead time exactly. With hours per year or windows it moves "
    "approximately: the page reckons each need by itself, sets its reckoning so that it gives the recorded date at "
    "the recorded settings, and shows where that goes with the values tried."
)

STAYS_ORDER_OF_ENGINE = (
    "Order quantities stay as recorded, and the last dates to order follow the lead time alone: they hang on the "
    "needs of the sister engines too, which are on the fleet sheet."
)


def what_if_view(source: WhatIfSource, keys: Iterable[EngineKey] | None = None) -> WhatIfView:
    """The form of the page of some engines, all of them by default."""
    payload = source.payload(keys)
    decided = [name for name in ("plan", "order") if name in payload]
    more = {(): "", ("plan",): ", openings"}.get(tuple(decided), ", openings and order dates")
    groups = [*_engine_groups(payload), *_decision_groups(payload)]
    stays = [STAYS_FORECAST]
    if "plan" in payload:
        stays.append(STAYS_PLAN)
    if "order" in payload:
        stays.append(STAYS_ORDER if keys is None else STAYS_ORDER_OF_ENGINE)
    tried = {(): "", ("plan",): ", and another accepted risk"}.get(
        tuple(decided), ", another accepted risk and other lead times"
    )
    return WhatIfView(
        INTRO.format(more=more), SUMMARY.format(more=tried), tuple(groups), tuple(stays), payload
    )


def _engine_groups(payload: dict[str, Any]) -> list[FieldGroup]:
    """One group a vessel: the yearly use of its engines, then its windows."""
    fields: dict[str, list[Field]] = {}
    aboard = Counter(engine["vessel"] for engine in payload["engines"])
    for k, engine in enumerate(payload["engines"]):
        vessel, name = engine["vessel"], engine["engine"]
        label = f"{name} hours per year"
        fields.setdefault(vessel, []).append(
            Field(f"use-{k}", vessel, label, _number(engine["hours_per_year"]))
        )
    for k, window in enumerate(payload["windows"]):
        first = payload["engines"][window["engines"][0]]
        label = window["name"] or "window"
        if len(window["engines"]) < aboard[first["vessel"]]:
            label = f"{first['engine']} {label}"
        fields[first["vessel"]].append(
            Field(f"window-{k}", first["vessel"], label, window["on"], is_date=True)
        )
    return [FieldGroup(vessel, tuple(found)) for vessel, found in fields.items()]


def _decision_groups(payload: dict[str, Any]) -> list[FieldGroup]:
    groups = []
    if "plan" in payload:
        groups.append(
            FieldGroup(
                "Plan",
                (Field("risk", "", "Accepted risk (0.1 or 10 %)", _number(payload["plan"]["risk"])),),
            )
        )
    lines = payload["order"]["lines"] if "order" in payload else []
    fields = [
        Field(f"lead-{k}", "Lead time of", line["part"], _number(line["lead_days"]))
        for k, line in enumerate(lines)
        if line["known"]
    ]
    if fields:
        groups.append(FieldGroup("Lead time, days", tuple(fields)))
    return groups


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.10g}"
