"""The step a gauge was read to, found from the digits as they were written."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal, InvalidOperation

COARSER = (Decimal(50), Decimal(25), Decimal(20), Decimal(10), Decimal(5), Decimal(2))
"""Steps, in units of the last digit written, that gauges and feeler leaves are read to (judgement)."""

NEEDED_FOR_COARSER = 6
"""Readings of one set before a coarser step than the last digit is believed (judgement)."""


def rounding_step(texts: Sequence[str]) -> float:
    """The step that a set of readings of one gauge was rounded to, in the unit of the texts.

    The last digit written, unless at least six readings are all multiples of a coarser usual step. A set of
    whole multiples of 0.01 written to 0.001 by chance is then rarer than one in a hundred thousand.

    >>> rounding_step(["7.98", "7.97", "7.98"])
    0.01
    >>> rounding_step(["7.980", "7.975", "7.960", "7.985", "7.990", "7.970"])
    0.005
    """
    numbers = []
    for text in texts:
        try:
            numbers.append(Decimal(text.strip().replace(",", ".")))
        except InvalidOperation:
            continue
    exponents = [number.as_tuple().exponent for number in numbers]
    finest = min((exponent for exponent in exponents if isinstance(exponent, int)), default=0)
    last_digit = Decimal(1).scaleb(finest)
    counts = [number / last_digit for number in numbers]
    if len(counts) >= NEEDED_FOR_COARSER and len(set(counts)) > 1:
        for coarse in COARSER:
            if all(count % coarse == 0 for count in counts):
                return float(coarse * last_digit)
    return float(last_digit)
