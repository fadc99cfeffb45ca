"""What must be done first, as lines of a page: the words of the brief, with links to the places."""

from __future__ import annotations

from dataclasses import dataclass

from wearcast.decide.brief import Brief, Changed, Line, OutOfLine, Sister, ToAsk, ToOpen, ToOrder, Trust
from wearcast.decide.brief_words import LABELS, MOST, words
from wearcast.report.linked import Told, Ways
from wearcast.words import page_text

SECTIONS: dict[type[Line], tuple[str, str]] = {
    ToOpen: ("#windows", "windows by date"),
    ToOrder: ("#orders", "what to order"),
    ToAsk: ("#doubts", "queries"),
    OutOfLine: ("#out-of-line", "out of line"),
    Sister: ("#out-of-line", "out of line"),
    Changed: ("#doubts", "queries"),
    Trust: ("#trust", "how far past forecasts were right"),
}
"""Where on the page of the fleet more is said of a kind of line."""

MOST_WINDOWS = 6
"""Next windows of vessels that are written out; the others stand in the list by date."""


@dataclass(frozen=True)
class FirstLine:
    """One line of the brief: its label, said once for lines of a kind, and its words."""

    label: str
    words: tuple[Told, ...]


def first_lines(made: Brief, ways: Ways, sections: bool) -> tuple[FirstLine, ...]:
    """The brief as lines.

    Parameters
    ----------
    sections : bool
        Whether the page has the sections that lines lead to; an engine's leads to its list.
    """
    found: list[FirstLine] = []
    for kind, label in LABELS.items():
        lines = [line for line in made.lines if isinstance(line, kind)]
        most = MOST_WINDOWS if kind is ToOpen else MOST
        to, name = SECTIONS.get(kind, ("#all-positions", "all positions"))
        for k, line in enumerate(lines[:most]):
            parts = _line(line, ways, to if sections else "")
            found.append(FirstLine("" if k else label, parts))
        if left := len(lines) - most if len(lines) > most else 0:
            more = (Told(f"{left} more: "), Told(name, to)) if sections else (Told(f"{left} more."),)
            found.append(FirstLine("", more))
        if kind is ToOrder and not lines:
            found.append(FirstLine(label, (Told("nothing."),)))
    return tuple(found)


def _line(line: Line, ways: Ways, to: str) -> tuple[Told, ...]:
    text = page_text(words(line))
    if isinstance(line, Trust):
        text, _, _ = text.partition(" How far past")
        return (
            (Told(f"{text} "), Told("How far past forecasts were right", to), Told("."))
            if to
            else (Told(text),)
        )
    if isinstance(line, ToOrder) and to:
        return (Told(text.rstrip("."), to), Told("."))
    return ways.linked(text, line.spots)
