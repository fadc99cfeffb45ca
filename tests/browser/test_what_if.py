"""What if in the page against the program: the same rows, moved by re-forecasting changed records.

The arithmetic of the page is held, too, against SciPy (normal distribution, convolution) and against the functions
of the program that it mirrors, one by one.
"""

from __future__ import annotations

import datetime as dt
import itertools
import json
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.special import ndtr

from wearcast.decide.fewest import excess_of_steps, fewest_openings
from wearcast.decide.joint_needs import joint_needs
from wearcast.decide.order import REVIEW_DAYS, longest_years, order_at
from wearcast.decide.plan import Plan, plan_at
from wearcast.decide.stand import chance_run_within, take_stand
from wearcast.decide.what_if import MovedWindow, UseOf, WhatIf, changed_records
from wearcast.forecasting.at import solved
from wearcast.forecasting.run import Forecast, forecast
from wearcast.forecasting.statements import Facts, beside, rests_on, statement
from wearcast.lives.build import build
from wearcast.records.read import read
from wearcast.report.what_if import WhatIfSource
from wearcast.wear.crossing import HoursToLimit
from wearcast.wear.dates import probability_within, years_to_limit
from wearcast.words import chance as chance_words

pytestmark = pytest.mark.browser

RUN = dt.date(2026, 11, 25)
DEMO = Path(__file__).parents[2] / "sample_data"
DAYS, CHANCE, HOURS_SHARE, HOURS = 1, 0.002, 0.005, 20.0
"""Agreement asked for: a day, 0.002 of a chance, 0.5 % or 20 h."""

MOST_MS, TRIES = 200, 12
EPOCH = dt.date(1970, 1, 1)


@dataclass(frozen=True)
class Case:
    """One setting: for the program, and what is typed into the fleet sheet."""

    what_if: WhatIf
    typed: dict[str, str]
    risk: float = 0.10


CASES = {
    "recorded": Case(WhatIf(), {}),
    "every engine at 6000 h": Case(
        WhatIf(hours_per_year=(UseOf("", 6000.0),)), {f"use-{k}": "6000" for k in range(4)}
    ),
    "two uses, two windows, half the risk": Case(
        WhatIf(
            hours_per_year=(UseOf("Merrow Dain", 4200.0), UseOf("Quillo Fen", 7500.0)),
            moved_windows=(
                MovedWindow("Ossel Brae", dt.date(2027, 3, 15), dt.date(2027, 9, 15)),
                MovedWindow("Tarn Ivelle", dt.date(2027, 4, 19), dt.date(2028, 12, 1)),
            ),
        ),
        {
            "use-2": "4200",
            "use-3": "7500",
            "window-0": "2027-09-15",
            "window-4": "2028-12-01",
            "risk": "0.05",
        },
        risk=0.05,
    ),
}


@pytest.fixture(scope="module")
def made() -> WhatIfSource:
    """Forecast, plan and order of the demo at the recorded settings."""
    records = read(DEMO, run_date=RUN)
    stand = take_stand(records)
    return WhatIfSource(forecast(records), plan_at(stand, 0.10), order_at(stand, 0.95))


@pytest.fixture(scope="module")
def changed(made: WhatIfSource) -> Callable[[str], Forecast]:
    """The forecast of changed records; the fits do not hang on what is changed."""

    def of(name: str) -> Forecast:
        records = changed_records(made.forecast.history.records, CASES[name].what_if)
        history = build(records)
        classes = tuple(solved(history, one.one, one.screened) for one in made.forecast.classes)
        settings = replace(made.forecast.settings, risk=CASES[name].risk)
        return replace(made.forecast, history=history, classes=classes, settings=settings)

    return of


@pytest.fixture(scope="module")
def planned(made: WhatIfSource) -> Callable[[str], Plan]:
    """The plan of changed records, worked out once a case."""
    found: dict[str, Plan] = {}

    def of(name: str) -> Plan:
        if name not in found:
            case = CASES[name]
            records = changed_records(made.forecast.history.records, case.what_if)
            found[name] = plan_at(take_stand(records), case.risk)
        return found[name]

    return of


@pytest.fixture
def script(browser: Any) -> Any:
    """An empty page with the arithmetic alone."""
    page = browser.new_page()
    source = files("wearcast.report") / "assets" / "what_if.js"
    page.add_script_tag(content=source.read_text(encoding="utf-8"))
    yield page
    page.close()


def day_number(on: dt.date) -> int:
    return (on - EPOCH).days


def type_in(page: Any, values: dict[str, str]) -> None:
    if not page.locator("#what-if-try").evaluate("one => one.open"):
        page.locator("#what-if-try > summary").click()
    for name, value in values.items():
        page.fill(f'[name="{name}"]', value)


