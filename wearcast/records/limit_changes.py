"""Limits that a record book states otherwise than it did, under the same document and revision."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from wearcast.units import MM_PER_UNIT

KEY = ("engine_type", "bearing", "half", "quantity", "shell_size", "point", "limit_side")
LENGTHS = ("new_min", "new_max", "limit")
FIGURES = (*LENGTHS, "overlay_um", "renew_at_h")
NOTHING_MM = 1e-9


@dataclass(frozen=True)
class StatedLimit:
    """A limit as one import stated it: its cells as text, its id, who and when."""

    cells: Mapping[str, str]
    row: int
    by: str
    at: str

    @property
    def key(self) -> tuple[str, ...]:
        """What it is a limit of, under which document."""
        return (
            *(self.cells[name].casefold() for name in KEY),
            " ".join(self.cells["limit_source"].casefold().split()),
        )

    def figure(self, column: str) -> float | None:
        """A figure, lengths in mm; None where nothing, or no number, stands there."""
        try:
            return float(self.cells[column]) * (MM_PER_UNIT[self.cells["unit"]] if column in LENGTHS else 1.0)
        except (ValueError, KeyError):
            return None

    def written(self, column: str) -> str:
        """A figure as it stands there, with its unit."""
        text = self.cells[column]
        return f"{text} {self.cells['unit']}" if text and column in LENGTHS else text


@dataclass(frozen=True)
class LimitChange:
    """One figure of a limit as it was stated before, and as it is since.

    Attributes
    ----------
    column : str
        Which figure.
    was, now : StatedLimit
        The last that said otherwise, and the one in force.
    by, at : str
        Who brought the new figure in, and when.
    """

    column: str
    was: StatedLimit
    now: StatedLimit
    by: str
    at: str

    @property
    def eases(self) -> bool:
        """Whether the new figure lets a shell wear on for longer than the old one did."""
        was, now = self.was.figure(self.column), self.now.figure(self.column)
        if was is None or now is None:
            return now is None  # a bound that was taken away
        if self.column == "limit" and self.now.cells["limit_side"] == "min":
            return now < was
        return self.column in ("limit", "overlay_um", "renew_at_h") and now > was


def limit_changes(stated: Sequence[StatedLimit], in_force: Sequence[int]) -> Iterator[LimitChange]:
    """Each figure of a limit in force (by id) that an earlier import stated otherwise, against the last that did."""
    earlier_of: dict[tuple[str, ...], list[StatedLimit]] = {}
    holds = set(in_force)
    for now in sorted(stated, key=lambda one: one.row):
        earlier = earlier_of.setdefault(now.key, [])
        if now.row in holds:
            for column in FIGURES:
                unlike = [k for k, was in enumerate(earlier) if not _same(was, now, column)]
                if unlike:
                    since = [*earlier, now][unlike[-1] + 1]
                    yield LimitChange(column, earlier[unlike[-1]], now, since.by, since.at)
        earlier.append(now)


def _same(was: StatedLimit, now: StatedLimit, column: str) -> bool:
    before, since = was.figure(column), now.figure(column)
    if before is None or since is None:
        return was.cells[column] == now.cells[column]
    return abs(before - since) < NOTHING_MM
