"""The invented fleet: vessels, nominals, limits, spares, windows and the wear planted in it.

Every name, document, price and value here is an invention of this project; none is a real limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

ENGINE = "ME"
ENGINE_TYPE = "Bramble Six"
STANDARD, UNDERSIZE = "standard", "U50"
HOUSING_BORE_MM = 236.220
HALVES = ("upper", "lower")
MAINS, THROWS, THRUST_AT = range(1, 8), range(1, 7), 7
LIMIT_SOURCE = "Bramble Six bearing data sheet BD-4 rev C, 2011-03-01"
DEFLECTION_SOURCE = "Bramble Six alignment sheet AL-2 rev B, 2011-03-01"


@dataclass(frozen=True)
class Vessel:
    """One vessel with its one main engine; `engine_effect` is planted [µm/kh]."""

    name: str
    in_service: str
    hours_per_year: int
    hours_per_year_sd: int
    engine_effect: float


OSSEL, TARN, MERROW, QUILLO = "Ossel Brae", "Tarn Ivelle", "Merrow Dain", "Quillo Fen"
VESSELS = MappingProxyType(
    {
        vessel.name: vessel
        for vessel in (
            Vessel(OSSEL, "2011-04-18", 5200, 500, 0.00),
            Vessel(TARN, "2012-03-12", 5200, 500, -0.04),
            Vessel(MERROW, "2014-05-26", 6100, 500, 0.04),
            Vessel(QUILLO, "2024-03-11", 5200, 500, 0.02),
        )
    }
)

# Steady wear by position, No. 1 first [µm/kh]. The loaded halves are the lower main and the upper big end.
RATES = MappingProxyType(
    {
        ("main", "lower"): (0.66, 0.72, 0.86, 1.20, 1.05, 0.86, 0.84),
        ("main", "upper"): (0.25, 0.26, 0.29, 0.33, 0.30, 0.30, 0.27),
        ("big_end", "upper"): (0.64, 0.78, 0.71, 0.69, 0.73, 0.66),
        ("big_end", "lower"): (0.18, 0.21, 0.20, 0.19, 0.21, 0.18),
    }
)
SPREAD_SHARE = MappingProxyType(
    {("main", "lower"): 1.0, ("big_end", "upper"): 0.8, ("main", "upper"): 0.3, ("big_end", "lower"): 0.2}
)
"""How far the engine, place and shell effects and the uneven wear reach into each kind of half."""

PLACE_SD, SHELL_SD = 0.03, 0.02  # of the steady rate [µm/kh]
UNEVEN_SD = 0.5  # Brownian part of the wear [µm per √kh]
OVERLOADED_RATE = 2.9  # story D, every shell that lies there [µm/kh]
OVERLOADED_PLACE = (MERROW, "main", 5, "lower")
OVERLOADED_TILT = 0.5  # fore wears this much faster than the crown, aft this much slower [µm/kh]

RUNNING_IN_UM, RUNNING_IN_SCALE_KH = 4.0, 0.5  # 95 % of it is done in 1500 h
JOURNAL_RATE, AXIAL_RATE = 0.11, 2.3  # [µm/kh]

# One reading's error and the error all readings of one gauge share at one opening (sd) [µm].
READING_SD = MappingProxyType(
    {"wall": 6.0, "clearance": 11.0, "axial_clearance": 8.0, "journal_diameter": 5.0, "web_deflection": 1.5}
)
OPENING_SD = MappingProxyType(
    {"wall": 3.0, "clearance": 4.0, "axial_clearance": 3.0, "journal_diameter": 2.0, "web_deflection": 0.0}
)
FINE_FROM = "2018-01-01"  # digital gauges from here on: 0.001 mm instead of 0.01 mm
STEEL_PER_K = 11.5e-6  # handbook expansion of steel, for diameters taken warm

NEW_WALL_MM = MappingProxyType({"main": (7.985, 8.000), "big_end": (6.487, 6.500)})
UNDERSIZE_WALL_STEP_MM = 0.250  # half of the 0.5 mm taken off the journal
JOURNAL_MM = MappingProxyType({STANDARD: 220.000, UNDERSIZE: 219.500})
CRANKPIN_MM, ROD_BORE_MM = 200.000, 213.200
AXIAL_NEW_MM = 0.36

# Web deflection: a throw opens or closes with the bend of the shaft over the four mains nearest to it.
DEFLECTION_PER_BEND = 1.5
HIGH_SADDLE_UM = 45.0  # story D

_WALL_MAIN = {"bearing": "main", "quantity": "wall", "limit_side": "min", "overlay_um": "30"}
_WALL_BIG = {"bearing": "big_end", "quantity": "wall", "limit_side": "min", "overlay_um": "25"}


def _limit(shell_size: str, new_min: str, new_max: str, limit: str, **more: str) -> dict[str, str]:
    return {
        "engine_type": ENGINE_TYPE, "bearing": "", "half": "", "quantity": "", "shell_size": shell_size,
        "point": "", "new_min": new_min, "new_max": new_max, "limit": limit, "limit_side": "max",
        "unit": "mm", "overlay_um": "", "renew_at_h": "", "limit_source": LIMIT_SOURCE,
        "part_reference": "", **more,
    }  # fmt: skip


def limit_rows() -> list[dict[str, str]]:
    """Rows of the limits table, for every quantity and shell size the fleet has."""
    clearance = {"bearing": "main", "quantity": "clearance"}
    journal = {"bearing": "main", "quantity": "journal_diameter", "limit_side": "min"}
    deflection = {"bearing": "big_end", "quantity": "web_deflection", "limit_source": DEFLECTION_SOURCE}
    axial = {"bearing": "thrust", "quantity": "axial_clearance"}
    return [
        _limit(
            STANDARD, "7.985", "8.000", "7.950", half="upper", part_reference="main upper std", **_WALL_MAIN
        ),
        _limit(
            STANDARD, "7.985", "8.000", "7.950", half="lower", part_reference="main lower std", **_WALL_MAIN
        ),
        _limit(
            UNDERSIZE,
            "8.235",
            "8.250",
            "8.200",
            half="upper",
            part_reference="main upper 0.5 under",
            **_WALL_MAIN,
        ),
        _limit(
            UNDERSIZE,
            "8.235",
            "8.250",
            "8.200",
            half="lower",
            part_reference="main lower 0.5 under",
            **_WALL_MAIN,
        ),
        _limit(
            STANDARD, "6.487", "6.500", "6.455", half="upper", part_reference="rod upper std", **_WALL_BIG
        ),
        _limit(
            STANDARD, "6.487", "6.500", "6.455", half="lower", part_reference="rod lower std", **_WALL_BIG
        ),
        _limit(STANDARD, "0.220", "0.250", "0.330", **clearance),
        _limit(UNDERSIZE, "0.220", "0.250", "0.330", **clearance),
        _limit(STANDARD, "0.200", "0.226", "0.290", bearing="big_end", quantity="clearance"),
        _limit(STANDARD, "0.300", "0.450", "0.800", **axial),
        _limit(STANDARD, "0.300", "0.450", "0.250", **{**axial, "limit_side": "min"}),
        *(
            _limit(
                size, f"{new - 0.005:.3f}", f"{new + 0.005:.3f}", f"{new - 0.040:.3f}", point=point, **journal
            )
            for size, new in JOURNAL_MM.items()
            for point in ("v1", "h1")
        ),
        _limit(STANDARD, "-0.030", "0.030", "0.080", **deflection),
        _limit(STANDARD, "-0.030", "0.030", "-0.080", **{**deflection, "limit_side": "min"}),
    ]


def wall_limit_mm(bearing: str, shell_size: str) -> float:
    """Least wall of a shell [mm]."""
    wanted = {"bearing": bearing, "quantity": "wall", "shell_size": shell_size}
    return next(float(row["limit"]) for row in _LIMITS if wanted.items() <= row.items())


def engine_rows() -> list[dict[str, str]]:
    """Rows of the engines table."""
    return [
        {
            "vessel": vessel.name, "engine": ENGINE, "engine_type": ENGINE_TYPE, "numbered_from": "free_end",
            "hours_per_year": str(vessel.hours_per_year), "hours_per_year_sd": str(vessel.hours_per_year_sd),
            "in_service": vessel.in_service, "duty": "direct propulsion", "mains": "7", "throws": "6",
            "first_main": "1", "thrust_at": str(THRUST_AT), "deflection_sign": "opening_plus",
            "housing_bore_mm": f"{HOUSING_BORE_MM:.3f}", "stroke_mm": "300",
        }
        for vessel in VESSELS.values()
    ]  # fmt: skip


def spare_rows() -> list[dict[str, str]]:
    """Rows of the spares table: the store holds standard shells only (story B)."""
    parts = (
        ("main", "lower", STANDARD, "main lower std", 2, 0, 98, "1", "640"),
        ("main", "upper", STANDARD, "main upper std", 2, 0, 98, "1", "590"),
        ("main", "lower", UNDERSIZE, "main lower 0.5 under", 0, 0, 182, "", "980"),
        ("main", "upper", UNDERSIZE, "main upper 0.5 under", 0, 0, 182, "", "910"),
        ("big_end", "upper", STANDARD, "rod upper std", 1, 0, 98, "1", "520"),
        ("big_end", "lower", STANDARD, "rod lower std", 1, 0, 98, "1", "480"),
    )
    return [
        {
            "engine_type": ENGINE_TYPE, "bearing": bearing, "half": half, "shell_size": size,
            "part_reference": reference, "on_hand": str(on_hand), "on_order": str(on_order),
            "lead_time_days": str(lead), "forwarding_days": "14", "margin_days": "14",
            "minimum_on_board": least, "unit_cost": cost, "currency": "EUR",
        }
        for bearing, half, size, reference, on_hand, on_order, lead, least, cost in parts
    ]  # fmt: skip


_LIMITS = limit_rows()

_WINDOWS = (
    (OSSEL, "2027-03-15", "spring port stay", "port_stay", 3),
    (OSSEL, "2028-10-02", "intermediate docking", "docking", 7),
    (OSSEL, "2030-04-08", "port stay", "port_stay", 3),
    (OSSEL, "2031-09-15", "special survey", "survey", ""),
    (TARN, "2027-04-19", "special survey", "survey", ""),
    (TARN, "2028-09-11", "port stay", "port_stay", 3),
    (TARN, "2029-10-08", "intermediate docking", "docking", 7),
    (TARN, "2031-04-14", "port stay", "port_stay", 3),
    (MERROW, "2027-02-22", "winter port stay", "port_stay", 3),
    (MERROW, "2027-09-13", "autumn port stay", "port_stay", 3),
    (MERROW, "2029-05-21", "special survey", "survey", ""),
    (MERROW, "2031-05-19", "intermediate docking", "docking", 7),
    (QUILLO, "2027-10-11", "port stay", "port_stay", 3),
    (QUILLO, "2029-03-05", "special survey", "survey", ""),
    (QUILLO, "2031-08-18", "intermediate docking", "docking", 7),
)


def window_rows() -> list[dict[str, str]]:
    """Rows of the windows table."""
    return [
        {"vessel": vessel, "engine": "", "date": day, "name": name, "kind": kind, "max_openings": str(most)}
        for vessel, day, name, kind, most in _WINDOWS
    ]