FACTS = """() => Object.fromEntries([...document.querySelectorAll("table.forecast [data-row]")].map((holder) => [
  holder.dataset.row,
  Object.fromEntries(
    [...holder.querySelectorAll("[data-fact]")].map((cell) => [cell.dataset.fact, cell.textContent.trim()])),
]))"""


def shown(page: Any) -> dict[int, dict[str, str]]:
    """What the forecast table says, by row and fact."""
    return {int(row): told for row, told in page.evaluate(FACTS).items()}


OUTLOOKS = """(cases) => {
  const page = JSON.parse(document.getElementById("what-if-data").textContent);
  return page.rows.map((row) => {
    const engine = page.engines[row.engine];
    const hours = cases.use[row.engine] ?? engine.hours_per_year;
    const sd = engine.sd_h === null ? engine.sd_share * hours : engine.sd_h;
    const use = { mean: hours / 1000, sd: sd / 1000, history: engine.history_years };
    const windows = page.windows.map((one, k) => ({ ...one, day: whatIf.dayOf(cases.window[k] ?? one.on) }))
      .filter((one) => one.engines.includes(row.engine)).sort((a, b) => a.day - b.day);
    if (row.hours) row.curve = whatIf.curveOf(row.hours, page.grid_h);
    const at = { day: whatIf.dayOf(engine.as_of), use, risk: page.risk, carriedDays: 0, windows };
    const made = whatIf.outlook(row, at);
    return [row.row, made.pNext, made.pFollowing, made.dates.map((day) => (day === null ? "" : whatIf.isoOf(day)))];
  });
}"""


# ---- the arithmetic by itself --------------------------------------------------------------------------------------


def test_the_normal_distribution_is_that_of_scipy(script: Any) -> None:
    at = np.linspace(-12, 12, 481)
    found = np.array(script.evaluate("at => at.map(whatIf.ndtr)", at.tolist()))
    assert np.abs(found - ndtr(at)).max() < 1e-14
    small = at < -1
    assert np.abs(found[small] / ndtr(at[small]) - 1).max() < 1e-8


def straight(median_kh: float, slope: float) -> tuple[HoursToLimit, list[Any], list[float]]:
    """A curve that is straight on the scales it is read on: log-normal hours, and how it is carried."""
    grid = np.r_[0.0, np.geomspace(0.1, 200.0, 32)]
    z = np.where(grid > 0, slope * np.log(np.maximum(grid, 1e-9) / median_kh), -7.0)
    z[0] = min(-7.0, z[1] - 1)
    z = np.clip(z, -7.0, 7.0)
    hours = HoursToLimit(
        shell=np.zeros(1, dtype=np.intp), governing_series=np.zeros(1, dtype=np.intp), probabilities=np.zeros(0),
        hours_kh=np.zeros((1, 0)), curve_hours_kh=grid[None], curve=ndtr(z)[None],
    )  # fmt: skip
    return hours, [0, np.rint(z / 1e-5).astype(int).tolist(), []], (1000 * grid).tolist()


@pytest.mark.parametrize(("median_kh", "slope"), [(20.0, 3.0), (60.0, 1.2), (4.0, 8.0), (0.3, 2.0)])
def test_chances_and_dates_are_those_of_the_program(script: Any, median_kh: float, slope: float) -> None:
    hours, carried, grid = straight(median_kh, slope)
    at = np.r_[0.0, np.geomspace(0.05, 300.0, 60)]
    found = script.evaluate(
        """([carried, grid, at]) => {
          const curve = whatIf.curveOf(carried, grid);
          return at.map((h) => whatIf.chanceAt(curve, h));
        }""",
        [carried, grid, at.tolist()],
    )
    assert np.abs(np.array(found) - hours.probability_before(at[None])[0]).max() < 1e-5
    for mean, sd, history in ((5.2, 0.5, 1.0), (6.0, 1.5, 4.0), (0.8, 0.08, 1.0), (5.0, 0.0, 2.0)):
        use = {"mean": mean, "sd": sd, "history": history}
        years = [0.0, 0.2, 1.0, 3.7, 9.0]
        args = np.array([mean]), np.array([sd]), np.array([history])
        found = script.evaluate(
            """([carried, grid, years, use]) => {
              const curve = whatIf.curveOf(carried, grid);
              const chances = years.map((t) => whatIf.probabilityWithin(curve, t, use));
              return [chances, whatIf.yearsToLimit(curve, use, [0.1, 0.5, 0.9])];
            }""",
            [carried, grid, years, use],
        )
        assert (
            np.abs(np.array(found[0]) - probability_within(hours, np.array([years]), *args)[0]).max() < 1e-5
        )
        exact = years_to_limit(hours, *args)[0]
        told = np.array([np.nan if one is None else one for one in found[1]])
        assert (np.isnan(told) == np.isnan(exact)).all()
        assert np.nanmax(np.abs(told - exact), initial=0.0) < 3e-4
        if sd == 0 and np.isfinite(exact[1]):  # by hand: the median in hours over the yearly use
            assert told[1] == pytest.approx(median_kh / mean, rel=1e-3)


