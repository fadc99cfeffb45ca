"""The shaft line of an engine as its page shows it: the drawing and what it says in words."""

from __future__ import annotations

from wearcast import words
from wearcast.companions.web_deflection import OPENING_MINUS, stroke_mm
from wearcast.report.companions import Companions
from wearcast.report.deflection_drawing import Deflections, deflections_of, in_strokes, largest_mm
from wearcast.report.deflection_table import along_the_shaft
from wearcast.report.forecast_lines import date_words
from wearcast.report.gather import EngineRecords
from wearcast.report.positions import Place
from wearcast.report.shaft_drawing import shaft_drawing
from wearcast.report.shaft_order import line_of
from wearcast.report.view import ShaftView

CLOSURE_NOTE = (
    "The bottom is the mean of the two readings beside it; closure is the last of them less the first, and should "
    "stay within about 20 µm (common practice). Throws that do not close are drawn hollow."
)
NO_LIMIT = "No limit of the web deflection is given in these records, so none is drawn."


def shaft_view(records: EngineRecords, places: tuple[Place, ...], companions: Companions) -> ShaftView:
    """Everything of the section on the shaft line."""
    engine = records.engine
    table = companions.deflections
    mine = table[(table["vessel"] == engine.vessel) & (table["engine"] == engine.engine)]
    line = line_of(engine.facts, (place.spot for place in places))
    found = deflections_of(mine, line.throws)
    beside = along_the_shaft(companions, engine.key)
    return ShaftView(
        drawing=shaft_drawing(records, places, found),
        finding=words.tied(_finding(records, places, line.ends)),
        said=beside.findings,
        notes=_notes(records, found, beside.cautions),
        table=beside.table,
    )


def _finding(records: EngineRecords, places: tuple[Place, ...], ends: tuple[str, str]) -> str:
    """The shaft line in words: how it is counted, what was never read, where the limit may be reached first."""
    unread = [
        words.bearing_words(p.spot.bearing, p.spot.position)
        for p in places
        if not p.read and p.spot.bearing in ("main", "big_end")
    ]
    said = [f"Bearings stand as the engine is numbered, No. 1 at the {ends[0]}, the {ends[1]} at the right."]
    if unread:
        said.append(f"Never read and drawn empty: {words.listed(unread)}.")
    dated = [(on, row) for row in records.table_rows if (on := row.date_at(10)) and not row.damaged]
    if dated:
        on, first = min(dated, key=lambda one: one[0])
        what = words.quantity_words(first.half, first.quantity)
        place = words.bearing_words(first.bearing, first.position)
        said.append(
            f"The earliest 10 % date is that of {place}, {what}: {date_words(records, on)}, "
            f"{first.statement}."
        )
    return " ".join(said)


def _notes(records: EngineRecords, found: Deflections | None, cautions: tuple[str, ...]) -> tuple[str, ...]:
    if found is None:
        return ()
    form = "minus" if found.sign_on_form == OPENING_MINUS else "plus"
    convention = f"The engine's form counts opening webs {form}; here they are plus."
    limits = "" if found.min_mm == found.min_mm or found.max_mm == found.max_mm else NO_LIMIT
    strokes = in_strokes(largest_mm(found.openings[-1]), stroke_mm(records.engine))
    texts = (convention, *cautions[:1], CLOSURE_NOTE, limits, strokes, *cautions[1:])
    return tuple(words.page_text(text) for text in texts if text)
