"""Sisters side by side: the story of the demo, tests of slopes against published figures, what cannot be compared."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import wearcast
from wearcast.decide.compare import compare, compare_at
from wearcast.decide.compare_rows import COLUMNS
from wearcast.decide.out_of_line import BesideWalls, evidence
from wearcast.decide.slopes import equal_slopes, holm

REFERENCE = Path(__file__).parents[1] / "reference_data"
RUN = dt.date(2026, 1, 1)
NEW = 7.9925


@pytest.fixture(scope="module")
def demo_comparison(demo):
    return compare_at(demo)


def test_the_place_planted_out_of_line_is_named_and_no_other(demo_comparison, truth) -> None:
    story = next(one for one in truth["stories"] if one["story"] == "D")
    named = [(row.vessel, row.bearing, row.position, row.half) for row in demo_comparison.out_of_line]
    assert named == [(story["vessel"], story["bearing"], story["position"], story["half"])]


def test_what_stands_beside_the_place_is_told(demo_comparison) -> None:
    said = "; ".join(demo_comparison.out_of_line[0].reasons)
    assert "sisters at the same place: Ossel Brae" in said
    assert "neighbours in its own engine: main 4" in said
    assert "its clearance grows" in said
    assert "the shaft stands high at main 5" in said
    assert "a new shell alone restores the overload" in said


@pytest.mark.parametrize("beyond_u", [3.0, 0.01])
def test_walls_and_clearance_agree_by_the_setting_the_forecast_goes_by(
    demo, demo_comparison, beyond_u
) -> None:
    """Told from a hundredth of u, walls and clearance of the place out of line differ; at 3 u they agree."""
    row = demo_comparison.out_of_line[0]
    thresholds = replace(demo.forecast.settings.thresholds, walls_against_clearance_u=beyond_u)
    settings = replace(demo.forecast.settings, thresholds=thresholds)
    told = evidence(
        BesideWalls(replace(demo, forecast=replace(demo.forecast, settings=settings))), row, [row]
    )
    assert ("walls and clearance agree there" in told.reasons) == (beyond_u == 3.0)


def test_the_table_has_its_columns(demo, demo_comparison) -> None:
    table = demo_comparison.table
    assert tuple(table.columns) == COLUMNS
    walls = demo.forecast.table["quantity"].isin(["wall", "axial_clearance"])
    assert len(table) == walls.sum()


def test_the_undersize_place_is_not_comparable(demo_comparison) -> None:
    found = [row for row in demo_comparison.rows if row.not_comparable]
    assert {(row.vessel, row.bearing, row.position) for row in found} == {("Tarn Ivelle", "main", "6")}
    assert all(row.not_comparable == "not comparable: shell size u50 against standard" for row in found)
    assert all(row.ranked == 0 and np.isnan(row.p_holm) for row in found)
    beside = [row for row in demo_comparison.rows if (row.bearing, row.position) == ("main", "6")]
    assert {row.ranked for row in beside if not row.not_comparable} == {3}


def test_ranges_of_rates_hold_the_truth(demo_comparison, truth) -> None:
    """Planted rates inside the 90 % ranges: of 108 shells at least 85 (binomial, 90 %: 97 ± 3; shells share)."""
    true = {
        (s["vessel"], s["bearing"], s["position"], s["half"]): s["rate_um_per_kh"]
        for s in truth["shells"]
        if s["removed_h"] is None
    }
    rows = [row for row in demo_comparison.rows if row.quantity == "wall"]
    inside = [
        row.rate[1] <= true[(row.vessel, row.bearing, row.position, row.half)] <= row.rate[2] for row in rows
    ]
    assert len(inside) == 104
    assert sum(inside) >= 85


def test_sleep_study_slopes_differ_as_published() -> None:
    """Belenky et al. 2003; R, lm: residual standard error 30.99 on 161 d.f. with one slope, 25.59 on 144 with one
    a subject (from memory), so F = ((30.99² · 161 − 25.59² · 144)/17)/25.59² = 5.42."""
    data = json.loads((REFERENCE / "sleepstudy.json").read_text(encoding="utf-8"))
    frame = pd.DataFrame(
        {
            "wear_um": data["reaction"],
            "tau_kh": data["days"],
            "life": data["subject"],
            "group": data["subject"],
        }
    )
    made = equal_slopes(frame)
    assert (made.lines, made.df, made.df_residual) == (18, 17, 144)
    assert made.f == pytest.approx(((30.99**2 * 161 - 25.59**2 * 144) / 17) / 25.59**2, rel=2e-3)
    assert made.p < 1e-6


def test_the_f_test_is_that_of_two_least_squares_fits() -> None:
    """Levels free by life, one slope or one a group, residual sums by plain least squares."""
    rng = np.random.default_rng(4)
    life = np.repeat(np.arange(6), 5)
    group = life // 2
    tau = rng.uniform(0, 30, 30)
    wear = 3 * life + (0.8 + 0.2 * group) * tau + rng.normal(0, 2, 30)
    made = equal_slopes(pd.DataFrame({"wear_um": wear, "tau_kh": tau, "life": life, "group": group}))
    levels = (life[:, None] == np.arange(6)).astype(float)
    slopes = (group[:, None] == np.arange(3)) * tau[:, None]
    rss = [
        float(np.sum((wear - x @ np.linalg.lstsq(x, wear, rcond=None)[0]) ** 2))
        for x in (np.c_[levels, tau], np.c_[levels, slopes])
    ]
    assert made.f == pytest.approx(((rss[0] - rss[1]) / 2) / (rss[1] / 21), rel=1e-9)
    assert (made.df, made.df_residual) == (2, 21)


def test_the_f_test_is_that_of_statsmodels() -> None:
    """`anova_lm` of two fits with a column for every life: the reference library."""
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    rng = np.random.default_rng(8)
    life = rng.permutation(np.repeat(np.arange(12), rng.integers(2, 6, 12)))
    tau = rng.uniform(0, 30, len(life))
    frame = pd.DataFrame(
        {
            "wear_um": 5.0 * life + (0.8 + 0.05 * (life // 3)) * tau + rng.normal(0, 2, len(life)),
            "tau_kh": tau,
            "life": life,
            "group": [f"ship {k // 3}" for k in life],
        }
    )
    made = equal_slopes(frame)
    one = ols("wear_um ~ C(life) + tau_kh", data=frame).fit()
    each = ols("wear_um ~ C(life) + C(group):tau_kh", data=frame).fit()
    table = anova_lm(one, each)
    assert (made.f, made.p) == pytest.approx((table["F"].iloc[1], table["Pr(>F)"].iloc[1]), rel=1e-9)
    assert (made.df, made.df_residual) == (table["df_diff"].iloc[1], table["df_resid"].iloc[1])


def test_too_few_readings_give_no_test_and_exact_lines_no_false_certainty() -> None:
    few = pd.DataFrame(
        {"wear_um": [1.0, 2, 3, 5], "tau_kh": [1.0, 2, 1, 2], "life": [0, 0, 1, 1], "group": [0, 0, 1, 1]}
    )
    assert np.isnan(equal_slopes(few).p)
    exact = pd.DataFrame(
        {
            "wear_um": [1.0, 2, 3, 1, 3, 5],
            "tau_kh": [1.0, 2, 3] * 2,
            "life": [0] * 3 + [1] * 3,
            "group": [0] * 3 + [1] * 3,
        }
    )
    assert np.isnan(equal_slopes(exact).p)


def test_holm_by_hand() -> None:
    """Holm 1979: times 4, 3, 2, 1 in ascending order, never falling. NaN is no look."""
    found = holm(np.array([0.01, np.nan, 0.04, 0.03, 0.005]))
    assert found == pytest.approx([0.03, np.nan, 0.06, 0.06, 0.02], nan_ok=True)


# Small fleets


def worn(engine: str, position: int, rate: float, seed: int, **more) -> list[dict]:
    rng = np.random.default_rng(seed)
    return [
        {
            "engine": engine,
            "position": str(position),
            "value": f"{NEW - (rate * age / 1e3 + rng.normal(0, 2)) / 1e3:.4f}",
            "date": f"{2012 + age // 5000}-01-15",
            "counter_h": str(age),
            **more,
        }
        for age in (5_000, 10_000, 15_000, 20_000, 25_000)
    ]


@pytest.fixture
def compared(record_folder):
    def make(what_if=None, **tables):
        return compare(wearcast.read(record_folder(**tables), RUN), None, what_if)

    return make


SISTERS = [{"engine": e} for e in ("1", "2", "3")]
ALIKE = [row for e in "123" for p in (1, 2, 3) for row in worn(e, p, 0.9, 10 * int(e) + p)]


def test_sisters_that_wear_alike_are_all_in_line(compared) -> None:
    made = compared(readings=ALIKE, engines=SISTERS)
    assert made.out_of_line == ()
    assert all(row.ranked == 3 and row.rank[1] < row.rank[2] for row in made.rows)


def test_another_duty_is_not_comparable(compared) -> None:
    engines = [SISTERS[0] | {"duty": "ferry"}, SISTERS[1] | {"duty": "Ferry "}, SISTERS[2] | {"duty": "tug"}]
    made = compared(readings=ALIKE, engines=engines)
    told = {row.engine: row.not_comparable for row in made.rows}
    assert told == {"1": "", "2": "", "3": "not comparable: duty tug against ferry"}


def test_an_engine_without_sisters_has_nothing_to_compare_with(compared) -> None:
    made = compared(readings=worn("1", 1, 0.9, 1) + worn("1", 2, 2.5, 2))
    assert {row.not_comparable for row in made.rows} == {
        "not comparable: no sister has a shell in service here"
    }
    assert made.out_of_line == ()


def test_a_fast_place_is_ranked_first_with_certainty(compared) -> None:
    fast = [row for row in ALIKE if (row["engine"], row["position"]) != ("2", "2")] + worn("2", 2, 2.9, 99)
    made = compared(readings=fast, engines=SISTERS)
    row = next(row for row in made.rows if (row.engine, row.position) == ("2", "2"))
    assert row.rank == (1, 1, 1)
    assert row.out_of_line
    assert [str(one) for one in made.out_of_line] == [str(row)]
    assert made.classes[0].slopes["2"].p_holm < 0.01
