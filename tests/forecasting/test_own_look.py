"""The own line looked at closely is the one in the table, and an odd reading shows."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from wearcast.forecasting.own_look import own_looks
from wearcast.forecasting.run import forecast
from wearcast.sources import read

RUN = dt.date(2026, 1, 1)


def looks(folder) -> tuple:
    made = forecast(read(folder, RUN))
    return made, list(own_looks(made.history, made.own, ("Alder", "1")))


def worn(*values: str, **more) -> list[dict]:
    return [
        {"value": value, "date": f"{2012 + k}-01-15", "counter_h": str(5000 * k), **more}
        for k, value in enumerate(values, start=1)
    ]


def test_the_line_looked_at_is_the_one_in_the_table(record_folder) -> None:
    made, (look,) = looks(record_folder(readings=worn("7.990", "7.986", "7.983", "7.979", "7.975")))
    row = made.table.iloc[0]
    own = look.diagnosis.own
    assert own.rate_um_per_kh == pytest.approx(row["own_rate_um_per_kh"], rel=1e-9)
    assert (own.rate_lo, own.rate_hi) == pytest.approx((row["own_rate_lo90"], row["own_rate_hi90"]), rel=1e-9)
    assert len(look.readings) == row["own_readings"]
    assert f"{own.rate_um_per_kh:.4f}" in str(look)
    assert "Alder 1 main 3 lower wall" in str(look)


def test_the_reading_that_lies_off_the_others_shows(record_folder) -> None:
    values = ("7.990", "7.986", "7.983", "7.979", "7.984", "7.971", "7.967")
    _, (look,) = looks(record_folder(readings=worn(*values)))
    worst = int(np.abs(look.readings["left_out_residual"]).to_numpy().argmax())
    assert look.readings["row"].iloc[worst] == 2 + values.index("7.984")


def test_readings_on_a_line_to_the_last_digit_have_no_scatter_to_look_at(record_folder) -> None:
    _, found = looks(record_folder(readings=worn("7.990", "7.985", "7.980", "7.975")))
    assert found == []


def test_two_readings_and_other_engines_are_passed_over(record_folder) -> None:
    sisters = worn("7.990", "7.986", "7.983", vessel="Birch")
    engines = [{}, {"vessel": "Birch"}]
    _, found = looks(record_folder(readings=[*worn("7.990", "7.986"), *sisters], engines=engines))
    assert found == []
