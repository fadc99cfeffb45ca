"""Everything a page shows, as plain values already worded and rounded: templates compute nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wearcast.report.cautions import Caution

if TYPE_CHECKING:
    from markupsafe import Markup

    from wearcast.report.first_lines import FirstLine
    from wearcast.report.first_view import DecidedView, QueryLine
    from wearcast.report.what_if_form import WhatIfView


@dataclass(frozen=True)
class Fact:
    """One labelled fact of the page head."""

    label: str
    text: str


@dataclass(frozen=True)
class WindowChance:
    """The chance that a limit is reached before a window: which one (`next`, `following`), chance and window."""

    which: str
    chance: str
    window: str


@dataclass(frozen=True)
class ForecastLine:
    """One row of the forecast table.

    Attributes
    ----------
    first : bool
        It comes soonest at its place.
    page, anchor : str
        Where the position's charts are: a file name (empty on the same page) and an anchor.
    hours, dates : tuple of str
        At the 10, 50 and 90 % chances.
    no_hours : str
        What stands instead of them where there are none.
    read : str
        The last reading, as read.
    statement, rests_on : str
        What the limit does, and how well that is known.
    behind : tuple of str
        What else holds, and what is behind it.
    chances : tuple of WindowChance
        Chances that the limit is reached before the windows ahead.
    open_at : str
        The last window before the 10 % date, in a sentence of its own; empty where none is said.
    notes : tuple of str
        Why the range is what it is.
    row : int
        Number of the row in the forecast table, from 0.
    vessel, engine, bearing : str
        By what it is found.
    by : tuple of str
        What it is sorted by at the 10, 50 and 90 % chances: the date, or what comes after all dates.
    """

    row: int
    page: str
    anchor: str
    first: bool
    vessel: str
    engine: str
    bearing: str
    place: str
    what: str
    estimate: str
    estimate_u: str
    read: str
    limit: str
    rate: str
    rate_u: str
    hours: tuple[str, ...]
    dates: tuple[str, ...]
    by: tuple[str, ...]
    no_hours: str
    statement: str
    rests_on: str
    behind: tuple[str, ...]
    chances: tuple[WindowChance, ...]
    open_at: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class ForecastTable:
    """The forecast table of one engine; `none` says why there are no lines."""

    caption: str
    lines: tuple[ForecastLine, ...]
    none: str


@dataclass(frozen=True)
class KeyItem:
    """One sign in the key of a chart: its name, kind (a class) and outline as SVG path."""

    name: str
    kind: str
    outline: str


@dataclass(frozen=True)
class ChartView:
    """One chart with the sentence that says what it shows; `first` is the one on the sheet of its place."""

    anchor: str
    title: str
    key: tuple[KeyItem, ...]
    finding: str
    drawing: Markup
    first: bool


@dataclass(frozen=True)
class RateLine:
    """Rates of one series side by side.

    Attributes
    ----------
    reason : str
        What stands instead of the hours where there are none.
    """

    what: str
    shell: str
    readings: str
    own: str
    interval: str
    huber: str
    theil_sen: str
    forecast: str
    sisters: str
    hours: tuple[str, ...]
    reason: str


@dataclass(frozen=True)
class CellChange:
    """One corrected cell."""

    column: str
    old: str
    new: str
    why: str


@dataclass(frozen=True)
class ReadingLine:
    """One reading as recorded, and what became of it.

    Attributes
    ----------
    serving : bool
        Of the life in service.
    old_values : tuple of str
        What stood in the value cell before corrections, to be struck through.
    changes : tuple of CellChange
        Corrections of any cell of the row.
    """

    serving: bool
    date: str
    total_h: str
    shell_h: str
    shell: str
    point: str
    value: str
    unit: str
    old_values: tuple[str, ...]
    changes: tuple[CellChange, ...]
    u: str
    instrument: str
    by: str
    state: str
    use: str
    queries: tuple[str, ...]
    remark: str
    row: str


@dataclass(frozen=True)
class ReadingGroup:
    """Readings of one quantity of one half; `first` are those on the sheet of their place."""

    title: str
    first: bool
    lines: tuple[ReadingLine, ...]


@dataclass(frozen=True)
class PositionSection:
    """One position along the shaft.

    Attributes
    ----------
    note : str
        What is read there, where the title does not say it.
    none : str
        Why there is nothing to show; empty where there is something.
    said : str
        What its limit does and by when, on the line it is folded under.
    forecast : ForecastTable
        The rows of this place.
    events, queries : tuple
        What happened here, and what is doubted of it.
    """

    anchor: str
    title: str
    note: str
    none: str
    said: str
    forecast: ForecastTable
    events: tuple[tuple[str, ...], ...]
    queries: tuple[Entry, ...]
    charts: tuple[ChartView, ...]
    rates: tuple[RateLine, ...]
    readings: tuple[ReadingGroup, ...]
    rows_from: str


@dataclass(frozen=True)
class PlainTable:
    """A table of texts; `none` stands where it has no rows.

    Attributes
    ----------
    kind, keys, facts, vessels
        Where scripts find a row again: what its rows are (`plan`, `order`), a lasting key of each row, what the
        cells of each column hold, and the vessel of each row; empty where nothing asks for them.
    """

    anchor: str
    title: str
    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    none: str
    kind: str = ""
    keys: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()
    vessels: tuple[str, ...] = ()


@dataclass(frozen=True)
class SideBySide:
    """Readings laid side by side: what they say, the table of them, and what to mind in reading it."""

    table: PlainTable
    findings: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class ShaftView:
    """The shaft line of an engine: its drawing, what it says, the web deflections in figures.

    Attributes
    ----------
    drawing : Markup or None
        SVG; None where no position could be numbered.
    finding : str
        What the drawing shows, for those who do not see it.
    said : tuple of str
        Which bearing stands high or low, and what else the deflections say.
    notes : tuple of str
        Signs, limits and what to mind.
    """

    drawing: Markup | None
    finding: str
    said: tuple[str, ...]
    notes: tuple[str, ...]
    table: PlainTable


@dataclass(frozen=True)
class FleetCell:
    """One place of one engine among its sisters: a small trend and its facts; `row` is -1 without a forecast."""

    drawing: Markup
    anchor: str
    said: str
    row: int
    early: str
    statement: str


@dataclass(frozen=True)
class FleetRow:
    """One engine among its sisters; a cell is None where the place was never read."""

    page: str
    vessel: str
    engine: str
    cells: tuple[FleetCell | None, ...]


@dataclass(frozen=True)
class FleetGrid:
    """Sisters side by side: one quantity at the same place of every engine; the `first` are shown at once."""

    title: str
    caption: str
    bearing: str
    heads: tuple[str, ...]
    rows: tuple[FleetRow, ...]
    first: int


@dataclass(frozen=True)
class Entry:
    """One query or fault: what kind, where, what was found, what to do."""

    kind: str
    where: str
    text: str
    ask: str


@dataclass(frozen=True)
class Entries:
    """A list of queries or faults; `none` stands where it is empty."""

    anchor: str
    title: str
    intro: str
    entries: tuple[Entry, ...]
    none: str


@dataclass(frozen=True)
class Prose:
    """A heading with its paragraphs."""

    title: str
    paragraphs: tuple[str, ...]


@dataclass(frozen=True)
class Background:
    """What the figures rest on, the same on engine pages and index."""

    left_out: Entries
    queries: Entries
    eased: Entries
    assumptions: tuple[str, ...]
    tables: tuple[PlainTable, ...]
    method: tuple[Prose, ...]
    cautions: tuple[Caution, ...]
    made: tuple[Fact, ...]


@dataclass(frozen=True)
class TrustRow:
    """One row of a table of the backtest; a heading has no cells."""

    label: str
    cells: tuple[str, ...]
    heading: bool


@dataclass(frozen=True)
class TrustTable:
    """One table of the backtest; the first column has no head."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[TrustRow, ...]


