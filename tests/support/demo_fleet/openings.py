"""What was opened when: the invented maintenance history of the four sisters."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from demo_fleet.world import HALVES, MAINS, MERROW, OSSEL, QUILLO, STANDARD, TARN, UNDERSIZE

ALL = tuple(MAINS)
RODS = (1, 2, 3, 4, 5, 6)
Place = tuple[str, int, str]
"""Bearing, position, half."""


@dataclass(frozen=True)
class Opening:
    """One opening.

    Attributes
    ----------
    total_h : int
        Total running hours of the engine [h].
    mains, big_ends : tuple of int
        Positions opened and measured.
    renewed : tuple of str
        ``main 4`` for both halves, ``main 3 lower`` for one.
    journals, deflections : bool
        Whether main journals and crank webs were measured as well.
    """

    date: str
    total_h: int
    mains: tuple[int, ...] = ()
    big_ends: tuple[int, ...] = ()
    renewed: tuple[str, ...] = ()
    journals: bool = False
    deflections: bool = False

    @property
    def new_shells(self) -> tuple[Place, ...]:
        """Every half put in at this opening."""
        places: list[Place] = []
        for text in self.renewed:
            bearing, position, *half = text.split()
            places += [(bearing, int(position), one) for one in half or HALVES]
        return tuple(places)


def _rods(*positions: int) -> tuple[str, ...]:
    return tuple(f"big_end {position}" for position in positions)


OPENINGS = MappingProxyType(
    {
        OSSEL: (
            Opening("2011-07-25", 1_402, (3, 5, 7)),
            Opening("2012-11-05", 8_085, (2, 4, 6)),
            Opening("2014-03-10", 15_120, (3, 5), (1, 2, 3)),
            Opening("2015-11-09", 23_796, ALL, (4, 5, 6), journals=True),
            Opening("2017-05-29", 31_820, (1, 4), renewed=("main 4",)),
            Opening("2018-04-16", 36_515, (5, 7), (1, 2, 3), ("main 5",)),
            Opening("2019-03-11", 41_200, (3, 6, 7), (4, 5, 6), ("main 3 lower", "main 6", "main 7", "big_end 5")),
            Opening("2019-10-21", 44_436, (2,), (2, 3), _rods(2, 3)),
            Opening("2020-08-17", 48_702, (1,), (1, 4, 6), _rods(1, 4, 6)),
            Opening("2021-03-15", 51_404, ALL),
            Opening("2021-11-29", 55_022, (2,), renewed=("main 2",)),
            Opening("2022-10-17", 59_640, (1, 4), (2, 5), ("main 1",)),
            Opening("2023-09-11", 64_295, (3, 4, 6), renewed=("main 4",)),
            Opening("2024-10-14", 69_968, (2, 5, 7), (1, 2, 3)),
            Opening("2025-06-02", 73_310, (1, 5), (4, 5, 6), ("main 5",)),
            Opening("2026-09-14", 79_902, (2, 3, 4, 6, 7), (1, 2, 3), ("main 6", "main 7"), journals=True),
        ),
        TARN: (
            Opening("2012-06-18", 1_390, (1, 4, 6)),
            Opening("2013-11-11", 8_742, (2, 5, 7)),
            Opening("2015-03-02", 15_430, (3, 6), (1, 2, 3)),
            Opening("2016-10-10", 23_815, ALL, (4, 5, 6), journals=True),
            Opening("2018-06-04", 32_412, (2, 4), (1, 2, 3), ("main 4",)),
            Opening("2018-09-10", 33_800, (5, 6), (), ("main 5", "main 6"), journals=True),
            Opening("2019-11-04", 39_786, (3, 6, 7), (4, 5, 6)),
            Opening("2020-06-08", 42_870, (3, 7), (2, 3, 5), ("main 3", "main 7", *_rods(2, 3, 5))),
            Opening("2022-04-25", 52_566, (1, 2, 4, 6, 7)),
            Opening("2022-07-18", 53_790, (2, 5), (1, 4, 6), ("main 2", *_rods(1, 4, 6))),
            Opening("2023-10-23", 60_385, (1, 4, 6), renewed=("main 1",)),
            Opening("2024-11-11", 65_870, (2, 3, 4), (2, 3, 5), ("main 4",)),
            Opening("2026-01-26", 72_150, (1, 5, 7), (1, 4, 6), ("main 5",)),
            Opening("2026-10-05", 75_790, (2, 3, 6), journals=True, deflections=True),
        ),
        MERROW: (
            Opening("2014-08-25", 1_525, (1, 4, 5, 7)),
            Opening("2015-09-07", 7_830, (3, 5)),
            Opening("2016-07-18", 13_080, (2, 5, 6), (1, 2, 3), ("main 5 lower",), journals=True),
            Opening("2017-10-02", 20_390, (1, 3, 4, 5, 7), (4, 5, 6), journals=True),
            Opening("2018-09-17", 26_240, (5,), (), ("main 5 lower",)),
            Opening("2019-05-20", 30_310, ALL, (1, 2, 3), ("main 4",)),
            Opening("2020-06-22", 36_985, (7,), (4, 5, 6)),
            Opening("2020-11-09", 39_330, (3, 5, 6), (), ("main 3", "main 5 lower", "main 6")),
            Opening("2021-03-22", 41_540, (7,), (2, 3, 4, 5), ("main 7", *_rods(2, 3, 4, 5))),
            Opening("2022-01-31", 46_790, (1, 2, 5), (1, 6), _rods(1, 6)),
            Opening("2023-01-16", 52_610, (1, 2, 4, 5), (), ("main 1", "main 2", "main 5 lower")),
            Opening("2024-05-27", 60_905, ALL, (), ("main 4",), journals=True),
            Opening("2025-02-17", 65_330, (5, 6), (2, 3, 5), ("main 5 lower", "main 6"), deflections=True),
            Opening("2025-09-08", 68_720, (1, 5), (1, 4, 6), deflections=True),
            Opening("2026-03-09", 71_755, (4, 5, 6), deflections=True),
            Opening("2026-09-28", 75_160, (2, 3, 5, 7), (2, 3, 5), deflections=True),
        ),
        QUILLO: (
            Opening("2024-06-24", 1_455, ALL, (2, 5)),
            Opening("2026-09-07", 13_010, ALL, RODS, journals=True, deflections=True),
        ),
    }
)  # fmt: skip
"""Openings of each vessel in order of date."""

COUNTER_CHANGE = (OSSEL, "2021-05-17", 52_310)
"""Story C: vessel, date, total hours (the old dial's last; the new dial begins at 0)."""

REGRIND = (TARN, "2018-09-10", 6)
"""Story B: vessel, date, main whose journal was reground to U50."""

WRONG_END = (OSSEL, "2021-03-15")
"""Story G: this opening was written counting from the flywheel."""

FLAT_ANVIL = (TARN, "2022-04-25", 48.0)
"""Story H: walls of this opening were taken with a loaned flat-anvil micrometer that over-reads [µm]."""

FORE_AND_AFT = ((MERROW, 5),)
"""Mains whose lower wall is also read fore and aft."""


def shell_size_put_in(vessel: str, opening: Opening, bearing: str, position: int) -> str:
    """Size of the shells an opening puts in at one bearing."""
    reground = (vessel, opening.date, position) == REGRIND and bearing == "main"
    return UNDERSIZE if reground else STANDARD


def journal_size(vessel: str, position: int, day: str, left: bool) -> str:
    """Size of a main journal at one day, as found or as left."""
    ship, reground_on, main = REGRIND
    if (vessel, position) != (ship, main) or day < reground_on or (day == reground_on and not left):
        return STANDARD
    return UNDERSIZE


def dial_h(vessel: str, day: str, total_h: int) -> int:
    """What the counter shows [h]."""
    ship, changed_on, last_h = COUNTER_CHANGE
    return total_h - last_h if vessel == ship and day > changed_on else total_h


# The gauges before and from the day digital ones came on board.
GAUGES = MappingProxyType(
    {
        "wall": ("ball micrometer BM-1", "digital ball micrometer BM-4"),
        "clearance": ("lift dial LD-1", "lift dial LD-2"),
        "axial_clearance": ("dial gauge DG-1", "dial gauge DG-2"),
        "journal_diameter": ("outside micrometer OM-1", "digital outside micrometer OM-3"),
        "web_deflection": ("web gauge WG-1", "web gauge WG-2"),
    }
)
FLAT_ANVIL_GAUGE = "flat-anvil micrometer FA-7 (loan)"

STATED_U_UM = MappingProxyType({"wall": "6", "clearance": "12", "journal_diameter": "6"})
"""Standard uncertainty the gauge's certificate states (k = 1) [µm]."""
U_STATED_FROM = MappingProxyType(
    {OSSEL: "2022-01-01", TARN: "2099-01-01", MERROW: "2025-01-01", QUILLO: "2024-01-01"}
)
