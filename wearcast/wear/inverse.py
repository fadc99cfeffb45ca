"""Inverse prediction: the hours at which a straight line reaches its limit, with Fieller's set."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from wearcast.wear.own_line import COVERAGE

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from wearcast.wear.grouped import Floats
    from wearcast.wear.own_line import OwnLines


class Reach(IntEnum):
    """What one line's readings say of the hours at which it reaches the limit."""

    BOUNDED = 0
    EXACT = 1
    OPEN_ABOVE = 2
    NOT_RISING = 3
    NO_WEAR = 4
    NO_ROOTS = 5
    RATE_ONLY = 6
    NO_LINE = 7


REASONS: dict[Reach, str] = {
    Reach.BOUNDED: "",
    Reach.EXACT: "the readings lie exactly on a line, so their scatter says nothing of the reading error "
    "and the interval has no width",
    Reach.OPEN_ABOVE: "the readings allow a rate of zero: the hours to the limit have no upper bound",
    Reach.NOT_RISING: "the own line does not rise: only the earliest hours to the limit can be given",
    Reach.NO_WEAR: "no wear is seen in these readings alone: hours to the limit cannot be given from them",
    Reach.NO_ROOTS: "the readings are too uncertain for the own line to bound the hours to the limit at all",
    Reach.RATE_ONLY: "two readings without a stated uncertainty give a rate but no interval",
    Reach.NO_LINE: "no own line: it needs readings at two different hours",
}
"""One plain sentence a kind; empty where there is nothing to say."""


@dataclass(frozen=True, eq=False)
class InverseSet:
    """Hours on the τ axis at which each line reaches its limit, as arrays of one value a line.

    Attributes
    ----------
    lower_kh : ndarray
        Cautious end [kh]; −∞ where the limit may lie behind the first reading already; NaN where none.
    line_kh : ndarray
        Where the line itself meets the limit [kh]; NaN where the line does not rise.
    upper_kh : ndarray
        Late end [kh]; NaN where open above.
    line_u_kh : ndarray
        Standard uncertainty of ``line_kh`` to first order (delta method) [kh].
    reach : ndarray of int
        A `Reach` of each line; its sentence is in `REASONS`.
    """

    lower_kh: Floats
    line_kh: Floats
    upper_kh: Floats
    line_u_kh: Floats
    reach: NDArray[np.int8]


def hours_at_limit(
    lines: OwnLines, limit_um: ArrayLike, coverage: float = COVERAGE, new_readings: int = 0
) -> InverseSet:
    """Give the hours at which each mean line meets its limit, with Fieller's set of that coverage.

    With level z̄ (variance v₀) at τ̄ and rate b (variance v₁) uncorrelated, d = τ − τ̄ and c = limit − z̄,
    the set is (b d − c)² ≤ q² (v₀ + v₁ d²). While the rate is clear of zero (g = q² v₁ / b² < 1) it is an
    interval. From g = 1 on it is the outside of an interval, its other half saying "or long ago, on a
    falling line"; of its two finite roots only the one where the upper edge of the band rises to the limit
    is kept, as the cautious end, and the late end is open. Where the limit may lie behind the centroid
    already (the line stands past it there, or its band holds it and does not rise) that end is −∞.

    Parameters
    ----------
    lines : OwnLines
        Fitted lines, n of them.
    limit_um : array_like, broadcast to shape (n,)
        Wear at the limit [µm].
    coverage : float
        Two-sided coverage, between 0 and 1.
    new_readings : int
        0 for the mean line; m for the mean of m further readings of the same scatter (unweighted lines only).

    Returns
    -------
    InverseSet
        Arrays of length n.

    Raises
    ------
    ValueError
        A limit is not finite, or new readings are asked of a line with stated uncertainties.

    Notes
    -----
    Assumes the line goes on as it went. Fieller, E.C. (1954), J. R. Stat. Soc. B 16, 175-185; Graybill, F.A.
    & Iyer, H.K. (1994), Regression Analysis, ch. 6; both from memory. The root that would cancel is formed
    as the product of both roots over the other, so that the cautious end passes g = 1 without a jump.
    """
    limit = np.broadcast_to(np.asarray(limit_um, dtype=np.float64), lines.readings.shape)
    if not np.isfinite(limit).all():
        raise ValueError("limits must be finite")
    if new_readings < 0 or (new_readings and lines.known_u.any()):
        raise ValueError("new readings need lines without stated uncertainties, and a count above zero")
    q, b, c = lines.quantile(coverage), lines.rate_um_per_kh, limit - lines.z_mean_um
    v_level, v_rate = lines.z_mean_u_um**2, lines.rate_u_um_per_kh**2
    if new_readings:
        v_level = v_level + lines.residual_sd_um**2 / new_readings

    with np.errstate(divide="ignore", invalid="ignore"):
        clear = b**2 - q**2 * v_rate  # above zero: the rate is clear of zero, g < 1
        apart = c**2 - q**2 * v_level  # above zero: the band at the centroid does not hold the limit
        discriminant = v_rate * c**2 + v_level * clear
        root = q * np.sqrt(np.maximum(discriminant, 0.0))
        early = np.where(c > 0, apart / (b * c + root), (b * c - root) / clear)
        late = np.where(c > 0, (b * c + root) / clear, apart / (b * c - root))
        rising_edge = np.where(clear < 0, (b * c - root) / clear, np.nan)
        on_line = c / b
        line_u = np.sqrt(v_level + v_rate * on_line**2) / np.abs(b)

    reach = _reach(lines, c, clear, apart, discriminant)
    exact, open_above, not_rising = (reach == r for r in (Reach.EXACT, Reach.OPEN_ABOVE, Reach.NOT_RISING))
    bounded = reach == Reach.BOUNDED
    rising = bounded | exact | open_above
    # Limit below the centroid and no sure rise, or within the band there and no rise: perhaps past already.
    past = (open_above & (c <= 0)) | (not_rising & ((c <= 0) | (apart <= 0)))
    lower = np.select([past, exact, rising, not_rising], [-np.inf, on_line, early, rising_edge], np.nan)
    return InverseSet(
        lower_kh=lines.tau_mean_kh + lower,
        line_kh=lines.tau_mean_kh + np.where(rising, on_line, np.nan),
        upper_kh=lines.tau_mean_kh + np.select([bounded, exact], [late, on_line], np.nan),
        line_u_kh=np.where(rising, line_u, np.nan),
        reach=reach,
    )


def _reach(
    lines: OwnLines, c: Floats, clear: Floats, apart: Floats, discriminant: Floats
) -> NDArray[np.int8]:
    """Tell the kinds of set apart; the first that holds, so the order matters."""
    b = lines.rate_um_per_kh
    below = (c > 0) & (apart > 0)
    falling = (b < 0) & (clear > 0)
    flat = (b == 0) & (lines.rate_u_um_per_kh == 0)
    kinds = [
        (np.isnan(b), Reach.NO_LINE),
        (lines.degrees_of_freedom == 0, Reach.RATE_ONLY),
        (below & (falling | flat), Reach.NO_WEAR),
        ((clear <= 0) & (discriminant < 0), Reach.NO_ROOTS),
        (b <= 0, Reach.NOT_RISING),
        (clear <= 0, Reach.OPEN_ABOVE),
        (lines.residual_sd_um == 0, Reach.EXACT),
    ]
    return np.select([k for k, _ in kinds], [r for _, r in kinds], Reach.BOUNDED).astype(np.int8)
