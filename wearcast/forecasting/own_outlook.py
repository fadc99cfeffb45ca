"""The outlook by the own line alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wearcast.forecasting.classes import WearClass
from wearcast.forecasting.outlook import QUANTILES, Outlook
from wearcast.forecasting.own import OwnForecasts, own_forecasts
from wearcast.lives.history import History

OWN_LINE_ONLY = "the forecast is this shell's own line"


def own_outlook(
    history: History, one: WearClass, own: OwnForecasts, counted: NDArray[np.bool_], running_in_h: float
) -> Outlook:
    """Forecast a class by each shell's own line; the point whose line reaches its limit first governs."""
    in_service = np.array([k for k in one.lives if history.lives[k].in_service], dtype=np.intp)
    governing = np.array([_governing(history, int(k), own) for k in in_service], dtype=np.intp)
    narrower = {
        coverage: own_forecasts(history, counted, running_in_h, coverage) for coverage in (0.90, 0.80, 0.50)
    }
    at = np.maximum(governing, 0)
    columns = [
        narrower[0.90].hours_p05, narrower[0.80].hours_p05, narrower[0.50].hours_p05, own.hours_p50,
        narrower[0.50].hours_p95, narrower[0.80].hours_p95, narrower[0.90].hours_p95,
    ]  # fmt: skip
    hours = np.stack([np.where(governing >= 0, column[at], np.nan) for column in columns], axis=1)
    use = np.array([history.engine_of(history.lives[k]).use.hours_per_year for k in in_service])
    lines = own.lines
    now_kh = np.array([history.engine_of(history.lives[k]).as_of_h for k in in_service]) / 1000
    began_kh = np.array([history.lives[k].fitted_h for k in in_service]) / 1000
    ahead_kh = now_kh - np.where(np.isfinite(began_kh), began_kh, now_kh) - lines.tau_mean_kh[at]
    level = lines.z_mean_um[at] + lines.rate_um_per_kh[at] * ahead_kh
    none = np.full(len(in_service), np.nan)
    return Outlook(
        key=one.key,
        lives=in_service,
        governing=governing,
        level_um=level,
        level_u_um=np.hypot(lines.z_mean_u_um[at], ahead_kh * lines.rate_u_um_per_kh[at]),
        rate_um_per_kh=lines.rate_um_per_kh[at],
        rate_u_um_per_kh=lines.rate_u_um_per_kh[at],
        hours=hours,
        p10_with_doubted_h=hours[:, QUANTILES.index(0.10)],
        years=hours[:, [1, 3, 5]] / use[:, None],
        p_next=none,
        p_following=none,
        borrowed=np.zeros(len(in_service)),
        reasons=tuple((OWN_LINE_ONLY,) for _ in in_service),
    )


def _governing(history: History, life: int, own: OwnForecasts) -> int:
    """The governing series of a life: the soonest by its line; else the first that has a limit of its own."""
    having = [k for k, one in enumerate(history.series) if one.life == life and one.governs]
    if not having:
        return -1
    hours = own.hours_p50[having]
    return having[int(np.nanargmin(hours))] if np.isfinite(hours).any() else having[0]
