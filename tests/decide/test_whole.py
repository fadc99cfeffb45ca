"""An engine against its sisters as a whole, against rates that are planted."""

from __future__ import annotations

from dataclasses import replace

import demo_results
import numpy as np
import pytest

from wearcast.decide.whole import wholes

FACTOR = {"Ossel Brae": 1.0, "Tarn Ivelle": 1.0, "Merrow Dain": 1.3, "Quillo Fen": 1.0}


def test_an_engine_that_wears_faster_everywhere_is_told_by_how_much() -> None:
    """Drawn rates of 1 at every place, but of one engine 1.3, each off by 3 %: alone against three that wear 1."""
    rng = np.random.default_rng(7)
    classes = []
    for one in demo_results.demo_compared().classes:
        rows = [replace(row, not_comparable="") for row in one.rows]
        rates = np.array([FACTOR[row.vessel] for row in rows]) * rng.normal(1.0, 0.03, (500, len(rows)))
        classes.append((rows, rates))
    found = {one.key[0]: one for one in wholes(classes)}
    merrow = found["Merrow Dain"]
    assert merrow.times == pytest.approx(1.3, rel=0.02)
    assert merrow.differs
    assert merrow.lo90 < merrow.times < merrow.hi90
    assert found["Ossel Brae"].times == pytest.approx(
        1 / 1.1, rel=0.02
    )  # its three sisters wear 1.1 in the mean


def test_the_rates_of_an_engine_are_those_of_its_own_rows() -> None:
    """Of one class alone the factor is that of the rates its rows tell."""
    made = demo_results.demo_compared()
    rates = {row.life: row.rate[0] for row in made.rows}
    assert len(rates) == len(made.rows)
    (merrow,) = (one for one in made.wholes if one.key[0] == "Merrow Dain")
    shares = []
    for one in made.classes:
        mean = np.mean([row.rate[0] for row in one.rows])
        for row in one.rows:
            beside = [
                other.rate[0]
                for other in one.rows
                if other.position == row.position and other.vessel != row.vessel and not other.not_comparable
            ]
            if row.vessel == "Merrow Dain" and beside and not row.not_comparable:
                shares.append((row.rate[0] / mean, np.mean(beside) / mean))
    mine, theirs = np.sum(shares, axis=0)
    assert merrow.times == pytest.approx(mine / theirs, rel=0.03)
    assert merrow.times > 1.1
