"""What to order: the stories of the demo, and small fleets whose answer is plain."""

from __future__ import annotations

import datetime as dt

import pytest

import wearcast
from wearcast.decide.joint_needs import joint_needs
from wearcast.decide.order import order, order_at
from wearcast.decide.order_lines import COLUMNS
from wearcast.decide.what_if import UseOf, WhatIf

RUN = dt.date(2020, 1, 15)
NEW = 7.9925


@pytest.fixture(scope="module")
def needs(demo):
    return joint_needs(demo)


@pytest.fixture(scope="module")
def demo_order(demo, needs):
    return order_at(demo, 0.95, needs=needs)


def line_of(made, bearing: str, half: str, size: str = "standard"):
    return next(
        line
        for line in made.lines
        if (line.part.bearing, line.part.half, line.part.shell_size) == (bearing, half, size)
    )


def test_the_table_has_the_columns_in_order(demo_order) -> None:
    assert tuple(demo_order.table.columns) == COLUMNS
    assert len(demo_order.table) == len(demo_order.lines)


def test_story_b_orders_the_undersize_shell_and_says_that_standard_ones_do_not_fit(demo_order) -> None:
    """Tarn Ivelle main 6 was reground to U50; the store holds standard shells only."""
    line = line_of(demo_order, "main", "lower", "U50")
    assert line.quantity == 1
    assert line.now
    assert [str(taker) for taker, _ in line.driving] == ["Tarn Ivelle ME main 6"]
    said = "; ".join(line.reasons)
    assert "2 of size standard in store or on order count zero here" in said
    standard = line_of(demo_order, "main", "lower")
    assert "Tarn Ivelle ME main 6 takes size U50: what is in store here does not serve it" in standard.reasons
    assert all(str(taker) != "Tarn Ivelle ME main 6" for taker in standard.takers)


def test_damage_with_plenty_of_wall_is_counted_as_needed(demo_order) -> None:
    line = line_of(demo_order, "main", "lower")
    chance = {str(taker): share for taker, share in line.driving}
    assert chance["Merrow Dain ME main 2"] == 1.0
    assert any("main 2 lower: damage noted" in reason for reason in line.reasons)


def test_both_halves_renewed_together_need_as_many_upper_as_lower(demo, needs) -> None:
    together = order_at(demo, 0.95, both_halves=True, needs=needs)
    upper, lower = (line_of(together, "main", half) for half in ("upper", "lower"))
    assert (upper.counts == lower.counts).all()
    assert "both halves are renewed together" in upper.reasons
    assert line_of(together, "main", "upper", "U50").quantity == 1


def test_a_longer_lead_time_asks_for_no_fewer_and_no_later(demo, needs, demo_order) -> None:
    slow = order_at(demo, 0.95, lead_time_days=400, needs=needs)
    for before, after in zip(demo_order.lines, slow.lines, strict=True):
        assert after.quantity >= before.quantity
        if before.last_order and after.last_order:
            assert after.last_order <= before.last_order


def test_more_service_asks_for_no_fewer(demo, needs, demo_order) -> None:
    sure = order_at(demo, 0.99, needs=needs)
    pairs = list(zip(demo_order.lines, sure.lines, strict=True))
    assert all(more.quantity >= less.quantity for less, more in pairs)
    assert any(more.quantity > less.quantity for less, more in pairs)


# Small fleets: 1 µm per 1000 h, allowance 42.5 µm, 5000 h a year, last read on 2020-01-15 at 40 000 h.


def worn(position: int, *ages_h: int, rate: float = 1.0, new: float = NEW, **more) -> list[dict]:
    return [
        {
            "position": str(position),
            "value": f"{new - rate * age / 1e6:.4f}",
            "date": f"{2012 + age // 5000}-{1 + (age % 5000) * 11 // 5000:02d}-15",
            "counter_h": str(age),
            **more,
        }
        for age in ages_h
    ]


AGES = (10_000, 20_000, 30_000, 40_000)
SPARE = {"position": "", "on_hand": "0", "lead_time_days": "30", "forwarding_days": "0", "margin_days": "0"}


@pytest.fixture
def ordered(record_folder):
    def make(*arguments, what_if=None, both_halves=False, **tables):
        records = wearcast.read(record_folder(**tables), RUN)
        return order(records, None, *arguments, both_halves=both_halves, what_if=what_if, n_draws=1000)

    return make


WORN_OUT = [row for position in (1, 2, 3) for row in worn(position, *AGES)]  # 2 500 h left: half a year
YOUNG = [row for position in (4, 5) for row in worn(position, 5_000, 10_000, 15_000, 20_000, rate=0.4)]


def test_shells_near_their_limit_are_ordered_and_young_ones_are_not(ordered) -> None:
    made = ordered(readings=WORN_OUT, spares=[SPARE])
    assert made.lines[0].quantity == 3
    made = ordered(
        readings=[row | {"date": f"20{16 + k % 4}-01-15"} for k, row in enumerate(YOUNG)], spares=[SPARE]
    )
    assert made.lines[0].quantity == 0


def test_stock_and_orders_count_and_the_minimum_stays_on_board(ordered) -> None:
    made = ordered(
        readings=WORN_OUT, spares=[SPARE | {"on_hand": "2", "on_order": "1", "minimum_on_board": "1"}]
    )
    assert made.lines[0].quantity == 3 + 1 - 2 - 1


