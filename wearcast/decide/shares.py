"""Chances in words."""

from __future__ import annotations


def share_in_words(chance: float, apart_from: float | None = None) -> str:
    """A chance in whole per cent that never says 0 or 100 of what is neither, nor hides which side it is on.

    Parameters
    ----------
    chance : float
    apart_from : float, optional
        Another chance; as many decimals are shown as tell the two apart, up to two.

    Examples
    --------
    >>> share_in_words(0.834), share_in_words(0.0002), share_in_words(0.9999), share_in_words(1.0)
    ('83 %', 'under 1 %', 'over 99 %', '100 %')
    >>> share_in_words(0.1031, apart_from=0.10), share_in_words(0.10)
    ('10.3 %', '10 %')
    """
    if 0 < chance < 0.01:
        return "under 1 %"
    if 0.99 < chance < 1:
        return "over 99 %"
    for decimals in (0, 1, 2):
        said = f"{100 * chance:.{decimals}f}"
        if apart_from is None or chance == apart_from or said != f"{100 * apart_from:.{decimals}f}":
            break
    return f"{said} %"
