"""The identity c = H − d − t_upper − t_lower, and what stands behind it when it fails."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearcast.companions.causes import flat_anvil_um
from wearcast.companions.walls_clearance import compare_walls_with_clearance, places_that_disagree

SIZE_50 = [
    {"half": half, "date": "2018-09-10", "counter_h": "33800", "event": "renewal", "shell_size": "U50"}
    for half in ("upper", "lower")
] + [{"half": "", "date": "2018-09-10", "counter_h": "33800", "event": "regrind", "shell_size": "U50"}]


def compared(history):
    return compare_walls_with_clearance(history, np.ones(len(history.readings), dtype=bool))


def disagreeing(history):
    return places_that_disagree(history, np.ones(len(history.readings), dtype=bool), 3.0)


def test_the_identity_on_an_undersize_journal(history_of, opening) -> None:
    """219.5 + 16.5 + 0.22 = 236.22 (our own arithmetic, invented nominals)."""
    left = opening(
        "2018-09-10", 33800, "as_left", clearance="0.220", upper="8.250", lower="8.250", journal="219.500"
    )
    found = opening("2018-09-10", 33800, clearance="0.300", upper="7.970", lower="7.950", journal="220.000")
    table = compared(history_of(found + left, SIZE_50))
    as_found, as_left = table.to_dict("records")
    assert as_left["predicted"] == pytest.approx(0.220, abs=1e-9)
    assert as_left["residual_um"] == pytest.approx(0.0, abs=1e-6)
    assert as_found["predicted"] == pytest.approx(0.300, abs=1e-9)
    assert as_found["journal_from"] == "measured then"


def test_the_uncertainty_is_the_root_of_the_sum_of_squares(history_of, opening) -> None:
    """JCGM 100:2008, 5.1.2 (clause from memory): u² = u_c² + 2u_t² + u_d² + u_H²."""
    rows = opening("2020-01-01", 9000, clearance="0.230", upper="7.990", lower="7.990", journal="220.000")
    for row, u in zip(rows, ("12", "3", "4", "6"), strict=True):
        row["u_um"] = u
    (row,) = compared(history_of(rows)).to_dict("records")
    step = 1.0 / math.sqrt(12)  # every value to 0.001
    expected = math.sqrt(12**2 + 3**2 + 4**2 + 6**2 + 8**2 + 4 * step**2)
    assert row["residual_u_um"] == pytest.approx(expected, rel=1e-9)
    assert 20 < math.sqrt(20**2 + 2 * 6**2 + 8**2 + 8**2) < 35  # the usual 20–35 µm with a feeler


def test_a_shell_not_exchanged_counts_found_and_left(history_of, opening) -> None:
    lower_only = [{"date": "2019-05-01", "counter_h": "30000", "event": "renewal"}]
    rows = opening("2019-05-01", 30000, clearance="0.270", upper="7.990", lower="7.955", journal="220.000")
    rows += opening("2019-05-01", 30000, "as_left", clearance="0.230", lower="7.995")
    found, left = compared(history_of(rows, lower_only)).to_dict("records")
    assert (found["lower"], left["lower"]) == (7.955, 7.995)
    assert found["upper"] == left["upper"] == 7.990


def test_growth_of_clearance_against_loss_of_walls_needs_neither_journal_nor_housing(
    history_of, opening
) -> None:
    """Δc = loss of upper + loss of lower; a housing bore of the engines table is of the mains alone."""
    limits = [
        {"bearing": "big_end", "half": half} for half in ("upper", "lower")
    ] + [
        {"bearing": "big_end", "half": "", "quantity": "clearance", "new_min": "0.200", "new_max": "0.226",
         "limit": "0.290", "limit_side": "max"}
    ]  # fmt: skip
    rows = opening("2014-01-01", 8000, clearance="0.210", upper="7.995", lower="7.995")
    rows += opening("2017-01-01", 24000, clearance="0.237", upper="7.978", lower="7.985")
    history = history_of([row | {"bearing": "big_end"} for row in rows], limits=limits)
    first, second = compared(history).to_dict("records")
    assert math.isnan(second["predicted"])
    assert second["growth_residual_um"] == pytest.approx(0.0, abs=1e-6)
    assert second["growth_u_um"] == pytest.approx(first["growth_u_um"])


def test_the_sum_stays_across_a_renewal_and_not_across_a_grinding(history_of, opening) -> None:
    rows = opening("2014-01-01", 8000, clearance="0.230", upper="7.995", lower="7.990")
    rows += opening("2018-09-10", 33800, clearance="0.270", upper="7.985", lower="7.960")
    rows += opening("2018-09-10", 33800, "as_left", clearance="0.230", upper="8.240", lower="8.240")
    table = compared(history_of(rows, SIZE_50))
    assert table["grinding"].tolist() == [0, 0, 1]
    assert table["others"].tolist() == [1, 1, 0]
    assert table["growth_residual_um"].abs().max() == pytest.approx(0.0, abs=1e-6)


def test_an_undersize_journal_that_nobody_recorded_is_the_first_cause(history_of, opening) -> None:
    rows = opening("2020-01-01", 9000, clearance="0.740", upper="7.990", lower="7.990")
    history = history_of(rows)
    (one,) = disagreeing(history).values()
    assert one.causes[0].name == "undersize journal, U50"
    assert one.causes[0].explains_um == pytest.approx(500.0)
    assert one.in_u > 3
    assert "above" in one.text


def test_a_journal_measured_then_is_not_blamed(history_of, opening) -> None:
    rows = opening("2020-01-01", 9000, clearance="0.640", upper="7.990", lower="7.990", journal="220.000")
    (one,) = disagreeing(history_of(rows)).values()
    assert not any("journal" in cause.name for cause in one.causes)


def test_a_decimal_slip_is_named(history_of, opening) -> None:
    rows = opening("2020-01-01", 9000, clearance="0.0240", upper="7.990", lower="7.990", journal="220.000")
    (one,) = disagreeing(history_of(rows)).values()
    assert "decimal" in one.causes[0].name


def test_causes_stand_in_order_of_fit(history_of, opening) -> None:
    rows = opening("2020-01-01", 9000, clearance="0.335", upper="7.990", lower="7.990", journal="220.000")
    (one,) = disagreeing(history_of(rows)).values()
    misfits = [cause.misfit_u for cause in one.causes]
    assert misfits == sorted(misfits)
    assert one.causes[0].name == "flat anvil on both walls"


def test_a_flat_anvil_over_reads_48_um_on_a_110_mm_radius() -> None:
    """Sagitta a²/(8 R) of a 6.5 mm chord on a 110 mm radius (geometry; figures common practice)."""
    exact_um = (110 - math.sqrt(110**2 - 3.25**2)) * 1000
    assert flat_anvil_um(220.0) == pytest.approx(exact_um, rel=1e-3)
    assert round(exact_um) == 48


def test_only_the_last_comparison_on_shells_in_service_counts(history_of, opening) -> None:
    bad = opening("2016-01-01", 18000, clearance="0.640", upper="7.980", lower="7.975", journal="220.000")
    good = opening("2019-01-01", 33000, clearance="0.285", upper="7.975", lower="7.960", journal="220.000")
    assert disagreeing(history_of(bad))
    assert not disagreeing(history_of(bad + good))
    renewed = [
        {"half": half, "date": "2017-01-01", "counter_h": "24000", "event": "renewal"}
        for half in ("upper", "lower")
    ]
    later = opening("2018-01-01", 26000, lower="7.990")
    assert not disagreeing(history_of(bad + later, renewed))


def test_readings_that_do_not_count_are_not_compared(history_of, opening) -> None:
    rows = opening("2020-01-01", 9000, clearance="0.640", upper="7.990", lower="7.990", journal="220.000")
    history = history_of(rows)
    counted = (history.readings["quantity"] != "clearance").to_numpy()
    assert not len(compare_walls_with_clearance(history, counted))
    assert places_that_disagree(history, counted, 3.0) == {}


def test_assumed_parts_are_said_not_to_be_independent(history_of, opening) -> None:
    rows = opening("2020-01-01", 9000, clearance="0.230", upper="7.990", lower="7.990", journal="220.000")
    assert not compared(history_of(rows))["independent"].any()
    measured = rows + opening("2020-01-01", 9000, housing="236.225")
    (row,) = compared(history_of(measured)).to_dict("records")
    assert row["independent"]
    assert row["predicted"] == pytest.approx(0.245)
