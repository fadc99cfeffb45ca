"""The fewest openings, against trying every choice of windows."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from wearcast.decide.fewest import fewest_openings

RISK = 0.10


def try_all(chance: np.ndarray, risk: float, most: np.ndarray) -> tuple[tuple[float, ...], float]:
    """Least excess of every interval in turn, then fewest openings (later ones counting a trifle less)."""
    n_places, n_windows = chance.shape[0], chance.shape[2] - 2
    best: tuple[tuple[float, ...], float] | None = None
    for bits in product((0, 1), repeat=n_places * n_windows):
        opened = np.array(bits).reshape(n_places, n_windows)
        if (opened.sum(0) > most).any():
            continue
        excess = []
        for m in range(1, n_windows + 2):
            total = 0.0
            for place in range(n_places):
                since = max((j + 1 for j in range(min(m - 1, n_windows)) if opened[place, j]), default=0)
                total += max(chance[place, since, m] - risk - 1e-9, 0.0)
            excess.append(round(total, 6))
        openings = float((opened * (1 - 1e-3 * np.arange(n_windows) / n_windows)).sum())
        key = (tuple(excess), openings)
        if best is None or key < best:
            best = key
    assert best is not None
    return best


def random_chances(rng: np.random.Generator, n_places: int, n_windows: int) -> np.ndarray:
    """Chances that rise with the length of a step; new shells last longer."""
    nodes = np.sort(rng.uniform(0, 5, n_windows + 1))
    times = np.r_[0.0, nodes]
    made = np.full((n_places, n_windows + 1, n_windows + 2), np.nan)
    for place in range(n_places):
        old, new = rng.uniform(0.5, 8), rng.uniform(3, 14)
        for i in range(n_windows + 1):
            for k in range(i + 1, n_windows + 2):
                scale = old if i == 0 else new
                made[place, i, k] = 1 - np.exp(-(((times[k] - times[i]) / scale) ** 3))
    return made


@pytest.mark.parametrize("seed", range(25))
def test_the_program_finds_what_trying_everything_finds(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n_places, n_windows = [(1, 4), (2, 3), (3, 3), (4, 2)][seed % 4]
    chance = random_chances(rng, n_places, n_windows)
    most = rng.integers(0, n_places + 1, n_windows).astype(float)
    most[rng.random(n_windows) < 0.4] = np.inf
    made = fewest_openings(chance, RISK, most)
    excess, openings = try_all(chance, RISK, most)
    assert (made.opened.sum(0) <= most).all()
    found = [
        sum(
            max(
                chance[
                    p, max((j + 1 for j in range(min(m - 1, n_windows)) if made.opened[p, j]), default=0), m
                ]
                - RISK,
                0,
            )
            for p in range(n_places)
        )
        for m in range(1, n_windows + 2)
    ]
    assert found == pytest.approx(excess, abs=1e-5)
    weight = 1 - 1e-3 * np.arange(n_windows) / n_windows
    assert float((made.opened * weight).sum()) == pytest.approx(openings, abs=1e-6)


def test_nothing_is_opened_where_no_limit_comes_near() -> None:
    made = fewest_openings(np.zeros((5, 4, 5)), RISK, np.full(3, np.inf))
    assert made.count == 0
    assert not made.over.any()


def test_a_window_with_no_openings_allowed_is_left_out_and_told() -> None:
    """One shell that is over the risk by the end whatever is done, for nothing may be opened."""
    chance = np.zeros((1, 2, 3))
    chance[0, 0] = [np.nan, 0.05, 0.6]
    made = fewest_openings(chance, RISK, np.zeros(1))
    assert made.count == 0
    assert made.over.tolist() == [True]
    assert made.worst[0] == pytest.approx(0.6)


def test_the_soonest_excess_weighs_most() -> None:
    """One opening allowed: it goes to the shell that is past its limit first, not to the one longest over."""
    chance = np.zeros((2, 3, 4))
    chance[0, 0, 1:] = [0.0, 0.9, 0.95]
    chance[1, 0, 1:] = [0.0, 0.3, 1.0]
    made = fewest_openings(chance, RISK, np.array([1.0, 0.0]))
    assert made.opened.tolist() == [[True, False], [False, False]]


def test_without_windows_there_is_no_plan_but_the_risk_is_told() -> None:
    made = fewest_openings(np.array([[[np.nan, 0.5]]]), RISK, np.zeros(0))
    assert made.opened.shape == (1, 0)
    assert made.over.tolist() == [True]
