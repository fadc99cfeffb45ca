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
    gauge : str
        What it is usually read with, where no gauge is on record (common practice, no source).
    belongs_to : "shell", "journal", "housing" or "assembly"
        Whose life a life of it is.
    read_closed : bool
        Read once more when the bearing is closed up.
    read_renewed : bool
        Read again on the part put in where one was renewed.
    orders : bool
        A shell is bought when it reaches its limit.
    starts_at_zero : bool
        A growth counted from 0 in parts of its own, so that nothing is far from new.
    repeats : bool
        Repeats from opening to opening by nature: it hardly drifts, from a gauge set to zero.
    at_20_c : bool
        Large enough for its temperature to count: taken at 20 °C, and asked with it.
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
    gauge: str
    belongs_to: Literal["shell", "journal", "housing", "assembly"] = "assembly"
    read_closed: bool = False
    read_renewed: bool = False
    orders: bool = False
    starts_at_zero: bool = False
    repeats: bool = False
    at_20_c: bool = False


_wall_points = tuple(point + end for point in WALL_POINTS for end in WALL_ENDS)

QUANTITIES = MappingProxyType(
    {
        row.name: row
        for row in (
            Quantity(
                "wall", "wall thickness", "min", "required", _wall_points, False, False, 6.0,
                ("fitted", "renewal"), True, True,
                gauge="ball-point micrometer (a flat anvil over-reads on the bore)",
                belongs_to="shell", read_renewed=True, orders=True,
            ),
            Quantity(
                "clearance", "clearance", "max", "none", (), False, False, 20.0,
                ("fitted", "renewal", "regrind"), True, True,
                gauge="feeler, lead or plastic strip, or dial and jack: the same way as before",
                read_closed=True,
            ),
            Quantity(
                "axial_clearance", "axial clearance", "max", "none", (), False, False, 12.0,
                ("fitted", "renewal"), True, True,
                gauge="dial gauge, shaft moved fully one way, zero, then the other",
                read_closed=True, orders=True,
            ),
            Quantity(
                "journal_diameter", "journal diameter", "min", "none", JOURNAL_POINTS, False, False, 8.0,
                ("regrind",), False, True,
                gauge="outside micrometer, two planes, note the temperature",
                belongs_to="journal", read_renewed=True, at_20_c=True,
            ),
            Quantity(
                "housing_bore", "housing bore", None, "none", (), False, False, 8.0, (), False, False,
                gauge="inside micrometer, bolted up", belongs_to="housing", at_20_c=True,
            ),
            Quantity(
                "web_deflection", "web deflection", None, "none", DEFLECTION_POINTS, True, True, 8.0,
                (), False, False,
                gauge="web gauge, five positions; note cold or hot, draught and coupling",
                read_closed=True, repeats=True,
            ),
            Quantity(
                "wear", "wear", "max", "optional", (), True, False, None,
                ("fitted", "renewal"), False, True,
                gauge="the gauge used before", belongs_to="shell", orders=True, starts_at_zero=True,
            ),
        )
    }
)  # fmt: skip
"""Every quantity by name, in the order pages and tables show them."""
