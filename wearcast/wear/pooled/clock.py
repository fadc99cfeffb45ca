"""The wear clock: effective hours in place of shell hours where wear does not go on as it went.

Wear follows T(t) = ∫ m(s) ds. All of the model but running-in is in T; today's pace m turns the forecast
back into hours. A clock is fixed by its kind, its date or depth, and one number, the logarithm of its factor.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from scipy.special import ndtr

from wearcast.wear.pooled.arrays import BoolArray, FloatArray
from wearcast.wear.pooled.readings import ClassReadings

_AGE_START_KH = 1.0  # keeps the pace finite at τ = 0; judgement
_UNKNOWN_DEPTH = 0.08  # standard deviation of the wear about its line [A]; judgement


class Kind(StrEnum):
    """What changes the pace of wear."""

    NONE = "none"
    STEP = "step"
    PULSE = "pulse"
    AGE = "age"
    DEPTH = "depth"


class Scope(StrEnum):
    """Whose wear it is."""

    CLASS = "class"
    VESSEL = "vessel"
    ENGINE = "engine"
    PLACES = "places"


@dataclass(frozen=True)
class Part:
    """What may have changed the wear, without its factor.

    Attributes
    ----------
    kind : Kind
    scope : Scope
    label : int
        Vessel or engine; -1 for the class.
    date, until : int
        Dates of the calendar at which the pace steps, and steps back; -1 for none.
    depth : float
        Wear of the metal past which the pace changes [A]; nan for the overlay of each point.
    recorded : bool
        Somebody wrote the change down.
    """

    kind: Kind = Kind.NONE
    scope: Scope = Scope.CLASS
    label: int = -1
    date: int = -1
    until: int = -1
    depth: float = 0.0
    recorded: bool = False


@dataclass(frozen=True, eq=False)
class Clock:
    """A part with its factor.

    Attributes
    ----------
    part : Part
    log_factor : float
        Logarithm of the factor of the pace; of the power γ of the hours for `Kind.AGE`.
    line : array (S, 2), optional
        Rate and running-in wear of every series before its pace changes with depth [µm/kh, µm].
    """

    part: Part = Part()
    log_factor: float = 0.0
    line: FloatArray | None = None

    @property
    def factor(self) -> float:
        """Factor of the pace, or power of the hours."""
        return float(np.exp(self.log_factor))


STEADY = Clock()


@dataclass(frozen=True)
class Exposure:
    """Hours spent past the change, and who is past it today.

    Attributes
    ----------
    readings_kh : array (n,)
    now_kh : array (M,)
    in_force : bool array (M,)
        The shell wears at the changed pace today.
    """

    readings_kh: FloatArray
    now_kh: FloatArray
    in_force: BoolArray


def exposure(readings: ClassReadings, part: Part) -> Exposure:
    """Hours past a change at a date, of every reading and of every shell now.

    Raises
    ------
    ValueError
        The class has no calendar.
    """
    of_reading = readings.reading_shell
    within = concerned(readings, part)
    read, now, reached = _since(readings, part.date)
    if part.until >= 0:
        read_back, now_back, back = _since(readings, part.until)
        read, now, reached = read - read_back, now - now_back, reached & ~back
    return Exposure(read * within[of_reading], now * within, reached & within)


def depths_um(readings: ClassReadings, part: Part) -> FloatArray:
    """Wear of the metal at which the pace changes, array (S,) [µm]."""
    if np.isnan(part.depth):
        share = np.nanmedian(readings.series_overlay_um)
        return np.where(np.isnan(readings.series_overlay_um), share, readings.series_overlay_um)
    return np.full(readings.n_series, part.depth * readings.allowance_um)


def concerned(readings: ClassReadings, part: Part) -> BoolArray:
    """Shells in the scope of a change, bool array (M,)."""
    calendar, engine = readings.calendar, readings.shell_engine
    if calendar is None:
        raise ValueError("a change at a date needs the calendar of the class")
    if part.scope is Scope.CLASS:
        return np.ones(len(engine), dtype=bool)
    if part.scope is Scope.ENGINE:
        return np.asarray(engine == part.label)
    at = np.searchsorted(calendar.engines, engine)
    if part.scope is Scope.VESSEL:
        return np.asarray(calendar.vessel[at] == part.label)
    touched = np.asarray(calendar.touches[part.date, at])
    local = calendar.local(part.date)
    return touched & np.isin(readings.shell_position, local) if local.size else touched


def _since(readings: ClassReadings, date: int) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Hours since a date of readings (n,) and shells now (M,), and whether it lies behind them."""
    assert readings.calendar is not None
    after = readings.shell_start_kh - readings.calendar.hours_at(date, readings.shell_engine)
    of = readings.reading_shell
    read = np.clip(readings.tau_kh + after[of], 0.0, readings.tau_kh)
    now = readings.shell_tau_now_kh + after
    return read, np.clip(now, 0.0, readings.shell_tau_now_kh), now >= 0


@dataclass(frozen=True)
class Pace:
    """How a clock runs on from today.

    Attributes
    ----------
    now : array (M,)
        Effective hours an hour today.
    power : float
        Of the hours; 1 for a steady pace.
    """

    now: FloatArray
    power: float


