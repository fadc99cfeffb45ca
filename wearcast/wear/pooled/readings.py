"""The readings of one class as arrays: what the pooled model takes in."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.calendar import Calendar


def _empty_float() -> FloatArray:
    return np.zeros(0)


def _empty_bool() -> BoolArray:
    return np.zeros(0, dtype=bool)


def _empty_int() -> IntArray:
    return np.zeros(0, dtype=np.intp)


@dataclass(frozen=True)
class ClassReadings:
    """Readings of one class: engine type × bearing × half × quantity.

    Wear z is positive. Lengths are n readings, S series (shell life × point) and M shell lives.
    A shell or series without readings is allowed and is forecast from its place and its sisters.

    Parameters
    ----------
    z_um : array (n,)
        Wear against the reference of the shell size [µm].
    tau_kh : array (n,)
        Shell hours of the reading [kh]; where the fitting time is unknown, hours since the first
        reading of that shell.
    u_um : array (n,)
        Stated standard uncertainty [µm]; nan where not stated.
    step_um : array (n,)
        Rounding step of the reading [µm]; 0 for none.
    series : int array (n,)
        Row of the series table.
    opening : int array (n,)
        Label of the engine × date × quantity × gauge whose common error the reading shares;
        -1 for none.
    is_new_wall : bool array (n,)
        The reading is a new wall measured at fitting (tau_kh = 0).
    series_shell : int array (S,)
        Row of the shell table.
    series_group : int array (S,)
        0 at the crown, k ≥ 1 for the point groups off the crown.
    series_limit_um : array (S,)
        Wear at the limit [µm]; nan where the point has no limit and never governs.
    shell_engine, shell_position : int array (M,)
        Labels of the engine and of the place, the latter shared by sisters.
    shell_fitting_known : bool array (M,)
        The fitting time is known.
    shell_tau_now_kh : array (M,)
        Hours of the shell at the as-of moment, counted as `tau_kh` [kh].
    shell_delta_sd_um : array (M,)
        Standard deviation of the unknown new wall about the reference [µm]; nan: estimated.
    allowance_um : float
        Allowance A of the class [µm].
    default_u_um : float
        Reading error assumed where none is stated [µm].
    log_sd : float
        Log-sd of the priors of the standard deviations.
    series_point : int array (S,), optional
        Label of the point within the shell, shared by shells; the group by default.
    series_overlay_um : array (S,), optional
        Depth of the overlay [µm]; nan for none.
    shell_tau_now_sd_kh : array (M,), optional
        Standard deviation of `shell_tau_now_kh` where hours were carried forward [kh].
    shell_start_kh : array (M,), optional
        Total hours of the engine at τ = 0 [kh]; needed with a calendar.
    calendar : Calendar, optional
        Hours of the engines at the dates wear may have changed; without it no date is looked for.
    run_in_kh, shell_run_in_now_kh : arrays (n,), (M,), optional
        Hours that count for running-in; `tau_kh` and `shell_tau_now_kh` by default. They differ where
        those are effective hours.
    gain : array (n,), optional
        Growth of the wear read by a unit of wear before its pace changed with depth; 1 by default.
    gauge : int array (n,), optional
        Label of the gauge, -1 where it is not named; none is by default.
    shell_in_service : bool array (M,), optional
        The shell is still there; all are by default.
    quickened : bool array (n,), optional
        The reading lies past an opening since which its series wears at a rate of its own.

    Raises
    ------
    ValueError
        Lengths differ, an index points outside its table, or a value is not finite.
    """

    z_um: FloatArray
    tau_kh: FloatArray
    u_um: FloatArray
    step_um: FloatArray
    series: IntArray
    opening: IntArray
    is_new_wall: BoolArray
    series_shell: IntArray
    series_group: IntArray
    series_limit_um: FloatArray
    shell_engine: IntArray
    shell_position: IntArray
    shell_fitting_known: BoolArray
    shell_tau_now_kh: FloatArray
    shell_delta_sd_um: FloatArray
    allowance_um: float
    default_u_um: float
    log_sd: float = 0.6
    series_point: IntArray = field(default_factory=_empty_int)
    series_overlay_um: FloatArray = field(default_factory=_empty_float)
    shell_tau_now_sd_kh: FloatArray = field(default_factory=_empty_float)
    shell_start_kh: FloatArray = field(default_factory=_empty_float)
    calendar: Calendar | None = None
    run_in_kh: FloatArray | None = None
    shell_run_in_now_kh: FloatArray | None = None
    gain: FloatArray | None = None
    gauge: IntArray = field(default_factory=_empty_int)
    shell_in_service: BoolArray = field(default_factory=_empty_bool)
    quickened: BoolArray = field(default_factory=_empty_bool)

    def __post_init__(self) -> None:
        n_series, n_shells = len(self.series_shell), len(self.shell_engine)
        if len(self.series_point) != n_series:
            object.__setattr__(self, "series_point", np.asarray(self.series_group, dtype=np.intp))
        if len(self.series_overlay_um) != n_series:
            object.__setattr__(self, "series_overlay_um", np.full(n_series, np.nan))
        if len(self.shell_tau_now_sd_kh) != n_shells:
            object.__setattr__(self, "shell_tau_now_sd_kh", np.zeros(n_shells))
        if len(self.shell_start_kh) != n_shells:
            object.__setattr__(self, "shell_start_kh", np.zeros(n_shells))
        if len(self.gauge) != len(self.z_um):
            object.__setattr__(self, "gauge", np.full(len(self.z_um), -1, dtype=np.intp))
        if len(self.shell_in_service) != n_shells:
            object.__setattr__(self, "shell_in_service", np.ones(n_shells, dtype=bool))
        if len(self.quickened) != len(self.z_um):
            object.__setattr__(self, "quickened", np.zeros(len(self.z_um), dtype=bool))
        _check_lengths(self)
        _check_values(self)

    @property
    def hours_run_in_kh(self) -> FloatArray:
        """Hours of every reading that count for running-in, array (n,) [kh]."""
        return self.tau_kh if self.run_in_kh is None else self.run_in_kh

    @property
    def shell_hours_run_in_kh(self) -> FloatArray:
        """The same of every shell now, array (M,) [kh]."""
        return self.shell_tau_now_kh if self.shell_run_in_now_kh is None else self.shell_run_in_now_kh

    @property
    def n_readings(self) -> int:
        """Number of readings."""
        return len(self.z_um)

    @property
    def n_series(self) -> int:
        """Number of series."""
        return len(self.series_shell)

    @property
    def n_shells(self) -> int:
        """Number of shell lives."""
        return len(self.shell_engine)

    @cached_property
    def n_engines(self) -> int:
        """Number of engines that have a shell here."""
        return len(np.unique(self.shell_engine))

    @property
    def reading_shell(self) -> IntArray:
        """Shell of every reading, int array (n,)."""
        return self.series_shell[self.series]

    @property
    def several_points(self) -> bool:
        """Some shell of the class is read at more than one point."""
        if self.n_series == 0:
            return False
        return bool(np.bincount(self.series_shell).max() > 1)

    @property
    def quickened_since_kh(self) -> FloatArray:
        """Hours since which a series wears at a rate of its own, array (S,) [kh]; inf for none."""
        since = np.full(self.n_series, np.inf)
        since[self.series[self.quickened]] = 0.0
        steady = ~self.quickened & np.isfinite(since)[self.series]
        np.maximum.at(since, self.series[steady], self.tau_kh[steady])
        return since

    def only(self, kept: BoolArray) -> ClassReadings:
        """The same class with the readings where `kept` is true; shells and series all stay."""
        return replace(self, **self._cut(_BY_READING, kept))

    def only_engines(self, labels: IntArray) -> ClassReadings:
        """The part of the class that belongs to the engines in `labels`."""
        shells = np.flatnonzero(np.isin(self.shell_engine, labels))
        series = np.flatnonzero(np.isin(self.series_shell, shells))
        return self.part(np.flatnonzero(np.isin(self.series, series)), series, shells)

    def part(self, readings: IntArray, series: IntArray, shells: IntArray) -> ClassReadings:
        """The part of the class with the given rows of readings, series and shells.

        The rows of a table stay in the order given; every series needs its shell, every reading
        its series.
        """
        new_series = np.full(self.n_series, -1, dtype=np.intp)
        new_series[series] = np.arange(len(series))
        new_shell = np.full(self.n_shells, -1, dtype=np.intp)
        new_shell[shells] = np.arange(len(shells))
        changed = (
            self._cut(_BY_READING, readings) | self._cut(_BY_SERIES, series) | self._cut(_BY_SHELL, shells)
        )
        changed["series"] = new_series[changed["series"]]
        changed["series_shell"] = new_shell[changed["series_shell"]]
        return replace(self, **changed)

    def _cut(self, names: tuple[str, ...], rows: IntArray | BoolArray) -> dict[str, Any]:
        values = {name: getattr(self, name) for name in names}
        return {name: value if value is None else value[rows] for name, value in values.items()}


_BY_READING = (
    "z_um",
    "tau_kh",
    "u_um",
    "step_um",
    "series",
    "opening",
    "is_new_wall",
    "run_in_kh",
    "gain",
    "quickened",
    "gauge",
)
_BY_SERIES = ("series_shell", "series_group", "series_limit_um", "series_point", "series_overlay_um")
_BY_SHELL = (
    "shell_engine",
    "shell_position",
    "shell_fitting_known",
    "shell_tau_now_kh",
    "shell_delta_sd_um",
    "shell_tau_now_sd_kh",
    "shell_start_kh",
    "shell_run_in_now_kh",
    "shell_in_service",
)


@dataclass(frozen=True)
class EnginePart:
    """Some engines of a class with the rows they hold in the tables of the whole class."""

    readings: ClassReadings
    reading_rows: IntArray
    series_rows: IntArray
    shell_rows: IntArray


def split_by_engine(readings: ClassReadings, engines_at_once: int) -> list[EnginePart]:
    """Cut a class into parts of whole engines.

    Parameters
    ----------
    readings : ClassReadings
    engines_at_once : int

    Returns
    -------
    list of EnginePart
    """
    _, engine = np.unique(readings.shell_engine, return_inverse=True)
    part_of_shell = engine // engines_at_once
    n_parts = int(part_of_shell.max()) + 1 if engine.size else 1
    if n_parts == 1:
        rows = (np.arange(readings.n_readings), np.arange(readings.n_series), np.arange(readings.n_shells))
        return [EnginePart(readings, *rows)]
    part_of_series = part_of_shell[readings.series_shell]
    tables = (part_of_series[readings.series], part_of_series, part_of_shell)
    cut = []
    for part in tables:
        order = np.argsort(part, kind="stable")
        cut.append(np.split(order, np.searchsorted(part[order], np.arange(1, n_parts))))
    return [EnginePart(readings.part(*rows), *rows) for rows in zip(*cut, strict=True)]


def _check_lengths(readings: ClassReadings) -> None:
    tables = (
        (
            len(readings.z_um),
            ("tau_kh", "u_um", "step_um", "series", "opening", "is_new_wall"),
        ),
        (len(readings.series_shell), ("series_group", "series_limit_um")),
        (
            len(readings.shell_engine),
            ("shell_position", "shell_fitting_known", "shell_tau_now_kh", "shell_delta_sd_um"),
        ),
    )
    for length, names in tables:
        for name in names:
            if len(getattr(readings, name)) != length:
                raise ValueError(f"{name} has {len(getattr(readings, name))} values, expected {length}")


def _check_values(readings: ClassReadings) -> None:
    for name in ("z_um", "tau_kh", "step_um", "shell_tau_now_kh", "shell_tau_now_sd_kh"):
        if not np.isfinite(getattr(readings, name)).all():
            raise ValueError(f"{name} holds a value that is not finite")
    if (readings.tau_kh < 0).any() or (readings.shell_tau_now_kh < 0).any():
        raise ValueError("shell hours are negative")
    if readings.is_new_wall.any() and (readings.tau_kh[readings.is_new_wall] != 0).any():
        raise ValueError("a new wall measured at fitting stands at shell hours other than 0")
    for name, limit in (("series", readings.n_series), ("series_shell", readings.n_shells)):
        index = getattr(readings, name)
        if index.size and (index.min() < 0 or index.max() >= limit):
            raise ValueError(f"{name} points outside its table of {limit} rows")
    if not (readings.allowance_um > 0 and readings.default_u_um > 0 and readings.log_sd > 0):
        raise ValueError("allowance_um, default_u_um and log_sd must be positive")
