"""Web deflections: five readings a throw, one sign, and what the sign says (common practice, no source)."""

from __future__ import annotations

import numpy as np
import pytest

from wearcast.companions.shaft_line import heights_of_mains
from wearcast.companions.web_deflection import deflection_trends, mains_beside, web_deflections
from wearcast.lives.shells import Place

FIVE = {"bottom_p": "0.000", "port": "0.012", "top": "0.030", "starboard": "0.008", "bottom_s": "0.004"}


def all_of(history):
    return np.ones(len(history.readings), dtype=bool)


def throw(number: int, date: str = "2020-01-01", hours: int = 20000, **more: str) -> list[dict[str, str]]:
    return [
        {"bearing": "big_end", "position": str(number), "half": "", "quantity": "web_deflection", "point": point,
         "value": more.get(point, value), "date": date, "counter_h": str(hours),
         "conditions": more.get("conditions", "cold, afloat"), "u_um": more.get("u_um", "")}
        for point, value in FIVE.items()
    ]  # fmt: skip


def bent(number: int, top_mm: float, **more: str) -> list[dict[str, str]]:
    flat = dict.fromkeys(("port", "starboard", "bottom_s"), "0.000")
    return throw(number, **{**flat, "top": f"{top_mm:.3f}", **more})


def one(history):
    (row,) = web_deflections(history, all_of(history)).to_dict("records")
    return row


def test_bottom_is_the_mean_of_both_and_the_rest_are_differences(history_of) -> None:
    row = one(history_of(throw(4)))
    assert row["bottom_mm"] == pytest.approx(0.002)
    assert row["vertical_mm"] == pytest.approx(0.028)
    assert row["horizontal_mm"] == pytest.approx(0.004)
    assert row["closure_um"] == pytest.approx(4.0)
    assert row["closes"] is True


def test_the_uncertainty_of_the_vertical(history_of) -> None:
    """u² of a difference of one reading and the mean of two: u²·(1 + 1/2) (JCGM 100:2008, 5.1.2)."""
    row = one(history_of(throw(4, u_um="6")))
    single = 36 + 1 / 12
    assert row["vertical_u_um"] == pytest.approx((1.5 * single) ** 0.5)
    assert row["horizontal_u_um"] == pytest.approx((2 * single) ** 0.5)


def test_a_form_that_counts_opening_webs_minus_gives_the_same(history_of) -> None:
    turned = [row | {"value": f"{-float(row['value']):.3f}"} for row in throw(4)]
    plus, minus = (
        one(history_of(throw(4))),
        one(history_of(turned, engine={"deflection_sign": "opening_minus"})),
    )
    assert minus["vertical_mm"] == pytest.approx(plus["vertical_mm"])
    assert minus["closure_um"] == pytest.approx(plus["closure_um"])
    assert (plus["sign_on_form"], minus["sign_on_form"]) == ("opening_plus", "opening_minus")


def test_with_one_bottom_reading_there_is_no_closure(history_of) -> None:
    row = one(history_of([row for row in throw(4) if row["point"] != "bottom_s"]))
    assert row["closes"] is None
    assert row["vertical_mm"] == pytest.approx(0.030)


@pytest.mark.parametrize(("top", "past"), [("0.079", False), ("0.082", True), ("-0.079", True)])
def test_the_limits_come_from_the_limits_table(history_of, top, past) -> None:
    """Bottom is at +0.002: -0.079 stands at -0.081."""
    row = one(history_of(throw(4, top=top)))
    assert (row["min_mm"], row["max_mm"]) == (-0.080, 0.080)
    assert row["past_limit"] == past
    assert "invented book" in row["limit_source"]


def test_without_limits_nothing_is_past_and_the_share_of_the_stroke_is_shown(history_of) -> None:
    """Stroke over deflection: about 10 000 is called good, 5 000 calls for action (from memory; never a limit)."""
    row = one(history_of(throw(4, top="0.092"), limits=[{}]))
    assert not row["past_limit"]
    assert np.isnan(row["max_mm"])
    assert row["stroke_part"] == pytest.approx(300 / 0.090)


@pytest.mark.parametrize(
    ("engine", "number", "mains"),
    [
        ({"mains": "7", "throws": "6"}, 4, (4, 5)),
        ({"mains": "7", "throws": "6", "first_main": "0"}, 4, (3, 4)),
        ({"mains": "8", "throws": "6", "first_main": "0"}, 4, (4, 5)),  # main 0 is the outboard one
    ],
)
def test_a_throw_lies_between_two_mains(history_of, engine, number, mains) -> None:
    row = one(history_of(throw(number), engine=engine))
    assert (row["main_before"], row["main_after"]) == mains


def test_a_throw_without_number_lies_nowhere(history_of) -> None:
    history = history_of([row | {"position": "fore"} for row in throw(4)])
    assert np.isnan(mains_beside(next(iter(history.engines.values())), "fore")).all()
    assert heights_of_mains(history, all_of(history)) == ()


def test_the_drift_goes_through_measurements_under_like_conditions(history_of) -> None:
    # not whole tens of um, which would tell of a gauge read to 10 um
    rows = bent(4, -0.061, date="2018-01-01", hours=10000) + bent(4, -0.041, date="2020-01-01", hours=20000)
    rows += bent(4, 0.052, date="2019-01-01", hours=15000, conditions="hot")
    history = history_of(rows)
    (trend,) = deflection_trends(history, all_of(history)).to_dict("records")
    assert (trend["measurements"], trend["left_out"]) == (2, 1)
    assert trend["drift_um_per_kh"] == pytest.approx(2.0)
    u_vertical = (1.5 * (64 + 1 / 12)) ** 0.5
    assert trend["drift_u_um_per_kh"] == pytest.approx(2**0.5 * u_vertical / 10)


def heights(history, rates=None):
    return {main.main: main for main in heights_of_mains(history, all_of(history), rates)}


def test_both_throws_closing_at_the_top_mean_a_high_main(history_of) -> None:
    rows = [*bent(3, 0.040), *bent(4, -0.050), *bent(5, -0.045), *bent(6, 0.040)]
    found = heights(history_of(rows))
    assert {main: one.height for main, one in found.items() if one.height} == {3: "low", 5: "high", 7: "low"}
    assert found[5].throws == ("4", "5")
    assert found[4].height == ""  # its two throws disagree in sign


def test_small_bends_say_nothing(history_of) -> None:
    rows = [row for number in range(1, 7) for row in bent(number, 0.025)]
    assert not any(main.height for main in heights(history_of(rows)).values())


def rates(fast: float) -> dict[Place, tuple[float, float]]:
    return {
        Place("Alder", "1", "main", str(main), "lower"): (fast if main == 5 else 0.9, 0.2)
        for main in range(1, 8)
    }


def test_a_high_main_that_wears_fast_is_overloaded(history_of) -> None:
    history = history_of([*bent(4, -0.050), *bent(5, -0.045)])
    assert heights(history, rates(2.9))[5].overloaded
    assert "a new shell alone restores the overload" in heights(history, rates(2.9))[5].text
    assert not heights(history, rates(1.0))[5].overloaded


def test_the_rates_of_the_lower_mains_stand_beside(history_of) -> None:
    walls = [
        {"position": "5", "date": date, "counter_h": str(hours), "value": value}
        for date, hours, value in (("2018-01-01", 10000, "7.990"), ("2020-01-01", 20000, "7.970"))
    ]
    main = heights(history_of([*walls, *bent(4, -0.050), *bent(5, -0.045)]))[5]
    assert main.wear_rate_um_per_kh == pytest.approx(2.0)
