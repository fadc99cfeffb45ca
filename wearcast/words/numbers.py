"""Figures as text: rounding that never carries a value across its limit, nor to a 0 that it is not."""

from __future__ import annotations

from decimal import Decimal
from math import floor, isfinite, log10

SPACE = "\N{NARROW NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"

NOT_KNOWN = "not known"
NO_UPPER_BOUND = "no upper bound from these readings"
NOT_SAID = "cannot be said from these readings"

SAME_WITHIN_MM = 1e-9
"""Lengths closer than this differ only by the rounding of doubles [mm]."""

_MOST_DECIMALS = 10
_TYPED = str.maketrans({SPACE: " ", "\N{NO-BREAK SPACE}": " ", MINUS: "-"})


def whole(value: float) -> str:
    """A whole number with its thousands apart.

    >>> whole(41_200.4).split(SPACE), whole(-12.0)
    (['41', '200'], '−12')
    """
    if not isfinite(value):
        return NOT_KNOWN
    return f"{round(value):,}".replace(",", SPACE).replace("-", MINUS)


def grouped(value: float) -> str:
    """A whole number with its thousands apart, as a keyboard types it.

    >>> grouped(79902.4)
    '79 902'
    """
    return typed(whole(value))


def typed(text: str) -> str:
    """A text of figures as a keyboard types it, for terminals and tables.

    >>> typed(whole(-1200.0)), typed(hours(12_399.0))
    ('-1 200', '12 300')
    """
    return text.translate(_TYPED)


