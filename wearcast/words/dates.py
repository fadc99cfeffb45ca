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


def reached_by(on: date, run_date: date) -> str:
    """The date by which a chance is reached; one before the run tells that it is, not that the limit is passed.

    >>> reached_by(date(2027, 1, 5), date(2026, 1, 1)), reached_by(date(2025, 1, 5), date(2026, 1, 1))
    ('2027-01-05', 'already by 2025-01-05')
    """
    return on.isoformat() if on >= run_date else f"already by {on.isoformat()}"
