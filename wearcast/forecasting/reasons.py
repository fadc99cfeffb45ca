"""What widened or moved a forecast, in plain sentences."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearcast.forecasting.solved import ClassForecast
from wearcast.lives.history import History
from wearcast.lives.shells import STANDARD, Life, same_size
from wearcast.settings import Settings
from wearcast.units import H_PER_KH
from wearcast.words import grouped


@dataclass(frozen=True, eq=False)
class _Shell:
    """One shell in service, with its readings as rows of the class."""

    history: History
    fit: ClassForecast
    settings: Settings
    k: int
    life: Life
    rows: NDArray[np.intp]

    @property
    def used(self) -> NDArray[np.intp]:
        """Rows that are in the fit."""
        return self.rows[~self.fit.screened.left_out[self.rows]]


def _few_readings(shell: _Shell) -> str:
    openings = len(np.unique(shell.fit.one.readings.opening[shell.used]))
    if openings == 0:
        return "no reading of this shell yet: the forecast is its sisters' and its place's"
    if openings == 1:
        return "one opening of this shell: the rate rests on its sisters"
    return ""


def _no_limit(shell: _Shell) -> str:
    if shell.fit.hours.governing_series[shell.k] >= 0:
        return ""
    return "no point with a limit of its own was read: trended, never forecast"


def _points_without_limit(shell: _Shell) -> str:
    """Points read that have no limit of their own, where another point governs."""
    fit = shell.fit
    mine = fit.one.readings.series_shell == fit.hours.shell[shell.k]
    points = [
        shell.history.series[int(fit.one.series[at])].point
        for at in np.flatnonzero(mine & ~np.isfinite(fit.one.readings.series_limit_um)).tolist()
    ]
    if not points or fit.hours.governing_series[shell.k] < 0:
        return ""
    return f"{', '.join(points)} without a limit of its own: trended, does not govern"


def _unknown_fitting(shell: _Shell) -> str:
    return (
        "fitted at an unknown time: wear before the first reading is not known"
        if shell.life.fitting == "unknown"
        else ""
    )


def _assumed_new(shell: _Shell) -> str:
    return "taken as new at 0 h: no fitting is recorded" if shell.life.fitting == "assumed" else ""


def _undersize(shell: _Shell) -> str:
    if same_size(shell.life.shell_size, STANDARD):
        return ""
    return (
        f"shell size {shell.life.shell_size}: it shares wear rates with the other sizes, not walls or limits"
    )


def _doubted(shell: _Shell) -> str:
    screened = shell.fit.screened
    faults = int(screened.towards[shell.rows].sum())
    said = []
    for n, what in (
        (faults, "held as a slip and as a fault coming on"),
        (int(screened.left_out[shell.rows].sum()) - faults, "left out"),
    ):
        if n:
            said.append(f"{n} doubted reading{'s' if n > 1 else ''} {what}")
    if screened.quickened[shell.rows].any():
        said.append("the last interval, measured again, wore faster than before: its rate goes on")
    return ", ".join(said)


def _gauge_error(shell: _Shell) -> str:
    """Openings of this shell left out because all positions had moved together."""
    fit = shell.fit
    labels = fit.one.readings.opening
    said = []
    for gauge in fit.screened.gauges:
        rows = shell.rows[labels[shell.rows] == gauge.opening]
        if len(rows):
            said.append(
                f"a gauge error of {gauge.error_um:+.0f} um of wear at the opening of {_date(shell, rows[0])}"
            )
    return ", ".join(said)


def _end_swap(shell: _Shell) -> str:
    """Openings of this shell left out because they fit better counted from the other end."""
    fit = shell.fit
    labels = fit.one.readings.opening
    for end in fit.screened.ends:
        rows = shell.rows[labels[shell.rows] == end.opening]
        if len(rows) and end.left_out:
            return f"the opening of {_date(shell, rows[0])} seems written from the other end"
    return ""


def _date(shell: _Shell, row: int) -> str:
    return str(shell.history.readings["date"].iloc[int(shell.fit.one.rows[row])].date())


def _beyond_hours_seen(shell: _Shell) -> str:
    seen_kh = float(shell.fit.one.readings.tau_kh.max(initial=0.0))
    factor = shell.settings.thresholds.beyond_hours_seen
    now_kh = float(shell.fit.one.readings.shell_tau_now_kh[shell.fit.hours.shell[shell.k]])
    middle = shell.fit.hours.hours_kh[shell.k, list(shell.fit.hours.probabilities).index(0.50)]
    at_kh = now_kh + (middle if np.isfinite(middle) else np.inf)
    if shell.fit.hours.governing_series[shell.k] < 0 or at_kh <= factor * seen_kh:
        return ""
    seen = grouped(seen_kh * H_PER_KH)
    return f"the middle of the range lies beyond {factor:g} times the hours seen in this class ({seen} h)"


def _beyond_overlay(shell: _Shell) -> str:
    limit = shell.history.series[int(shell.fit.shown[shell.k])].limit
    overlay_um = np.nan if limit is None else limit.overlay_um
    if not np.isfinite(overlay_um) or shell.fit.metal_worn_um[shell.k] < overlay_um:
        return ""
    return f"worn past the overlay ({overlay_um:.0f} um): what lies beneath may wear at another rate"


def _one_engine(shell: _Shell) -> str:
    if shell.fit.one.readings.n_engines > 1:
        return ""
    return "one engine only: what is its own and what its type's cannot be told apart; the priors carry it"


def _strained(shell: _Shell) -> str:
    if "reading_error" not in shell.fit.screened.estimate.strained:
        return ""
    return "the readings of this class scatter more than gauges do: look for slips that hide one another"


def _carried(shell: _Shell) -> str:
    engine = shell.history.engine_of(shell.life)
    return "hours carried forward from the last counter reading" if engine.as_of_sd_h > 0 else ""


REASONS: tuple[Callable[[_Shell], str], ...] = (
    _no_limit,
    _points_without_limit,
    _few_readings,
    _doubted,
    _gauge_error,
    _end_swap,
    _unknown_fitting,
    _assumed_new,
    _undersize,
    _beyond_overlay,
    _beyond_hours_seen,
    _one_engine,
    _strained,
    _carried,
)
"""A new reason is one function and one line here; each gives a sentence, or nothing."""


def class_reasons(history: History, fit: ClassForecast, settings: Settings) -> tuple[tuple[str, ...], ...]:
    """The reasons of every shell of a class, in the order of `REASONS`."""
    shell_of_row = fit.one.readings.reading_shell
    found = []
    for k, index in enumerate(fit.shells.tolist()):
        life = history.lives[int(fit.one.lives[index])]
        shell = _Shell(history, fit, settings, k, life, np.flatnonzero(shell_of_row == index))
        found.append(tuple(text for text in (reason(shell) for reason in REASONS) if text))
    return tuple(found)
