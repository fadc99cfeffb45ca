"""What the signs of the web deflections say about the height of each main, beside how fast it wears.

A bearing that stands high carries too much and wears fast; one that is low sheds its load to its neighbours
(common practice). So the fastest-wearing shell is not always the one that is low: the sign tells which.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.companions.web_deflection import GOOD_SHARE, deflection_limits, stroke_mm, web_deflections
from wearcast.frames import groups_of, rows_of
from wearcast.lives.history import History
from wearcast.lives.shells import Place
from wearcast.quantities import CROWN_POINTS
from wearcast.units import H_PER_KH, UM_PER_MM
from wearcast.wear.own_line import fit_lines

CLEAR_FROM_U = 2.0
"""From how many standard uncertainties a sign is read (judgement)."""

FAST_SHARE = 1.5
"""A shell wears fast from this many times the middle of the engine's mains (judgement)."""

Height = Literal["high", "low", ""]


@dataclass(frozen=True)
class MainHeight:
    """One main of one engine at one measurement of the deflections.

    Attributes
    ----------
    vertical_mm, u_mm : float
        Mean vertical deflection of the throws beside it, webs opening plus, and its standard uncertainty [mm].
    height : "high", "low" or ""
        How the shaft stands there; empty where the signs do not tell.
    throws : tuple of str
        The throws beside it.
    wear_rate_um_per_kh, wear_rate_u_um_per_kh : float
        Of the lower shell in service there; NaN where it has none.
    overloaded : bool
        High, and its lower shell wears clearly faster than those of the other mains.
    text : str
        One sentence; empty where nothing stands out.
    """

    vessel: str
    engine: str
    on: date
    main: int
    throws: tuple[str, ...]
    vertical_mm: float
    u_mm: float
    height: Height
    wear_rate_um_per_kh: float
    wear_rate_u_um_per_kh: float
    overloaded: bool
    text: str


Rates = Mapping[Place, tuple[float, float]]
"""Wear rate and its standard uncertainty [µm/kh] by place."""


def heights_of_mains(
    history: History, counted: NDArray[np.bool_], rates: Rates | None = None
) -> tuple[MainHeight, ...]:
    """Read the signs of the last measurement of every engine, main by main in shaft order.

    Parameters
    ----------
    rates : mapping, optional
        Wear rates of the lower main shells in service, such as those of a forecast; the straight lines through
        their crown readings otherwise.
    """
    table = web_deflections(history, counted)
    table = table[table["vertical_mm"].notna() & table["main_before"].notna()]
    rates = lower_main_rates(history, counted) if rates is None else rates
    found: list[MainHeight] = []
    for (vessel, engine), of_engine in groups_of(table, ["vessel", "engine"]):
        last = of_engine[of_engine["date"] == of_engine["date"].max()].drop_duplicates(
            "position", keep="last"
        )
        found += _one_engine(vessel, engine, last, rates, ordinary_mm(history, vessel, engine))
    return tuple(found)


def ordinary_mm(history: History, vessel: str, engine: str) -> float:
    """Deflection [mm] that nothing is read from: the new range, else the share of the stroke called good, else 0."""
    stand = history.engines[(vessel, engine)]
    limits = deflection_limits(history, stand)
    new_mm = max(abs(limits.new_min_mm), abs(limits.new_max_mm))
    by_rule_mm = stroke_mm(stand) * GOOD_SHARE
    return new_mm if np.isfinite(new_mm) else (by_rule_mm if np.isfinite(by_rule_mm) else 0.0)


