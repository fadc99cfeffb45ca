"""The planted truth: every shell life of the fleet, its rate and its wear at every opening."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from functools import cached_property
from statistics import NormalDist

from demo_fleet import openings as o
from demo_fleet import world as w

_NORMAL = NormalDist()


@dataclass(frozen=True)
class Chance:
    """Draws that depend on the seed and on what they are for, not on the order of asking.

    Only ``random.random`` is used: its sequence is promised to stay the same from one Python to the next,
    which numpy does not promise for its distributions. `attempt` counts how often a history was drawn again.
    """

    seed: int
    attempt: int = 0

    def uniform(self, *what: object) -> float:
        """A number between 0 and 1."""
        return random.Random("|".join(map(str, (self.seed, self.attempt, *what)))).random()

    def normal(self, sd: float, *what: object) -> float:
        """A number from N(0, sd²)."""
        return sd * _NORMAL.inv_cdf(max(self.uniform(*what), 1e-12))


@dataclass(frozen=True)
class Shell:
    """One shell life and what wears it; effects and rate in µm/kh, `path` as (total hours, wear [µm])."""

    vessel: str
    bearing: str
    position: int
    half: str
    shell_no: int
    shell_size: str
    fitted_on: str
    fitted_h: int
    removed_on: str
    removed_h: int | None
    new_wall_mm: float
    position_effect: float
    engine_effect: float
    place_effect: float
    shell_effect: float
    rate: float
    tilt: float
    path: tuple[tuple[int, float], ...]

    @cached_property
    def _wear(self) -> dict[int, float]:
        return dict(self.path)

    def wear_um(self, total_h: int, point: str = "crown") -> float:
        """Wear [µm] at an opening; fore and aft differ by the tilt of the saddle."""
        side = {"crown_fore": 1.0, "crown_aft": -1.0}.get(point, 0.0)
        return self._wear[total_h] + side * self.tilt * (total_h - self.fitted_h) / 1000

    def wall_mm(self, total_h: int, point: str = "crown") -> float:
        """True wall [mm] at an opening."""
        return self.new_wall_mm - self.wear_um(total_h, point) / 1000


def shells_at(vessel: w.Vessel, bearing: str, position: int, chance: Chance) -> tuple[Shell, ...]:
    """Every shell life at one bearing, by half and order of fitting."""
    return tuple(shell for half in w.HALVES for shell in _lives_at(vessel, bearing, position, half, chance))


def _lives_at(vessel: w.Vessel, bearing: str, position: int, half: str, chance: Chance) -> list[Shell]:
    starts: list[tuple[str, int, str]] = [(vessel.in_service, 0, w.STANDARD)]
    for opening in o.OPENINGS[vessel.name]:
        if (bearing, position, half) in opening.new_shells:
            size = o.shell_size_put_in(vessel.name, opening, bearing, position)
            starts.append((opening.date, opening.total_h, size))
    ends = [*((day, hour) for day, hour, _ in starts[1:]), ("", None)]
    return [
        _life(vessel, (bearing, position, half), number, start, end, chance)
        for number, (start, end) in enumerate(zip(starts, ends, strict=True), start=1)
    ]


def _life(
    vessel: w.Vessel,
    place: o.Place,
    number: int,
    start: tuple[str, int, str],
    end: tuple[str, int | None],
    chance: Chance,
) -> Shell:
    bearing, position, half = place
    share = w.SPREAD_SHARE[bearing, half]
    steady = w.RATES[bearing, half][position - 1]
    engine_effect = vessel.engine_effect * share
    place_effect = chance.normal(w.PLACE_SD * share, "place", vessel.name, *place)
    shell_effect = chance.normal(w.SHELL_SD * share, "shell", vessel.name, *place, number)
    overloaded = (vessel.name, *place) == w.OVERLOADED_PLACE
    if overloaded:  # the whole excess belongs to the place: a new shell inherits it
        place_effect, shell_effect = w.OVERLOADED_RATE - steady - engine_effect, 0.0
    rate = steady + engine_effect + place_effect + shell_effect
    fitted_on, fitted_h, size = start
    removed_on, removed_h = end
    return Shell(
        vessel.name, *place, number, size, fitted_on, fitted_h, removed_on, removed_h,
        _new_wall_mm(vessel.name, place, number, size, chance),
        steady, engine_effect, place_effect, shell_effect, rate,
        w.OVERLOADED_TILT if overloaded else 0.0,
        _path(vessel.name, place, number, fitted_h, removed_h, rate, chance),
    )  # fmt: skip


def _new_wall_mm(vessel: str, place: o.Place, number: int, size: str, chance: Chance) -> float:
    low, high = w.NEW_WALL_MM[place[0]]
    step = w.UNDERSIZE_WALL_STEP_MM if size == w.UNDERSIZE else 0.0
    return step + low + (high - low) * chance.uniform("new wall", vessel, *place, number)


def _path(
    vessel: str,
    place: o.Place,
    number: int,
    fitted_h: int,
    removed_h: int | None,
    rate: float,
    chance: Chance,
) -> tuple[tuple[int, float], ...]:
    """Running-in, steady wear and a Brownian part; wear is never undone."""
    share = w.SPREAD_SHARE[place[0], place[2]]
    path, before = [(fitted_h, 0.0)], fitted_h
    for opening in o.OPENINGS[vessel]:
        if not fitted_h < opening.total_h <= (removed_h or opening.total_h):
            continue
        age, step = (opening.total_h - fitted_h) / 1000, (opening.total_h - before) / 1000
        ran_in = w.RUNNING_IN_UM * (
            math.exp(-(age - step) / w.RUNNING_IN_SCALE_KH) - math.exp(-age / w.RUNNING_IN_SCALE_KH)
        )
        uneven = chance.normal(
            w.UNEVEN_SD * share * math.sqrt(step), "uneven", vessel, *place, number, opening.total_h
        )
        path.append((opening.total_h, path[-1][1] + ran_in + max(0.0, rate * step + uneven)))
        before = opening.total_h
    return tuple(path)