def test_hours_run_within_a_time_are_those_of_the_program(script: Any) -> None:
    for hours, years in itertools.product((0.0, 4.0, 11.0), (0.3, 1.0, 4.0)):
        use = tuple(np.array([one]) for one in (5.0, 0.6, 2.0))
        exact = chance_run_within(np.array([hours]), np.array([[years]]), use)[0, 0]
        found = script.evaluate(
            "([h, t]) => whatIf.chanceRun(h, t, { mean: 5, sd: 0.6, history: 2 })", [hours, years]
        )
        assert found == pytest.approx(exact, abs=1e-12)


def test_every_statement_is_that_of_the_program(script: Any) -> None:
    days = (None, dt.date(2027, 3, 1), dt.date(2028, 3, 1))
    cases, expected = [], []
    for flags in itertools.product((False, True), repeat=8):
        for early, first, second, openings in itertools.product(
            days, days[:2], (None, dt.date(2027, 12, 1)), (0, 1, 2)
        ):
            damage, past, may_be, dated, soon, governed, disagree, changed = flags
            facts = Facts(
                damage, past, may_be, dated, early, first, second, soon, governed, disagree, changed, openings
            )
            expected.append([statement(facts), rests_on(facts), list(beside(facts))])
            number = [None if day is None else day_number(day) for day in (early, first, second)]
            cases.append([*flags, *number, openings])
    found = script.evaluate(
        """cases => cases.map((values) => {
          const names = [
            "damage", "past", "mayBePast", "dated", "withinAYear", "governed", "disagree", "changedRate", "dateP10",
            "nextWindow", "followingWindow", "openings",
          ];
          const made = whatIf.statements(Object.fromEntries(names.map((name, k) => [name, values[k]])));
          return [made.statement, made.restsOn, made.others];
        })""",
        cases,
    )
    assert found == expected


def total_cost(chance: np.ndarray, opened: np.ndarray, risk: float) -> np.ndarray:
    """Excess by interval, then openings, of a way to open: what both searches make small."""
    excess, windows = excess_of_steps(chance, risk), chance.shape[2] - 2
    sums = np.zeros(len(excess) + 1)
    for place, mine in enumerate(opened):
        nodes = [0, *(np.flatnonzero(mine) + 1), windows + 1]
        for start, stop in itertools.pairwise(nodes):
            sums[:-1] += excess[:, place, start, stop]
        sums[-1] += sum(1 - 1e-3 * j / windows for j in np.flatnonzero(mine))
    return sums


@pytest.mark.parametrize("seed", range(12))
def test_the_fewest_openings_are_those_of_the_integer_program(script: Any, seed: int) -> None:
    """SciPy's `milp` (HiGHS) against the search of the page, on invented chances, with and without room to open."""
    rng = np.random.default_rng(seed)
    places, windows = int(rng.integers(1, 9)), int(rng.integers(1, 5))
    chance = np.zeros((places, windows + 1, windows + 2))
    for k in range(places):
        pace = rng.uniform(0.02, 0.5)
        ahead = rng.uniform(0, 1.5)
        for i, j in itertools.combinations(range(windows + 2), 2):
            if i <= windows:
                chance[k, i, j] = 1 - np.exp(-((pace * (j - i + (ahead if i == 0 else 0))) ** 2))
    most = [None if rng.random() < 0.3 else int(rng.integers(0, 4)) for _ in range(windows)]
    exact = fewest_openings(chance, 0.10, np.array([np.inf if one is None else one for one in most]))
    found = script.evaluate(
        "([chance, most]) => whatIf.fewestOpenings(chance, 0.10, most)", [chance.tolist(), most]
    )
    opened = np.array(found["opened"], dtype=bool)
    assert all(one is None or opened[:, j].sum() <= one for j, one in enumerate(most))
    assert np.allclose(total_cost(chance, opened, 0.10), total_cost(chance, exact.opened, 0.10), atol=2e-6)
    assert found["over"] == exact.over.tolist()


