"""What the tool refuses or doubts: one shape for both, and one table of their kinds."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from wearcast.texts import seen


@dataclass(frozen=True)
class Kind:
    """One kind of query.

    Attributes
    ----------
    stops_run : bool
        True for a refusal: the run ends with exit code 1 unless the rows are left out.
    can_be_left_out : bool
        Whether going on without the rows is offered.
    title : str
        The kind in words, for headings.
    guess : str or None
        Where it is only one explanation of what was found: the article of its title ("perhaps a unit slip").
    draft : str
        How a correction is drafted: `value` (left to the user), `factor`, `twice`, `half`, `position`, `date`, or
        `none` where no reading is to be corrected.
    quick : bool
        A look at the rows settles it; the others compare walls, clearances and journals over years.
    """

    name: str
    stops_run: bool
    can_be_left_out: bool
    title: str
    guess: str | None = None
    draft: str = "value"
    quick: bool = False


KINDS = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            Kind("not_understood", True, True, "not understood"),
            Kind("missing_column", True, False, "missing column"),
            Kind("missing_table", True, False, "missing table"),
            Kind("counter_fall", True, True, "dial falls"),
            Kind("hours_per_day", True, True, "more than 24 hours a day"),
            Kind("unknown_engine", True, True, "unknown engine"),
            Kind("limit_as_wear", True, True, "limit typed as wear"),
            Kind("limit_size", True, True, "no limit of this shell size"),
            Kind("limit_side", True, True, "limit on the wrong side"),
            Kind("journal_size", True, False, "shell size does not match the journal"),
            Kind("unit_slip", False, True, "unit slip", guess="a ", draft="factor", quick=True),
            Kind("decimal_slip", False, True, "decimal slip", guess="a ", draft="factor", quick=True),
            Kind("quickened", False, True, "wore faster of late"),
            Kind("slowed", False, True, "wore slower of late"),
            Kind("outlier", False, True, "out of line with the other readings", quick=True),
            Kind("opening_error", False, True, "all positions moved together"),
            Kind("rate_changed", False, True, "wear does not go on as it went", draft="none"),
            Kind("end_swap", False, True, "written from the other end", guess="", draft="position"),
            Kind("half_swap", False, True, "halves swapped", guess="", draft="half"),
            Kind("repeated_set", False, True, "repeated set", guess="a ", quick=True),
            Kind("unrecorded_renewal", False, True, "unrecorded renewal", guess="an "),
            Kind("duplicate", False, True, "same reading twice", draft="twice", quick=True),
            Kind("date_mismatch", False, True, "one opening under two dates", "", draft="date", quick=True),
            Kind("gauge_disagreement", False, True, "two gauges disagree", quick=True),
            Kind("journal_query", False, True, "journal in question"),
            Kind("walls_clearance", False, True, "clearance does not fit the walls", draft="none"),
            Kind("axial_minimum", False, True, "axial clearance below its minimum"),
            Kind("deflection_closure", False, True, "deflection does not close"),
            Kind("alignment_query", False, True, "a main stands high and wears fast", guess=""),
            Kind("damage_noted", False, True, "damage noted on a shell in service"),
            Kind("spares_size", False, True, "no spare of this shell size"),
            Kind("limit_changed", False, True, "a limit changed under the same document", draft="none"),
            Kind("gauge_due", False, True, "gauge used after its calibration was due", draft="none"),
            Kind("typed_figure", False, True, "a typed figure does not fit the rest", guess=""),
        )
    }
)
"""Every kind by name; the names are part of the output."""


@dataclass(frozen=True)
class Query:
    """One refusal or doubt, with the cell or rows it is about.

    Attributes
    ----------
    kind : str
        A name of `KINDS`.
    text : str
        What was found and what was expected, one plain sentence without the place.
    suggestion : str
        What to do about it.
    rows : tuple of int
        Row numbers as a spreadsheet shows them (the header is row 1).
    evidence : float or None
        The evidence as a number (how many standard uncertainties, which log-likelihood); `text` says which.
    came_from : str
        For rows of a record book, whose numbers are ids: the file, sheet and rows they came from.
    engines : tuple of (vessel, engine)
        The engines of the rows where they are of several.
    """

    kind: str
    text: str
    suggestion: str = ""
    table: str = ""
    rows: tuple[int, ...] = ()
    file: str = ""
    sheet: str = ""
    column: str = ""
    found: str = ""
    expected: str = ""
    vessel: str = ""
    engine: str = ""
    bearing: str = ""
    position: str = ""
    half: str = ""
    evidence: float | None = None
    came_from: str = ""
    engines: tuple[tuple[str, str], ...] = ()

    @property
    def stops_run(self) -> bool:
        """True for a refusal."""
        return KINDS[self.kind].stops_run

    @property
    def can_be_left_out(self) -> bool:
        """Whether the run may go on without the rows."""
        return KINDS[self.kind].can_be_left_out

    @property
    def where(self) -> str:
        """File, sheet, rows and column in words.

        >>> Query("counter_fall", "", file="readings.csv", rows=(4, 9), column="counter_h").where
        'readings.csv, rows 4 and 9, counter_h'
        >>> Query("outlier", "", file="fleet.book", rows=(4,), column="value", came_from="readings.csv, row 9").where
        'fleet.book, id 4, value (came in readings.csv, row 9)'
        """
        parts = [seen(self.file or self.table)]
        if self.sheet:
            parts.append(f"sheet {seen(self.sheet)}")
        if self.rows:
            ids = f"{self.table} id".strip()  # ids of a book are counted table by table
            parts.append(_rows_in_words(self.rows, ids if self.came_from else "row"))
        if self.column:
            parts.append(self.column)
        place = ", ".join(part for part in parts if part)
        return f"{place} (came in {self.came_from})" if self.came_from else place

    def __str__(self) -> str:
        """Place, sentence and suggestion in one line."""
        line = f"{self.where}: {self.text}" if self.where else self.text
        return f"{line} {self.suggestion}".rstrip()

    def to_json(self) -> dict[str, Any]:
        """The object of the queries list."""
        return {
            "kind": self.kind,
            "stops_run": self.stops_run,
            "table": self.table,
            "rows": list(self.rows),
            "vessel": self.vessel,
            "engine": self.engine,
            "bearing": self.bearing,
            "position": self.position,
            "half": self.half,
            "evidence": self.evidence,
            "text": f"{self.where}: {self.text}" if self.where else self.text,
            "suggestion": self.suggestion,
        }


def _rows_in_words(rows: tuple[int, ...], name: str, most: int = 8) -> str:
    shown = [str(row) for row in rows[:most]]
    if len(rows) == 1:
        return f"{name} {shown[0]}"
    if len(rows) > most:
        return f"{name}s {', '.join(shown)} and {len(rows) - most} more"
    return f"{name}s {', '.join(shown[:-1])} and {shown[-1]}"
