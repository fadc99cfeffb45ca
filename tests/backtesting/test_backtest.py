"""Nothing of the future is used, what is hidden is what should be, and planted fleets are held as stated."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from wearcast.backtesting.hidden import hidden_readings
from wearcast.backtesting.run import Backtest, backtest
from wearcast.backtesting.summary import FIGURES, hours_loss, summarise, wear_loss
from wearcast.backtesting.table import COLUMNS, HOURS, OWN_HOURS, OWN_WEAR, WEAR
from wearcast.backtesting.words import figure_tables, pit_in_words, scored_in_words, verdict
from wearcast.lives.build import build

SAID_BEFORE = ["readings_before", *WEAR, *OWN_WEAR, "two_points_um", "hours_taken"]
PLACE = ["run", "ahead", "vessel", "position", "date", "row"]


def moved(row: dict[str, str], um: float) -> dict[str, str]:
    return row | {"value": f"{float(row['value']) - um / 1000:.5f}"}


def test_no_later_row_changes_what_was_said_of_a_hidden_opening(records_of, small_fleet) -> None:
    """Whether every later reading is changed, or no later row was ever written."""
    rows = small_fleet(5)
    table = backtest(records_of(rows)).table
    origins = sorted(set(table["origin"]))
    assert len(origins) > 4
    origin = origins[len(origins) // 2]
    day = str(pd.Timestamp(origin).date())
    changed = [moved(row, 25.0 + 5 * k % 7) if row["date"] >= day else row for k, row in enumerate(rows)]
    again = backtest(records_of(changed, name="changed")).table
    before, after = table[table["origin"] <= origin], again[again["origin"] <= origin]
    late = (before["date"] >= day).to_numpy()
    assert late.sum() > 3
    assert (before["wear_um"].to_numpy()[late] != after["wear_um"].to_numpy()[late]).all()
    pd.testing.assert_frame_equal(
        before[PLACE + SAID_BEFORE].reset_index(drop=True), after[PLACE + SAID_BEFORE].reset_index(drop=True)
    )
    short = backtest(records_of([row for row in rows if row["date"] <= day], name="short")).table
    key = ["vessel", "position", "date"]
    parts = [
        part[(part["origin"] == origin) & (part["run"] == 1) & (part["date"] == day)][key + SAID_BEFORE]
        for part in (short, table[(table["run"] == 2) & (table["ahead"] == 1)].assign(run=1))
    ]
    both = parts[0].merge(parts[1], on=key, suffixes=("_short", ""))
    assert len(both) > 0
    for name in SAID_BEFORE:
        np.testing.assert_allclose(both[f"{name}_short"], both[name], rtol=1e-9)


@pytest.mark.slow
def test_planted_fleets_are_held_as_stated(records_of, fleet_rows) -> None:
    """Fleets from the model: each share within three of its clustered standard errors, at most 8 points off.

    Four fleets of 24 shells; seeds 11 to 14.
    """
    parts = []
    for seed in range(11, 15):
        table = backtest(records_of(fleet_rows(seed), name=str(seed))).table
        parts.append(table.assign(vessel=table["vessel"] + f" of fleet {seed}"))
    table = pd.concat(parts, ignore_index=True)
    summary = summarise(table)
    shares = summary[(summary["of"] == "all") & (summary["readings_of"] == "undoubted")]
    for row in shares[
        shares["figure"].isin(["inside_50", "inside_80", "inside_90", "more_worn"])
    ].itertuples():
        assert row.readings > 80
        assert abs(row.value - row.expected) < min(3 * row.standard_error + 0.01, 0.08), row
    losses = shares.set_index(["run", "figure"])["value"]
    for run in (1, 2):
        assert losses[run, "loss_um_beside_own"] < losses[run, "own_loss_um"]
        assert losses[run, "loss_um_beside_two_points"] < 0.8 * losses[run, "two_points_loss_um"]
        assert losses[run, "loss_h"] < 0.5 * losses[run, "own_loss_h"]


def history_row(position: int, year: int, wear_um: float, **more: str) -> dict[str, str]:
    return {
        "position": str(position),
        "value": f"{7.9925 - wear_um / 1000:.4f}",
        "date": f"{year}-05-17",
        "counter_h": str(5000 * (year - 2010)),
        **more,
    }


def test_what_is_hidden_are_the_last_and_the_last_two_openings_of_every_shell(records_of) -> None:
    rows = [history_row(1, year, year - 2008.0) for year in (2012, 2014, 2016)]
    rows += [history_row(2, 2014, 5.0), history_row(3, 2012, 3.0), history_row(3, 2014, 4.0)]
    history = build(records_of(rows))
    hidden = hidden_readings(history)
    read = history.readings.iloc[hidden["at"]].reset_index(drop=True)
    found = {
        (run, position, when.year, ahead, pd.Timestamp(origin).year)
        for run, position, when, ahead, origin in zip(
            hidden["run"], read["position"], read["date"], hidden["ahead"], hidden["origin"], strict=True
        )
    }
    assert found == {
        (1, "1", 2016, 1, 2016), (1, "2", 2014, 1, 2014), (1, "3", 2014, 1, 2014),
        (2, "1", 2014, 1, 2014), (2, "1", 2016, 2, 2014), (2, "3", 2012, 1, 2012), (2, "3", 2014, 2, 2012),
    }  # fmt: skip


def test_a_renewal_on_the_day_belongs_to_the_future(records_of) -> None:
    """As found is the old shell's and scored; as left is a new wall and not; the new shell is scored from then on."""
    rows = [
        history_row(p, year, 0.8 * 5 * (year - 2010) + p) for p in (1, 2, 3) for year in (2012, 2014, 2018)
    ]
    rows += [
        history_row(1, 2016, 26.0, state="as_found"),
        history_row(1, 2016, 1.0, state="as_left"),
    ]
    events = [{"position": "1", "date": "2016-05-17", "counter_h": "30000"}]
    result = backtest(records_of(rows, events=events))
    first = result.table[(result.table["run"] == 1) & (result.table["position"] == "1")]
    assert first[["shell_no", "state"]].to_numpy().tolist() == [[1, "as_found"], [2, "as_found"]]
    assert first["date"].dt.year.tolist() == [2016, 2018]
    assert first["hours_taken"].tolist() == [10_000, 10_000]
    assert first["readings_before"].tolist() == [2, 0]
    old, new = first["p50_um"]
    assert old > new + 5  # a shell 30 000 h old and one 10 000 h old


