"""The outlook by the pooled model: all sisters, positions and openings of a class at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearcast.forecasting.classes import WearClass
from wearcast.forecasting.outlook import DATE_QUANTILES, QUANTILES, Outlook, WithDoubted
from wearcast.forecasting.reasons import ClassFit, class_reasons
from wearcast.forecasting.windows import Window
from wearcast.lives.history import EngineAt, EngineKey, History
from wearcast.settings import Settings
from wearcast.units import DAYS_PER_YEAR, H_PER_KH
from wearcast.wear.crossing import HoursToLimit, hours_to_limit
from wearcast.wear.dates import probability_within, years_to_limit
from wearcast.wear.pooled import Posterior, posterior
from wearcast.wear.pooled.borrowed import borrowed
from wearcast.wear.pooled.rates import rates_above_zero
from wearcast.wear.pooled.screening import Screened, Screens, screen

Floats = NDArray[np.float64]


NEVER = 10**9
"""More positions than any opening has: banks of bearings are not looked at for a swapped end."""


@dataclass(frozen=True, eq=False)
class PooledClass:
    """The pooled model of one class: what is doubted, and the estimate made without it."""

    one: WearClass
    screened: Screened


def fit_class(one: WearClass, settings: Settings, confirmed: NDArray[np.bool_]) -> PooledClass:
    """Fit the pooled model of a class, leaving out what the rest does not bear out.

    Parameters
    ----------
    confirmed : ndarray of bool, shape (n readings of the history,)
        Readings measured again and found right: never left out.
    """
    limits = settings.thresholds
    screens = Screens(
        reading=limits.doubted_sd,
        share=limits.doubted_share,
        opening=limits.opening_error_t,
        opening_positions=limits.opening_error_positions,
        swap=limits.end_swap_log_likelihood,
        swap_left_out=limits.end_swap_left_out,
        swap_positions=limits.end_swap_positions if one.one_row else NEVER,
    )
    return PooledClass(one, screen(one.readings, settings.priors, screens, confirmed[one.rows]))


def pooled_outlook(
    history: History, fit: PooledClass, windows: dict[EngineKey, tuple[Window, ...]], settings: Settings
) -> Outlook:
    """Forecast the shells in service of a fitted class."""
    one = fit.one
    serving = np.array([history.lives[k].in_service for k in one.lives], dtype=bool)
    asked = np.flatnonzero(serving[one.readings.series_shell])
    kept = one.readings.only(~fit.screened.left_out)
    known = posterior(kept, fit.screened.estimate, asked)
    hours = hours_to_limit(known, QUANTILES)
    lives = one.lives[hours.shell]
    governing = hours.governing_series
    shown = _shown_series(known, hours)
    mean, covariance = known.moments()
    rate, rate_u = rates_above_zero(known)
    engines = [history.engine_of(history.lives[k]) for k in lives]
    use = _use_of(engines)
    share = borrowed(kept, fit.screened.estimate, asked)
    years = years_to_limit(hours, *use, DATE_QUANTILES)
    early_h = hours.hours_kh[:, QUANTILES.index(0.10)] * H_PER_KH
    without = WithDoubted(False, early_h, years[:, DATE_QUANTILES.index(0.10)], mean[shown, 0])
    return Outlook(
        key=one.key,
        lives=lives,
        governing=np.where(governing >= 0, one.series[np.maximum(governing, 0)], -1),
        shown=one.series[known.series[shown]],
        level_um=mean[shown, 0],
        level_u_um=np.sqrt(covariance[shown, 0, 0]),
        rate_um_per_kh=rate[shown],
        rate_u_um_per_kh=rate_u[shown],
        hours=hours.hours_kh * H_PER_KH,
        with_doubted=_with_doubted(fit, asked, without, use),
        years=years,
        p_next=_p_before(hours, use, engines, windows, 0),
        p_following=_p_before(hours, use, engines, windows, 1),
        borrowed=share[shown],
        reasons=class_reasons(ClassFit(history, one, fit.screened, known, hours, shown), settings),
        doubted=one.rows[fit.screened.left_out],
        disagree=fit.screened.disagree,
    )


def _shown_series(known: Posterior, hours: HoursToLimit) -> NDArray[np.intp]:
    """Place in the posterior of the governing series of each shell; of its first where none governs."""
    place = np.full(known.readings.n_series, -1, dtype=np.intp)
    place[known.series] = np.arange(len(known.series))
    first = np.searchsorted(np.sort(known.shell), hours.shell)
    by_shell = np.argsort(known.shell, kind="stable")
    return np.where(
        hours.governing_series >= 0, place[np.maximum(hours.governing_series, 0)], by_shell[first]
    )


def _use_of(engines: list[EngineAt]) -> tuple[Floats, Floats, Floats]:
    """Yearly use and its spread [kh], and years of history behind it, of the engine of every shell."""
    return (
        np.array([engine.use.hours_per_year for engine in engines]) / H_PER_KH,
        np.array([engine.use.sd_h for engine in engines]) / H_PER_KH,
        np.array([engine.use.years for engine in engines]),
    )


def _p_before(
    hours: HoursToLimit,
    use: tuple[Floats, Floats, Floats],
    engines: list[EngineAt],
    windows: dict[EngineKey, tuple[Window, ...]],
    which: int,
) -> Floats:
    """Chance that the limit is reached before the next (0) or the following (1) window."""
    years = np.full(len(engines), np.nan)
    for k, engine in enumerate(engines):
        ahead = windows[engine.key]
        if len(ahead) > which:
            years[k] = (ahead[which].on - engine.as_of).days / DAYS_PER_YEAR
    chance = probability_within(hours, np.nan_to_num(years)[:, None], *use)[:, 0]
    known = np.isfinite(years) & np.isfinite(use[0]) & (hours.governing_series >= 0)
    return np.where(known, chance, np.nan)


def _with_doubted(
    fit: PooledClass,
    asked: NDArray[np.intp],
    without: WithDoubted,
    use: tuple[Floats, Floats, Floats],
) -> WithDoubted:
    """The early end with the doubted readings left in, at the same standard deviations."""
    if not fit.screened.left_out.any():
        return without
    known = posterior(fit.one.readings, fit.screened.estimate, asked)
    hours = hours_to_limit(known, (0.10,))
    return WithDoubted(
        any=True,
        hours_p10=hours.hours_kh[:, 0] * H_PER_KH,
        years_p10=years_to_limit(hours, *use, (0.10,))[:, 0],
        level_um=known.moments()[0][_shown_series(known, hours), 0],
    )
