"""Steps in a line by the filter against generalised least squares with the whole covariance matrix written out."""

from __future__ import annotations

import numpy as np
import pytest

from wearcast.doubts.steps import Lines, steps

UNKNOWN_UM = 1000.0


def random_line(n: int, rng: np.random.Generator) -> Lines:
    """One line with a new wall at age 0, two readings at one age, and clearances at some openings."""
    tau = np.sort(np.append([0.0], rng.uniform(2, 60, n - 1)))
    tau[2] = tau[1]
    other = np.where(rng.random(n) < 0.5, rng.normal(0, 15, n), np.nan)
    return Lines(
        tau[None],
        rng.normal(0, 8, (1, n)),
        rng.uniform(20, 60, (1, n)),
        other[None],
        rng.uniform(300, 500, (1, n)),
        np.where(np.isfinite(other), np.arange(n) > n // 2, -1)[None],
        np.array([30.0]),
        np.array([0.9]),
        np.array([1.7]),
    )


def by_the_whole_matrix(
    line: Lines, shape: np.ndarray, wear: np.ndarray, of_wall: bool
) -> tuple[float, float]:
    """Size and uncertainty of a change, V written out (Aitken's generalised least squares, from memory)."""
    told = np.flatnonzero(np.isfinite(line.other_um[0]))
    which = np.append(np.arange(len(wear)), told)
    walls = np.arange(len(which)) < len(wear)
    tau = line.tau_kh[0][which]
    constant = np.append(np.full(len(wear), -1), line.constant[0][told])
    V = np.diag(np.append(line.error_var[0], line.other_var[0][told]))
    V += line.uneven_var[0] * np.minimum.outer(tau, tau) + line.level_var[0]
    V += line.rate_var[0] * np.multiply.outer(tau, tau)
    V += UNKNOWN_UM**2 * (np.equal.outer(constant, constant) & ~walls[:, None])
    x = shape[which] * (walls | of_wall)
    y = np.append(wear, line.other_um[0][told])
    precision = x @ np.linalg.solve(V, x)
    return float(x @ np.linalg.solve(V, y) / precision), float(precision**-0.5)


@pytest.mark.parametrize("n", [3, 6, 12])
def test_steps_and_slips_are_those_of_generalised_least_squares(n: int) -> None:
    rng = np.random.default_rng(7)
    for _ in range(5):
        line, (first, last) = random_line(n, rng), rng.normal(0, 5, 2)
        got = steps(line, np.array([first]), np.array([last]), UNKNOWN_UM)
        for k in range(1, n):
            wear = line.wear_um[0].copy()
            wear[0] -= first * (k == 1)
            wear[-1] -= last * (k == n - 1)
            size, u = by_the_whole_matrix(line, (np.arange(n) >= k).astype(float), wear, True)
            slips = [
                by_the_whole_matrix(line, (np.arange(n) == j).astype(float), wear, False)
                for j in ([k - 1] * (k > 1) + [k] * (k < n - 1))
            ]
            best = max(((s / s_u) ** 2 / 2 for s, s_u in slips), default=-np.inf)
            assert (got.size_um[0, k], got.u_um[0, k]) == pytest.approx((size, u), rel=1e-6)
            assert got.gain[0, k] == pytest.approx((size / u) ** 2 / 2, rel=1e-6)
            assert got.slip_gain[0, k] == pytest.approx(best, rel=1e-6)


def test_lines_are_fitted_each_by_itself() -> None:
    rng = np.random.default_rng(8)
    one, two = random_line(7, rng), random_line(7, rng)
    both = Lines(
        *(np.concatenate([getattr(one, name), getattr(two, name)]) for name in one.__dataclass_fields__)
    )
    nothing = np.zeros(2)
    got = steps(both, nothing, nothing, UNKNOWN_UM)
    for k, line in enumerate((one, two)):
        alone = steps(line, nothing[:1], nothing[:1], UNKNOWN_UM)
        np.testing.assert_allclose(got.size_um[k, 1:], alone.size_um[0, 1:], rtol=1e-9)
