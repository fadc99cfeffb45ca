"""What `wearcast evidence repeat` says."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from wearcast.cli.decisions import say

if TYPE_CHECKING:
    from rich.console import Console

    from wearcast.evidence.compare import Difference
    from wearcast.evidence.repeat import Repeated

SHOWN_ROWS, SHOWN_OF_ROW = 12, 3
COMES_OUT = (
    "The pack comes out again. It says that the figures follow from its records, not that these are right."
)
DOES_NOT = "The pack does not come out again. Do not rely on it; ask its maker for it as it was made."


def show_repeated(file: Path, found: Repeated, out: Console) -> None:
    """The verdict where it does not come out, with what differs first; then what holds, what does not, every row."""
    from wearcast.evidence.first_said import first_said

    asked = found.asked
    if asked is not None:
        survey = f", {asked.survey}" if asked.survey else ""
        by = f", put together by {asked.organization}" if asked.organization else ""
        out.print(
            f"{file}: {asked.name}{survey}, run on {asked.run_date} with wearcast {asked.program}{by}.\n"
        )
    if first := first_said(found.differences, found.faults):
        say([DOES_NOT, first], out, indent="")
        out.print("\nThis holds:", style="bold")
    say(found.holds, out, indent="")
    if found.notes:
        out.print("\nTo be known:", style="bold")
        say(found.notes, out, indent="")
    if found.faults:
        out.print("\nThis does not hold:", style="bold")
        say(found.faults, out, indent="")
    if found.differences:
        _show_differences(found.differences, out)
    if found.came_out:
        out.print()
        say([COMES_OUT], out, indent="")


def _show_differences(found: Sequence[Difference], out: Console) -> None:
    """Row by row, the first columns of each."""
    rows: dict[tuple[str, str], list[Difference]] = {}
    for one in found:
        rows.setdefault((one.file, one.row), []).append(one)
    # A table that is there as CSV and as JSON is told once.
    shown = [
        (name, apart)
        for name, apart in rows.items()
        if (name[0].removesuffix(".json") + ".csv", name[1]) not in rows or name[0].endswith(".csv")
    ]
    figures = "figure does" if len(found) == 1 else "figures do"
    out.print(f"\n{len(found)} {figures} not come out again:", style="bold")
    for (name, row), apart in shown[:SHOWN_ROWS]:
        said = [
            f"{one.column + ': ' if one.column else ''}recorded {one.recorded or 'empty'}, worked out again "
            f"{one.recomputed or 'empty'}"
            for one in apart[:SHOWN_OF_ROW]
        ]
        more = f"; and {len(apart) - SHOWN_OF_ROW} more of this row" if len(apart) > SHOWN_OF_ROW else ""
        say([f"{name}{', ' + row if row else ''}. {'; '.join(said)}{more}."], out, indent="")
    if len(shown) > SHOWN_ROWS:
        out.print(f"And {len(shown) - SHOWN_ROWS} rows more; --csv FILE writes them all.")
