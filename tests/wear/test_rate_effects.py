"""What engine, position and place add, against the same model written out in full matrices."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from simulate import FleetPlan, draw_fleet

from wearcast.wear.pooled import ClassReadings, estimate
from wearcast.wear.pooled.rate_effects import Effects, rate_effects
from wearcast.wear.priors import Priors


@pytest.fixture(scope="module")
def readings() -> ClassReadings:
    plan = FleetPlan(n_engines=3, n_positions=4, measured_new_share=0.0, renewal_share=0.3)
    return draw_fleet(plan, Priors(), np.random.default_rng(3)).readings


@pytest.fixture(scope="module")
def plugged(readings):
    """One set of standard deviations, so that the posterior is one normal."""
    made = estimate(readings, Priors())
    return replace(made, sigma_points=made.sigma[None], weights=np.ones(1))


def full(readings: ClassReadings, terms, sigma: np.ndarray) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Best linear prediction with every covariance written out: slow and plain."""
    s = dict(zip(terms.variances, sigma, strict=True))
    tau, shell = readings.tau_kh, readings.reading_shell
    engine, position = readings.shell_engine[shell], readings.shell_position[shell]
    same = lambda a: (a[:, None] == a).astype(float)  # noqa: E731
    product = np.outer(tau, tau)
    place = same(engine) * same(position)
    stated = np.isfinite(readings.u_um)
    noise = np.where(stated, np.nan_to_num(readings.u_um) ** 2, s.get("reading_error", 0.0) ** 2)
    noise = noise + np.where(stated, s.get("extra_error", 0.0) ** 2, 0.0) + readings.step_um**2 / 12
    covariance = (
        np.diag(noise + 1e-10 * readings.allowance_um**2)
        + same(shell) * (s["shell_rate"] ** 2 * product + s["uneven_wear"] ** 2 * np.minimum.outer(tau, tau))
        + same(shell) * np.outer(readings.shell_delta_sd_um[shell], readings.shell_delta_sd_um[shell])
        + place * s["place_rate"] ** 2 * product
        + same(engine) * s["engine_rate"] ** 2 * product
        + same(position) * s["position_rate"] ** 2 * product
        + same(readings.opening) * (readings.opening >= 0) * s["opening_error"] ** 2
    )
    design = np.stack([tau, 1 - np.exp(-tau / terms.running_in_kh)], axis=1)
    covariance = covariance + design @ np.diag(terms.sds**2) @ design.T
    residual = readings.z_um - design @ terms.means
    inverse = np.linalg.inv(covariance)

    def predicted(labels: np.ndarray, wanted: np.ndarray, sd: float) -> tuple[np.ndarray, np.ndarray]:
        reach = sd**2 * (labels[None] == wanted[:, None]) * tau
        return reach @ inverse @ residual, np.sqrt(sd**2 - np.diag(reach @ inverse @ reach.T))

    def beyond() -> tuple[np.ndarray, np.ndarray]:
        means, sds = [], []
        for row in range(readings.n_shells):
            at = (readings.shell_engine[row] == engine) & (readings.shell_position[row] == position)
            reach = s["place_rate"] ** 2 * at * tau + s["shell_rate"] ** 2 * (shell == row) * tau
            means.append(reach @ inverse @ residual)
            sds.append(np.sqrt(s["place_rate"] ** 2 + s["shell_rate"] ** 2 - reach @ inverse @ reach))
        return np.array(means), np.array(sds)

    code = engine * 100 + position
    return {
        "engine": predicted(engine, np.unique(readings.shell_engine), s["engine_rate"]),
        "position": predicted(position, np.unique(readings.shell_position), s["position_rate"]),
        "place": predicted(
            code, np.unique(readings.shell_engine * 100 + readings.shell_position), s["place_rate"]
        ),
        "beyond": beyond(),
    }


def test_effects_are_the_best_linear_predictions(readings: ClassReadings, plugged) -> None:
    made = rate_effects(readings, plugged, np.ones(1), np.arange(readings.n_shells))
    expected = full(readings, plugged.terms, plugged.sigma)
    for name in ("engine", "position", "place", "beyond"):
        effects = getattr(made, name)
        order = np.argsort(
            effects.labels[:, 0] * 100 + effects.labels[:, 1] if name == "place" else effects.labels
        )
        mean, sd = expected[name]
        assert effects.mean[order] == pytest.approx(mean, abs=1e-7)
        assert effects.sd[order] == pytest.approx(sd, abs=1e-7)


def test_ranges_and_tail_of_a_mixture() -> None:
    """One normal: 90 % range ± 1.6449 sd, tail by the normal table; two: between the two."""
    one = Effects(np.array([0]), np.array([[1.0]]), np.array([[0.5]]), np.ones(1))
    assert one.range90(0) == pytest.approx((1 - 0.5 * 1.6448536, 1 + 0.5 * 1.6448536), abs=1e-6)
    assert one.two_sided_p[0] == pytest.approx(0.0455003, abs=1e-6)  # 2 Φ(−2)
    two = Effects(np.array([0]), np.array([[1.0], [0.0]]), np.array([[0.5], [0.5]]), np.array([0.5, 0.5]))
    assert two.mean[0] == pytest.approx(0.5)
    assert two.sd[0] == pytest.approx(np.sqrt(0.25 + 0.25))
    assert one.two_sided_p[0] < two.two_sided_p[0] < 1
