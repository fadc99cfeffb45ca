"""Fleets whose wear does not go on as it went: invented classes with dates, and what is true of them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wearcast.wear.pooled import ClassReadings
from wearcast.wear.pooled.calendar import Calendar, change_dates
from wearcast.wear.priors import Priors

ALLOWANCE_UM, NEW_WALL_SD_UM, ERROR_UM, OPENING_SD_UM = 50.0, 15.0 / 12**0.5, 6.0, 1.5
PER_KH = ALLOWANCE_UM / 60.0
SPREADS = {"position": 0.2, "engine": 0.25, "place": 0.3, "shell": 0.15}  # of the logarithm of the rate
UNEVEN_UM = PER_KH  # wear grows by gamma increments of variance UNEVEN² a kh at the usual rate
LONGEST_KH, STEP_KH = 400.0, 0.25


@dataclass(frozen=True)
class Truth:
    """A world; what is left out is ordinary.

    Attributes
    ----------
    factor : float
        Of the pace from a date on.
    since : int
        Openings that followed the date; 0 for one or two by chance.
    recorded : bool
        A `change` event gives the date.
    one_engine : bool
        One engine alone.
    for_years : float
        The pace goes back after so many years; inf for never.
    past_um, past_factor : float
        Depth of wear past which the pace changes, and its factor.
    power : float
        Of the shell hours.
    heavy : bool
        Reading errors by Student's t of 3 degrees of freedom, of the same standard deviation.
    thick_always_um, thick_since_um : float
        One vessel's gauge reads so much thicker, always or from a date on.
    outer : float
        Factor of the rate of the outer places.
    scale : float
        Of all rates; openings come sooner where wear is quick.
    gone : float
        Factor of the pace of one shell since its last opening but one, which was read at its last.
    gone_for : float
        Intervals it has been so: 2 for both of the last, 0.5 for the later half of the last.
    """

    factor: float = 1.0
    since: int = 0
    recorded: bool = False
    one_engine: bool = False
    for_years: float = np.inf
    past_um: float = np.inf
    past_factor: float = 1.0
    power: float = 1.0
    heavy: bool = False
    thick_always_um: float = 0.0
    thick_since_um: float = 0.0
    outer: float = 1.0
    scale: float = 1.0
    gone: float = 1.0
    gone_for: float = 1.0


TRUTHS = {
    "ordinary": Truth(),
    "heavy errors": Truth(heavy=True),
    "outer places twice": Truth(outer=2.0),
    "1.8 ×, recorded": Truth(1.8, recorded=True),
    "1.8 ×, one opening since": Truth(1.8, since=1),
    "1.8 ×, two openings since": Truth(1.8, since=2),
    "1.8 ×, one engine alone": Truth(1.8, one_engine=True),
    "0.55 ×": Truth(0.55),
    "2.5 × past 20 µm": Truth(past_um=20.0, past_factor=2.5),
    "hours to the power 0.7": Truth(power=0.7),
    "hours to the power 1.3": Truth(power=1.3),
    "a gauge 12 µm thick always": Truth(thick_always_um=12.0),
    "a new gauge 8 µm thick": Truth(thick_since_um=8.0),
    "1.7 × for three years": Truth(1.7, for_years=3.0),
    "ten times the usual rate": Truth(scale=10.0),
    "a tenth of the usual rate": Truth(scale=0.1),
    "one shell 5 ×": Truth(gone=5.0),
    "one shell 5 ×, two intervals": Truth(gone=5.0, gone_for=2.0),
    "one shell 5 ×, half the last": Truth(gone=5.0, gone_for=0.5),
}


@dataclass(frozen=True)
class ChangedClass:
    """One class and what is true of it.

    Attributes
    ----------
    readings : ClassReadings
        With its calendar.
    current : int array (m,)
        Shells in service.
    hours_kh : array (m,)
        True hours from now to the limit; inf beyond 400 kh.
    changed_year : float
        Date of the change [years, now about 0]; nan for none.
    engine : int
        The engine it concerns; -1 for all.
    gone : int array
        Shells gone wrong, among `current`.
    beyond_um : array (m,)
        Wear beyond what its own pace would have brought by now; 0 for all others.
    """

    readings: ClassReadings
    current: np.ndarray
    hours_kh: np.ndarray
    changed_year: float
    engine: int
    gone: np.ndarray
    beyond_um: np.ndarray


@dataclass
class _Class:
    """One class in the making."""

    truth: Truth
    rng: np.random.Generator

    def __post_init__(self) -> None:
        rng = self.rng
        self.n_engines, self.n_places = int(rng.integers(3, 7)), int(rng.integers(6, 9))
        self.use = rng.uniform(4.5, 6.5, self.n_engines)
        self.n_openings = int(rng.integers(3, 6))
        quick = 1.0 if self.truth.scale <= 1 else 0.8 * self.truth.scale
        gaps = rng.uniform(8.0, 14.0, (self.n_engines, self.n_openings)) / quick
        self.opened = np.cumsum(gaps, axis=1)  # total hours at each opening
        self.last_year = -rng.uniform(0.0, 1.0, self.n_engines)
        t = self.truth
        self.engine = (
            int(rng.integers(self.n_engines)) if t.one_engine or t.thick_since_um or t.thick_always_um else -1
        )
        self.changed = self._changed() if t.factor != 1 or t.thick_since_um else np.nan
        self.step = float(rng.choice([1.0, 10.0]))

    def year(self, e: int, hours: np.ndarray | float) -> np.ndarray:
        """Date at total hours."""
        return self.last_year[e] + (np.asarray(hours) - self.opened[e, -1]) / self.use[e]

    def hours_at(self, e: int, year: float) -> float:
        """Total hours at a date."""
        return float(self.opened[e, -1] + (year - self.last_year[e]) * self.use[e])

    def _changed(self) -> float:
        """A date between two openings of the engine concerned (of the middle one of all), well before the later."""
        since = self.truth.since or int(self.rng.integers(1, 3))
        years = np.array([self.year(e, self.opened[e]) for e in range(self.n_engines)])
        early, late = np.median(years, axis=0)[[-since - 1, -since]]
        if self.engine >= 0:
            early, late = years[self.engine, [-since - 1, -since]]
        if np.isfinite(self.truth.for_years):
            early, late = float(np.median(years[:, 0])) - 1.0, -self.truth.for_years
        return float(self.rng.uniform(early, late - 0.5))

    def pace_hours(self, e: int, start: float, tau: np.ndarray) -> np.ndarray:
        """Effective hours of a shell fitted at total hours `start`."""
        t, tau = self.truth, np.asarray(tau, dtype=float)
        worn = 30.0 * (tau / 30.0) ** t.power if t.power != 1 else tau
        if t.factor != 1 and self.engine in (-1, e):
            at = self.hours_at(e, self.changed) - start
            past = np.clip(tau - max(at, 0.0), 0.0, None)
            if np.isfinite(t.for_years):
                past = past - np.clip(tau - max(at + t.for_years * self.use[e], 0.0), 0.0, None)
            worn = worn + (t.factor - 1.0) * past
        return worn

    def thick(self, e: int, hours: float) -> float:
        """How much thicker the gauge reads at total hours of an engine."""
        if e != self.engine:
            return 0.0
        later = self.truth.thick_since_um if self.year(e, hours) >= self.changed else 0.0
        return self.truth.thick_always_um + later


def draw_class(truth: Truth, rng: np.random.Generator) -> ChangedClass:
    """One class from a truth; the readings are what the tool would be given."""
    made = _Class(truth, rng)
    n_e, n_p = made.n_engines, made.n_places
    effects = {
        "position": rng.normal(size=n_p)[None],
        "engine": rng.normal(size=(n_e, 1)),
        "place": rng.normal(size=(n_e, n_p)),
    }
    log_rate = sum(SPREADS[k] * v for k, v in effects.items())
    log_rate = log_rate + np.log(truth.outer) * np.isin(np.arange(n_p), (0, n_p - 1))
    gauge = OPENING_SD_UM * rng.normal(size=(n_e, made.n_openings + 1))
    gone = (int(rng.integers(n_e)), int(rng.integers(n_p))) if truth.gone != 1 else None
    shells, rows, ahead, beyond = [], [], [], []
    for e in range(n_e):
        for p in range(n_p):
            start, k = 0.0, -1
            while True:
                rate = PER_KH * truth.scale * np.exp(log_rate[e, p] + SPREADS["shell"] * rng.normal())
                delta, left = NEW_WALL_SD_UM * rng.normal(), made.opened[e, k + 1 :] - start
                scale = UNEVEN_UM**2 / PER_KH
                worn = made.pace_hours(e, start, np.r_[0.0, left])
                dt = np.diff(worn)
                if gone == (e, p):
                    whole = int(np.ceil(truth.gone_for))
                    dt[-whole:] *= 1.0 + (truth.gone - 1.0) * truth.gone_for / whole
                path = np.cumsum(rng.gamma(np.maximum(rate * dt / scale, 1e-9), scale))
                running_in = 0.04 * ALLOWANCE_UM * -np.expm1(-left)
                wear = _past_depth(path + running_in, truth)
                over = np.flatnonzero(wear[:-1] + delta >= 0.85 * ALLOWANCE_UM)
                end = int(over[0]) if over.size else len(left) - 1
                number = len(shells)
                shells.append((e, p, start, left[end], not over.size))
                if rng.random() < 0.5:
                    rows.append((number, 0.0, k + 1, delta - made.thick(e, start) + gauge[e, k + 1], True))
                for j in range(end + 1):
                    # The last opening renews or closes; what stays in is opened four times out of five.
                    read = rng.random() < 0.8 or (gone == (e, p) and j == end)
                    if (j == end and over.size) or read:
                        z = wear[j] + delta + gauge[e, k + 2 + j] - made.thick(e, start + left[j])
                        rows.append((number, left[j], k + 2 + j, z, False))
                if not over.size:
                    more = truth.gone if gone == (e, p) else 1.0
                    beyond.append(rate * float(dt.sum() - worn[-1]))
                    ahead.append(_hours_to_limit(made, e, start, left[-1], path[-1], delta, rate, more))
                    break
                start, k = made.opened[e, k + 1 + end], k + 1 + end
    shell = np.array([r[0] for r in rows])
    error = rng.normal(size=len(rows))
    if truth.heavy:
        error = rng.standard_t(3, len(rows)) / np.sqrt(3.0)
    z = made.step * np.round((np.array([r[3] for r in rows]) + ERROR_UM * error) / made.step)
    engine = np.array([s[0] for s in shells])
    n_shells = len(shells)
    readings = ClassReadings(
        z_um=z,
        tau_kh=np.array([r[1] for r in rows]),
        u_um=np.full(len(rows), np.nan),
        step_um=np.full(len(rows), made.step),
        series=shell,
        opening=engine[shell] * 100 + np.array([r[2] for r in rows]),
        is_new_wall=np.array([r[4] for r in rows]),
        series_shell=np.arange(n_shells),
        series_group=np.zeros(n_shells, dtype=int),
        series_limit_um=np.full(n_shells, ALLOWANCE_UM),
        shell_engine=engine,
        shell_position=np.array([s[1] for s in shells]),
        shell_fitting_known=np.ones(n_shells, dtype=bool),
        shell_tau_now_kh=np.array([s[3] for s in shells]),
        shell_delta_sd_um=np.full(n_shells, NEW_WALL_SD_UM),
        allowance_um=ALLOWANCE_UM,
        default_u_um=ERROR_UM,
        shell_start_kh=np.array([s[2] for s in shells]),
        calendar=_calendar(made),
        gauge=np.array([_gauge(made, shells[r[0]], r[1]) for r in rows]),
        shell_in_service=np.array([s[4] for s in shells]),
    )
    current = np.flatnonzero([s[4] for s in shells])
    wrong = [k for k, s in enumerate(current) if gone == shells[s][:2]]
    return ChangedClass(
        readings,
        current,
        np.array(ahead),
        made.changed,
        made.engine,
        np.array(wrong, dtype=int),
        np.array(beyond),
    )


def _gauge(made: _Class, shell: tuple, tau: float) -> int:
    """One gauge a vessel; a new one of its own label from the date it came on."""
    e, _, start = shell[:3]
    later = made.truth.thick_since_um and e == made.engine and made.year(e, start + tau) >= made.changed
    return made.n_engines if later else int(e)


def _past_depth(wear: np.ndarray, truth: Truth) -> np.ndarray:
    over = np.maximum(wear - truth.past_um, 0.0)
    return wear + (truth.past_factor - 1.0) * over


def _hours_to_limit(
    made: _Class, e: int, start: float, now: float, path: float, delta: float, rate: float, more: float
) -> float:
    """Followed on step by step from now."""
    truth, rng = made.truth, made.rng
    scale = UNEVEN_UM**2 / PER_KH
    fine = STEP_KH / max(truth.scale, 1.0)
    hours = np.arange(0.0, LONGEST_KH / max(truth.scale, 1.0), fine)
    worn = made.pace_hours(e, start, now + hours)
    steps = rng.gamma(np.maximum(more * rate * np.diff(worn) / scale, 1e-9), scale)
    running_in = 0.04 * ALLOWANCE_UM * -np.expm1(-(now + hours))
    level = _past_depth(path + np.r_[0.0, np.cumsum(steps)] + running_in, truth) + delta
    past = np.flatnonzero(level >= ALLOWANCE_UM)
    return float(hours[past[0]]) if past.size else np.inf


def _calendar(made: _Class) -> Calendar:
    """Dates a change may have fallen on, as the tool lays them out, and the recorded one."""
    n_e = made.n_engines
    years = np.array([made.year(e, made.opened[e]) for e in range(n_e)])
    dates = change_dates(float(years.min()), float(years.max()))
    recorded = np.zeros(len(dates), dtype=bool)
    if made.truth.recorded:
        dates, recorded = np.r_[dates, made.changed], np.r_[recorded, True]
    order = np.argsort(dates, kind="stable")
    dates, recorded = dates[order], recorded[order]
    hours = np.array([[made.hours_at(e, year) for e in range(n_e)] for year in dates])
    touches = np.ones(hours.shape, dtype=bool)
    return Calendar(dates, np.arange(n_e), hours, np.arange(n_e), recorded, touches)


def without_calendar(readings: ClassReadings) -> ClassReadings:
    """The same for the model without a clock."""
    return replace(readings, calendar=None)


def priors_of_study() -> Priors:
    """The default priors."""
    return Priors()
