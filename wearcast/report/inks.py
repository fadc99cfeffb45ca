"""The inks of all pages: one scale for light and dark, chosen so that no colour has to be told from another.

Series differ in lightness and in marker as well as in hue, so that they stay apart for eyes that lack a kind of
cone and in grey print; hues keep to blue, ochre, plum and stone, and none stands for a statement. Contrast by
WCAG 2.2 (relative luminance): text on its paper at least 4.5 to 1, lines and markers at least 3 to 1; the tests
work it out for every ink in both schemes.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Ink:
    """One ink: its colour on light and on dark paper (sRGB, hexadecimal)."""

    name: str
    light: str
    dark: str


PAPER = Ink("paper", "#fcfbf8", "#14181c")
PANEL = Ink("panel", "#f3f1ea", "#1c2228")
TEXT = Ink("text", "#1b2126", "#e8e6df")
QUIET = Ink("quiet", "#555d64", "#a9b0b6")
RULE = Ink("rule", "#d5d1c6", "#37404a")
LINK = Ink("link", "#1d4f86", "#9cc3ee")
LIMIT = Ink("limit", "#3b3f43", "#c9c7c0")
MARK = Ink("mark", "#6d747b", "#8b949c")
FAN = Ink("fan", "#5a4a86", "#b3a2e6")

PRINTED = "#ffffff"
"""The paper of a printed page: nothing, so that no tint is printed."""

SERIES = (
    Ink("series-1", "#1f4e8c", "#7fb2ee"),
    Ink("series-2", "#a35f0c", "#e2a552"),
    Ink("series-3", "#2e0f2a", "#a45f9d"),
    Ink("series-4", "#6986bf", "#2f74ff"),
    Ink("series-5", "#8c8162", "#ffebb2"),
    Ink("series-6", "#363f40", "#d9fcff"),
    Ink("series-7", "#4a1f9c", "#b06a34"),
    Ink("series-8", "#1330bf", "#b2a398"),
    Ink("series-9", "#592a09", "#8f7250"),
)
"""One for each point of a bearing; the first serves where there is only one."""

MARKERS = {
    "circle": "M6,0A6,6,0,1,1,-6,0A6,6,0,1,1,6,0Z",
    "square": "M-5.4,-5.4H5.4V5.4H-5.4Z",
    "diamond": "M0,-7.2L7.2,0L0,7.2L-7.2,0Z",
    "triangle-up": "M0,-6.6L6.6,5L-6.6,5Z",
    "triangle-down": "M0,6.6L6.6,-5L-6.6,-5Z",
    "pentagon": "M0,-6.5L6.18,-2.01L3.82,5.26L-3.82,5.26L-6.18,-2.01Z",
    "cross": "M-2.2,-6.6H2.2V-2.2H6.6V2.2H2.2V6.6H-2.2V2.2H-6.6V-2.2H-2.2Z",
    "star": "M0,-7.2L1.8,-2.4L6.8,-2.2L2.9,0.9L4.2,5.8L0,3L-4.2,5.8L-2.9,0.9L-6.8,-2.2L-1.8,-2.4Z",
    "hourglass": "M-6,-6H6L-6,6H6Z",
}
"""Markers in the order of the inks: plotly.js's name of each, and its outline for the key under a chart."""

SYMBOLS = tuple(MARKERS)

ALL = (PAPER, PANEL, TEXT, QUIET, RULE, LINK, LIMIT, MARK, FAN, *SERIES)
