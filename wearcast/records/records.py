"""A record set as read: tables of understood rows, and what was not understood."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

import pandas as pd

from wearcast.queries import Query
from wearcast.records.came_from import CameFrom
from wearcast.records.limit_changes import LimitChange
from wearcast.shown import Shown


@dataclass(frozen=True)
class InputFile:
    """One input file: its name in the record set and the SHA-256 of its bytes (hexadecimal)."""

    name: str
    sha256: str


@dataclass(frozen=True, repr=False)
class RecordSet(Shown):
    """A record set as read.

    Attributes
    ----------
    source : str
        The folder or file it was read from, as the user named it.
    files : tuple of InputFile
        The files read, in name order.
    tables : mapping of str to DataFrame
        All tables of the contract by name (an absent one is empty), understood rows only; columns as
        `wearcast.records.tables` says.
    faults : tuple of Query
        Every refusal met in reading. Whoever computes from the tables first asks `lives.build`, which
        refuses the set unless faulty rows are to be left out.
    notes : tuple of str
        What the reader should know: unknown columns kept, files not read, corrections applied.
    run_date : date
        The date of the run; nothing may be dated after it.
    book_digest : str
        For a record book its last digest (hexadecimal); else empty.
    limit_changes : tuple of LimitChange
        For a record book, limits in force that it stated otherwise before under the same document.
    withdrawn : mapping of str to DataFrame
        Rows of readings and events that corrections took out, as far as they can be understood.
    origins : mapping of str to CameFrom
        For a record book, whose rows are numbered by their ids: where the rows of each table came from.
    """

    source: str
    files: tuple[InputFile, ...]
    tables: Mapping[str, pd.DataFrame]
    faults: tuple[Query, ...]
    notes: tuple[str, ...]
    run_date: date
    book_digest: str = ""
    limit_changes: tuple[LimitChange, ...] = ()
    withdrawn: Mapping[str, pd.DataFrame] = field(default_factory=dict, repr=False)
    origins: Mapping[str, CameFrom] = field(default_factory=dict, repr=False)

    def headline(self) -> str:
        """Where it came from, how many rows each table has, and how many were refused."""
        rows = ", ".join(f"{len(table)} {name}" for name, table in self.tables.items() if len(table))
        return f"RecordSet of {self.source}: {rows}; {len(self.faults)} rows refused"

    def glance(self) -> pd.DataFrame:
        """How many rows each table has."""
        return pd.DataFrame({"table": list(self.tables), "rows": [len(one) for one in self.tables.values()]})

    def told(self, queries: Iterable[Query]) -> tuple[Query, ...]:
        """The queries, those about rows of a record book with the file, sheet and row they came from."""
        return tuple(
            replace(query, came_from=self.origins[query.table].words(query.rows))
            if query.rows and not query.came_from and query.table in self.origins
            else query
            for query in queries
        )

    @property
    def readings(self) -> pd.DataFrame:
        """One row a reading."""
        return self.tables["readings"]

    @property
    def engines(self) -> pd.DataFrame:
        """One row an engine."""
        return self.tables["engines"]

    @property
    def limits(self) -> pd.DataFrame:
        """One row a limit."""
        return self.tables["limits"]

    @property
    def events(self) -> pd.DataFrame:
        """One row an event."""
        return self.tables["events"]

    @property
    def windows(self) -> pd.DataFrame:
        """One row a chance to open bearings."""
        return self.tables["windows"]

    @property
    def spares(self) -> pd.DataFrame:
        """One row a part."""
        return self.tables["spares"]

    @property
    def gauges(self) -> pd.DataFrame:
        """One row a gauge and certificate."""
        return self.tables["gauges"]

    @property
    def corrections(self) -> pd.DataFrame:
        """One row a correction that was applied."""
        return self.tables["corrections"]
