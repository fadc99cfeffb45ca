"""The section on how far to trust the forecast: the backtest in words."""

from __future__ import annotations

import re

from wearcast.backtesting import words
from wearcast.backtesting.hidden import LAST_READING
from wearcast.backtesting.run import Backtest
from wearcast.backtesting.summary import ALL, UNDOUBTED
from wearcast.report.view import TrustRow, TrustSection, TrustTable
from wearcast.report.words import spoken
from wearcast.words import SPACE

_HEADS = ("Should be", *(words.READINGS_OF[which].capitalize() for which in (ALL, UNDOUBTED)))
_CLASS_HEADS = ("Inside the 90 % range", "More worn than it allows", "Loss")


def trust_section(backtest: Backtest) -> TrustSection:
    """A backtest as plain values."""
    tables = [table for run in words.RUNS if (table := _of_run(backtest, run)) is not None]
    classes = words.class_lines(backtest, LAST_READING)
    if classes:
        rows = tuple(TrustRow(of, tuple(map(_typeset, cells)), heading=False) for of, *cells in classes)
        caption = f"{words.RUNS[LAST_READING]}, class by class, without the doubted"
        tables.append(TrustTable(caption, _CLASS_HEADS, rows))
    return TrustSection(
        title=words.TITLE,
        verdict=_typeset(words.verdict(backtest)),
        unsafe=_typeset(words.more_worn(backtest)),
        scored=_typeset(words.scored_in_words(backtest)),
        tables=tuple(tables),
        notes=tuple(_typeset(spoken(text)) for text in words.READING_IT) if tables else (),
    )


def _of_run(backtest: Backtest, run: int) -> TrustTable | None:
    rows = []
    for group in words.figure_tables(backtest, run):
        rows.append(TrustRow(_typeset(group.title), (), heading=True))
        rows += [
            TrustRow(
                line.label.capitalize(),
                (line.expected, _typeset(line.all_readings), _typeset(line.undoubted)),
                heading=False,
            )
            for line in group.lines
        ]
    if not rows:
        return None
    rows.append(TrustRow(spoken("PIT in ten equal parts"), (), heading=True))
    pits = tuple(words.pit_in_words(backtest, run, which) for which in (ALL, UNDOUBTED))
    rows.append(TrustRow("Share of readings in each", ("10 % each", *pits), heading=False))
    return TrustTable(words.RUNS[run], _HEADS, tuple(rows))


def _typeset(text: str) -> str:
    """The terminal's words with the page's signs.

    >>> _typeset("3 790 ± 540 h, 2.85 µm").split(SPACE)
    ['3', '790 ± 540 h, 2.85 µm']
    """
    return re.sub(r"(?<=\d) (?=\d{3}\b)", SPACE, text)
