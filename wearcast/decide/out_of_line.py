"""What stands beside a place out of line: its sisters, its neighbours, its clearance and its deflection."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any

import numpy as np

from wearcast.companions.shaft_line import MainHeight, heights_of_mains
from wearcast.companions.web_deflection import deflection_trends, mains_beside
from wearcast.decide.compare_rows import CompareRow
from wearcast.decide.stand import Stand
from wearcast.forecasting.rows import ShellForecast
from wearcast.frames import records_of
from wearcast.lives.shells import Place
from wearcast.quantities import QUANTITIES

LEAST_DRIFT_U = 2.0
"""From how many standard uncertainties a drift of the deflection is told (judgement)."""


class BesideWalls:
    """What is read beside the walls of a whole fleet, worked out once and only where a place asks for it."""

    def __init__(self, stand: Stand) -> None:
        self.stand = stand

    @cached_property
    def clearances(self) -> dict[tuple[str, str, str], list[ShellForecast]]:
        """Rows of the forecast that are clearances, by vessel, engine and bearing."""
        found: dict[tuple[str, str, str], list[ShellForecast]] = {}
        for row in self.stand.forecast.rows:
            if row.quantity == "clearance":
                found.setdefault((row.vessel, row.engine, row.bearing), []).append(row)
        return found

    @cached_property
    def heights(self) -> tuple[MainHeight, ...]:
        """How the shaft stands at each main, with the rates of the forecast."""
        history = self.stand.forecast.history
        rates = {
            history.lives[one.life].place: (
                one.wear_rate_um_per_kh,
                one.wear_rate_u_um_per_kh,
            )
            for one in self.stand.forecast.rows
            if one.quantity == "wall" and one.half == "lower"
        }
        return heights_of_mains(history, self.stand.forecast.used, rates)

    @cached_property
    def drifts(self) -> list[dict[str, Any]]:
        """How the deflection of each throw drifts."""
        return records_of(deflection_trends(self.stand.forecast.history, self.stand.forecast.used))


def evidence(companions: BesideWalls, row: CompareRow, beside: Sequence[CompareRow]) -> CompareRow:
    """The row with what else is known of its place.

    Parameters
    ----------
    companions : BesideWalls
        Of the fleet.
    beside : sequence of CompareRow
        Its class.
    """
    said = [
        _headline(row),
        *_sisters(row, beside),
        *_neighbours(row, beside),
        *_points(companions.stand, row),
        *_clearance(companions, row),
        *_deflection(companions, row),
    ]
    return replace(row, reasons=tuple(said))


def _rate(row: CompareRow) -> str:
    mean, lo, hi = row.rate
    return f"{mean:.2f} ({lo:.2f} to {hi:.2f})"


def _headline(row: CompareRow) -> str:
    mean, lo, hi = row.beyond
    way = "faster" if mean > 0 else "slower"
    p = "under 0.001" if row.p_holm < 0.001 else f"{row.p_holm:.3f}"
    return (
        f"wears {_rate(row)} µm per 1000 h, by {abs(mean):.2f} ({min(abs(lo), abs(hi)):.2f} to "
        f"{max(abs(lo), abs(hi)):.2f}) {way} than engine and position account for (Holm p {p})"
    )


def _sisters(row: CompareRow, beside: Sequence[CompareRow]) -> list[str]:
    sisters = [
        f"{one.vessel} {_rate(one)}"
        for one in beside
        if one.position == row.position
        and (one.vessel, one.engine) != (row.vessel, row.engine)
        and not one.not_comparable
    ]
    return [f"sisters at the same place: {', '.join(sisters)}"] if sisters else []


def _neighbours(row: CompareRow, beside: Sequence[CompareRow]) -> list[str]:
    if not row.position.isdigit():
        return []
    near = {str(int(row.position) + step) for step in (-1, 1)}
    found = [
        f"{one.bearing.replace('_', ' ')} {one.position} {_rate(one)}"
        for one in beside
        if (one.vessel, one.engine) == (row.vessel, row.engine) and one.position in near
    ]
    return [f"neighbours in its own engine: {', '.join(found)}"] if found else []


def _points(stand: Stand, row: CompareRow) -> list[str]:
    """Rates of the points of the shell, where several are read and have a line of their own."""
    lines, series = stand.forecast.own.lines, stand.forecast.history.series
    found = [
        f"{one.point} {lines.rate_um_per_kh[k]:.2f}"
        for k, one in enumerate(series)
        if one.life == row.life and one.point and np.isfinite(lines.rate_um_per_kh[k])
    ]
    return [f"own lines of its points: {', '.join(found)} µm per 1000 h"] if len(found) > 1 else []


def _clearance(companions: BesideWalls, row: CompareRow) -> list[str]:
    """How fast its clearance grows beside that of its neighbours, and whether walls and clearance agree."""
    if QUANTITIES[row.quantity].belongs_to != "shell":
        return []
    own_bearing = (row.vessel, row.engine, row.bearing)
    mine = [v for v in companions.clearances.get(own_bearing, []) if v.position == row.position]
    said = []
    if mine:
        others = [
            v.wear_rate_um_per_kh
            for key, rows in companions.clearances.items()
            if key[2] == row.bearing and key != own_bearing
            for v in rows
        ]
        own, u = mine[0].wear_rate_um_per_kh, mine[0].wear_rate_u_um_per_kh
        beside = f", its sisters' {np.median(others):.2f} in the middle" if others else ""
        said.append(f"its clearance grows {own:.2f} ± {u:.2f} µm per 1000 h{beside}")
    place = Place(row.vessel, row.engine, row.bearing, row.position)
    found = companions.stand.forecast.disagreeing.get(place)
    if found is not None:
        said.append(found.text)
    elif mine:
        said.append("walls and clearance agree there")
    return said


def _deflection(companions: BesideWalls, row: CompareRow) -> list[str]:
    """What the deflections say of the height of a main, and how the throws beside it drift."""
    if row.bearing != "main" or not row.position.isdigit():
        return []
    said = [
        one.text.rstrip(".")
        for one in companions.heights
        if (one.vessel, one.engine, one.main) == (row.vessel, row.engine, int(row.position)) and one.text
    ]
    engine = companions.stand.forecast.history.engines[(row.vessel, row.engine)]
    drifts = [
        f"throw {one['position']} {one['drift_um_per_kh']:+.2f}"
        for one in companions.drifts
        if (one["vessel"], one["engine"]) == (row.vessel, row.engine)
        and int(row.position) in mains_beside(engine, str(one["position"]))
        and abs(one["drift_um_per_kh"]) > LEAST_DRIFT_U * one["drift_u_um_per_kh"]
    ]
    if drifts:
        said.append(f"the deflections beside it drift: {', '.join(drifts)} µm per 1000 h, webs opening plus")
    return said or ["no deflection beside it tells how the shaft stands there"]