def test_more_than_is_the_tail_of_a_sum_of_independent_events(script: Any) -> None:
    chances = [0.1, 0.35, 0.8, 0.02, 0.5]
    exactly = np.ones(1)
    for p in chances:
        exactly = np.convolve(exactly, [1 - p, p])
    for stock in range(6):
        found = script.evaluate("([stock, chances]) => whatIf.moreThan(stock, chances)", [stock, chances])
        assert found == pytest.approx(exactly[stock + 1 :].sum(), abs=1e-12)


def test_the_end_of_the_cover_is_the_recorded_one_where_nothing_changes(script: Any) -> None:
    found = script.evaluate(
        """() => [0, 1, 40, 700, 2000].map((days) => {
          const rising = (day) => 1 - Math.exp(-day / 900);
          const steps = (day) => (day < 700 ? 0.01 : 0.9);
          return [whatIf.coverEnds(days, rising, rising, 0.95), whatIf.coverEnds(700, steps, steps, 0.95)];
        })"""
    )
    assert [one[0] for one in found] == [0, 1, 40, 700, 2000]
    assert {one[1] for one in found} == {700}


def test_a_date_that_does_not_exist_is_none(script: Any) -> None:
    texts = ["2027-02-28", "2027-02-29", "2028-02-29", "2027-13-01", "1.2.2027", "", "2027-2-3"]
    found = script.evaluate("texts => texts.map(whatIf.dayOf)", texts)
    assert [one is not None for one in found] == [True, False, True, False, False, False, False]
    assert found[0] == day_number(dt.date(2027, 2, 28))


# ---- the page against a new forecast -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", CASES)
def test_every_row_follows_as_a_new_forecast_would_have_it(
    name: str, fleet_sheet: Path, open_page: Callable[..., Any], changed: Callable[[str], Forecast]
) -> None:
    opened = open_page(fleet_sheet)
    type_in(opened.page, CASES[name].typed)
    told, table = shown(opened.page), changed(name).table
    assert len(told) == len(table)
    numbers = {int(row): pair for row, *pair in opened.page.evaluate(OUTLOOKS, outlook_case(name))}
    for row, facts in told.items():
        values = table.iloc[row]
        assert (facts["statement"], facts["rests_on"]) == (values.statement, values.rests_on), (row, facts)
        damaged = values.statement == "damage noted"  # its dates are in the table, and on no page
        for q in (10, 50, 90):
            compare_dates(row, facts.get(f"date_p{q}", ""), None if damaged else values[f"date_p{q}"])
        *chances, dates = numbers[row]
        for q, text in zip((10, 50, 90), dates, strict=True):
            compare_dates(row, text, values[f"date_p{q}"])
        for which, found in zip(("next", "following"), chances, strict=True):
            exact = values[f"p_limit_before_{which}_window"]
            assert (found is None) == (exact is None or np.isnan(exact))
            if found is not None:
                assert found == pytest.approx(exact, abs=CHANCE)
                if damaged:
                    assert f"p_{which}" not in facts
                    continue
                assert words_near(facts[f"p_{which}"], exact)
                assert facts[f"{which}_window"].split()[0] == str(values[f"{which}_window"])
        open_at = values.open_at if isinstance(values.open_at, dt.date) else None
        said = facts.get("open_at", "")
        assert (str(open_at) in said) if open_at and said else True
    assert opened.said == []


def outlook_case(name: str) -> dict[str, Any]:
    typed = CASES[name].typed
    return {
        "use": {key[4:]: float(value) for key, value in typed.items() if key.startswith("use-")},
        "window": {key[7:]: value for key, value in typed.items() if key.startswith("window-")},
    }


def compare_dates(row: int, text: str, exact: Any) -> None:
    found = re.match(r"(?:already by )?(\d{4}-\d\d-\d\d)", text)
    assert bool(found) == isinstance(exact, dt.date), (row, text, exact)
    if found:
        assert abs((dt.date.fromisoformat(found[1]) - exact).days) <= DAYS, (row, text, exact)


def words_near(text: str, exact: float) -> bool:
    """Whether the words shown are those of some chance as near as asked for."""
    near = (chance_words(exact + off) for off in (-1e-4, 0.0, 1e-4))
    return text.replace("\N{NO-BREAK SPACE}", " ") in {one.replace("\N{NO-BREAK SPACE}", " ") for one in near}


HOURS_AT = """(levels) => {
  const page = JSON.parse(document.getElementById("what-if-data").textContent);
  return page.rows.filter((row) => row.hours).map((row) => {
    const curve = whatIf.curveOf(row.hours, page.grid_h);
    return [row.row, levels.map((level) => {
      if (whatIf.chanceAt(curve, 200) < level) return null;
      let [low, high] = [0, 200];
      while (high - low > 1e-6) {
        const middle = 0.5 * (low + high);
        if (whatIf.chanceAt(curve, middle) < level) low = middle;
        else high = middle;
      }
      return 1000 * high;
    })];
  });
}"""