def hours(value: float, without: str = NOT_KNOWN) -> str:
    """Hours to three significant figures, rounded down so that none are promised.

    Parameters
    ----------
    value : float
        Hours [h].
    without : str
        What is said where there are none.

    >>> hours(870.9), hours(12_399.0).split(SPACE), hours(0.2), hours(0.0), hours(float("nan"), "open")
    ('870', ['12', '300'], 'under 1', '0', 'open')
    """
    if not isfinite(value):
        return without
    if value < 0:
        return MINUS + hours(-value)
    if value < 1:
        return "0" if value == 0 else "under 1"
    step = 10 ** max(floor(log10(value)) - 2, 0)
    return whole(value // step * step)


def hours_ahead(quantiles: tuple[float, ...]) -> tuple[str, ...]:
    """Hours at rising chances, in words where an end is open.

    Parameters
    ----------
    quantiles : tuple of float
        Hours [h], soonest first; NaN where they cannot be given.

    >>> hours_ahead((870.0, float("nan")))
    ('870', 'no upper bound from these readings')
    """
    if not any(isfinite(value) for value in quantiles):
        return (NOT_SAID,) * len(quantiles)
    first = next(k for k, value in enumerate(quantiles) if isfinite(value))
    return tuple(
        hours(value) if isfinite(value) else (NOT_SAID if k < first else NO_UPPER_BOUND)
        for k, value in enumerate(quantiles)
    )


def exact_mm(value: float) -> str:
    """A length as stated, with at least three decimals and all that were given [mm].

    >>> exact_mm(7.95), exact_mm(7.9502), exact_mm(0.313 * 25.4)
    ('7.950', '7.9502', '7.9502')
    """
    if not isfinite(value):
        return NOT_KNOWN
    text = f"{value:.9f}".rstrip("0")
    decimals = max(len(text) - text.index(".") - 1, 3)
    return f"{value:.{decimals}f}".replace("-", MINUS)


def mm(value: float, limit: float | None = None, decimals: int = 3) -> str:
    """A length with as many decimals as it takes to stay on its side of the limit [mm].

    Parameters
    ----------
    value : float
        What is printed [mm].
    limit : float, optional
        What it must not seem to reach, or to have left [mm].
    decimals : int
        Decimals where nothing asks for more.

    >>> mm(7.9786), mm(7.9496, 7.95), mm(7.94996, 7.95), mm(7.95004, 7.95), mm(7.95, 7.95), mm(0.0)
    ('7.979', '7.9496', '7.94996', '7.95004', '7.950', '0.000')
    """
    if not isfinite(value):
        return NOT_KNOWN
    if limit is not None and abs(value - limit) <= SAME_WITHIN_MM:
        return exact_mm(limit)
    edge = None if limit is None or not isfinite(limit) else Decimal(exact_mm(limit).replace(MINUS, "-"))
    for places in range(decimals, _MOST_DECIMALS + 1):
        text = f"{value:.{places}f}"
        shown = Decimal(text)
        keeps_side = edge is None or limit is None or (shown != edge and (shown > edge) == (value > limit))
        if keeps_side and (shown != 0 or value == 0):
            return text.replace("-", MINUS)
    return f"{value:.0e}".replace("-", MINUS)


def rate(value: float) -> str:
    """A rate to two decimals, or to the first decimal that shows it is not 0 [µm/1000 h].

    >>> rate(0.824), rate(-0.004), rate(0.0)
    ('0.82', '−0.004', '0.00')
    """
    return mm(value, decimals=2)


def significant(value: float, figures: int = 2) -> str:
    """A number to so many significant figures.

    Two is the most that an uncertainty is usually given with (JCGM 100:2008, 7.2.6; from memory).

    >>> significant(12.34), significant(0.0946), significant(123.0), significant(6.0)
    ('12', '0.095', '120', '6.0')
    """
    if not isfinite(value):
        return NOT_KNOWN
    if value == 0:
        return "0"
    decimals = figures - 1 - floor(log10(abs(value)))
    shown = round(value, decimals)
    if shown and floor(log10(abs(shown))) > floor(log10(abs(value))):
        decimals -= 1  # 9.96 is 10, not 10.0
    if decimals <= 0:
        return whole(shown)
    return f"{shown:.{decimals}f}".replace("-", MINUS)


def plain(value: float) -> str:
    """A number as somebody would write it: no more digits than it has.

    >>> plain(6.0), plain(0.04), plain(5.08)
    ('6', '0.04', '5.08')
    """
    if not isfinite(value):
        return NOT_KNOWN
    if float(value).is_integer() and abs(value) < 1e15:
        return whole(value)
    return f"{value:.10g}".replace("-", MINUS)


def chance(share: float, apart_from: float | None = None) -> str:
    """A worked-out chance in per cent; it is never shown as 0, as certain, or on the wrong side of another.

    Parameters
    ----------
    share : float
    apart_from : float, optional
        Another chance, as the accepted one; as many decimals are shown as tell the two apart.

    >>> chance(0.25), chance(0.0004), chance(0.9996), chance(float("nan"))
    ('25 %', 'under 0.1 %', 'over 99.9 %', 'not known')
    >>> chance(0.1031, apart_from=0.10), chance(0.1004, apart_from=0.10), chance(0.0004, apart_from=0.0005)
    ('10.3 %', '10.04 %', '0.04 %')
    """
    if not isfinite(share):
        return NOT_KNOWN
    edge = Decimal(50) if apart_from is None else Decimal(f"{100 * apart_from:.10g}")
    if share < 0.001 and not 0 < edge < Decimal("0.1"):
        return "under 0.1 %"
    if share > 0.999 and not Decimal("99.9") < edge < 100:
        return "over 99.9 %"
    for decimals in range(1 if share < 0.0995 or share > 0.99 else 0, _MOST_DECIMALS + 1):
        said = Decimal(f"{100 * share:.{decimals}f}")
        told_apart = said not in (0, 100, edge) and (said > edge) == (100 * share > edge)
        if apart_from is None or share == apart_from or told_apart:
            break
    return f"{said} %"


def stated_share(share: float) -> str:
    """A share that somebody stated, in per cent as stated.

    >>> stated_share(0.10), stated_share(0.025), stated_share(0.0005)
    ('10 %', '2.5 %', '0.05 %')
    """
    return f"{plain(100 * share)} %"


def signed_mm(value: float) -> str:
    """A length with its sign; empty where there is none [mm].

    >>> signed_mm(0.0125), signed_mm(-0.038), signed_mm(float("nan"))
    ('+0.0125', '−0.038', '')
    """
    if not isfinite(value):
        return ""
    text = exact_mm(round(float(value), 4) + 0.0)
    return text if text[0] == "\N{MINUS SIGN}" or float(text) == 0 else f"+{text}"


def signed(value_um: float) -> str:
    """A length in whole µm with its sign; empty where there is none.

    >>> signed(12.3), signed(-7.6), signed(0.2)
    ('+12', '−8', '0')
    """
    if not isfinite(value_um):
        return ""
    text = whole(value_um)
    return f"+{text}" if round(value_um) > 0 else text
