"""Where things stand in the drawing of a shaft line, in units of the drawing."""

from __future__ import annotations

from dataclasses import dataclass

from wearcast.report.shaft_order import Line

LEFT, RIGHT = 134.0, 122.0
"""Room for the names of lanes, and for the ends and what the scales say."""

PITCH, NARROW_PITCH, ROOMY_MAINS = 118.0, 94.0, 9
"""From main to main; narrower where there are more mains than this."""

PLOT_HEIGHT = 60.0
NAME_ROOM, DATE_ROOM, GAP = 15.0, 17.0, 13.0
LANE_HEIGHT = NAME_ROOM + PLOT_HEIGHT + DATE_ROOM + GAP


@dataclass(frozen=True)
class Grid:
    """Columns of the drawing, main by main and throw by throw."""

    line: Line

    @property
    def pitch(self) -> float:
        """From one main to the next."""
        return PITCH if len(self.line.mains) <= ROOMY_MAINS else NARROW_PITCH

    @property
    def plot_width(self) -> float:
        """Width of a small trend."""
        return self.pitch - 12.0

    @property
    def width(self) -> float:
        """Width of the whole drawing."""
        return LEFT + self.pitch * max(len(self.line.mains), 1) + RIGHT

    def main_x(self, number: int) -> float:
        """Middle of a main."""
        return LEFT + self.pitch * (self.line.mains.index(number) + 0.5)

    def throw_x(self, number: int) -> float:
        """Middle of a throw."""
        return self.main_x(self.line.left_of(number)) + 0.5 * self.pitch

    @property
    def first_x(self) -> float:
        """Left edge of the first column."""
        return LEFT

    @property
    def last_x(self) -> float:
        """Right edge of the last column."""
        return self.width - RIGHT