def clocked(readings: ClassReadings, clock: Clock) -> tuple[ClassReadings, Pace]:
    """The readings in effective hours, and the pace today.

    Parameters
    ----------
    readings : ClassReadings
        In shell hours.
    clock : Clock
    """
    ones = np.ones(readings.n_shells)
    if clock.part.kind is Kind.NONE:
        return readings, Pace(ones, 1.0)
    if clock.part.kind is Kind.AGE:
        scale = age_scale_kh(readings)
        known, power = readings.shell_fitting_known, clock.factor
        aged = np.where(known, power, 1.0)
        tau = aged_hours(readings.tau_kh, aged[readings.reading_shell], scale)
        pace = ((readings.shell_tau_now_kh + _AGE_START_KH) / scale) ** (aged - 1.0)
        now = aged_hours(readings.shell_tau_now_kh, aged, scale)
        return _in(readings, clock.part, tau, now, Pace(np.where(known, aged * pace, 1.0), power))
    if clock.part.kind is Kind.DEPTH:
        if clock.line is None:
            raise ValueError("a change of pace at a depth needs the line of every series before it")
        more = clock.factor - 1.0
        over, share = past_depth(readings, clock.part, clock.line)
        before = worn_before(readings, clock.line)
        gain = 1.0 + more * share
        shift = before + more * over - gain * before
        return replace(readings, z_um=readings.z_um - shift, gain=gain), Pace(ones, 1.0)
    past = exposure(readings, clock.part)
    more = clock.factor - 1.0
    tau = readings.tau_kh + more * past.readings_kh
    now = readings.shell_tau_now_kh + more * past.now_kh
    return _in(readings, clock.part, tau, now, Pace(np.where(past.in_force, clock.factor, 1.0), 1.0))


def past_depth(readings: ClassReadings, part: Part, line: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Expected wear past the depth (n,) [µm] and the chance of being past it (n,), of every reading.

    By its line each reading stands so deep, give or take what the line does not know: the bend is taken as its
    statistical linearisation (Gelb 1974, Applied Optimal Estimation, section 6.2, from memory).
    """
    unknown = _UNKNOWN_DEPTH * readings.allowance_um
    over = worn_before(readings, line) - depths_um(readings, part)[readings.series]
    share = ndtr(over / unknown)
    density = np.exp(-0.5 * (over / unknown) ** 2) / np.sqrt(2.0 * np.pi)
    return over * share + unknown * density, share


def worn_before(readings: ClassReadings, line: FloatArray) -> FloatArray:
    """Wear of every reading by the line of its series, had the pace not changed, array (n,) [µm]."""
    rate, running_in = line[readings.series].T
    known = readings.shell_fitting_known[readings.reading_shell]
    # Where the fitting is unknown so is the depth: such a shell is taken to be past none.
    worn = rate * readings.tau_kh + running_in * -np.expm1(-readings.hours_run_in_kh)
    return np.where(known, worn, -1e3 * readings.allowance_um)


def _in(
    readings: ClassReadings, part: Part, tau: FloatArray, now: FloatArray, pace: Pace
) -> tuple[ClassReadings, Pace]:
    """The readings in effective hours; where all sisters change, counted so that the hours read come out as many.

    Rates then stay those of the readings on the whole: a change would else gain or lose by moving them against
    their prior.
    """
    total = float(tau.sum())
    by = float(readings.tau_kh.sum()) / total if part.scope is Scope.CLASS and total > 0 else 1.0
    worn = replace(
        readings,
        tau_kh=by * tau,
        shell_tau_now_kh=by * now,
        run_in_kh=readings.hours_run_in_kh,
        shell_run_in_now_kh=readings.shell_hours_run_in_kh,
    )
    return worn, Pace(by * pace.now, pace.power)


def age_scale_kh(readings: ClassReadings) -> float:
    """Hours at which an ageing clock is slower or faster than ours by its power alone [kh]."""
    worn = readings.tau_kh[readings.tau_kh > 0]
    return float(np.median(worn)) + _AGE_START_KH if worn.size else _AGE_START_KH


def aged_hours(tau_kh: FloatArray, power: FloatArray | float, scale_kh: float) -> FloatArray:
    """T = scale·[((τ + 1)/scale)^γ − (1/scale)^γ], τ where γ = 1 [kh]."""
    start = (_AGE_START_KH / scale_kh) ** np.asarray(power)
    return np.asarray(scale_kh * (((tau_kh + _AGE_START_KH) / scale_kh) ** power - start))


def hours_ahead(hours_kh: FloatArray, tau_now_kh: FloatArray, power: FloatArray) -> FloatArray:
    """Hours ahead counted at today's pace, under a power of the shell hours; arrays that broadcast [kh]."""
    start = tau_now_kh + _AGE_START_KH
    return np.asarray(start / power * np.expm1(power * np.log1p(hours_kh / start)))


def hours_of(ahead_kh: FloatArray, tau_now_kh: FloatArray, power: FloatArray) -> FloatArray:
    """The other way round: hours in which so many at today's pace are spent [kh]."""
    start = tau_now_kh + _AGE_START_KH
    return np.asarray(start * np.expm1(np.log1p(power * ahead_kh / start) / power))


def pace_after(hours_kh: FloatArray, tau_now_kh: FloatArray, power: FloatArray) -> FloatArray:
    """Pace some hours from now over the pace today, arrays that broadcast."""
    return np.asarray((1.0 + hours_kh / (tau_now_kh + _AGE_START_KH)) ** (power - 1.0))
