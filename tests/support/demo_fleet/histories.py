"""Draw the history of each bearing, again where chance made one that nobody would have kept.

The openings are fixed before the wear is drawn. A shell read at its limit and left in, or renewed long past
it, does not belong in a sound maintenance history; and each story must show what it is told for. Nothing else
is chosen: within these bounds walls, wear and errors are as drawn.
"""

from __future__ import annotations

import math
from collections import defaultdict
from itertools import count
from statistics import linear_regression

from demo_fleet import world as w
from demo_fleet.measuring import Crew, Reading
from demo_fleet.shells import Chance, Shell, shells_at

STRAY_SD = 3.0  # beyond this a sound reading would be doubted; whatever the tool doubts was planted
PAST_LIMIT_UM = 5.0  # no shell was found worn further past its limit than this
LEAST_LEFT_H = 2_500  # no shell in service is nearer to its limit
TRUE_HOURS_LEFT = {
    (w.TARN, "main", 6, "lower"): (5_000, 8_500),  # B: the U50 shell is wanted in the coming years
    (w.MERROW, "main", 5, "lower"): (3_200, 5_000),  # D
    (w.OSSEL, "big_end", 2, "upper"): (8_000, 10_000),  # I: between two windows
    (w.MERROW, "main", 2, "lower"): (30_000, math.inf),  # J: plenty of wall
}


# What a story's reading must say: vessel, bearing, position, half, quantity, date, state, value between [mm].
SHOWN_VALUE = (
    (w.OSSEL, "main", 3, "lower", "wall", "2019-03-11", "as_found", 7.945, 7.958),  # A: near its limit
    (w.OSSEL, "main", 3, "lower", "wall", "2019-03-11", "as_left", 7.986, 8.010),  # A: the new one
    (w.TARN, "main", 2, "lower", "wall", "2024-11-11", "as_found", 7.978, 7.986),  # F: measured 7.982
    (w.MERROW, "main", 4, "", "clearance", "2014-08-25", "", 0.24, 0.24),  # F
    (w.MERROW, "main", 2, "lower", "wall", "2026-09-28", "as_found", 7.972, 7.990),  # J
)
# What own line the story's shell must show: vessel, bearing, position, half, fitted on, rate between [µm/kh].
SHOWN_RATE = (
    (w.TARN, "main", 6, "lower", "2018-09-10", 0.6, 1.1),  # B
    (w.MERROW, "main", 5, "lower", "2025-02-17", 2.4, 3.4),  # D
    (w.OSSEL, "big_end", 2, "upper", "2019-10-21", 0.5, 1.0),  # I
)


def bearing_history(
    vessel: w.Vessel, bearing: str, position: int, seed: int
) -> tuple[tuple[Shell, ...], list[Reading]]:
    """Shell lives and readings of one bearing."""
    for attempt in count():  # a few dozen draws at most for the seeds in use
        own = Chance(seed, attempt)
        shells = shells_at(vessel, bearing, position, own)
        if not all(_kept_well(shell) for shell in shells):
            continue
        readings = Crew(vessel, shells, Chance(seed), own).readings_at(bearing, position)
        tests = (_measured_well(readings), _acted_upon(readings, shells), _said(readings), _told(readings))
        if all(tests):
            return shells, readings
    raise AssertionError("count() does not end")


def allowance_left_um(shell: Shell) -> float:
    """Wear to the limit [µm] when the shell was last seen."""
    return 1000 * (shell.new_wall_mm - w.wall_limit_mm(shell.bearing, shell.shell_size)) - shell.path[-1][1]


def _kept_well(shell: Shell) -> bool:
    left_um = allowance_left_um(shell)
    if shell.removed_h is not None:
        return left_um > -PAST_LIMIT_UM
    place = (shell.vessel, shell.bearing, shell.position, shell.half)
    least, most = TRUE_HOURS_LEFT.get(place, (LEAST_LEFT_H, math.inf))
    return least <= 1000 * left_um / shell.rate <= most


def _measured_well(readings: list[Reading]) -> bool:
    """No reading strays, and no opening repeats the figures of an earlier one."""
    sets: dict[tuple[str, bool], set[tuple[str, ...]]] = defaultdict(set)
    for reading in readings:
        row = reading.row
        sd = math.hypot(w.READING_SD[row["quantity"]], w.OPENING_SD[row["quantity"]])
        if abs(1000 * reading.error_mm) > STRAY_SD * sd:
            return False
        if row["quantity"] in ("wall", "clearance"):
            sets[row["date"], row["state"] == "as_left"].add((row["half"], row["point"], row["value"]))
    whole = [frozenset(values) for values in sets.values() if len(values) > 1]
    return len(set(whole)) == len(whole)


def _acted_upon(readings: list[Reading], shells: tuple[Shell, ...]) -> bool:
    """No wall was read at its limit and left in."""
    for reading in readings:
        row = reading.row
        if row["quantity"] != "wall" or row["state"] == "as_left":
            continue
        shell = next(
            shell
            for shell in shells
            if shell.half == row["half"]
            and shell.fitted_on < row["date"]
            and (not shell.removed_on or row["date"] <= shell.removed_on)
        )
        limit_mm = w.wall_limit_mm(shell.bearing, shell.shell_size)
        if reading.true_mm + reading.error_mm <= limit_mm and row["date"] != shell.removed_on:
            return False
    return True


def _said(readings: list[Reading]) -> bool:
    """Whether the readings that stories hang on say what is told."""
    by_place = {
        (
            row["vessel"],
            row["bearing"],
            x.true_position,
            *(row[k] for k in ("half", "quantity", "date", "state")),
        ): x
        for x in readings
        for row in [x.row]
        if row["point"] in ("crown", "")
    }
    return all(
        least <= float(by_place[key].row["value"]) <= most
        for *where, least, most in SHOWN_VALUE
        for key in [tuple(where)]
        if key in by_place
    )


def _told(readings: list[Reading]) -> bool:
    """Whether the lines of the shells that stories are told of show what is told."""
    vessel, bearing_read = readings[0].row["vessel"], readings[0].row["bearing"]
    for name, bearing, position, half, fitted_on, least, most in SHOWN_RATE:
        if (name, bearing, position) != (vessel, bearing_read, readings[0].true_position):
            continue
        if not least <= _shown_rate(readings, half, "crown", fitted_on) <= most:
            return False
        if name == w.MERROW:  # D: the tilt shows, and so does the clearance
            fore, aft = (
                _shown_rate(readings, half, point, fitted_on) for point in ("crown_fore", "crown_aft")
            )
            opened = [
                float(x.row["value"])
                for x in readings
                if x.row["quantity"] == "clearance"
                and (
                    x.row["date"] > fitted_on or (x.row["date"] == fitted_on and x.row["state"] == "as_left")
                )
            ]
            if fore < aft + 0.5 or opened != sorted(opened) or opened[-1] - opened[0] < 0.03:
                return False
    return True


def _shown_rate(readings: list[Reading], half: str, point: str, fitted_on: str) -> float:
    """Least-squares rate of the readings since a fitting [µm/kh]."""
    walls = [
        (float(x.row["counter_h"]), float(x.row["value"]))
        for x in readings
        if (x.row["quantity"], x.row["half"], x.row["point"]) == ("wall", half, point)
        and x.row["date"] > fitted_on
        and x.flat_anvil_um == 0
    ]
    fit = linear_regression([hours / 1000 for hours, _ in walls], [-1000 * wall for _, wall in walls])
    return fit.slope