def test_first_openings_of_places_never_read_are_counted_and_not_scored(records_of) -> None:
    rows = [history_row(1, 2012, 4.0), history_row(1, 2014, 8.0), history_row(2, 2014, 6.0)]
    result = backtest(records_of(rows))
    assert result.not_scored == 1
    assert set(result.table["position"]) == {"1"}
    assert "1 more was the first of a place or class" in scored_in_words(result)


def test_records_in_which_nothing_can_be_scored_say_so(records_of) -> None:
    result = backtest(records_of([history_row(1, 2012, 4.0)]))
    assert len(result.table) == 0
    assert tuple(result.table.columns) == COLUMNS
    assert result.not_scored == 1
    assert figure_tables(result, 1) == ()
    assert pit_in_words(result, 1) == ""
    assert "Nothing could be scored" in verdict(result)


def test_doubted_readings_are_scored_and_left_out_beside(records_of) -> None:
    """A wall written a decimal off is scored as it stands; without it the figures are ordinary."""
    rows = [
        history_row(p, year, 4.0 * (year - 2010) + p) for p in (1, 2, 3, 4) for year in (2012, 2014, 2016)
    ]
    rows[-1] = rows[-1] | {"value": "79.645"}
    result = backtest(records_of(rows))
    assert result.table["doubted"].sum() == 2  # once in either run
    figures = result.summary[result.summary["of"] == "all"].set_index(["run", "readings_of", "figure"])
    assert figures.loc[(1, "all", "loss_um"), "value"] > 1000
    assert figures.loc[(1, "undoubted", "loss_um"), "value"] < 10
    assert figures.loc[(1, "all", "loss_um"), "readings"] == 4
    assert figures.loc[(1, "undoubted", "loss_um"), "readings"] == 3