def test_hours_to_the_limit_are_those_of_the_table(
    made: WhatIfSource, fleet_sheet: Path, open_page: Callable[..., Any]
) -> None:
    levels = [0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95]
    found = open_page(fleet_sheet).page.evaluate(HOURS_AT, levels)
    assert len(found) > 100
    for row, hours in found:
        values = made.forecast.table.iloc[row]
        for level, told in zip(levels, hours, strict=True):
            exact = values[f"hours_to_limit_p{100 * level:02.0f}"]
            assert (told is None) == bool(np.isnan(exact))
            if told is not None:
                assert told == pytest.approx(exact, rel=HOURS_SHARE, abs=HOURS)


PLAN = """() => {
  return [...document.querySelectorAll("#what-if-outcome table")].map((table) => [...table.tBodies[0].rows].map(
    (row) => [...row.cells].map((cell) => cell.textContent)));
}"""


@pytest.mark.parametrize("name", [name for name in CASES if name != "recorded"])
def test_the_plan_is_that_of_a_new_forecast(
    name: str, fleet_sheet: Path, open_page: Callable[..., Any], planned: Callable[[str], Plan]
) -> None:
    opened = open_page(fleet_sheet)
    type_in(opened.page, CASES[name].typed)
    made, expected = opened.page.evaluate(PLAN)[0], planned(name)
    found: dict[tuple[str, str, str, bool], float] = {}
    for engine, window, *lists in made:
        for planned_here, text in zip((True, False), lists, strict=True):
            for place, share in re.findall(r"([a-z ]+ \d+) \(([^)]*)\)", text):
                number = re.search(r"(\d+)", share)
                assert number
                found[(engine, window.split()[0], place.strip(), planned_here)] = float(number[1])
    exact = {
        (" ".join(one.key), str(one.window.on), str(one), one.planned): 100 * one.chance
        for one in expected.openings
        if one.planned or one.must
    }
    assert set(found) == set(exact)
    for key, share in found.items():
        assert share == pytest.approx(exact[key], abs=1.3)  # shown in whole per cent


def test_chances_of_the_plan_agree_to_two_thousandths(
    made: WhatIfSource, fleet_sheet: Path, open_page: Callable[..., Any], planned: Callable[[str], Plan]
) -> None:
    """All rows of one engine carried forward, at another use."""
    name = "every engine at 6000 h"
    opened = open_page(fleet_sheet)
    found = opened.page.evaluate(
        """(k) => {
          const page = JSON.parse(document.getElementById("what-if-data").textContent);
          const engine = page.engines[k];
          const use = (h) => ({ mean: h / 1000, sd: (engine.sd_h ?? engine.sd_share * h) / 1000, history: 1 });
          const at = {
            day: whatIf.dayOf(page.plan.as_of), use: use(6000), risk: page.risk,
            carriedDays: whatIf.dayOf(page.plan.as_of) - whatIf.dayOf(engine.counter_on),
            passed: engine.passed_windows.map(whatIf.dayOf),
            windows: page.windows.filter((one) => one.engines.includes(k))
              .map((one) => ({ ...one, day: whatIf.dayOf(one.on) })),
          };
          const horizon = whatIf.dayOf(page.plan.horizon_end);
          const ends = [...whatIf.windowsTo(at, horizon).map((one) => one.day), horizon];
          return page.rows.filter((row) => row.engine === k).map((row) => {
            if (row.hours) row.curve = whatIf.curveOf(row.hours, page.grid_h);
            if (row.new) row.newCurve = whatIf.curveOf(row.new, page.grid_h);
            return [row.row, whatIf.stepsOf(row, at, ends).wear.map((cells) => [...cells])];
          });
        }""",
        0,
    )
    from wearcast.decide.steps import engine_steps

    plan = planned(name)
    steps = engine_steps(plan.stand, plan.horizon_end)[0]
    by_life = {shell.life: shell for shells in steps.shells.values() for shell in shells}
    rows = {tuple(getattr(plan.stand.row_of_life[life], n) for n in IDENTITY): life for life in by_life}
    assert len(found) == len(by_life)
    for number, wear in found:
        values = made.forecast.table.iloc[number]
        exact = np.nan_to_num(by_life[rows[tuple(values[n] for n in IDENTITY)]].wear)
        assert np.abs(np.array(wear) - exact).max() < CHANCE


IDENTITY = ("bearing", "position", "half", "quantity")