def _one_engine(
    vessel: str, engine: str, last: pd.DataFrame, rates: Rates, ordinary: float
) -> list[MainHeight]:
    throws = list(rows_of(last))
    mains = sorted({int(main) for row in throws for main in (row.main_before, row.main_after)})
    mine = {
        main: rates.get(Place(vessel, engine, "main", str(main), "lower"), (np.nan, np.nan)) for main in mains
    }
    typical = float(np.nanmedian([rate for rate, _ in mine.values()])) if _any(mine) else np.nan
    found = []
    for main in mains:
        beside = [row for row in throws if main in (row.main_before, row.main_after)]
        vertical_mm = float(np.mean([row.vertical_mm for row in beside]))
        u_mm = float(np.sqrt(np.sum([row.vertical_u_um**2 for row in beside]))) / len(beside) / UM_PER_MM
        height = _height([row.vertical_mm for row in beside], vertical_mm, max(CLEAR_FROM_U * u_mm, ordinary))
        names = tuple(str(row.position) for row in beside)
        rate, rate_u = mine[main]
        clear = CLEAR_FROM_U * rate_u if np.isfinite(rate_u) else np.inf
        fast = rate > FAST_SHARE * typical and rate - typical > clear
        overloaded = height == "high" and bool(fast)
        found.append(
            MainHeight(
                vessel=vessel,
                engine=engine,
                on=last["date"].iloc[0].date(),
                main=main,
                throws=names,
                vertical_mm=vertical_mm,
                u_mm=u_mm,
                height=height,
                wear_rate_um_per_kh=rate,
                wear_rate_u_um_per_kh=rate_u,
                overloaded=overloaded,
                text=_sentence(main, names, vertical_mm, height, rate, typical, overloaded),
            )
        )
    return found


def _any(rates: Mapping[int, tuple[float, float]]) -> bool:
    return bool(np.isfinite([rate for rate, _ in rates.values()]).any())


def _height(beside_mm: list[float], mean_mm: float, clear_mm: float) -> Height:
    """A sign is read where all throws beside the main share it and their mean stands clear of the ordinary."""
    if abs(mean_mm) <= clear_mm:
        return ""
    if all(mm > 0 for mm in beside_mm):
        return "low"
    if all(mm < 0 for mm in beside_mm):
        return "high"
    return ""


def _sentence(
    main: int,
    throws: tuple[str, ...],
    vertical_mm: float,
    height: Height,
    value: float,
    typical: float,
    overloaded: bool,
) -> str:
    if not height:
        return ""
    where = f"throws {' and '.join(throws)}" if len(throws) > 1 else f"throw {throws[0]}"
    moves = "open" if height == "low" else "close"
    said = f"Webs of {where} {moves} towards the top ({vertical_mm:+.3f} mm): the shaft stands {height} at main {main}"
    if not np.isfinite(value):
        return f"{said}; no wear rate is known there."
    said += f", where the lower shell wears {value:.1f} µm per 1000 h (the middle of the mains {typical:.1f})"
    if overloaded:
        return (
            f"{said}: a high bearing carries too much and wears fast. Have the alignment looked at; a new shell "
            "alone restores the overload."
        )
    if height == "low" and value - typical < 0:
        return f"{said}: a low bearing sheds its load to its neighbours; look at those too."
    return f"{said}."


def lower_main_rates(history: History, counted: NDArray[np.bool_]) -> dict[Place, tuple[float, float]]:
    """Straight-line wear rate [µm/kh] of the lower main shells in service, and its standard uncertainty.

    Through the crown readings of each life, running-in and new walls included; places with one reading are left
    out.
    """
    readings = history.readings
    lives = [
        k
        for k, life in enumerate(history.lives)
        if life.in_service
        and life.quantity == "wall"
        and (life.place.bearing, life.place.half) == ("main", "lower")
    ]
    number = np.full(len(history.lives), -1, dtype=np.intp)
    number[lives] = np.arange(len(lives))
    series = number[readings["life"].to_numpy(dtype=np.intp)]
    wear_um = readings["wear_um"].to_numpy(dtype=np.float64)
    chosen = counted & (series >= 0) & readings["point"].isin(CROWN_POINTS).to_numpy() & np.isfinite(wear_um)
    lines = fit_lines(
        readings["tau_h"].to_numpy(dtype=np.float64)[chosen] / H_PER_KH,
        wear_um[chosen],
        readings["u_um"].to_numpy(dtype=np.float64)[chosen],
        series[chosen],
        len(lives),
    )
    return {
        history.lives[life].place: (float(lines.rate_um_per_kh[k]), float(lines.rate_u_um_per_kh[k]))
        for k, life in enumerate(lives)
        if np.isfinite(lines.rate_um_per_kh[k])
    }
