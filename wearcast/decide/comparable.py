"""Which shells of sisters can be compared at all: same duty, shell size and construction."""

from __future__ import annotations

from collections.abc import Sequence

from wearcast.lives.history import EngineAt, History
from wearcast.lives.shells import Life, same_size

ENGINE_FACTS = ("duty", "fuel", "construction")
"""Columns of the engines table that must agree where they are filled; the last two are kept as unknown columns."""


def signature(history: History, life: Life) -> tuple[tuple[str, str], ...]:
    """What must agree for two shells at one position to be compared, as name and value.

    The engine type agrees within a class; construction is told by the overlay depth of the limits table, and by
    columns of that name where the user keeps them.
    """
    engine = history.engine_of(life)
    limits = history.limits.of_class(engine.engine_type, life.place.bearing, life.place.half, life.quantity)
    mine = [limit for limit in limits if same_size(limit.shell_size, life.shell_size)]
    overlay = next((limit.overlay_um for limit in mine), float("nan"))
    return (
        *((name, fact_of(engine, name)) for name in ENGINE_FACTS),
        ("shell size", life.shell_size.casefold()),
        ("overlay", "" if overlay != overlay else f"{overlay:g} µm"),  # noqa: PLR0124  (NaN)
    )


def fact_of(engine: EngineAt, name: str) -> str:
    """A fact of the engines table, without case and blanks; empty where it is not given."""
    value = engine.facts.get(name)
    return " ".join(value.split()).casefold() if isinstance(value, str) else ""


def compared_with(signatures: Sequence[tuple[tuple[str, str], ...]], k: int) -> tuple[int, ...]:
    """Which of the shells at one position the k-th can be compared with, itself among them."""
    return tuple(j for j, other in enumerate(signatures) if other == signatures[k])


def why_not(signatures: Sequence[tuple[tuple[str, str], ...]], k: int) -> str:
    """Why a shell cannot be compared; empty where it can.

    Examples
    --------
    >>> standard, under = (("duty", ""), ("shell size", "standard")), (("duty", ""), ("shell size", "u50"))
    >>> why_not([standard, under, standard], 1)
    'not comparable: shell size u50 against standard'
    >>> why_not([standard, under, standard], 0)
    ''
    """
    if len(signatures) == 1:
        return "not comparable: no sister has a shell in service here"
    if len(compared_with(signatures, k)) > 1:
        return ""
    nearest = min(
        (other for j, other in enumerate(signatures) if j != k),
        key=lambda other: sum(a != b for a, b in zip(other, signatures[k], strict=True)),
    )
    differs = [
        f"{name} {mine or 'not given'} against {theirs or 'not given'}"
        for (name, mine), (_, theirs) in zip(signatures[k], nearest, strict=True)
        if mine != theirs
    ]
    return f"not comparable: {', '.join(differs)}"
