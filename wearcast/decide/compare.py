"""Sisters side by side: wear rates, what engine, position and place add, ranks, and who is out of line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from wearcast.decide.compare_rows import COLUMNS, CompareRow, class_rates, class_rows, values_of
from wearcast.decide.out_of_line import BesideWalls, evidence
from wearcast.decide.parts import ORDERED_BY
from wearcast.decide.slopes import SlopesTest, equal_slopes, holm
from wearcast.decide.stand import Stand, take_stand
from wearcast.decide.what_if import WhatIf, changed_records
from wearcast.decide.whole import Whole, wholes
from wearcast.forecasting.classes import ClassKey
from wearcast.forecasting.solved import ClassForecast
from wearcast.lives.only import Only
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.shown import Shown
from wearcast.sources import records_from
from wearcast.units import H_PER_KH
from wearcast.wear.pooled.rate_effects import RateEffects

LEVEL = 0.05
"""Corrected chance of a false alarm, over all places compared, from which one is named (judgement)."""

WIDTH90 = 3.29
"""Standard deviations between the ends of a 90 % range of a normal distribution."""


@dataclass(frozen=True)
class EngineEffect:
    """What one engine adds to the rate at all its places [µm/kh], with its 90 % range."""

    vessel: str
    engine: str
    effect: float
    lo90: float
    hi90: float
    p_holm: float


@dataclass(frozen=True, eq=False)
class ClassComparison:
    """One class of sisters.

    Attributes
    ----------
    rows : tuple of CompareRow
        Places, engines beside one another at each position.
    engines : tuple of EngineEffect
    slopes : mapping of position to SlopesTest
        F test of equal slopes of the sisters' own lines at each position, Holm-corrected over positions.
    """

    key: ClassKey
    rows: tuple[CompareRow, ...]
    engines: tuple[EngineEffect, ...]
    slopes: dict[str, SlopesTest]


@dataclass(frozen=True, eq=False, repr=False)
class Comparison(Shown):
    """All classes side by side.

    Attributes
    ----------
    classes : tuple of ClassComparison
    wholes : tuple of Whole
        Every engine over all its places against its sisters.
    blind_below : float
        The share of a rate under which a difference at one place would not be named; NaN where none could be.
    what_if, as_given
        The changes tried, and the comparison without them.
    """

    stand: Stand
    classes: tuple[ClassComparison, ...]
    wholes: tuple[Whole, ...] = ()
    blind_below: float = float("nan")
    what_if: WhatIf | None = None
    as_given: Comparison | None = None

    @property
    def rows(self) -> tuple[CompareRow, ...]:
        """Places of all classes."""
        return tuple(row for one in self.classes for row in one.rows)

    @property
    def out_of_line(self) -> tuple[CompareRow, ...]:
        """Places named, surest first."""
        return tuple(sorted((row for row in self.rows if row.out_of_line), key=lambda row: row.p_holm))

    def narrowed(self, only: Only) -> Comparison:
        """The places asked for; each stays compared with all its sisters."""
        only.among(row.key[:4] for row in self.stand.forecast.rows)

        def mine(rows: tuple[CompareRow, ...]) -> tuple[CompareRow, ...]:
            return tuple(one for one in rows if only.holds(one.vessel, one.engine, one.bearing, one.position))

        classes = (replace(one, rows=mine(one.rows)) for one in self.classes)
        return replace(
            self,
            classes=tuple(one for one in classes if one.rows),
            wholes=tuple(one for one in self.wholes if only.holds(*one.key)),
            as_given=self.as_given and self.as_given.narrowed(only),
        )

    def headline(self) -> str:
        """How many places were compared, and how many stand out of line."""
        compared = sum(not row.not_comparable for row in self.rows)
        return f"Comparison of {compared} places: {len(self.out_of_line)} out of line"

    def glance(self) -> pd.DataFrame:
        """The fastest of each position first."""
        shown = [
            "vessel",
            "engine",
            "bearing",
            "position",
            "half",
            "wear_rate_um_per_kh",
            "rank",
            "out_of_line",
        ]
        return self.table[shown].sort_values("wear_rate_um_per_kh", ascending=False)

    @property
    def table(self) -> pd.DataFrame:
        """One row a place with a shell in service."""
        return pd.DataFrame([values_of(row) for row in self.rows], columns=list(COLUMNS))


def compare(
    records: RecordSet | str | Path,
    settings: Settings | None = None,
    what_if: WhatIf | None = None,
    leave_out_faulty: bool = False,
) -> Comparison:
    """Compare sister engines place by place.

    Parameters
    ----------
    records : RecordSet or path
        From `wearcast.read`, or where it lies.
    settings : Settings, optional
    what_if : WhatIf, optional
        Changes to try; the result then holds both cases.

    Returns
    -------
    Comparison

    Raises
    ------
    InputRefused
        If the record set holds rows that cannot be used.
    """
    records = records_from(records)
    stand = take_stand(records, None, settings, leave_out_faulty)
    made = compare_at(stand)
    if what_if is None or not what_if.any:
        return made
    case = made
    if what_if.touches_forecast:
        changed = take_stand(changed_records(records, what_if), what_if.as_of, settings, leave_out_faulty)
        case = compare_at(changed)
    return replace(case, what_if=what_if, as_given=made)


def compare_at(stand: Stand) -> Comparison:
    """The comparison of a fleet that stands already."""
    chosen = [ahead for ahead in stand.classes if _compared(ahead.key, stand)]
    effects = [ahead.rate_effects for ahead in chosen]
    rates = [class_rates(ahead) for ahead in chosen]
    rows = [class_rows(stand, *one) for one in zip(chosen, effects, rates, strict=True)]
    # One correction over all places looked at: with many, something is always the worst.
    every = [row for of_class in rows for row in of_class]
    corrected = iter(holm(np.array([row.p if not row.not_comparable else np.nan for row in every])))
    marked = [
        [replace(row, p_holm=(p := float(next(corrected))), out_of_line=bool(p < LEVEL)) for row in of_class]
        for of_class in rows
    ]
    classes = [
        _class(stand, ahead, effect, of_class)
        for ahead, effect, of_class in zip(chosen, effects, marked, strict=True)
    ]
    companions = BesideWalls(stand)
    told = [
        replace(
            one,
            rows=tuple(evidence(companions, row, one.rows) if row.out_of_line else row for row in one.rows),
        )
        for one in classes
    ]
    of_rows = [
        drawn[:, np.searchsorted(ahead.lives, [row.life for row in of_class])]
        for ahead, drawn, of_class in zip(chosen, rates, rows, strict=True)
    ]
    engines = wholes(list(zip(rows, of_rows, strict=True)))
    return Comparison(stand, tuple(told), engines, _blind_below(every))


def _blind_below(rows: list[CompareRow]) -> float:
    """A place is named from so many of its standard deviations; as a share of its rate, in the middle of the places."""
    from scipy.special import ndtri

    compared = [row for row in rows if not row.not_comparable and row.rate[0] > 0]
    if not compared:
        return float("nan")
    at = -ndtri(LEVEL / 2 / len(compared)) / WIDTH90
    return float(np.median([at * (row.beyond[2] - row.beyond[1]) / row.rate[0] for row in compared]))


def _compared(key: ClassKey, stand: Stand) -> bool:
    """Walls and growths; a clearance only where no wall of the bearing is read: it is the same wear again."""
    if key.quantity in ORDERED_BY:
        return True
    walls = {
        (one.key.engine_type, one.key.bearing) for one in stand.classes if one.key.quantity in ORDERED_BY
    }
    return key.quantity == "clearance" and (key.engine_type, key.bearing) not in walls


def _class(
    stand: Stand, ahead: ClassForecast, effects: RateEffects, rows: list[CompareRow]
) -> ClassComparison:
    lines = _own_readings(stand, ahead)
    positions = list(dict.fromkeys(row.position for row in rows))
    tests = {at: equal_slopes(lines[lines["position"] == at]) for at in positions}
    corrected = holm(np.array([test.p for test in tests.values()]))
    slopes = {
        at: replace(test, p_holm=float(p)) for (at, test), p in zip(tests.items(), corrected, strict=True)
    }
    return ClassComparison(
        ahead.key,
        tuple(rows),
        _engines(stand, ahead, effects),
        slopes,
    )


def _own_readings(stand: Stand, ahead: ClassForecast) -> pd.DataFrame:
    """Readings of the own lines of a class, crown points and where there are no points."""
    history, one = stand.forecast.history, ahead.one
    table = history.readings
    mine = np.zeros(len(table), dtype=bool)
    mine[one.rows[one.readings.series_group[one.readings.series] == 0]] = True
    used = table[mine & stand.forecast.own.in_line & stand.forecast.used]
    places = [history.lives[k].place for k in used["life"].tolist()]
    return pd.DataFrame(
        {
            "wear_um": used["wear_um"].to_numpy(dtype=np.float64),
            "tau_kh": used["tau_h"].to_numpy(dtype=np.float64) / H_PER_KH,
            "life": used["life"].to_numpy(),
            "group": [f"{place.vessel} {place.engine}" for place in places],
            "position": [place.position for place in places],
        }
    ).astype({"group": object, "position": object})  # also where nothing was read


def _engines(stand: Stand, ahead: ClassForecast, effects: RateEffects) -> tuple[EngineEffect, ...]:
    history, one = stand.forecast.history, ahead.one
    name: dict[int, tuple[str, str]] = {}
    for k, life in zip(one.readings.shell_engine.tolist(), one.lives.tolist(), strict=True):
        place = history.lives[life].place
        name[k] = (place.vessel, place.engine)
    engine = effects.engine
    p = holm(engine.two_sided_p) if len(engine.labels) > 1 else np.full(len(engine.labels), np.nan)
    found = []
    for k, label in enumerate(engine.labels.tolist()):
        lo, hi = engine.range90(k)
        found.append(EngineEffect(*name[label], float(engine.mean[k]), lo, hi, float(p[k])))
    order = list(history.engines)
    return tuple(sorted(found, key=lambda one: order.index((one.vessel, one.engine))))


def summary(comparison: Comparison) -> dict[str, Any]:
    """How many places were compared, and how many stand out of line."""
    compared = [row for row in comparison.rows if not row.not_comparable]
    return {
        "places": len(comparison.rows),
        "compared": len(compared),
        "out_of_line": len(comparison.out_of_line),
    }
