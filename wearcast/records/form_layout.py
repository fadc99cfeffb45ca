"""The form for the ship: where on it things stand, shared by those who write it and those who read it back.

A change here that moves or renames anything needs a new `VERSION`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from types import MappingProxyType

from wearcast.quantities import QUANTITIES
from wearcast.words import point_words

VERSION = 2

OPENING, READINGS, SHELLS = "Opening", "Readings", "Shells"
LISTS, FACTS = "lists", "form facts"
"""The sheets; the last two are hidden."""

MARK = "wearcast form"
"""First cell of the hidden facts."""

VESSEL_CELL, ENGINE_CELL = "C3", "C4"
HEAD_CELLS = MappingProxyType({"date": "C9", "counter_h": "C10", "measured_by": "C11", "conditions": "C12"})
"""Cells of the opening sheet that the ship fills in, by column of the readings."""

GAUGE_FIRST_ROW, GAUGE_COLUMN = 16, "C"
"""On the opening sheet, one row a quantity read."""

READING_LABELS = ("A", "B", "C", "D", "F")
READING_VALUE, READING_GAUGE, READING_TEMPERATURE, READING_REMARK = "E", "L", "M", "N"
SHELL_LABELS = ("A", "B")
SHELL_DONE, SHELL_SIZE, SHELL_FOUND, SHELL_REMARK = "D", "E", "G", "H"

WHEN = MappingProxyType({"as_found": "as found", "as_left": "as left"})
DONE = MappingProxyType({"refitted": "refit", "renewed": "renewal", "reground": "regrind"})
"""Words of the form, and the events they are."""

NEEDS_SIZE = frozenset({"renewal", "regrind"})
JOURNAL = "journal"
"""The half of a row about the journal instead of a shell."""


@dataclass(frozen=True)
class FormReading:
    """One value asked for, and its row on the readings sheet."""

    row: int
    bearing: str
    position: str
    half: str
    point: str
    quantity: str
    unit: str
    state: str

    @property
    def labels(self) -> tuple[str, ...]:
        """What the row says in `READING_LABELS`."""
        title = QUANTITIES[self.quantity].title
        what = f"{title}, {self.half}" if self.half else title
        return (
            place_label(self.bearing, self.position),
            what,
            point_words(self.point),
            WHEN[self.state],
            self.unit,
        )


@dataclass(frozen=True)
class FormShell:
    """One half-bearing (or journal) that may have been renewed, and its row on the shells sheet."""

    row: int
    bearing: str
    position: str
    half: str

    @property
    def labels(self) -> tuple[str, ...]:
        """What the row says in `SHELL_LABELS`."""
        return place_label(self.bearing, self.position), self.half


@dataclass(frozen=True)
class FormGauge:
    """One quantity, and its row among the gauges on the opening sheet."""

    row: int
    quantity: str

    @property
    def labels(self) -> tuple[str, ...]:
        """What the row says."""
        return (QUANTITIES[self.quantity].title,)


FormRow = FormReading | FormShell | FormGauge


def place_label(bearing: str, position: str) -> str:
    """A place in words.

    >>> place_label("big_end", "2")
    'big end 2'
    """
    return f"{bearing.replace('_', ' ')} {position}"


_FIELDS: MappingProxyType[str, type[FormReading] | type[FormShell] | type[FormGauge]] = MappingProxyType(
    {"reading": FormReading, "shell": FormShell, "gauge": FormGauge}
)


def fact_rows(rows: Iterable[FormRow]) -> list[list[str]]:
    """The rows of a form as lines of the hidden facts."""
    names = {kind: name for name, kind in _FIELDS.items()}
    return [[names[type(row)], *(str(getattr(row, one.name)) for one in fields(row))] for row in rows]


def form_row(line: Sequence[str]) -> FormRow | None:
    """The row a line of the hidden facts describes; None for a line of another kind.

    Raises
    ------
    ValueError
        If the line is none that a form was made with.
    """
    kind = _FIELDS.get(line[0]) if line else None
    if kind is None:
        return None
    names = [one.name for one in fields(kind)]
    cells = [*line[1 : len(names) + 1], *[""] * (len(names) + 1 - len(line))]
    made = kind(int(cells[0]), *cells[1:])
    if isinstance(made, FormReading) and (made.state not in WHEN or made.quantity not in QUANTITIES):
        raise ValueError("no reading of a form")
    return made


def digest(lines: Iterable[Sequence[str]]) -> str:
    """Fingerprint of the hidden facts: whether they are still those the form was made with (SHA-256)."""
    text = "\n".join("\t".join(" ".join(cell.split()) for cell in line).rstrip("\t") for line in lines)
    return hashlib.sha256(text.encode()).hexdigest()
