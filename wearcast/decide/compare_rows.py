"""The rows of a comparison: one place with a shell in service, beside its sisters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearcast.decide.comparable import compared_with, signature, why_not
from wearcast.decide.joint_needs import SEED, affordable
from wearcast.decide.stand import Stand
from wearcast.forecasting.solved import ClassForecast
from wearcast.wear.pooled.rate_effects import RateEffects

Floats = NDArray[np.float64]

COLUMNS = (
    "vessel", "engine", "engine_type", "bearing", "position", "half", "quantity", "shell_size", "duty",
    "wear_rate_um_per_kh", "wear_rate_lo90", "wear_rate_hi90", "engine_effect", "engine_effect_lo90",
    "engine_effect_hi90", "position_effect", "position_effect_lo90", "position_effect_hi90", "place_effect",
    "place_effect_lo90", "place_effect_hi90", "beyond", "beyond_lo90", "beyond_hi90", "p_holm", "rank",
    "rank_lo90", "rank_hi90", "sisters_ranked", "not_comparable", "out_of_line", "reasons",
)  # fmt: skip
"""The columns of the table, in order. Rank 1 wears fastest among the sisters compared at its position; effects are
in µm per 1000 h; `beyond` is what neither class, engine nor position accounts for; ranges are 90 % ranges."""

DRAWS = 2000


@dataclass(frozen=True)
class CompareRow:
    """One place.

    Attributes
    ----------
    life : int
    rate : tuple of float
        Mean, lower and upper end of the 90 % range [µm/kh].
    engine_effect, position_effect, place_effect : tuple of float
        The same of what engine, position and place add [µm/kh].
    beyond : tuple of float
        The same of what none of class, engine and position accounts for: of the place and of this shell [µm/kh].
    p : float
        Twice the chance that this has the other sign.
    p_holm : float
        The same, corrected for all places looked at; NaN where not comparable.
    rank : tuple of int
        Median, lower and upper end of the 90 % range of the rank among the sisters compared; zeros where none.
    ranked : int
        How many are ranked.
    not_comparable : str
        Why the place cannot be compared; empty where it can.
    out_of_line : bool
    reasons : tuple of str
        For a place out of line: its sisters, neighbours, clearance and deflection.
    """

    vessel: str
    engine: str
    engine_type: str
    bearing: str
    position: str
    half: str
    quantity: str
    shell_size: str
    duty: str
    life: int
    rate: tuple[float, float, float]
    engine_effect: tuple[float, float, float]
    position_effect: tuple[float, float, float]
    place_effect: tuple[float, float, float]
    beyond: tuple[float, float, float]
    p: float
    rank: tuple[int, int, int]
    ranked: int
    not_comparable: str
    p_holm: float = float("nan")
    out_of_line: bool = False
    reasons: tuple[str, ...] = ()

    def __str__(self) -> str:
        """Vessel, engine and place in words."""
        bearing = self.bearing.replace("_", " ")
        words = (self.vessel, self.engine, bearing, self.position, self.half)
        return " ".join(word for word in words if word)


def class_rates(ahead: ClassForecast) -> Floats:
    """Joint draws of the wear rates of a class, array (N, k) [µm/kh]."""
    return ahead.drawn_rates_um_per_kh(affordable(DRAWS, len(ahead.series)), SEED)


def class_rows(stand: Stand, ahead: ClassForecast, effects: RateEffects, rates: Floats) -> list[CompareRow]:
    """Rows of one class, position by position along the shaft, engines as their table lists them."""
    history, readings, shells = stand.forecast.history, ahead.one.readings, ahead.shells
    lives = [int(k) for k in ahead.lives]
    signatures = [signature(history, history.lives[k]) for k in lives]
    position = readings.shell_position[shells]
    at_label = _Labels.of(effects)
    found = []
    for at in np.unique(position):
        here = np.flatnonzero(position == at)
        together = [signatures[j] for j in here]
        for place, k in enumerate(here.tolist()):
            alike = here[list(compared_with(together, place))]
            rank = _rank(rates[:, alike], int(np.flatnonzero(alike == k)[0]))
            where = at_label.of_shell(int(readings.shell_engine[shells[k]]), int(at), int(shells[k]))
            found.append(
                _row(stand, lives[k], rates[:, k], effects, where)
                | {
                    "rank": rank if len(alike) > 1 else (0, 0, 0),
                    "ranked": len(alike) if len(alike) > 1 else 0,
                    "not_comparable": why_not(together, place),
                }
            )
    return [CompareRow(**values) for values in found]


def _rank(rates: Floats, which: int) -> tuple[int, int, int]:
    """Median and 90 % range of the rank, 1 the fastest."""
    rank = 1 + (rates > rates[:, [which]]).sum(axis=1)
    lo, middle, hi = np.quantile(rank, [0.05, 0.5, 0.95], method="inverted_cdf")
    return int(middle), int(lo), int(hi)


@dataclass(frozen=True)
class _Labels:
    """Where the effects of an engine, a position, a place and a shell stand."""

    engine: dict[int, int]
    position: dict[int, int]
    place: dict[tuple[int, int], int]
    beyond: dict[int, int]

    @classmethod
    def of(cls, effects: RateEffects) -> _Labels:
        engine, position, beyond = (
            {int(label): k for k, label in enumerate(one.labels.tolist())}
            for one in (effects.engine, effects.position, effects.beyond)
        )
        places = {(int(a), int(b)): k for k, (a, b) in enumerate(effects.place.labels.tolist())}
        return cls(engine, position, places, beyond)

    def of_shell(self, engine: int, position: int, shell: int) -> tuple[int, int, int, int]:
        """Numbers of the four effects."""
        return (
            self.engine[engine],
            self.position[position],
            self.place[(engine, position)],
            self.beyond[shell],
        )


def _row(
    stand: Stand, life: int, rate: Floats, effects: RateEffects, at: tuple[int, int, int, int]
) -> dict[str, Any]:
    history = stand.forecast.history
    one = history.lives[life]
    engine = history.engine_of(one)
    duty = engine.facts.get("duty")
    engine_at, position_at, place_at, beyond_at = at
    return {
        "vessel": engine.vessel,
        "engine": engine.engine,
        "engine_type": engine.engine_type,
        "bearing": one.place.bearing,
        "position": one.place.position,
        "half": one.place.half,
        "quantity": one.quantity,
        "shell_size": one.shell_size,
        "duty": duty if isinstance(duty, str) else "",
        "life": life,
        "rate": (float(rate.mean()), *(float(q) for q in np.quantile(rate, [0.05, 0.95]))),
        "engine_effect": (float(effects.engine.mean[engine_at]), *effects.engine.range90(engine_at)),
        "position_effect": (
            float(effects.position.mean[position_at]),
            *effects.position.range90(position_at),
        ),
        "place_effect": (float(effects.place.mean[place_at]), *effects.place.range90(place_at)),
        "beyond": (float(effects.beyond.mean[beyond_at]), *effects.beyond.range90(beyond_at)),
        "p": float(effects.beyond.two_sided_p[beyond_at]),
    }


def values_of(row: CompareRow) -> dict[str, Any]:
    """The row as a row of the table."""
    names = ("rate", "engine_effect", "position_effect", "place_effect", "beyond")
    effects = {
        f"{'wear_rate' if name == 'rate' else name}{end}": value
        for name in names
        for end, value in zip(("", "_lo90", "_hi90"), getattr(row, name), strict=True)
    }
    effects["wear_rate_um_per_kh"] = effects.pop("wear_rate")
    shown = {name: getattr(row, name) for name in COLUMNS if name in CompareRow.__dataclass_fields__}
    ranked = row.ranked > 0
    return {
        **shown,
        **effects,
        "rank": row.rank[0] if ranked else None,
        "rank_lo90": row.rank[1] if ranked else None,
        "rank_hi90": row.rank[2] if ranked else None,
        "sisters_ranked": row.ranked,
        "reasons": "; ".join(row.reasons),
    }
