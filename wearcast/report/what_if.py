"""What a page carries so that it can answer what if: plain values, few for every shell, and the form's words.

The hours to the limit of a shell do not hang on how much the engine will run, on windows, accepted risk or lead
time. So level and rate, their covariance and the uneven wear are integrated here, once, into the chance over the
hours; the page joins it with use and windows by itself (`assets/what_if.js`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from wearcast.decide.order import Order
from wearcast.decide.order_lines import HORIZON_YEARS
from wearcast.decide.plan import Plan
from wearcast.decide.stand import fixed_hours_h, left_at_counter_h
from wearcast.decide.steps import horizon_from
from wearcast.forecasting.run import Forecast
from wearcast.forecasting.solved import ClassForecast
from wearcast.forecasting.statements import URGENT
from wearcast.lives.history import EngineAt, EngineKey
from wearcast.lives.hours import SPREAD_WHERE_UNKNOWN
from wearcast.report.what_if_curves import Curves, shared_hours
from wearcast.wear.crossing import HoursToLimit

RowKey = tuple[str, str, str, str, str, str]
"""Vessel, engine, bearing, position, half and quantity: the same in the forecast and where decisions are made."""

SERVING, WITHOUT_DOUBTED, WITH_DOUBTED, NEW = "serving", "without_doubted", "with_doubted", "new"


@dataclass(frozen=True, eq=False)
class _Kept:
    """The curve of one shell: which of the curves of a class."""

    curves: Curves
    row: int

    def carried(self, with_own: bool) -> list[Any] | None:
        return self.curves.carried(self.row, with_own)


class WhatIfSource:
    """What the pages of a forecast carry, worked out once for all of them.

    Parameters
    ----------
    forecast : Forecast
        What the pages show.
    plan, order : optional
        From `wearcast.decide`, made from the same records; without them only dates and statements move.
    """

    def __init__(self, forecast: Forecast, plan: Plan | None = None, order: Order | None = None) -> None:
        self.forecast = forecast
        self.plan = plan
        self.order = order

    @cached_property
    def _row_keys(self) -> dict[RowKey, int]:
        """Number of every row of the forecast."""
        return {row.key: number for number, row in enumerate(self.forecast.rows)}

    @property
    def _classes(self) -> list[ClassForecast]:
        return [one for one in self.forecast.classes if len(one.lives)]

    @cached_property
    def _hours(self) -> list[tuple[ClassForecast, dict[str, HoursToLimit]]]:
        """Hours from the last counter reading, class by class: what dates and chances are reckoned from."""
        found = []
        for one in self._classes:
            at = one.at_counter
            hours = {SERVING: at.hours}
            if (doubted := at.hours_with_doubted) is not None:
                hours[WITH_DOUBTED] = doubted
            if one.unsettled.any():
                hours[WITHOUT_DOUBTED] = at.hours_without_doubted
            if self.plan is not None:
                hours[NEW] = at.hours_of_new_shells
            found.append((one, hours))
        return found

    @cached_property
    def grid_kh(self) -> np.ndarray:
        """Hours shared by all curves [kh]."""
        return shared_hours([hours for _, kinds in self._hours for hours in kinds.values()])

    @cached_property
    def curves(self) -> dict[tuple[int, str], _Kept]:
        """Curves by row of the forecast and kind."""
        found: dict[tuple[int, str], _Kept] = {}
        numbers = {row.life: k for k, row in enumerate(self.forecast.rows)}
        for one, kinds in self._hours:
            for kind, hours in kinds.items():
                made = Curves.of(hours, self.grid_kh)
                found |= {(numbers[int(life)], kind): _Kept(made, k) for k, life in enumerate(one.lives)}
        return found

    @cached_property
    def _moments(self) -> dict[int, dict[str, Any]]:
        """Level, rate, their covariance and uneven wear at the governing point, by row: what a reader may look at."""
        numbers = {row.life: k for k, row in enumerate(self.forecast.rows)}
        found = {}
        for one in self._classes:
            (mean, covariance), uneven = one.moments, one.uneven_um2_per_kh
            rows = zip(mean, covariance, uneven, one.lives.tolist(), one.governing, strict=True)
            for m, v, w, life, series in rows:
                if series >= 0:
                    limit = self.forecast.history.series[series].limit
                    assert limit is not None  # it governs
                    found[numbers[life]] = {
                        "level_um": _figures(m[0]),
                        "rate_um_per_kh": _figures(m[1], 5),
                        "covariance": [_figures(v[0, 0], 5), _figures(v[0, 1], 5), _figures(v[1, 1], 5)],
                        "uneven_um2_per_kh": _figures(w, 5),
                        "limit_um": _figures(limit.allowance_um),
                    }
        return found

    def payload(self, keys: Iterable[EngineKey] | None = None) -> dict[str, Any]:
        """What the page of some engines carries, all of them by default: numbers, texts and lists only."""
        history = self.forecast.history
        every = list(history.engines) if keys is None else list(keys)
        number_of = {key: k for k, key in enumerate(every)}
        rows = [
            self._row(number, number_of[key])
            for number, row in enumerate(self.forecast.rows)
            if (key := (row.vessel, row.engine)) in number_of
        ]
        made: dict[str, Any] = {
            "run_on": history.records.run_date.isoformat(),
            "risk": self.forecast.settings.risk,
            "grid_h": [float(f"{1000.0 * kh:.8g}") for kh in self.grid_kh.tolist()],
            "engines": [
                _engine(history.engines[key])
                | {
                    "passed_windows": [
                        str(on) for on in self.forecast.going_on[key].passed(history.engines[key].as_of)
                    ]
                }
                for key in every
            ],
            "windows": self._windows(every),
            "rows": rows,
        }
        if self.plan is not None:
            made["plan"] = self._plan(number_of)
        if self.order is not None:
            made["order"] = self._order(number_of, whole_fleet=keys is None)
        return made

    def _row(self, number: int, engine: int) -> dict[str, Any]:
        row = self.forecast.rows[number]
        made: dict[str, Any] = {
            "row": number,
            "engine": engine,
            "place": f"{row.bearing.replace('_', ' ')} {row.position}",
            "what": " ".join(filter(None, (row.half, row.quantity.replace("_", " ")))),
            "openings": row.facts.openings,
        }
        marks = {
            "damage": row.facts.damage,
            "past": row.facts.past,
            "disagree": row.facts.disagree and row.with_doubted is None,
            "changed_rate": row.facts.changed_rate,
        }
        made |= {name: 1 for name, holds in marks.items() if holds}
        made |= self._moments.get(number, {})
        if self.forecast.history.lost_events(self.forecast.history.lives[row.life]):
            return made | self._row_at_stand(number)
        if (serving := self._carried(number, SERVING)) is not None:
            made["hours"] = serving
        if (new := self._carried(number, NEW, with_own=False)) is not None:
            made["new"] = new
        halves = ((WITHOUT_DOUBTED, row.without_doubted), (WITH_DOUBTED, row.with_doubted))
        for kind, facts in halves:
            if facts is not None and (number, kind) in self.curves:
                made[kind] = {"past": int(facts.past), "hours": self._carried(number, kind)}
        return made | self._row_at_stand(number)

    def _carried(self, number: int, kind: str, with_own: bool = True) -> list[Any] | None:
        kept = self.curves.get((number, kind))
        return None if kept is None else kept.carried(with_own)

    def _row_at_stand(self, number: int) -> dict[str, Any]:
        """What is needed at once where decisions are made, and the maker's fixed hours."""
        life = None if self.plan is None else self._stand_lives.get(number)
        if self.plan is None or life is None:
            return {}
        stand, made = self.plan.stand, dict[str, Any]()
        statement = stand.row_of_life[life].statement
        if statement in URGENT:
            made["at_once"] = statement
        left_h, whole_h = left_at_counter_h(stand, life), fixed_hours_h(stand, life)
        if np.isfinite(left_h):
            made["fixed_left_h"] = _figures(left_h)
        if np.isfinite(whole_h):
            made["fixed_h"] = _figures(whole_h)
        return made

    @cached_property
    def _stand_lives(self) -> dict[int, int]:
        """Shell life where decisions are made, by row of the forecast."""
        assert self.plan is not None
        return {
            number: life
            for life, row in self.plan.stand.row_of_life.items()
            if (number := self._row_keys.get(row.key)) is not None
        }

    def _windows(self, every: list[EngineKey]) -> list[dict[str, Any]]:
        """Windows of the engines, each once though several engines of a vessel share it."""
        found: dict[int, dict[str, Any]] = {}
        for k, key in enumerate(every):
            for window in self.forecast.windows[key]:
                one = found.setdefault(
                    window.row,
                    {
                        "row": window.row,
                        "on": window.on.isoformat(),
                        "name": window.name,
                        "most": window.max_openings,
                        "engines": [],
                    },
                )
                one["engines"].append(k)
        return sorted(found.values(), key=lambda one: (one["engines"][0], one["on"], one["row"]))

    def _plan(self, number_of: dict[EngineKey, int]) -> dict[str, Any]:
        assert self.plan is not None
        stand = self.plan.stand
        return {
            "as_of": stand.as_of.isoformat(),
            "risk": self.plan.risk,
            "horizon_end": self.plan.horizon_end.isoformat(),
            "openings": [
                [number_of[one.key], str(one), one.window.row, int(one.planned), one.window.on.isoformat()]
                for one in self.plan.openings
                if one.key in number_of
            ],
        }

    def _order(self, number_of: dict[EngineKey, int], whole_fleet: bool) -> dict[str, Any]:
        """Order lines of the parts the engines take; what each counts only where the whole fleet is carried."""
        assert self.order is not None
        stand = self.order.stand
        numbers = {
            life: self._row_keys[row.key]
            for life, row in stand.row_of_life.items()
            if row.key in self._row_keys
        }
        lines = []
        for line in self.order.lines:
            part = line.part
            if not any((taker.vessel, taker.engine) in number_of for taker in line.takers):
                continue
            ends = line.cover_ends_years
            one: dict[str, Any] = {
                "key": "|".join((part.engine_type, part.bearing, part.half, part.shell_size)),
                "part": str(part),
                "lead_days": _days(part.lead_time_days) if part.in_spares else None,
                "known": int(part.in_spares),
                "further_days": _days(part.forwarding_days + part.margin_days),
                "ends_days": int(np.floor(ends * 365.25 + 1e-6)) if np.isfinite(ends) else None,
                "quantity": line.quantity,
            }
            if whole_fleet:
                one["stock"] = part.on_hand + part.on_order - part.minimum_on_board
                one["needs"] = [
                    [numbers[life] for life in lives if life in numbers] for lives in line.need_lives
                ]
            lines.append(one)
        return {
            "as_of": stand.as_of.isoformat(),
            "horizon_end": horizon_from(stand.as_of, HORIZON_YEARS).isoformat(),
            "service": self.order.service,
            "lines": lines,
        }


def _engine(engine: EngineAt) -> dict[str, Any]:
    """Use of an engine and how its spread follows another use, as `wearcast.lives.hours.hours_per_year` has it."""
    use = engine.use
    stated = engine.facts.get("hours_per_year_sd")
    fixed = isinstance(stated, float) and np.isfinite(stated)
    share = not fixed and (not use.known or use.sd_h == SPREAD_WHERE_UNKNOWN * use.hours_per_year)
    return {
        "vessel": engine.vessel,
        "engine": engine.engine,
        "as_of": engine.as_of.isoformat(),
        "counter_on": engine.last_counter_on.isoformat(),
        "hours_per_year": _figures(use.hours_per_year) if use.known else None,
        "sd_h": None if share else _figures(float(stated) if fixed else use.sd_h),  # type: ignore[arg-type]
        "sd_share": SPREAD_WHERE_UNKNOWN if share else None,
        "history_years": _figures(use.years) if use.known else None,
    }


def _figures(value: float, figures: int = 7) -> float:
    """A number of so many figures; seven are what a page needs to agree to a day."""
    return float(f"{float(value):.{figures}g}")


def _days(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
