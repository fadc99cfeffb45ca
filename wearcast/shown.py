"""How a result shows itself in a notebook or a terminal: one line, and a short table."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

MOST_ROWS = 20
"""Rows of a table shown; all of them are in the result's own table."""


class Shown:
    """Shows a result by a line and a table; a dataclass that shows itself so is made with ``repr=False``."""

    def headline(self) -> str:
        """What this is and the most important of what it says, in one line.

        Returns
        -------
        str
        """
        raise NotImplementedError

    def glance(self) -> pd.DataFrame:
        """The rows and columns to see first.

        Returns
        -------
        DataFrame
        """
        raise NotImplementedError

    def __repr__(self) -> str:
        return f"<{self.headline()}>"

    def _repr_html_(self) -> str:
        table = self.glance()
        left = len(table) - MOST_ROWS
        more = f"<p>and {left} more rows in the table</p>" if left > 0 else ""
        body = table.head(MOST_ROWS).to_html(index=False, border=0, na_rep="", float_format="{:.6g}".format)
        return f"<p>{escape(self.headline())}</p>{body if len(table) else ''}{more}"
