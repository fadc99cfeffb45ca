"""How much is taken in of a file from outside; far above any honest file, below what would do harm (judgement)."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any

from wearcast.errors import WearcastError


class TurnedAway(WearcastError):
    """A file, or a part of one, that is not taken in.

    Attributes
    ----------
    found, advice : str
        What was found, as the beginning of a sentence without its stop; what to do, as a sentence.
    where : str
        The part of the file; empty for all of it.
    """

    def __init__(self, found: str, advice: str, where: str = "") -> None:
        self.found, self.advice, self.where = found, advice, where
        super().__init__(f"{found}. {advice}")


def _most(number: int, of: str) -> Any:
    return field(default=number, metadata={"of": of})


@dataclass(frozen=True)
class Bounds:
    """The largest number of each that is taken in."""

    file_bytes: int = _most(2_000_000_000, "bytes of a file")
    settings_bytes: int = _most(1_000_000, "bytes of a file of settings, of a mapping, or of a key")
    line_bytes: int = _most(2_000_000, "bytes of a line of CSV, or of one text in a workbook")
    rows: int = _most(20_000_000, "lines of a CSV file, or cells of a sheet")
    sheet_rows: int = _most(1_048_576, "rows of a sheet")
    lacking: int = _most(20_000_000, "cells that the lines of a CSV file have fewer than its first")
    different: int = _most(5_000_000, "different texts in a CSV file")
    values: int = _most(5_000_000, "cells of a sheet with something in them")
    layout_cells: int = _most(2_000_000, "cells of a file of another layout with something in them")
    shared_bytes: int = _most(60_000_000, "bytes of the texts that the sheets of a workbook share")
    columns: int = _most(1_000, "columns of a table or sheet")
    cell_characters: int = _most(100_000, "characters of a cell")
    attribute_characters: int = _most(
        10_000, "characters of an attribute in a workbook, such as a number format"
    )
    digits: int = _most(40, "digits of a number")
    nesting: int = _most(50, "levels of TOML, JSON or XML within one another")
    files: int = _most(10_000, "files of a folder, workbook or pack")
    unpacked_bytes: int = _most(2_000_000_000, "bytes of a workbook or pack once unpacked")
    shrinking: int = _most(200, "times a file of over 10 MB may be smaller when packed")

    def told(self) -> tuple[tuple[str, int, str], ...]:
        """Name, number and meaning of every bound, for printing."""
        return tuple((one.name, getattr(self, one.name), one.metadata["of"]) for one in fields(self))


BOUNDS = Bounds()
SMALL_BYTES = 10_000_000
"""A packed file below this may shrink by any ratio."""
