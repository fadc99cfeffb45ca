"""The date of the run, fixed where a reproducible run asks for it."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime

from wearcast.errors import WrongUse

EARLIEST_YEAR, LATEST_YEAR = 1950, 2100
"""Outside these years a date is a slip of typing (judgement)."""

LONGEST_DAYS = 36_600.0
"""Nobody looks further ahead (judgement)."""


def sound(day: date, what: str) -> date:
    """The day, if it is one that an engine can see.

    Raises
    ------
    WrongUse
        If it lies before or after all engines.
    """
    if EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        return day
    raise WrongUse(f"{what} is {day.isoformat()}; expected a date between {EARLIEST_YEAR} and {LATEST_YEAR}.")


def ahead(days: float, what: str) -> float:
    """The days to look ahead, if they are such.

    Raises
    ------
    WrongUse
        If they are less than none, or reach beyond all engines.
    """
    if 0 <= days <= LONGEST_DAYS:
        return days
    raise WrongUse(f"{what} is {days:.6g} days; expected 0 to {LONGEST_DAYS:,.0f}.")


def run_date() -> date:
    """Today, or the day of ``SOURCE_DATE_EPOCH`` where that is set.

    Raises
    ------
    WrongUse
        If the variable is set to anything but a whole number of seconds.
    """
    stamp = os.environ.get("SOURCE_DATE_EPOCH", "")
    if not stamp:
        return datetime.now().astimezone().date()
    try:
        day = datetime.fromtimestamp(int(stamp), tz=UTC).date()
    except (ValueError, OverflowError, OSError):
        raise WrongUse(
            f"SOURCE_DATE_EPOCH is {stamp!r}; expected whole seconds since 1970-01-01. Unset or correct it."
        ) from None
    return sound(day, "SOURCE_DATE_EPOCH")


def day_of(value: date | str) -> date:
    """A date, or one written as such.

    Parameters
    ----------
    value : date, datetime or str
        A text is read as ISO 8601, ``2026-11-25``.

    Returns
    -------
    date

    Raises
    ------
    WrongUse
        If it is no date.

    Examples
    --------
    >>> day_of("2026-11-25")
    datetime.date(2026, 11, 25)
    """
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError):
        raise WrongUse(f"{value!r} is no date; give one, or its text as in '2026-11-25'.") from None
