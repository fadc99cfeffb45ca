"""Events to shell lives, as the data contract's rules say (common practice, no source)."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearcast.lives.shells import EPOCH, Event, Place, life_of, lives_at

LOWER = Place("V", "ME", "main", "3", "lower")
WHOLE = Place("V", "ME", "main", "3")
NAN = float("nan")


def event(
    kind: str, on: date | None, hours: float, half: str = "lower", size: str = "standard", **more
) -> Event:
    place = Place("V", "ME", more.pop("bearing", "main"), more.pop("position", "3"), half)
    return Event(kind, place, on, hours, size, more.pop("wall", NAN), "", "", row=more.pop("row", 2))


def lives(place: Place, quantity: str, events: list[Event], first_h: float = 8000, first_on=date(2012, 1, 1)):
    return lives_at(place, quantity, events, first_h, first_on)


def test_no_fitting_within_24000_hours_is_taken_as_new_at_0() -> None:
    (life,) = lives(LOWER, "wall", [], first_h=24_000)
    assert (life.fitting, life.fitted_h, life.shell_no, life.size_assumed) == ("assumed", 0, 1, True)


def test_no_fitting_and_a_late_first_reading_is_unknown() -> None:
    (life,) = lives(LOWER, "wall", [], first_h=24_001)
    assert life.fitting == "unknown"
    assert np.isnan(life.fitted_h)


def test_fitted_without_hours_is_fitted_at_an_unknown_time() -> None:
    (life,) = lives(LOWER, "wall", [event("fitted", None, NAN)])
    assert (life.fitting, life.shell_no, life.size_assumed) == ("unknown", 1, False)


def test_a_renewal_ends_a_life_and_starts_the_next() -> None:
    first, second = lives(
        LOWER,
        "wall",
        [event("fitted", date(2011, 1, 1), 0), event("renewal", date(2019, 5, 1), 41200, size="U50")],
    )
    assert (first.ended_on, first.ended_h, first.in_service) == (date(2019, 5, 1), 41200, False)
    assert (second.shell_no, second.shell_size, second.fitted_h, second.in_service) == (2, "U50", 41200, True)


def test_a_renewal_without_a_fitting_is_the_second_shell() -> None:
    unrecorded, second = lives(LOWER, "wall", [event("renewal", date(2019, 5, 1), 41200)], first_h=30_000)
    assert (unrecorded.shell_no, unrecorded.fitting) == (1, "unknown")
    assert (second.shell_no, second.fitting) == (2, "known")


def test_a_refit_never_starts_a_life() -> None:
    assert (
        len(
            lives(
                LOWER, "wall", [event("fitted", date(2011, 1, 1), 0), event("refit", date(2015, 1, 1), 9000)]
            )
        )
        == 1
    )


def test_a_wall_knows_its_own_half_only() -> None:
    events = [event("fitted", date(2011, 1, 1), 0), event("renewal", date(2019, 5, 1), 41200, half="upper")]
    assert len(lives(LOWER, "wall", events)) == 1


@pytest.mark.parametrize("kind", ["renewal", "regrind"])
def test_a_clearance_begins_anew_with_either_half_or_the_journal(kind: str) -> None:
    events = [
        event("fitted", date(2011, 1, 1), 0),
        event("fitted", date(2011, 1, 1), 0, half="upper"),
        event(kind, date(2019, 5, 1), 41200, half="upper"),
    ]
    first, second = lives(WHOLE, "clearance", events)
    assert (first.shell_no, second.shell_no, second.fitted_h) == (1, 2, 41200)


def test_regrind_and_renewal_of_one_opening_start_one_clearance_of_the_new_size() -> None:
    events = [
        event("fitted", date(2011, 1, 1), 0),
        event("renewal", date(2019, 5, 1), 41200, size="U50", row=5),
        event("regrind", date(2019, 5, 1), 41200, half="", size="U50", row=4),
    ]
    assert [life.shell_size for life in lives(WHOLE, "clearance", events)] == ["standard", "U50"]


def test_a_journal_begins_anew_at_its_regrind_only() -> None:
    events = [event("renewal", date(2015, 1, 1), 20000), event("regrind", date(2019, 5, 1), 41200, half="")]
    assert len(lives(WHOLE, "journal_diameter", events)) == 2


def test_axial_clearance_begins_anew_with_thrust_shells() -> None:
    thrust = event("renewal", date(2019, 5, 1), 41200, half="", bearing="thrust", position="7")
    events = [thrust, event("renewal", date(2018, 1, 1), 38000)]
    at_thrust = Place("V", "ME", "thrust", "7")
    assert [life.fitted_h for life in lives(at_thrust, "axial_clearance", events)][1:] == [41200]
    assert len(lives(WHOLE, "axial_clearance", events)) == 2


def test_the_new_wall_measured_stays_with_its_shell() -> None:
    _, second = lives(LOWER, "wall", [event("renewal", date(2019, 5, 1), 41200, wall=7.993)])
    assert second.new_wall_mm == 7.993


def day(on: date) -> int:
    return (on - EPOCH).days


def placed(found, on: date, state: str) -> tuple[int, bool]:
    index, needed = life_of(found, np.array([day(on)]), np.array([state], dtype=object))
    return int(index[0]), bool(needed[0])


def test_at_a_renewal_found_is_of_the_old_shell_and_left_of_the_new() -> None:
    found = lives(
        LOWER, "wall", [event("fitted", date(2011, 1, 1), 0), event("renewal", date(2019, 5, 1), 41200)]
    )
    assert placed(found, date(2019, 5, 1), "as_found") == (0, False)
    assert placed(found, date(2019, 5, 1), "as_left") == (1, False)
    assert placed(found, date(2019, 5, 1), "")[1]
    assert placed(found, date(2019, 4, 30), "") == (0, False)
    assert placed(found, date(2019, 5, 2), "") == (1, False)


@given(
    st.lists(st.integers(1, 5000), min_size=0, max_size=6, unique=True),
    st.integers(0, 6000),
    st.sampled_from(["as_found", "as_left"]),
)
def test_every_reading_finds_the_life_that_covers_its_day(renewals, on, state) -> None:
    """A slow second way: count the renewals that came before."""
    base = date(2000, 1, 1)
    events = [event("fitted", base, 0)] + [
        event("renewal", date.fromordinal(base.toordinal() + d), 10.0 * d, row=3 + k)
        for k, d in enumerate(renewals)
    ]
    found = lives_at(LOWER, "wall", events, 0.0, base)
    assert [life.shell_no for life in found] == list(range(1, len(renewals) + 2))
    index, needed = placed(found, date.fromordinal(base.toordinal() + on), state)
    assert not needed
    assert index == sum(d < on or (d == on and state == "as_left") for d in renewals)
