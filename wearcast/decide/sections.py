"""Decisions as plain worded rows, for terminal and pages alike; nothing is computed here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite

from wearcast.decide.compare import ClassComparison, Comparison
from wearcast.decide.compare_rows import CompareRow
from wearcast.decide.openings import Opening
from wearcast.decide.order import Order
from wearcast.decide.order_lines import LEAD_UNKNOWN, ORDER_NOW, OrderLine
from wearcast.decide.parts import Taker
from wearcast.decide.plan import Plan
from wearcast.decide.whole import Whole
from wearcast.forecasting.statements import DAMAGE
from wearcast.lives.history import EngineKey
from wearcast.lives.only import Only
from wearcast.lives.shells import engine_key
from wearcast.words import chance as chance_words
from wearcast.words import counted, kind_words


@dataclass(frozen=True)
class OrderRow:
    """One part in words.

    Attributes
    ----------
    needed : str
        Median and 95 % quantile, `0 - 1`.
    in_store : str
        On hand + on order.
    by : str
        The last date to order, `order now`, that it can wait past the horizon, or that the lead time is unknown.
    headline : str
        What to do, in one phrase.
    driven_by : tuple of str
        Places with their chance of needing it, likeliest first.
    to_vessels : tuple of str
        How many for which vessel, by when.
    would_change : str
        What would make it another number.
    reasons : tuple of str
        Sentences.
    """

    part: str
    part_reference: str
    needed: str
    in_store: str
    minimum: str
    quantity: str
    by: str
    arrives_by: str
    covered_until: str
    headline: str
    driven_by: tuple[str, ...]
    to_vessels: tuple[str, ...]
    would_change: str
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class OpeningRow:
    """One bearing at one window in words."""

    position: str
    standing: str
    chance: str
    reading_changes_plan: str
    why: tuple[str, ...]
    read: tuple[str, ...]
    photograph: tuple[str, ...]
    neighbours: tuple[str, ...]


@dataclass(frozen=True)
class WindowRow:
    """One window of one engine with its openings; chances count until `until`."""

    key: EngineKey
    window: str
    allowed: str
    until: str
    openings: tuple[OpeningRow, ...]


@dataclass(frozen=True)
class PlaceRow:
    """One place beside its sisters in words."""

    key: EngineKey
    position: str
    rate: str
    rank: str
    not_comparable: str
    out_of_line: bool
    reasons: tuple[str, ...]


def order_rows(order: Order, key: EngineKey | None = None) -> tuple[OrderRow, ...]:
    """The order in words; of one engine, or of what alone is asked for, only parts and places that are of it."""
    several = len({line.part.engine_type for line in order.lines}) > 1
    only = order.only if key is None else Only(*key)
    return tuple(
        _order_row(line, only, several)
        for line in order.lines
        if any(map(_holds(only), line.takers)) or not only
    )


def _holds(only: Only) -> Callable[[Taker], bool]:
    return lambda one: only.holds(one.vessel, one.engine, one.bearing, one.position)


def _order_row(line: OrderLine, only: Only, with_type: bool) -> OrderRow:
    part, by = line.part, line.by
    told = by if by in (ORDER_NOW, LEAD_UNKNOWN) or by.startswith("not") else f"by {by}"
    nothing = (
        f"nothing to order before the next review; {by}"
        if by == LEAD_UNKNOWN
        else "nothing to order before the next review"
    )
    return OrderRow(
        part=part_in_words(line, with_type),
        part_reference=part.part_reference,
        needed=f"{line.needed(0.50)} - {line.needed(0.95)}",
        in_store=f"{part.on_hand} + {part.on_order}",
        minimum=str(part.minimum_on_board),
        quantity=str(line.quantity),
        by=by,
        arrives_by=str(line.arrives_by or ""),
        covered_until=str(line.covered_until),
        headline=f"order {line.quantity}, {told}" if line.quantity else nothing,
        driven_by=tuple(
            f"{taker} {chance_words(chance)}" for taker, chance in line.driving if _holds(only)(taker)
        ),
        to_vessels=tuple(str(one) for one in line.to_vessels if only.holds(one.vessel, "")),
        would_change=line.would_change,
        reasons=tuple(sentence(reason) for reason in line.reasons),
    )


def part_in_words(line: OrderLine, with_type: bool = False) -> str:
    """Bearing, half and size; the engine type before them where there are several."""
    part = line.part
    words = (
        part.engine_type if with_type else "",
        part.bearing.replace("_", " "),
        part.half,
        part.shell_size,
    )
    return " ".join(word for word in words if word)


def sentence(text: str) -> str:
    """A reason with its capital and full stop.

    >>> sentence("both halves are renewed together")
    'Both halves are renewed together.'
    """
    return f"{text[0].upper()}{text[1:].rstrip('.')}."


def window_rows(plan: Plan, key: EngineKey) -> tuple[WindowRow, ...]:
    """The windows of one engine, soonest first, with what to open at each."""
    found: dict[int, list[Opening]] = {}
    for opening in plan.openings:
        if opening.key == key:
            found.setdefault(opening.window.row, []).append(opening)
    return tuple(
        WindowRow(
            key=key,
            window=str(here[0].window),
            allowed="" if (most := here[0].window.max_openings) is None else f"at most {most} openings",
            until=str(here[0].until),
            openings=tuple(_opening_row(opening) for opening in here),
        )
        for here in found.values()
    )


def _opening_row(one: Opening) -> OpeningRow:
    calls = max((row.calls for row in one.rows if isfinite(row.calls)), default=float("nan"))
    damaged = any(row.statement == DAMAGE for row in one.rows)  # its numbers mean nothing beside that
    beside = one.neighbours if one.chance > NEIGHBOURS_FROM else ()
    return OpeningRow(
        position=str(one),
        standing="open" if one.planned else ("open if allowed" if one.must else "worth a look"),
        chance=chance_words(one.chance) if isfinite(one.chance) and not damaged else "",
        reading_changes_plan=chance_words(calls) if isfinite(calls) and not damaged else "",
        why=one.why,
        read=tuple(str(line) for line in one.read),
        photograph=one.photograph,
        neighbours=tuple(f"{one.bearing.replace('_', ' ')} {number}" for number in beside),
    )


NEIGHBOURS_FROM = 0.25
"""Chance that the shell is at its limit from which its neighbours are offered too (judgement)."""


def place_rows(comparison: Comparison, key: EngineKey | None = None) -> tuple[PlaceRow, ...]:
    """Places beside their sisters; of one engine, only its own."""
    return tuple(place_row(row) for row in comparison.rows if key is None or engine_key(row) == key)


def place_row(row: CompareRow) -> PlaceRow:
    """One place in words."""
    mean, lo, hi = row.rate
    middle, low, high = row.rank
    bearing = row.bearing.replace("_", " ")
    return PlaceRow(
        key=engine_key(row),
        position=" ".join(word for word in (bearing, row.position, row.half) if word),
        rate=f"{mean:.2f} ({lo:.2f}-{hi:.2f})",
        rank=f"{middle} ({low}-{high}) of {row.ranked}" if row.ranked else "",
        not_comparable=row.not_comparable,
        out_of_line=row.out_of_line,
        reasons=tuple(sentence(reason) for reason in row.reasons),
    )


def slopes_in_words(one: ClassComparison, position: str) -> str:
    """The corrected chance of the F test of equal slopes at one position; empty where there is none.

    It is never said to be 0.
    """
    p = one.slopes[position].p_holm
    return ("under 0.001" if p < 0.001 else f"{p:.3f}") if isfinite(p) else ""


def whole_in_words(one: Whole) -> str:
    """One engine against its sisters over all places compared."""
    alike = "" if one.differs else ", which may be as they do"
    low, high = (
        f"{end:.2f}" if one.differs and f"{end:.1f}" == "1.0" else f"{end:.1f}"
        for end in (one.lo90, one.hi90)
    )
    return (
        f"{' '.join(one.key)} wears {one.times:.1f} × ({low}-{high}) its sisters over "
        f"{counted(one.places, 'place')}{alike}."
    )


def power_in_words(comparison: Comparison) -> tuple[str, ...]:
    """What these readings could not have shown."""
    share = comparison.blind_below
    said = f"With these readings a difference under {100 * share:.0f} % at one place would not be named."
    return (said,) if isfinite(share) else ()


def shifts_in_words(comparison: Comparison) -> tuple[str, ...]:
    """Wear that has changed of late, by place, engine and time, where a place of the comparison is concerned."""
    held = {(row.vessel, row.engine) for row in comparison.rows}
    return tuple(
        f"{kind_words(one.kind).capitalize()}: {one.text}"
        for one in comparison.stand.forecast.queries
        if one.kind in ("rate_changed", "quickened", "slowed")
        and any(one.vessel in ("", vessel) and one.engine in ("", engine) for vessel, engine in held)
    )