def test_parts_sold_in_pairs_are_counted_in_pairs(ordered) -> None:
    both = WORN_OUT + [row for p in (1, 2, 3) for row in worn(p, *AGES, rate=0.2, half="upper")]
    limits = [{"half": half} for half in ("lower", "upper")]
    made = ordered(readings=both, limits=limits, spares=[SPARE | {"half": "pair"}])
    assert [line.part.half for line in made.lines] == ["pair"]
    assert made.lines[0].quantity == 3
    assert any("sold in pairs" in reason for reason in made.lines[0].reasons)


def test_a_part_without_a_row_of_spares_is_counted_and_said(ordered) -> None:
    made = ordered(readings=WORN_OUT, spares=None)
    line = made.lines[0]
    assert not line.part.in_spares
    assert line.quantity == 3
    assert line.last_order is None
    assert "no row in the spares table" in line.reasons[0]


def test_several_rows_of_one_part_are_one_store(ordered) -> None:
    made = ordered(
        readings=WORN_OUT, spares=[SPARE | {"on_hand": "1"}, SPARE | {"on_hand": "1", "lead_time_days": "90"}]
    )
    assert len(made.lines) == 1
    assert made.lines[0].part.on_hand == 2
    assert made.lines[0].part.lead_time_days == 90


def test_of_two_references_of_one_part_the_first_is_counted_on_and_that_is_said(ordered) -> None:
    spares = [SPARE | {"part_reference": "old"}, SPARE | {"part_reference": "new", "on_hand": "5"}]
    made = ordered(readings=WORN_OUT, spares=spares)
    first, second = made.lines
    assert (first.part.part_reference, first.quantity) == ("old", 3)
    assert (second.part.part_reference, second.quantity) == ("new", 0)
    assert any("is listed before as old" in reason for reason in second.reasons)
    assert second.takers == ()


def test_the_partner_half_is_counted_even_where_it_was_never_read(ordered) -> None:
    limits = [{"half": half} for half in ("lower", "upper")]
    spares = [SPARE | {"half": half} for half in ("lower", "upper")]
    made = ordered(readings=WORN_OUT, limits=limits, spares=spares, both_halves=True)
    assert {line.part.half: line.quantity for line in made.lines} == {"upper": 3, "lower": 3}
    alone = ordered(name="alone", readings=WORN_OUT, limits=limits, spares=spares)
    assert {line.part.half: line.quantity for line in alone.lines} == {"upper": 0, "lower": 3}


def test_a_clearance_stands_for_both_halves_only_where_no_wall_is_read(ordered) -> None:
    """Clearance grows 2 µm per 1000 h from 0.235 mm to its limit of 0.330: 7 500 h are left at 40 000 h."""
    rows = [
        row
        | {
            "quantity": "clearance",
            "half": "",
            "value": f"{0.235 + 0.0022 * int(row['counter_h']) / 1000:.3f}",
        }
        for row in WORN_OUT
    ]
    limit = {"quantity": "clearance", "half": "", "new_min": "0.22", "new_max": "0.25", "limit": "0.33",
             "limit_side": "max"}  # fmt: skip
    spares = [SPARE | {"half": half} for half in ("lower", "upper")]
    made = ordered(readings=rows, limits=[limit], spares=spares)
    assert {line.part.half: line.quantity for line in made.lines} == {"upper": 3, "lower": 3}
    assert all(
        "no wall is read here: the clearance stands for both halves" in line.reasons for line in made.lines
    )


def test_the_makers_fixed_hours_come_before_the_trend(ordered) -> None:
    """Hardly worn, but the maker asks for renewal at 42 000 h: 2 000 h are left."""
    slow = [row for position in (1, 2) for row in worn(position, *AGES, rate=0.2)]
    none = ordered(readings=slow, spares=[SPARE])
    assert none.lines[0].quantity == 0
    made = ordered(readings=slow, limits=[{"renew_at_h": "42000"}], spares=[SPARE])
    assert made.lines[0].quantity == 2
    assert any("maker's fixed hours hold, 2000 h are left" in reason for reason in made.lines[0].reasons)


def test_without_yearly_use_nothing_is_dated_and_that_is_said(ordered) -> None:
    rows = [row for row in YOUNG if row["counter_h"] == "20000"]  # one day of the dial tells no yearly use
    made = ordered(readings=rows, engines=[{"hours_per_year": ""}], spares=[SPARE])
    assert made.lines[0].quantity == 0
    assert any("no yearly use is known" in reason for reason in made.lines[0].reasons)


def test_both_cases_of_a_what_if_are_kept(ordered) -> None:
    slow = {"readings": [row for p in (1, 2, 3) for row in worn(p, *AGES, rate=0.85)], "spares": [SPARE]}
    made = ordered(what_if=WhatIf(hours_per_year=(UseOf("", 1000.0),)), **slow)
    assert made.as_given is not None
    assert made.as_given.lines[0].quantity > made.lines[0].quantity
    assert made.what_if.any
    assert ordered(what_if=WhatIf(), **slow).as_given is None


def test_a_line_tells_when_its_cover_ends_and_whose_limits_it_counts(demo, demo_order) -> None:
    line = line_of(demo_order, "main", "lower", "U50")
    assert line.cover_ends_years == 0.0 or line.last_order is not None
    for one in demo_order.lines:
        assert len(one.need_lives) == len(one.chances)
        if one.last_order is not None:
            ends = demo.as_of + dt.timedelta(days=int(one.cover_ends_years * 365.25 + 1e-6))
            assert (ends - one.last_order).days == one.part.days_to_come
    lives = {life for lives in line_of(demo_order, "main", "lower").need_lives for life in lives}
    assert all(demo.life(life).place.half == "lower" for life in lives)
