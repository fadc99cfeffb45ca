"""What the files of a record set hold, before any cell is understood."""

from __future__ import annotations

from dataclasses import dataclass, field

from wearcast.queries import Query
from wearcast.records.faults import unreadable
from wearcast.records.grids import Grid
from wearcast.records.records import InputFile
from wearcast.records.tables import Table


@dataclass
class Found:
    """The tables found in a folder or workbook.

    Attributes
    ----------
    kind : str
        How tables come: ``file`` or ``sheet``.
    names : list of str
        The files or sheets met, for the message of a missing table.
    refused : set of str
        Tables that are there and cannot be read.
    """

    kind: str
    files: list[InputFile] = field(default_factory=list)
    grids: dict[str, Grid] = field(default_factory=dict)
    faults: list[Query] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    refused: set[str] = field(default_factory=set)

    def refuse(self, table: Table, file: str, sheet: str, found: str, suggestion: str) -> None:
        """Note a table that is there and cannot be read."""
        self.refused.add(table.name)
        self.faults.append(unreadable(table, file, sheet, found, suggestion))
