"""What the page of the fleet says first, put together from what was decided."""

from __future__ import annotations

from wearcast.decide.brief import OutOfLine
from wearcast.decide.brief_words import words
from wearcast.decide.sections import power_in_words, whole_in_words
from wearcast.report.decided import Decided
from wearcast.report.first_view import DecidedView
from wearcast.report.linked import Told, Ways
from wearcast.report.openings_view import windows_view
from wearcast.report.orders_view import orders_view
from wearcast.words import page_text


def decided_view(decided: Decided, ways: Ways) -> DecidedView:
    """Windows by date, orders, and what is out of line in sentences."""
    return DecidedView(
        windows_view(decided.plan, ways), orders_view(decided.order), _out_of_line(decided, ways)
    )


def _out_of_line(decided: Decided, ways: Ways) -> tuple[tuple[Told, ...], ...]:
    """Each place that is out of line, or that none is; then engines as a whole, and what could not be seen."""
    made = decided.comparison
    found = [OutOfLine(row) for row in made.out_of_line]
    said = [ways.linked(page_text(words(one)), one.spots) for one in found]
    if not said:
        said.append((Told("No place wears unlike its sisters beyond what chance among so many would give."),))
    beside = [whole_in_words(one) for one in made.wholes if one.differs] + list(power_in_words(made))
    return (*said, *((Told(page_text(text)),) for text in beside))