@dataclass(frozen=True)
class TrustSection:
    """How far to trust the forecast: whether its range held, and how often a shell was more worn than it allowed."""

    title: str
    verdict: str
    unsafe: str
    scored: str
    tables: tuple[TrustTable, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class EngineSheet:
    """The page of one engine; `index` is the page of all engines, empty where there is none beside it."""

    file_name: str
    title: str
    subtitle: str
    unseen: str
    suggest: str
    facts: tuple[Fact, ...]
    since: str
    shaft: ShaftView
    forecast: ForecastTable
    queries: tuple[QueryLine, ...]
    ends: tuple[str, str]
    positions: tuple[PositionSection, ...]
    beside: tuple[SideBySide, ...]
    background: Background
    brief: tuple[FirstLine, ...] = ()
    what_if: WhatIfView | None = None
    index: str = "index.html"

    @property
    def contents(self) -> tuple[tuple[str, str], ...]:
        """Anchors and titles of what stands on the page."""
        there = (
            ("brief", "First", bool(self.brief)),
            ("shaft-line", "The shaft line", True),
            ("forecast", "Forecast, place by place", True),
            ("positions", "One place at a time", True),
            ("beside", "Readings side by side", bool(self.beside)),
            ("behind", "What the figures rest on", True),
            ("cautions", "Cautions", True),
        )
        return tuple((anchor, title) for anchor, title, is_there in there if is_there)


@dataclass(frozen=True)
class EngineLink:
    """One engine as the index names it."""

    page: str
    vessel: str
    engine: str
    engine_type: str
    as_of: str
    running_h: str
    use: str


@dataclass(frozen=True)
class IndexSheet:
    """The page that leads to all others."""

    title: str
    unseen: str
    suggest: str
    facts: tuple[Fact, ...]
    engines: tuple[EngineLink, ...]
    brief: tuple[FirstLine, ...]
    decided: DecidedView | None
    queries: tuple[QueryLine, ...]
    sisters: tuple[FleetGrid, ...]
    forecast: ForecastTable
    trust: TrustSection | None
    background: Background
    what_if: WhatIfView | None = None

    @property
    def contents(self) -> tuple[tuple[str, str], ...]:
        """Anchors and titles of what stands on the page."""
        there = (
            ("brief", "First", bool(self.brief)),
            ("windows", "Windows by date", self.decided is not None),
            ("orders", "What to order", self.decided is not None),
            ("out-of-line", "Out of line", self.decided is not None),
            ("doubts", "Queries", True),
            ("trust", "How far to trust it", self.trust is not None),
            ("sisters-drawn", "Sisters drawn", bool(self.sisters)),
            ("all-positions", "All positions", True),
            ("behind", "What the figures rest on", True),
            ("cautions", "Cautions", True),
        )
        return tuple((anchor, title) for anchor, title, is_there in there if is_there)
