"""Dates from cells: ISO 8601 calendar dates or real date cells, never one that could be read two ways."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta

from wearcast.clock import EARLIEST_YEAR, LATEST_YEAR
from wearcast.records.cells import Notation, Problem, Raw, SheetCell, text_of, trouble_in

ISO = "a date such as 2024-05-17"

_ISO = re.compile(r"(\d{4})-(\d{2})-(\d{2})(?:[T ]00:00(?::00(?:\.0+)?)?)?", re.ASCII)
_ISO_TIME = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{1,2}:\d{2}.*", re.ASCII)
_YEAR_FIRST = re.compile(r"(\d{4})[-/. ](\d{1,2})[-/. ](\d{1,2})\.?", re.ASCII)
_YEAR_LAST = re.compile(r"(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{4})\.?", re.ASCII)
_TWO_DIGIT_YEAR = re.compile(r"\d{1,2}[-/. ]\d{1,2}[-/. ]\d{1,2}\.?", re.ASCII)
_BASIC = re.compile(r"(\d{4})(\d{2})(\d{2})", re.ASCII)
_SERIAL = re.compile(r"\d{5}(?:\.\d+)?", re.ASCII)

_NO_SUCH_DAY = Problem("a date that exists", "There is no such day in the calendar; correct it.")


def parse_date(
    raw: Raw, notation: Notation, latest: date | None = None, since: int = EARLIEST_YEAR
) -> date | Problem:
    """The calendar date of a cell.

    Parameters
    ----------
    latest : date, optional
        The date of the run, for columns that cannot lie after it.
    since : int
        The first year.

    Notes
    -----
    A time of day is accepted only if it is midnight, which is how spreadsheets write a bare date.

    >>> parse_date("2024-05-17", Notation())
    datetime.date(2024, 5, 17)
    >>> parse_date("05/06/2024", Notation()).suggestion
    'It may mean 2024-06-05 or 2024-05-06: write the one that was meant.'
    """
    if isinstance(raw, SheetCell) and raw.kind != "text":
        found = _from_sheet_cell(raw, notation)
    else:
        found = trouble_in(raw) or _from_text(text_of(raw), notation)
    if isinstance(found, Problem):
        return found
    if not since <= found.year <= LATEST_YEAR:
        return Problem(f"a date between the years {since} and {LATEST_YEAR}", "Correct the year.")
    if latest is not None and found > latest:
        return Problem(
            f"a date not after {latest.isoformat()}, the date of this run",
            "Correct it; what is recorded has happened.",
        )
    return found


def _from_sheet_cell(cell: SheetCell, notation: Notation) -> date | Problem:
    if cell.kind == "date" and isinstance(cell.value, datetime):
        if cell.value.time() == time():
            return cell.value.date()
        return Problem("a date without a time of day", f"Write {cell.value.date().isoformat()}.")
    if cell.kind in ("number", "scaled") and isinstance(cell.value, float):
        return _from_text(cell.text, notation)
    return trouble_in(cell) or Problem(ISO, "Format the cell as a date and type the date again.")


def _from_text(text: str, notation: Notation) -> date | Problem:
    iso = _ISO.fullmatch(text)
    if iso:
        return _calendar(iso[1], iso[2], iso[3]) or _NO_SUCH_DAY
    if _ISO_TIME.fullmatch(text):
        return Problem("a date without a time of day", f"Write {text[:10]}.")
    if _SERIAL.fullmatch(text):
        return _serial(text, notation)
    return _other_date(text)


def _other_date(text: str) -> Problem:
    """What to write in place of a date of another form."""
    year_first = _YEAR_FIRST.fullmatch(text) or _BASIC.fullmatch(text)
    if year_first:
        meant = _calendar(*year_first.groups())
        return Problem(ISO, f"Write {meant.isoformat()}.") if meant else _NO_SUCH_DAY
    year_last = _YEAR_LAST.fullmatch(text)
    if year_last:
        return _day_or_month_first(year_last)
    if _TWO_DIGIT_YEAR.fullmatch(text):
        return Problem(
            ISO, "It can be read in several ways: write the year with four digits, then month, then day."
        )
    return Problem(ISO, "Write year, month and day with hyphens, or use a date cell.")


def _day_or_month_first(match: re.Match[str]) -> Problem:
    first, second, year = match.groups()
    readings = [d for d in (_calendar(year, second, first), _calendar(year, first, second)) if d]
    if len(set(readings)) == 2:
        return Problem(
            "a date that can be read in one way only",
            f"It may mean {readings[0].isoformat()} or {readings[1].isoformat()}: write the one that was meant.",
        )
    if readings:
        return Problem(ISO, f"Write {readings[0].isoformat()}.")
    return _NO_SUCH_DAY


def _calendar(year: str, month: str, day: str) -> date | None:
    try:
        return date(int(year), int(month), int(day))
    except ValueError:
        return None


def _serial(text: str, notation: Notation) -> Problem:
    # Day 1 is 1900-01-01 in one system, which counts a 29 February 1900 that never was; day 0 is
    # 1904-01-01 in the other. Five digits lie well after the false leap day.
    start = date(1904, 1, 1) if notation.epoch_1904 else date(1899, 12, 30)
    meant = start + timedelta(days=int(float(text)))
    return Problem(
        ISO, f"It looks like a spreadsheet's day number for {meant.isoformat()}: format the cell as a date."
    )
