"""Hours had from dates: how little they are known goes into the own line and into the age of a shell."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from wearcast.forecasting.classes import wear_classes
from wearcast.forecasting.own import own_forecasts, with_hours_error
from wearcast.lives.build import build
from wearcast.lives.history import History
from wearcast.settings import Settings
from wearcast.sources import read
from wearcast.wear.own_line import fit_lines

OPENINGS = [("2016-05-01", 10_000, 7.975), ("2019-05-01", 25_000, 7.965), ("2022-05-01", 40_000, 7.955)]


def history(folder: Callable[..., Path], undialled: str = "", **given: list[dict[str, object]]) -> History:
    rows = [
        {"date": on, "counter_h": "" if on == undialled else h, "value": mm - 0.001 * k, "position": k, "u_um": 3}
        for on, h, mm in OPENINGS
        for k in (1, 2)
    ]  # fmt: skip
    engine = {"in_service": "2014-05-01", "hours_per_year": 5000, "hours_per_year_sd": 800}
    return build(read(folder(readings=rows, engines=[engine], **given)))


def test_own_line_of_hours_from_dates_knows_its_rate_less_well(record_folder: Callable[..., Path]) -> None:
    dialled, dated = history(record_folder), history(record_folder, undialled="2019-05-01")
    sd_h = dated.readings["hours_sd_h"].max()
    assert sd_h == pytest.approx(800 * np.sqrt(6 * 0.25), rel=0.01)  # six years between the dials, half way
    a, b = (own_forecasts(one, np.ones(6, dtype=bool), 2000) for one in (dialled, dated))
    assert b.lines.rate_um_per_kh == pytest.approx(a.lines.rate_um_per_kh, rel=0.02)
    assert b.lines.known_u.all()
    assert (b.lines.z_mean_u_um > a.lines.z_mean_u_um).all()


def test_error_of_the_hours_counts_by_the_rate_of_the_line() -> None:
    tau, z, u = np.array([0.0, 10, 20]), np.array([0.0, 30, 60]), np.full(3, 4.0)
    series = np.zeros(3, dtype=np.intp)
    lines = fit_lines(tau, z, u, series, 1)
    assert with_hours_error(lines, u, np.array([0.0, 1.0, 0.0]), series).tolist() == [4.0, 5.0, 4.0]


@pytest.mark.parametrize("hours", [23_356, ""])
def test_renewal_dated_between_two_dials_leaves_the_age_of_its_shell_in_doubt(
    record_folder: Callable[..., Path], hours: object
) -> None:
    event = {"event": "renewal", "date": "2019-01-01", "counter_h": hours, "position": 1}
    made = history(record_folder, events=[event])
    (one,) = wear_classes(made, np.ones(len(made.readings), dtype=bool), Settings().priors)
    of_life = dict(zip(one.lives.tolist(), one.readings.shell_delta_sd_um.tolist(), strict=True))
    put_in = of_life.pop(next(k for k in of_life if made.lives[k].shell_no == 2))
    assert all((put_in > other) is (hours == "") for other in of_life.values())
