"""Figures of a backtest in the words that terminal and pages share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor, isfinite, log10
from typing import Any

from wearcast.backtesting.hidden import LAST_READING, LAST_TWO
from wearcast.backtesting.run import Backtest
from wearcast.backtesting.summary import ALL, FIGURES, UNDOUBTED
from wearcast.frames import records_of
from wearcast.words import unit_words

TITLE = "How far to trust the forecast"
RUNS = {
    LAST_READING: "Each shell's last reading hidden",
    LAST_TWO: "Each shell's last two openings hidden, both forecast from what came before the first of them",
}
READINGS_OF = {ALL: "all readings", UNDOUBTED: "without the doubted"}

FEWEST_OPENINGS = 10
"""Openings from which a share is held against what it should be (judgement)."""
BEYOND_ERRORS = 2.0
"""Standard errors by which a share must miss what it should be to be called off (judgement)."""

READING_IT = (
    "Every opening was forecast from the rows dated before it, of the whole fleet; the spreads of the model were "
    "estimated once a calendar year, from rows before that year. A shell is forecast from its first opening on "
    "where its place had been read before; a new wall measured at fitting is not. What is compared is the reading, "
    "with the errors of gauge and reading in the range. ± is one standard error; readings of one opening move "
    "together and count so.",
    "Loss is the mean pinball loss, smaller is better: the distance of the reading from the range's quantiles, "
    "each weighed by its chance. In µm it is that of the reading itself, and the figure to judge by. In hours it is "
    "that of the hours from the shell's last reading until a reading shows what the hidden one showed, against the "
    "hours it took; an end that is open, or that nothing is said of, counts as 200 000 h, and the figures without "
    "them stand beside.",
    "A forecast that did well here may still fail: the next shell, oil or load can be unlike all before.",
)
"""What the figures are, for the page and the terminal."""


@dataclass(frozen=True)
class FigureLine:
    """One figure in words: what it is, what it should be, and what it was, with and without the doubted."""

    label: str
    expected: str
    all_readings: str
    undoubted: str


@dataclass(frozen=True)
class FigureTable:
    """Figures that stand together under a heading; the first run's, or the second's."""

    title: str
    lines: tuple[FigureLine, ...]


_RANGES = ("inside_50", "inside_80", "inside_90", "more_worn", "less_worn")
_IN_UM = (
    "loss_um", "own_loss_um", "loss_um_beside_own", "two_points_loss_um", "loss_um_beside_two_points",
)  # fmt: skip
_IN_HOURS = (
    "loss_h", "own_loss_h", "two_points_loss_h", "loss_h_closed", "own_loss_h_closed", "loss_h_beside_own_closed",
    "two_points_loss_h_closed", "loss_h_beside_two_points_closed", "open", "own_open", "two_points_open",
)  # fmt: skip
GROUPS = (
    ("Readings, of those hidden", _RANGES),
    ("Loss in µm", _IN_UM),
    ("Loss in hours", _IN_HOURS),
)
"""Which figures stand together."""


def figure_tables(result: Backtest, run: int) -> tuple[FigureTable, ...]:
    """Figures of one run in words; none where nothing could be scored."""
    rows = {
        (row["readings_of"], row["figure"]): row
        for row in records_of(result.summary)
        if row["run"] == run and row["of"] == "all"
    }
    if not rows:
        return ()
    words = {figure.name: figure.words for figure in FIGURES}
    return tuple(
        FigureTable(
            title,
            tuple(
                FigureLine(
                    words[name],
                    _expected(rows[ALL, name]),
                    figure_in_words(rows[ALL, name]),
                    figure_in_words(rows[UNDOUBTED, name]) if (UNDOUBTED, name) in rows else "",
                )
                for name in names
            ),
        )
        for title, names in GROUPS
    )


def class_lines(result: Backtest, run: int) -> tuple[tuple[str, str, str, str], ...]:
    """Class, share inside the 90 % range, share more worn, and loss in µm; doubted readings left out."""
    found: dict[str, dict[str, str]] = {}
    for row in records_of(result.summary):
        if row["run"] == run and row["of"] != "all" and row["readings_of"] == UNDOUBTED:
            found.setdefault(row["of"], {})[row["figure"]] = figure_in_words(row)
    return tuple((of, one["inside_90"], one["more_worn"], one["loss_um"]) for of, one in found.items())


def pit_in_words(result: Backtest, run: int, readings_of: str = UNDOUBTED) -> str:
    """Shares of the PIT in ten equal parts, which are 10 % each where the forecast is right."""
    shares = {
        row["figure"]: row["value"]
        for row in records_of(result.summary)
        if row["run"] == run and row["of"] == "all" and row["readings_of"] == readings_of
    }
    if not shares:
        return ""
    return " ".join(f"{100 * shares[f'pit_{k + 1}']:.0f}" for k in range(10)) + " %"


def scored_in_words(result: Backtest) -> str:
    """How many readings were scored, and how many could not be."""
    table = result.table
    first = table[table["run"] == LAST_READING]
    openings = len(first[["vessel", "engine", "date"]].drop_duplicates())
    text = (
        f"Scored: the last readings of {_lives(first)} shells, {len(first)} readings at {openings} openings."
    )
    if result.not_scored:
        left = "1 more was" if result.not_scored == 1 else f"{result.not_scored} more were"
        text += f" {left} the first of a place or class: no forecast would have spoken of it."
    return text


def verdict(result: Backtest) -> str:
    """One sentence: whether the 90 % range held what it should, doubted readings left out."""
    rows = [
        row
        for row in records_of(result.summary)
        if (row["run"], row["readings_of"], row["of"], row["figure"])
        == (LAST_READING, UNDOUBTED, "all", "inside_90")
    ]
    if not rows or not rows[0]["readings"]:
        return "Nothing could be scored: no shell was read at two openings."
    row = rows[0]
    held = f"The 90 % range held {figure_in_words(row, with_count=False)} of the last readings"
    if row["openings"] < FEWEST_OPENINGS or not isfinite(row["standard_error"]):
        return f"{held}, at {row['openings']} openings: too few to tell whether it is right."
    miss = (row["value"] - row["expected"]) / max(row["standard_error"], 1e-3)
    if miss < -BEYOND_ERRORS:
        return (
            f"{held}: fewer than it should. In these records the ranges have been too narrow; allow for that."
        )
    if miss > BEYOND_ERRORS:
        return f"{held}: more than it need. In these records the ranges have been wide."
    return f"{held}, which agrees with 90 % within its uncertainty."


def more_worn(result: Backtest) -> str:
    """One sentence on the unsafe side: how many of the last readings were more worn than the 90 % range allows."""
    for row in records_of(result.summary):
        of = (row["run"], row["readings_of"], row["of"], row["figure"])
        if of == (LAST_READING, UNDOUBTED, "all", "more_worn") and row["readings"]:
            held = f"On the unsafe side, more worn than the range allows: {figure_in_words(row)}"
            return f"{held}; it should be {_expected(row)}."
    return ""


def figure_in_words(row: Mapping[str, Any], with_count: bool = True) -> str:
    """Value ± standard error, and the readings it is a mean of.

    >>> figure_in_words({"value": 0.8586, "standard_error": 0.0339, "unit": "share", "readings": 290})
    '85.9 ± 3.4 % (290)'
    >>> figure_in_words({"value": 3792.8, "standard_error": 543.7, "unit": "h", "readings": 290})
    '3 790 ± 540 h (290)'
    >>> figure_in_words({"value": 2.85, "standard_error": float("nan"), "unit": "um", "readings": 1})
    '2.85 µm (1)'
    """
    if not row["readings"]:
        return "none"
    value, error, unit = float(row["value"]), float(row["standard_error"]), row["unit"]
    scale, sign, most = (100.0, "%", 1) if unit == "share" else (1.0, unit_words(unit), 2)
    text = f"{_with_error(scale * value, scale * error, most)} {sign}"
    return f"{text} ({row['readings']})" if with_count else text


def _with_error(value: float, error: float, most: int) -> str:
    """A value rounded as its error is, to two figures of that; to three of its own where it has none.

    At most so many decimals.
    """
    leading, figures = (error, 2) if isfinite(error) and error > 0 else (value, 3)
    places = most if leading == 0 else min(figures - 1 - floor(log10(abs(leading))), most)
    words = [f"{round(number, places):,.{max(places, 0)}f}" for number in (value, error) if isfinite(number)]
    return " ± ".join(words).replace(",", " ")


def _expected(row: Mapping[str, Any]) -> str:
    return f"{100 * row['expected']:.0f} %" if isfinite(row["expected"]) else ""


def _lives(table: Any) -> int:
    columns = ["vessel", "engine", "bearing", "position", "half", "quantity", "shell_no"]
    return len(table[columns].drop_duplicates())
