"""What stands first on a page, as plain values: windows by date, orders, queries and sentences with links."""

from __future__ import annotations

from dataclasses import dataclass

from wearcast.report.linked import Told


@dataclass(frozen=True)
class ToOpenView:
    """One bearing to open at a window.

    Attributes
    ----------
    chance : str
        That its limit is reached before the window after.
    because : str
        What else asks for it; empty where the chance says it.
    """

    place: Told
    chance: str
    because: str


Openings = tuple[tuple[str, tuple[ToOpenView, ...]], ...]
"""Engines, each with what is opened on it."""


@dataclass(frozen=True)
class WindowView:
    """One window of a vessel: what to open, what is called for but not allowed, and what may be looked at."""

    on: str
    name: str
    vessel: str
    open: Openings
    over: Openings
    look: Openings


@dataclass(frozen=True)
class WindowsView:
    """Windows by date: those shown at once, and those further off; what no window keeps."""

    intro: str
    soon: tuple[WindowView, ...]
    later: tuple[WindowView, ...]
    warnings: tuple[tuple[Told, ...], ...]
    none: str


@dataclass(frozen=True)
class OrderView:
    """One part to order or not: how many, by when, for which vessels."""

    key: str
    part: str
    reference: str
    quantity: str
    by: str
    vessels: tuple[str, ...]
    needed: str
    in_store: str
    minimum: str


@dataclass(frozen=True)
class OrdersView:
    """Parts to order, and parts of which there is enough."""

    to_order: tuple[OrderView, ...]
    enough: tuple[OrderView, ...]
    none: str


@dataclass(frozen=True)
class QueryLine:
    """What is doubted at one place or opening, in a line: where, what, and what it does to the forecast."""

    where: Told
    what: str
    effect: str


@dataclass(frozen=True)
class DecidedView:
    """What was decided, on the page of the fleet."""

    windows: WindowsView
    orders: OrdersView
    out_of_line: tuple[tuple[Told, ...], ...]
