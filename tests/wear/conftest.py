"""Classes of readings for the tests of the pooled model, and the model written out in full matrices."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wearcast.wear.pooled import ClassReadings, Terms
from wearcast.wear.priors import Priors

REFERENCE = Path(__file__).parents[1] / "reference_data"


@pytest.fixture(scope="session")
def reference() -> Callable[[str], dict[str, Any]]:
    """Facts of a published case by the name of its file."""
    return lambda name: json.loads((REFERENCE / f"{name}.json").read_text(encoding="utf-8"))


def awkward_class(
    engines: int = 3, positions: int = 4, points: int = 2, openings: int = 4, seed: int = 0
) -> ClassReadings:
    """A class with renewals, unknown fittings, missing readings, stated and unstated uncertainty."""
    rng = np.random.default_rng(seed)
    shells, series, readings = [], [], []
    for engine in range(engines):
        hours = np.sort(rng.uniform(3, 40, openings))
        for position in range(positions):
            lives = [(0.0, 20.0), (20.0, 60.0)] if rng.random() < 0.4 else [(0.0, 60.0)]
            for start, end in lives:
                now = max(hours.max(), end if end < 60 else 0.0) - start
                shells.append((10 * engine + 3, position + 1, rng.random() < 0.8, max(now, 0.0)))
                for point in range(points):
                    series.append((len(shells) - 1, min(point, 1), 50.0 + 3 * point, point))
                    for k, t in enumerate(hours):
                        if start < t < end and rng.random() < 0.8:
                            readings.append(
                                (
                                    t - start + 10 * rng.normal(),
                                    t - start,
                                    6.0 if rng.random() < 0.5 else np.nan,
                                    10.0 if rng.random() < 0.3 else 0.0,
                                    len(series) - 1,
                                    engine * openings + k if rng.random() < 0.9 else -1,
                                )
                            )
    m, s, r = np.array(shells), np.array(series), np.array(readings).reshape(-1, 6)
    return ClassReadings(
        z_um=r[:, 0],
        tau_kh=r[:, 1],
        u_um=r[:, 2],
        step_um=r[:, 3],
        series=r[:, 4].astype(int),
        opening=r[:, 5].astype(int),
        is_new_wall=np.zeros(len(r), dtype=bool),
        series_shell=s[:, 0].astype(int),
        series_group=s[:, 1].astype(int),
        series_limit_um=s[:, 2],
        series_point=s[:, 3].astype(int),
        shell_engine=m[:, 0].astype(int),
        shell_position=m[:, 1].astype(int),
        shell_fitting_known=m[:, 2].astype(bool),
        shell_tau_now_kh=m[:, 3],
        shell_delta_sd_um=np.where(rng.random(len(m)) < 0.2, np.nan, 4.0),
        allowance_um=50.0,
        default_u_um=6.0,
    )


@pytest.fixture(scope="session")
def make_class() -> Callable[..., ClassReadings]:
    return awkward_class


class FullModel:
    """The pooled model of one class in full matrices: slow, plain, and nothing shared with the solver.

    `prior(a, b)` is the covariance before any reading of two lists of quantities, each given by
    its hours, its series and whether it is a rate; `readings` lists the readings themselves.
    """

    def __init__(self, data: ClassReadings, terms: Terms, sigma: np.ndarray, priors: Priors) -> None:
        self.data, self.priors, self.sd = data, priors, dict(zip(terms.variances, sigma, strict=True))
        self.mean_readings = self.mean(data.tau_kh, data.series, False)
        self.covariance = self.prior((data.tau_kh, data.series, False), (data.tau_kh, data.series, False))
        opening = data.opening
        same = (opening[:, None] == opening[None]) & (opening >= 0)[:, None]
        stated = np.isfinite(data.u_um)
        error = np.where(
            stated,
            np.nan_to_num(data.u_um) ** 2 + self.square("extra_error"),
            self.square("reading_error"),
        )
        # The solver keeps exact readings apart by 1e-10 of the squared allowance.
        error = error + data.step_um**2 / 12 + 1e-10 * data.allowance_um**2
        self.covariance = self.covariance + self.square("opening_error") * same + np.diag(error)
        self.covariance += (priors.gauge_bias_sd * data.allowance_um) ** 2 * self.same_gauge()

    def square(self, name: str) -> float:
        return float(self.sd.get(name, 0.0) ** 2)

    def same_gauge(self) -> np.ndarray:
        """Readings of one gauge, where it was used at two openings; on several engines it is one gauge, too."""
        d, same = self.data, np.zeros((self.data.n_readings,) * 2)
        for label in np.unique(d.gauge[d.gauge >= 0]):
            mine = d.gauge == label
            if len(np.unique(d.opening[mine])) > 1:
                same += np.outer(mine, mine)
        return same

    def since_kh(self) -> np.ndarray:
        """Hours since which each series wears at a rate of its own; inf for none."""
        d, since = self.data, np.full(self.data.n_series, np.inf)
        for one in range(d.n_series):
            mine = d.series == one
            if d.quickened[mine].any():
                since[one] = max([0.0, *d.tau_kh[mine & ~d.quickened]])
        return since

    def mean(self, tau, series, rate: bool) -> np.ndarray:
        a, p = self.data.allowance_um, self.priors
        known = self.data.shell_fitting_known[self.data.series_shell[series]]
        beta = p.rate_mean * a / p.design_life_kh
        if rate:
            return np.full(len(tau), beta)
        worn_in = np.where(known, 1 - np.exp(-tau / p.running_in_kh), 0.0)
        return beta * tau + p.running_in_mean * a * worn_in + np.where(known, 0.0, a / 2)

    def prior(self, first, second) -> np.ndarray:
        d, p, a = self.data, self.priors, self.data.allowance_um
        per_kh = a / p.design_life_kh
        (t1, s1, rate1), (t2, s2, rate2) = first, second
        m1, m2 = d.series_shell[s1], d.series_shell[s2]

        def same(values, i, j):
            return (values[i][:, None] == values[j][None]).astype(float)

        engine, position = same(d.shell_engine, m1, m2), same(d.shell_position, m1, m2)
        shell = (m1[:, None] == m2[None]).astype(float)
        one = (s1[:, None] == s2[None]).astype(float)
        slope = (
            (p.rate_sd * per_kh) ** 2
            + self.square("position_rate") * position
            + self.square("engine_rate") * engine
            + self.square("place_rate") * engine * position
            + self.square("shell_rate") * shell
            + self.square("point_rate") * one
        )
        group1, group2 = d.series_group[s1], d.series_group[s2]
        for k in range(1, int(d.series_group.max()) + 1):
            both = np.outer(group1 == k, group2 == k)
            slope = slope + (p.group_rate_sd * per_kh) ** 2 * both
        x1, x2 = (np.ones_like(t1) if rate1 else t1), (np.ones_like(t2) if rate2 else t2)
        total = slope * np.outer(x1, x2)
        since = self.since_kh()
        late1, late2 = np.maximum(t1 - since[s1], 0.0), np.maximum(t2 - since[s2], 0.0)
        late1, late2 = (
            np.isfinite(since[s1]).astype(float) if rate1 else late1,
            np.isfinite(since[s2]).astype(float) if rate2 else late2,
        )
        total = total + one * (p.quickened_rate_sd * per_kh) ** 2 * np.outer(late1, late2)
        if rate1 or rate2:
            return total
        known1, known2 = d.shell_fitting_known[m1], d.shell_fitting_known[m2]
        worn1 = np.where(known1, 1 - np.exp(-t1 / p.running_in_kh), 0.0)
        worn2 = np.where(known2, 1 - np.exp(-t2 / p.running_in_kh), 0.0)
        total = total + (p.running_in_sd * a) ** 2 * np.outer(worn1, worn2)
        for k in range(1, int(d.series_group.max()) + 1):
            total = total + p.group_level_sd_um**2 * np.outer(group1 == k, group2 == k)
        delta = d.shell_delta_sd_um[m1]
        wall = np.where(np.isnan(delta), self.square("new_wall"), np.nan_to_num(delta) ** 2)
        wall = np.where(known1, wall, (p.unknown_start_sd * a) ** 2)
        points = p.point_wall_sd_um**2 if d.several_points else 0.0
        uneven = self.square("uneven_wear") * np.minimum.outer(t1, t2)
        return total + shell * (uneven + wall[:, None]) + one * points

    def log_likelihood(self, z_um=None) -> float:
        z = self.data.z_um if z_um is None else z_um
        residual = z - self.mean_readings
        log_det = np.linalg.slogdet(self.covariance)[1]
        square = residual @ np.linalg.solve(self.covariance, residual)
        return float(-0.5 * (len(z) * np.log(2 * np.pi) + log_det + square))

    def level_and_rate(self) -> tuple[np.ndarray, np.ndarray]:
        """Mean (S, 2) and covariance (S, 2, S, 2) of level now and rate of all series."""
        d = self.data
        series = np.arange(d.n_series)
        now = d.shell_tau_now_kh[d.series_shell]
        asked = ((now, series, False), (now, series, True))
        read = (d.tau_kh, d.series, False)
        residual = d.z_um - self.mean_readings
        cross = [self.prior(a, read) for a in asked]
        mean = [
            self.mean(a[0], a[1], a[2]) + c @ np.linalg.solve(self.covariance, residual)
            for a, c in zip(asked, cross, strict=True)
        ]
        covariance = np.empty((d.n_series, 2, d.n_series, 2))
        for i in (0, 1):
            for j in (0, 1):
                told = cross[i] @ np.linalg.solve(self.covariance, cross[j].T)
                covariance[:, i, :, j] = self.prior(asked[i], asked[j]) - told
        return np.stack(mean, axis=1), covariance


@pytest.fixture(scope="session")
def full_model() -> type[FullModel]:
    return FullModel