@pytest.mark.parametrize("days", [0, 40, 98, 400])
def test_a_lead_time_moves_the_last_date_to_order_exactly(
    days: int, made: WhatIfSource, fleet_sheet: Path, open_page: Callable[..., Any], needs: Any
) -> None:
    assert made.order is not None
    opened = open_page(fleet_sheet)
    names = opened.page.evaluate("[...document.forms['what-if-form'].elements].map((one) => one.name)")
    type_in(opened.page, {name: str(days) for name in names if name.startswith("lead-")})
    expected = order_at(made.order.stand, 0.95, float(days), needs=needs)
    for line, recorded in zip(expected.lines, made.order.lines, strict=True):
        key = "|".join((line.part.engine_type, line.part.bearing, line.part.half, line.part.shell_size))
        holder = opened.page.locator(f'[data-order="{key}"]').first
        assert holder.locator('[data-fact="by"]').text_content().strip() == line.by
        assert str(recorded.quantity) in holder.locator('[data-fact="quantity"]').text_content()


@pytest.fixture(scope="module")
def needs(made: WhatIfSource) -> Any:
    assert made.order is not None
    return joint_needs(made.order.stand)


@pytest.mark.parametrize("name", [name for name in CASES if name != "recorded"])
def test_the_last_date_to_order_goes_where_new_joint_draws_put_it(
    name: str,
    made: WhatIfSource,
    fleet_sheet: Path,
    open_page: Callable[..., Any],
    planned: Callable[[str], Plan],
) -> None:
    """Approximate in the page, and said to be: within a month of the joint draws at a service of 94 to 98 %.

    Needs fall on windows, so that a chance a little off moves a day by a whole spacing.
    """
    opened = open_page(fleet_sheet)
    type_in(opened.page, {key: value for key, value in CASES[name].typed.items() if key != "risk"})
    stand = planned(name).stand
    drawn = joint_needs(stand, within_years=longest_years(stand.forecast.history.records, REVIEW_DAYS))
    last, first = (
        {str(line.part): line.by for line in order_at(stand, service, needs=drawn).lines}
        for service in (0.94, 0.98)
    )
    rows = opened.page.evaluate(PLAN)[1]
    assert {row[0] for row in rows} == set(last)
    for part, _, found, quantity in rows:
        assert quantity.endswith("(as recorded)")
        if found[:2] != "20":
            assert found in (last[part], first[part])
            continue
        on = dt.date.fromisoformat(found)
        if last[part][:2] == "20":
            assert on <= dt.date.fromisoformat(last[part]) + dt.timedelta(days=31), (part, found, last[part])
        if first[part][:2] == "20":
            assert on >= dt.date.fromisoformat(first[part]) - dt.timedelta(days=31), (
                part,
                found,
                first[part],
            )


# ---- the form ------------------------------------------------------------------------------------------------------


def test_the_line_says_what_differs_and_the_way_back_restores_every_word(
    fleet_sheet: Path, open_page: Callable[..., Any]
) -> None:
    opened = open_page(fleet_sheet)
    page = opened.page
    before, html = shown(page), page.evaluate("document.querySelector('main').innerText")
    assert not page.locator("#what-if-line").is_visible()
    type_in(page, {"use-2": "4200", "window-0": "2027-09-15", "risk": "0.05", "lead-0": "120"})
    said = page.locator("#what-if-said")
    assert said.get_attribute("role") == "status"
    for words in (
        "Merrow Dain ME hours per year 4200 (recorded 6100)",
        "2027-09-15 (recorded 2027-03-15)",
        "0.05",
        "120",
    ):
        assert words in said.inner_text()
    assert page.locator("#what-if-line").is_visible()
    assert shown(page) != before
    page.get_by_role("button", name="Return to the recorded settings").click()
    assert shown(page) == before
    page.locator("#what-if-try > summary").click()
    assert page.evaluate("document.querySelector('main').innerText") == html
    assert not page.locator("#what-if-line").is_visible()
    assert page.locator("[data-moved]").count() == 0
    assert page.evaluate("location.hash") == ""


