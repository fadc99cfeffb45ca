"""The date of the run, fixed where a reproducible run asks for it."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime

from wearcast.errors import WrongUse


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
        return datetime.fromtimestamp(int(stamp), tz=UTC).date()
    except (ValueError, OverflowError, OSError):
        raise WrongUse(
            f"SOURCE_DATE_EPOCH is {stamp!r}; expected whole seconds since 1970-01-01. Unset or correct it."
        ) from None


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
