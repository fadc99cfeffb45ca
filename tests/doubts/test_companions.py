"""Journals, axial clearance, deflections and clearances that contradict the walls."""

from __future__ import annotations

import pytest


def journal(date: str, hours: int, value: str, point: str = "v1", **more: str) -> dict[str, str]:
    return {
        "quantity": "journal_diameter", "half": "", "date": date, "counter_h": str(hours), "value": value,
        "point": point, "state": "as_found", **more,
    }  # fmt: skip


def test_a_regrind_without_a_shell_is_asked_about(doubted) -> None:
    ground = {"event": "regrind", "half": "", "shell_size": "U50", "date": "2024-05-17", "counter_h": "12000"}
    (query,) = doubted([journal("2024-05-17", 12000, "219.500", state="as_left")], [ground])["journal_query"]
    assert (query.table, query.rows) == ("events", (2,))


@pytest.mark.parametrize(
    ("size", "more", "asked"),
    [
        ("U50", [], True),
        ("standard", [], False),
        ("U50", [journal("2020-01-01", 30000, "219.498")], False),
    ],
)
def test_an_undersize_shell_out_of_nowhere_is_asked_about(doubted, size, more, asked) -> None:
    """Nothing tells the journal's size: the worst mistake there is would look the same."""
    put_in = {
        "event": "renewal", "half": "lower", "shell_size": size, "date": "2015-01-01", "counter_h": "9000",
    }  # fmt: skip
    wall = {"date": "2020-01-01", "counter_h": "30000", "value": "8.230" if size == "U50" else "7.990"}
    of_u50 = {"shell_size": "U50", "new_min": "8.235", "new_max": "8.250", "limit": "8.200"}
    found = doubted([wall, *more], [put_in], more_limits=[of_u50]).get("journal_query", [])
    assert bool(found) == asked
    if found:
        assert (found[0].table, found[0].column, found[0].rows) == ("events", "shell_size", (2,))


def test_a_journal_of_another_size_than_its_shells(doubted, history_of, counted) -> None:
    """Half a millimetre under: the step of 0.25/0.50 mm is common practice, no source."""
    rows = [journal("2015-01-01", 9000, "219.998"), journal("2020-01-01", 30000, "219.490")]
    (query,) = doubted(rows)["journal_query"]
    assert query.rows == (3,)
    assert "U50" in query.text
    assert "standard" in query.text
    assert counted(history_of(rows)) == {2: True, 3: False}


def test_a_worn_journal_is_of_its_size(doubted) -> None:
    assert not doubted([journal("2015-01-01", 9000, "219.998"), journal("2020-01-01", 30000, "219.930")])


def test_without_limits_a_step_of_the_journal_is_asked_about(doubted) -> None:
    rows = [journal("2015-01-01", 9000, "199.998"), journal("2020-01-01", 30000, "199.740")]
    (query,) = doubted([row | {"bearing": "big_end"} for row in rows])["journal_query"]
    assert query.rows == (3,)


@pytest.mark.parametrize(("h1", "asked"), [("219.955", False), ("219.950", True)])
def test_ovality_beyond_what_the_journal_may_wear(doubted, h1, asked) -> None:
    """u = 8 µm a reading: 4 u of a difference are 45 µm, the wear allowed here is 40 µm."""
    rows = [journal("2015-01-01", 9000, "219.998"), journal("2015-01-01", 9000, h1, "h1")]
    assert ("journal_query" in doubted(rows)) == asked


def test_a_warm_journal_is_judged_at_20_degrees(doubted) -> None:
    """220 mm at 45 °C measure 63 µm more (11.5 µm/(m·K), handbook value): without it this one fits no size."""
    rows = [
        journal("2015-01-01", 9000, "220.150", temperature_c="45"),
        journal("2016-01-01", 14000, "219.998"),
    ]
    assert "journal_query" not in doubted(rows)
    assert "journal_query" in doubted([row | {"temperature_c": ""} for row in rows])


def axial(value: str, state: str = "as_left") -> dict[str, str]:
    return {"bearing": "thrust", "position": "7", "half": "", "quantity": "axial_clearance", "value": value,
            "state": state}  # fmt: skip


@pytest.mark.parametrize(("value", "asked"), [("0.251", False), ("0.250", True), ("0.180", True)])
def test_axial_clearance_at_or_below_its_minimum(doubted, history_of, counted, value, asked) -> None:
    assert ("axial_minimum" in doubted([axial(value)])) == asked
    assert counted(history_of([axial(value)])) == {2: True}


def throw(bottom_s: str = "0.001", top: str = "0.020", **more: str) -> list[dict[str, str]]:
    values = {"bottom_p": "0.000", "port": "0.010", "top": top, "starboard": "0.010", "bottom_s": bottom_s}
    return [
        {"bearing": "big_end", "position": "4", "half": "", "quantity": "web_deflection", "point": point,
         "value": value, **more}
        for point, value in values.items()
    ]  # fmt: skip


@pytest.mark.parametrize(("bottom_s", "closes"), [("0.020", True), ("-0.020", True), ("0.021", False)])
def test_a_throw_should_close_to_about_two_hundredths(doubted, bottom_s, closes) -> None:
    """About 0.02 mm: common practice, no source."""
    found = doubted(throw(bottom_s))
    assert ("deflection_closure" not in found) == closes
    if not closes:
        assert found["deflection_closure"][0].rows == (2, 6)


@pytest.mark.parametrize(("top", "kind"), [("0.240", None), ("-30", "unit_slip"), ("0.241", "unit_slip")])
def test_deflections_far_beyond_their_limits(doubted, history_of, counted, top, kind) -> None:
    found = doubted(throw(top=top))
    assert list(found) == ([kind] if kind else [])
    assert counted(history_of(throw(top=top)))[4] == (kind is None)


def bearing(position: int, clearance: float, wall: float = 7.985) -> list[dict[str, str]]:
    at = {"position": str(position), "date": "2020-01-01", "counter_h": "9000"}
    return [
        at | {"quantity": "clearance", "half": "", "value": f"{clearance:.3f}"},
        at | {"half": "upper", "value": f"{wall:.3f}"},
        at | {"half": "lower", "value": f"{wall:.3f}"},
        at | {"quantity": "journal_diameter", "half": "", "point": "v1", "value": "220.000"},
    ]


def test_a_clearance_that_does_not_fit_the_walls(doubted, history_of, counted) -> None:
    """c = H - d - t_u - t_l = 236.22 - 220 - 2 · 7.985 = 0.25 mm."""
    assert not doubted(bearing(3, 0.250))
    (query,) = doubted(bearing(3, 0.400))["walls_clearance"]
    assert query.rows == (2, 3, 4)
    assert query.evidence == pytest.approx(150 / (20**2 + 2 * 36 + 2 * 64 + 4 / 12) ** 0.5, abs=0.02)
    assert all(counted(history_of(bearing(3, 0.400))).values())


def test_a_gauge_that_over_reads_all_walls_is_one_query(doubted) -> None:
    """48 µm on both halves (flat anvil, geometry): clearances stand 96 µm above what the walls leave."""
    rows = [row for position in range(1, 6) for row in bearing(position, 0.250, 8.033)]
    (query,) = doubted(rows)["walls_clearance"]
    assert "5 places" in query.text
    assert "flat anvil" in query.text
    assert len(query.rows) == 15