def test_the_address_keeps_the_values_and_a_link_shows_the_same(
    fleet_sheet: Path, open_page: Callable[..., Any]
) -> None:
    typed = {"use-2": "4200", "window-0": "2027-09-15", "risk": "0.05", "lead-1": "200"}
    first = open_page(fleet_sheet).page
    type_in(first, typed)
    fragment = first.evaluate("location.hash")
    again = open_page(fleet_sheet, fragment=fragment).page
    assert {name: again.input_value(f'[name="{name}"]') for name in typed} == typed
    assert shown(again) == shown(first)
    assert again.inner_text("#what-if-outcome") == first.inner_text("#what-if-outcome")
    again.evaluate("location.hash = '#forecasts'")  # an anchor leaves what is tried alone
    again.wait_for_timeout(50)
    assert shown(again) == shown(first)
    again.evaluate("location.hash = '#what-if&risk=0.2'")
    again.wait_for_timeout(50)
    assert again.input_value('[name="risk"]') == "0.2"
    assert again.input_value('[name="use-2"]') == "6100"


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("use-0", "8785", "more than a year has"),
        ("use-0", "0", "above 0"),
        ("use-0", "-5", "not a number"),
        ("use-0", "6,000", "two ways"),
        ("use-0", "many", "not a number"),
        ("risk", "1.5", "between 0 and 1"),
        ("risk", "150 %", "between 0 and 1"),
        ("window-0", "2027-02-30", "not a date"),
        ("window-0", "15.3.2027", "not a date"),
        ("window-0", "2026-10-05", "must lie after 2026-11-25"),
        ("lead-0", "soon", "not a number"),
    ],
)
def test_what_cannot_be_is_refused_in_words_and_moves_nothing(
    name: str, value: str, words: str, fleet_sheet: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(fleet_sheet).page
    before = shown(page)
    type_in(page, {name: value})
    refused = page.locator("#what-if-refused")
    assert refused.get_attribute("role") == "alert"
    assert words in refused.inner_text()
    assert value in refused.inner_text()
    assert page.get_attribute(f'[name="{name}"]', "aria-invalid") == "true"
    assert shown(page) == before


def test_what_moves_stands_beside_the_form_then_and_now(
    fleet_sheet: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(fleet_sheet).page
    before = shown(page)
    type_in(page, {"use-2": "4200"})
    form, moved = (page.locator(one).bounding_box() for one in ("#what-if-form", "#what-if-moved"))
    assert moved["x"] >= form["x"] + form["width"]
    now, lines = shown(page), page.locator("#what-if-moved li").all_text_contents()
    dates = [one for one in lines if ", 10" in one]
    differ = {row for row in now if now[row].get("date_p10") != before[row].get("date_p10")}
    assert len(dates) == len(differ) > 10
    then, _, later = dates[0].rpartition(": ")[2].partition(" \u2192 ")
    assert then in {before[row].get("date_p10") for row in differ}
    assert later in {now[row].get("date_p10") for row in differ}


def test_only_what_really_moved_is_marked(fleet_sheet: Path, open_page: Callable[..., Any]) -> None:
    """A space at which no line may break is no change."""
    page = open_page(fleet_sheet).page
    before = shown(page)
    type_in(page, {"use-2": "4200"})
    marked = page.evaluate(
        """() => [...document.querySelectorAll("table.forecast [data-row] [data-fact][data-moved]")].map((cell) => [
          Number(cell.closest("[data-row]").dataset.row), cell.dataset.fact, cell.textContent.trim()])"""
    )
    assert len(marked) > 10
    for row, fact, text in marked:
        assert " ".join(text.split()) != " ".join(before[row].get(fact, "").split()), (row, fact)


def test_a_risk_may_be_typed_in_per_cent(fleet_sheet: Path, open_page: Callable[..., Any]) -> None:
    page = open_page(fleet_sheet).page
    type_in(page, {"risk": "0.05"})
    share = page.locator("#what-if-moved").inner_text()
    type_in(page, {"risk": "5 %"})
    assert page.locator("#what-if-moved").inner_text() == share
    assert page.get_attribute('[name="risk"]', "aria-invalid") is None


def test_a_window_moved_past_its_neighbour_is_told(fleet_sheet: Path, open_page: Callable[..., Any]) -> None:
    page = open_page(fleet_sheet).page
    type_in(page, {"window-0": "2028-12-01"})
    assert (
        "2028-12-01 spring port stay now lies after 2028-10-02" in page.locator("#what-if-said").inner_text()
    )


def test_links_to_engines_carry_the_values_and_the_place(
    fleet_sheet: Path, open_page: Callable[..., Any]
) -> None:
    opened = open_page(fleet_sheet)
    page = opened.page
    type_in(page, {"use-2": "4200", "use-3": "7000", "lead-0": "120"})
    page.locator(".brief a[href*='merrow-dain-me']").first.click()
    page.wait_for_selector("details.place[open]")
    assert page.input_value('[name="use-0"]') == "4200"
    assert page.locator("#what-if-refused").inner_text() == ""
    assert page.locator("details.place[open]").count() == 1
    page.go_back()
    page.get_by_role("button", name="Return to the recorded settings").click()
    assert "what-if" not in page.locator(".brief a[href*='merrow-dain-me']").first.get_attribute("href")


def test_what_does_not_follow_says_that_it_is_as_recorded(
    fleet_sheet: Path, engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    for path in (fleet_sheet, engine_sheet):
        page = open_page(path).page
        label = "() => getComputedStyle(document.getElementById('brief'), '::after').content"
        assert page.evaluate(label) == "none"
        type_in(page, {"use-0": "4200"})
        assert "as recorded" in page.evaluate(label)
    assert "must be opened" not in page.inner_text("body").lower()


def test_the_line_leaves_four_fifths_of_a_telephone(fleet_sheet: Path, open_page: Callable[..., Any]) -> None:
    page = open_page(fleet_sheet, width=360, height=780).page
    type_in(page, {"use-2": "4200", "use-3": "7000", "window-0": "2028-12-01", "risk": "0.05"})
    assert page.locator("#what-if-line").bounding_box()["height"] <= 780 / 5


def test_a_fragment_that_asks_for_what_is_not_there_is_said(
    fleet_sheet: Path, open_page: Callable[..., Any]
) -> None:
    opened = open_page(fleet_sheet, fragment="#what-if&use:Nowhere:ME=5000&risk=%E0%A4%A&window")
    assert "Nowhere" in opened.page.inner_text("#what-if-refused")
    assert opened.said == []


def test_numbers_may_be_written_as_people_write_them(
    fleet_sheet: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(fleet_sheet).page
    type_in(page, {"use-2": "4200"})
    plain = shown(page)
    for text in ("4 200", "4200,0", "4\N{NARROW NO-BREAK SPACE}200"):
        page.fill('[name="use-2"]', text)
        assert page.inner_text("#what-if-refused") == ""
        assert shown(page) == plain


def test_all_of_it_is_in_reach_of_the_keyboard(engine_sheet: Path, open_page: Callable[..., Any]) -> None:
    page = open_page(engine_sheet).page
    page.locator("#what-if-try > summary").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.name") == "use-0"
    page.keyboard.type("4500")
    assert "4500" in page.inner_text("#what-if-said")
    reached = []
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.id"))
        if reached[-1] == "what-if-return":
            break
    assert reached[-1] == "what-if-return"
    page.keyboard.press("Enter")
    assert not page.locator("#what-if-line").is_visible()
    for field in page.locator("#what-if-form input").all():
        assert field.evaluate("one => one.labels[0].textContent.trim()")


def test_an_engine_sheet_has_one_use_and_moves_as_the_fleet_sheet_does(
    engine_sheet: Path, fleet_sheet: Path, open_page: Callable[..., Any]
) -> None:
    one, fleet = open_page(engine_sheet).page, open_page(fleet_sheet).page
    assert one.locator('[name^="use-"]').count() == 1
    type_in(one, {"use-0": "4200"})
    type_in(fleet, {"use-2": "4200"})
    mine, every = shown(one), shown(fleet)
    assert mine
    for row, facts in mine.items():
        for name in ("date_p10", "date_p50", "date_p90", "statement", "p_next", "p_following"):
            assert facts.get(name) == every[row].get(name)


def test_paper_shows_the_values_where_they_differ_and_no_form(
    engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(engine_sheet).page
    page.emulate_media(media="print")
    assert not page.locator(".what-if").is_visible()
    page.emulate_media(media="screen")
    type_in(page, {"use-0": "4200"})
    page.emulate_media(media="print")
    assert page.locator("#what-if-said").is_visible()
    assert not page.locator("#what-if-form").is_visible()
    assert not page.locator("#what-if-return").is_visible()


def test_four_engines_follow_in_the_blink_of_an_eye(fleet_sheet: Path, open_page: Callable[..., Any]) -> None:
    """The best of several tries, each at values not met before: other work on the machine must not fail it."""
    page = open_page(fleet_sheet).page
    best = float("inf")
    for k in range(TRIES):
        spent = page.evaluate(
            """(hours) => {
              const fields = [...document.querySelectorAll('[name^="use-"]')];
              for (const field of fields) field.value = hours;
              const before = performance.now();
              fields[0].dispatchEvent(new Event("input", { bubbles: true }));
              return performance.now() - before;
            }""",
            str(5000 + 100 * k),
        )
        best = min(best, spent)
    assert best < MOST_MS


def test_what_the_page_works_from_can_be_looked_at(
    made: WhatIfSource, engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(engine_sheet).page
    page.locator("#what-if-try > summary").click()
    page.locator("#what-if-numbers > summary").click()
    rows = page.locator("#what-if-numbers tbody tr")
    payload = json.loads(page.text_content("#what-if-data"))
    assert rows.count() == sum("level_um" in row for row in payload["rows"])
    assert len(payload["rows"]) == len([r for r in made.forecast.rows if r.vessel == "Merrow Dain"])
