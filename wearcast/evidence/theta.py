"""The standard deviations a run was made with, written down and held when it is made again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isnan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearcast.door.trees import json_of
from wearcast.evidence.asked import NotAPack
from wearcast.evidence.clocks import clocks_from, clocks_json
from wearcast.forecasting.classes import ClassKey
from wearcast.forecasting.run import Forecast
from wearcast.forecasting.solved import ClassForecast
from wearcast.wear.pooled import Theta

LARGEST_SD = 1e6
"""Far beyond any standard deviation of these models, in whatever unit (judgement)."""

Cell = tuple[str, int]
"""A reading by its table and row."""


HELD = ("left_out", "towards", "quickened")
"""What is held of the readings of a class, by the names of `Screened`."""


@dataclass(frozen=True, eq=False)
class ClassTheta:
    """What the fit of one class found: standard deviations, and what it made of doubted readings (see `Screened`)."""

    key: ClassKey
    theta: Theta
    objective: float
    left_out: frozenset[Cell]
    towards: frozenset[Cell] = frozenset()
    quickened: frozenset[Cell] = frozenset()


@dataclass(frozen=True, eq=False)
class Recorded:
    """The fits behind the forecast, and behind plan and order, whose engines stand at one date."""

    forecast: tuple[ClassTheta, ...]
    stand: tuple[ClassTheta, ...]

    @property
    def alike(self) -> bool:
        """Whether both say the same."""
        return [_class_json(one) for one in self.forecast] == [_class_json(one) for one in self.stand]


def thetas_of(made: Forecast) -> tuple[ClassTheta, ...]:
    """The fits of a forecast."""
    return tuple(
        ClassTheta(
            one.key,
            one.theta,
            one.objective,
            **{name: frozenset(_cells(made, one.one.rows[getattr(one.screened, name)])) for name in HELD},
        )
        for one in made.classes
    )


def cells_left_out(made: Forecast, one: ClassForecast) -> list[Cell]:
    """Readings the fitted model left out, by table and row."""
    return _cells(made, one.doubted)


def _cells(made: Forecast, at: NDArray[np.intp]) -> list[Cell]:
    rows = made.history.readings.iloc[at]
    return [
        (str(table), int(row))
        for table, row in zip(rows["table"].tolist(), rows["row"].tolist(), strict=True)
    ]


def held(made: Forecast, recorded: Sequence[ClassTheta]) -> Forecast:
    """The same forecast at recorded standard deviations, the same readings left out.

    Raises
    ------
    NotAPack
        If the classes are others, or one calls for other standard deviations.
    """
    by_key = {one.key: one for one in recorded}
    keys = [one.key for one in made.classes]
    if set(keys) != set(by_key) or len(by_key) != len(recorded):
        raise NotAPack(
            f"data/theta.json holds {', '.join(map(str, by_key)) or 'no class'}; the records have "
            f"{', '.join(map(str, keys))}. One of the two was changed."
        )
    classes = []
    for one in made.classes:
        then = by_key[one.key]
        try:
            masks = {name: _mask(made, one, getattr(then, name)) for name in HELD}
            found = one.held_at(then.theta, masks, made.settings.priors)
        except ValueError as problem:
            raise NotAPack(f"data/theta.json, {one.key}: {problem}.") from None
        classes.append(found)
    return replace(made, classes=tuple(classes))


def _mask(made: Forecast, one: ClassForecast, cells: frozenset[Cell]) -> np.ndarray[Any, np.dtype[np.bool_]]:
    rows = made.history.readings.iloc[one.one.rows]
    named = zip(rows["table"].tolist(), rows["row"].tolist(), strict=True)
    return np.array([(str(table), int(row)) in cells for table, row in named], dtype=bool)


def recorded_json(recorded: Recorded) -> dict[str, Any]:
    """The content of theta.json: every digit of every standard deviation."""
    return {
        "forecast": [_class_json(one) for one in recorded.forecast],
        "plan_and_order": [_class_json(one) for one in recorded.stand],
    }


def _class_json(one: ClassTheta) -> dict[str, Any]:
    theta = one.theta
    return {
        **one.key._asdict(),
        "objective": one.objective,
        "standard_deviations": list(theta.variances),
        "at_the_mode": theta.sigma.tolist(),
        "averaged_over": theta.sigma_points.tolist(),
        "weights": theta.weights.tolist(),
        "modes": theta.n_modes,
        "second_start_gap": None if isnan(theta.second_start_gap) else theta.second_start_gap,
        **clocks_json(theta),
        **{name: [list(cell) for cell in sorted(getattr(one, name))] for name in HELD},
    }


def recorded_from(text: str) -> Recorded:
    """What theta.json says.

    Raises
    ------
    NotAPack
        If it is not understood.
    """
    try:
        said = json_of(text)
        return Recorded(tuple(map(_class, said["forecast"])), tuple(map(_class, said["plan_and_order"])))
    except (ValueError, KeyError, TypeError, RecursionError) as problem:
        raise NotAPack(
            f"data/theta.json is not understood ({type(problem).__name__}: {problem}); it was changed or is of "
            "another program. Ask for the pack as it was made."
        ) from None


def _class(said: dict[str, Any]) -> ClassTheta:
    gap = said["second_start_gap"]
    return ClassTheta(
        ClassKey(*(str(said[name]) for name in ClassKey._fields)),
        Theta(
            tuple(map(str, said["standard_deviations"])),
            _shares(said["at_the_mode"], LARGEST_SD),
            _shares(said["averaged_over"], LARGEST_SD),
            _shares(said["weights"], 1.0),
            float("nan") if gap is None else float(gap),
            int(said["modes"]),
            **clocks_from(said),
        ),
        float(said["objective"]),
        *(frozenset((str(table), int(row)) for table, row in said.get(name, ())) for name in HELD),
    )


def _shares(said: Any, most: float) -> NDArray[np.float64]:
    """Figures from 0 to `most`, as a standard deviation or a weight is."""
    found = np.array(said, dtype=np.float64)
    if not np.all((found >= 0) & (found <= most)):
        raise ValueError(f"a figure is not between 0 and {most:g}")
    return found