def scored(**columns: object) -> pd.DataFrame:
    """A table of the backtest with some columns; the rest empty."""
    frame = pd.DataFrame(columns)
    return frame.reindex(columns=list(COLUMNS)).astype({name: frame[name].dtype for name in frame})


def test_losses_of_one_reading_by_hand() -> None:
    """Wear 10 um, every quantile said to be 8: 2 x the mean of the chances, which is one half.

    Hours: 5 000 taken, 6 000 said at 50 %, both ends open: (0.95 x 195 000 + 0.5 x 1 000 + 0.05 x 195 000) / 3.
    """
    table = scored(wear_um=[10.0], hours_taken=[5000.0], own_p50_h=[6000.0], **{name: [8.0] for name in WEAR})
    assert wear_loss(table, WEAR).tolist() == pytest.approx([1.0])
    assert hours_loss(table, OWN_HOURS).tolist() == pytest.approx([65_166.667])
    assert hours_loss(table, HOURS).tolist() == pytest.approx([(0.95 + 0.5 + 0.05) * 195_000 / 3])
    closed = scored(hours_taken=[5000.0], p05_h=[4000.0], p50_h=[6000.0], p95_h=[9000.0])
    assert hours_loss(closed, HOURS).tolist() == pytest.approx([(50.0 + 500.0 + 200.0) / 3])


def test_standard_errors_are_those_of_a_plain_sum_over_pairs_within_an_opening() -> None:
    rng = np.random.default_rng(3)
    n = 60
    table = scored(
        run=np.ones(n, dtype=int),
        vessel=np.array(["A", "B"])[rng.integers(0, 2, n)],
        engine=np.full(n, "1"),
        date=pd.to_datetime([dt.date(2015 + int(k), 1, 1) for k in rng.integers(0, 5, n)]),
        wear_um=rng.normal(size=n),
        doubted=rng.random(n) < 0.2,
        pit=rng.random(n),
        hours_taken=rng.uniform(1000, 9000, n),
        **{"class": np.full(n, "one"), **{name: np.full(n, k - 3.0) for k, name in enumerate(WEAR)}},
    )
    summary = summarise(table).set_index(["readings_of", "of", "figure"])
    for readings_of, part in (("all", table), ("undoubted", table[~table["doubted"]])):
        values = wear_loss(part, WEAR)
        opening = list(zip(part["vessel"], part["date"], strict=True))
        off = values - sum(values) / len(values)
        pairs = sum(
            off[i] * off[j] for i in range(len(off)) for j in range(len(off)) if opening[i] == opening[j]
        )
        clusters = len(set(opening))
        row = summary.loc[(readings_of, "all", "loss_um")]
        assert row["value"] == pytest.approx(sum(values) / len(values))
        assert row["standard_error"] == pytest.approx(
            (clusters / (clusters - 1) * pairs) ** 0.5 / len(values)
        )
        assert row["openings"] == clusters
        assert row["readings"] == len(part)


def test_every_figure_is_in_the_summary_and_in_words(records_of, small_fleet) -> None:
    result: Backtest = backtest(records_of(small_fleet(5)))
    names = {figure.name for figure in FIGURES}
    assert set(result.summary["figure"]) == names
    shown = {line.label for group in figure_tables(result, 1) for line in group.lines}
    assert shown == {figure.words for figure in FIGURES if not figure.name.startswith("pit_")}
    assert pit_in_words(result, 1).count(" ") == 10
    assert result.table["pit"].between(0, 1).all()
    levels = result.table[list(WEAR)].to_numpy()
    assert (np.diff(levels, axis=1) > 0).all()
