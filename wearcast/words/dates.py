"""Dates in words."""

from __future__ import annotations

from datetime import date


def day(on: date | None) -> str:
    """A date, or that there is none."""
    return "date not known" if on is None or on != on else on.isoformat()  # noqa: PLR0124  (NaT)


def month(on: date) -> str:
    """Year and month of a date, where there is no room for the day.

    >>> month(date(2024, 5, 17))
    '2024-05'
    """
    return on.isoformat()[:7]
