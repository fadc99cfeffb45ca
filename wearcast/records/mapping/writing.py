"""How a sheet writes its numbers and dates: decimal and thousands signs, the order of day and month."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Literal

from wearcast.records.cells import Raw, SheetCell, text_of
from wearcast.records.mapping.meaning import HUNDREDTHS

DecimalSign = Literal["", ".", ","]
DateOrder = Literal["", "day month year", "month day year"]
Kind = Literal["number", "date", "text", "other"]

_PLAIN = re.compile(r"[+-]?\d+(?:[.,]\d+)?|[+-]?[.,]\d+", re.ASCII)
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:([ .,'’\u00a0\u2009\u202f])\d{3})(?:\1\d{3})*(?:[.,]\d+)?", re.ASCII)
_ISO = re.compile(r"\d{4}-\d{1,2}-\d{1,2}")
_DAY_LAST = re.compile(r"(\d{4})[./](\d{1,2})[./](\d{1,2})\.?")
_DAY_FIRST = re.compile(r"(\d{1,2})([./ -])(\d{1,2})\2(\d{4})\.?")
_NAMED = re.compile(r"(\d{1,2})\.?[ -]+([^\W\d_]{3,})\.?,?[ -]+(\d{4})|([^\W\d_]{3,})\.? (\d{1,2}),? (\d{4})")
_MONTHS = (
    "jan ene gen janv", "feb fev fevr", "mar mrt maa mär mrz", "apr avr abr", "may mai mei maj mag", "jun juin giu",
    "jul juil lug", "aug ago aoû aou", "sep set sept", "oct okt ott out", "nov", "dec dez des dic déc",
)  # fmt: skip
BLANKS = str.maketrans("", "", " \u00a0\u2009\u202f'’")


def kind_of(raw: Raw) -> Kind:
    """What a cell is by itself: a number or date, however written, a text, or something that is none of them."""
    if isinstance(raw, SheetCell):
        return {"number": "number", "date": "date", "text": "text"}.get(raw.kind, "other")  # type: ignore[return-value]
    text = raw.strip().replace("\u2212", "-")
    if _PLAIN.fullmatch(text) or _GROUPED.fullmatch(text):
        return "number"
    return (
        "date"
        if _ISO.fullmatch(text) or _DAY_LAST.fullmatch(text) or _DAY_FIRST.fullmatch(text) or _named(text)
        else "text"
    )


def decimal_signs(texts: Iterable[str]) -> set[str]:
    """The decimal signs that texts of numbers give away: one before a figure that no thousands have.

    >>> decimal_signs(["7,982", "0,24"]), decimal_signs(["7,982"]), decimal_signs(["25 100"])
    ({','}, set(), set())
    """
    found = set()
    for text in texts:
        signs = [sign for sign in text if sign in ".,"]
        if not signs:
            continue
        last = signs[-1]
        tail, whole = text.rpartition(last)[2], text.partition(signs[0])[0].lstrip("+-")
        if signs.count(last) > 1:
            found |= {",", "."} - {last}  # 1.234.567
        elif len(tail) != 3 or whole in ("", "0") or len(whole) > 3 or len(set(signs)) > 1:
            found.add(last)
    return found


def two_ways(text: str) -> bool:
    """Whether a number means one thing with a decimal comma and another with a decimal point."""
    text = text.strip()
    return bool(re.fullmatch(r"[+-]?[1-9]\d{0,2}[.,]\d{3}", text))


def number_text(raw: Raw, decimal: str, unit: str = "") -> Raw:
    """The number as the record set writes it, its digits kept; what is no number stays as it stands.

    >>> number_text("25 100", ""), number_text("25.100", ","), number_text("7,982", ",")
    ('25100', '25100', '7.982')
    >>> number_text("24.5", ".", "0.01mm"), number_text("7,982", "")
    ('245.0', '7,982')
    """
    if kind_of(raw) != "number":
        return raw
    text = text_of(raw).replace("\u2212", "-").translate(BLANKS)
    if isinstance(raw, str):
        sign = decimal or "".join(decimal_signs([text])) or ("" if "," in text else ".")
        if not sign:
            return raw
        text = text.replace("," if sign == "." else ".", "").replace(sign, ".")
    if unit == HUNDREDTHS:
        return f"{Decimal(text) * 10:f}"
    return text if isinstance(raw, str) else raw


def hours_text(raw: Raw, decimal: str) -> Raw:
    """A dial as read: three figures after a sign are thousands, for no dial shows thousandths of an hour.

    >>> hours_text("25.100", ""), hours_text("25,100", "."), hours_text("25,100", ",")
    ('25100', '25100', '25,100')
    """
    if isinstance(raw, str) and two_ways(raw):
        return raw if decimal and decimal in raw else re.sub("[.,]", "", raw.strip())
    return number_text(raw, decimal)


def date_text(raw: Raw, order: str) -> Raw:
    """The date as year-month-day where it can be read in one way; anything else as it stands."""
    if not isinstance(raw, str):
        return raw
    text = raw.strip()
    found = _DAY_LAST.fullmatch(text)
    if found:
        return _iso(found[1], found[2], found[3]) or raw
    named = _named(text)
    if named:
        return named
    found = _DAY_FIRST.fullmatch(text)
    if not found:
        return raw
    day_first, month_first = _iso(found[4], found[3], found[1]), _iso(found[4], found[1], found[3])
    if order:
        return (day_first if order.startswith("day") else month_first) or raw
    return raw if day_first and month_first and day_first != month_first else day_first or month_first or raw


def day_order(texts: Iterable[str]) -> set[str]:
    """The orders of day and month that dates give away, by a day after the twelfth."""
    found = set()
    for text in texts:
        parts = _DAY_FIRST.fullmatch(text.strip())
        if parts and int(parts[1]) > 12:
            found.add("day month year")
        elif parts and int(parts[3]) > 12:
            found.add("month day year")
    return found


def _named(text: str) -> str:
    """A date with the month in words, as year-month-day."""
    found = _NAMED.fullmatch(text)
    if not found:
        return ""
    day, word, year = found.group(1, 2, 3) if found[1] else found.group(5, 4, 6)
    for number, names in enumerate(_MONTHS, start=1):
        if any(word.casefold().startswith(name) for name in names.split()):
            return _iso(year, str(number), day)
    return ""


def _iso(year: str, month: str, day: str) -> str:
    try:
        return date(int(year), int(month), int(day)).isoformat()
    except ValueError:
        return ""
