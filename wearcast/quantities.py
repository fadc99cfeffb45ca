"""The measured quantities: what each one is, in one table.

A new quantity is one row here and, if it is more than a trend, a file in ``companions``.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Side = Literal["min", "max"]

WALL_POINTS = ("crown", "p45", "s45")
WALL_ENDS = ("", "_fore", "_aft")
DEFLECTION_POINTS = ("bottom_p", "port", "top", "starboard", "bottom_s")
JOURNAL_POINTS = ("v1", "v2", "v3", "h1", "h2", "h3")
BEARINGS = ("main", "big_end", "small_end", "thrust", "camshaft", "other")
HALVES = ("upper", "lower")

CROWN_POINTS = ("crown", "crown_fore", "crown_aft")


@dataclass(frozen=True)
class Quantity:
    """One measured quantity.

    Attributes
    ----------
    side : "min", "max" or None
        On which side of it the replacement limit lies; None where no limit is forecast.
    half : "required", "optional" or "none"
        Whether a reading belongs to one half-bearing or to the bearing as a whole.
    points : tuple of str
        Points that may be named; empty where the quantity has none.
    zero_allowed, negative_allowed : bool
        Whether such a value can be a measurement.
    default_u_um : float or None
        Standard uncertainty [µm] (k = 1) of one reading where none is stated: common practice, no
        source. None: a twentieth of the allowance (judgement), for growths of unknown scale.
    restarts_at : tuple of str
        Events at which the quantity's life begins anew.
    runs_in : bool
        Early readings are affected by running-in and stay out of the own line.
    forecast : bool
        The quantity has a row in the forecast table.
    """

    name: str
    title: str
    side: Side | None
    half: Literal["required", "optional", "none"]
    points: tuple[str, ...]
    zero_allowed: bool
    negative_allowed: bool
    default_u_um: float | None
    restarts_at: tuple[str, ...]
    runs_in: bool
    forecast: bool


_wall_points = tuple(point + end for point in WALL_POINTS for end in WALL_ENDS)

QUANTITIES = MappingProxyType(
    {
        row.name: row
        for row in (
            Quantity(
                "wall", "wall thickness", "min", "required", _wall_points, False, False, 6.0,
                ("fitted", "renewal"), True, True,
            ),
            Quantity(
                "clearance", "clearance", "max", "none", (), False, False, 20.0,
                ("fitted", "renewal", "regrind"), True, True,
            ),
            Quantity(
                "axial_clearance", "axial clearance", "max", "none", (), False, False, 12.0,
                ("fitted", "renewal"), True, True,
            ),
            Quantity(
                "journal_diameter", "journal diameter", "min", "none", JOURNAL_POINTS, False, False, 8.0,
                ("regrind",), False, True,
            ),
            Quantity(
                "housing_bore", "housing bore", None, "none", (), False, False, 8.0, (), False, False,
            ),
            Quantity(
                "web_deflection", "web deflection", None, "none", DEFLECTION_POINTS, True, True, 8.0,
                (), False, False,
            ),
            Quantity(
                "wear", "wear", "max", "optional", (), True, False, None,
                ("fitted", "renewal"), False, True,
            ),
        )
    }
)  # fmt: skip
"""Every quantity by name, in the order pages and tables show them."""
