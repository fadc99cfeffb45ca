"""Contrast of the inks by the formula of WCAG 2.2 (relative luminance, contrast ratio; 1.4.3 and 1.4.11)."""

from __future__ import annotations

import pytest

from wearcast.report import inks
from wearcast.report.inks import Ink

PAPERS = (inks.PAPER, inks.PANEL)
TEXT_INKS = (inks.TEXT, inks.QUIET, inks.LINK)
GRAPHIC_INKS = (inks.LIMIT, inks.MARK, inks.FAN)


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition of relative luminance)."""
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2, definition of contrast ratio)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#777777", "#ffffff", 4.48),  # the two greys that writers on WCAG 2 give as just failing and
        ("#767676", "#ffffff", 4.54),  # just passing 4.5 to 1 on white (common practice, no source)
        ("#000000", "#ffffff", 21.0),
    ],
)
def test_contrast_by_known_pairs(one: str, other: str, ratio: float) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)
    assert contrast(other, one) == contrast(one, other)


@pytest.mark.parametrize("ink", TEXT_INKS, ids=lambda ink: ink.name)
def test_text_has_four_and_a_half_to_one(ink: Ink) -> None:
    for paper in PAPERS:
        assert contrast(ink.light, paper.light) >= 4.5
        assert contrast(ink.dark, paper.dark) >= 4.5


@pytest.mark.parametrize("ink", [*GRAPHIC_INKS, *inks.SERIES], ids=lambda ink: ink.name)
def test_lines_and_markers_have_three_to_one(ink: Ink) -> None:
    assert contrast(ink.light, inks.PAPER.light) >= 3
    assert contrast(ink.dark, inks.PAPER.dark) >= 3


def test_every_light_ink_is_told_from_the_others_when_the_page_turns_dark() -> None:
    assert len({ink.light for ink in inks.ALL}) == len(inks.ALL)
    assert len({ink.name for ink in inks.ALL}) == len(inks.ALL)
    assert len(inks.SYMBOLS) == len(inks.SERIES)


def _without(cone: str, colour: str) -> tuple[float, float, float]:
    """What is left of a colour for an eye without one kind of cone.

    Matrices for linear RGB: Viénot, F., Brettel, H. & Mollon, J.D. (1999), Color Res. Appl. 24, 243-252; from
    memory, rounded to three digits.
    """
    linear = [((int(colour[k : k + 2], 16) / 255 + 0.055) / 1.055) ** 2.4 for k in (1, 3, 5)]
    matrix = {
        "protan": ((0.112, 0.885, -0.001), (0.112, 0.885, -0.001), (0.005, -0.005, 1.0)),
        "deutan": ((0.292, 0.708, 0.0), (0.292, 0.708, 0.0), (-0.022, 0.022, 1.0)),
    }[cone]
    red, green, blue = (sum(m * c for m, c in zip(row, linear, strict=True)) for row in matrix)
    return tuple(max(c, 0.0) ** (1 / 2.4) for c in (red, green, blue))


@pytest.mark.parametrize("cone", ["protan", "deutan"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_first_four_inks_stay_apart_without_a_kind_of_cone(cone: str, scheme: str) -> None:
    seen = [_without(cone, getattr(ink, scheme)) for ink in inks.SERIES[:4]]
    for i, one in enumerate(seen):
        for other in seen[:i]:
            assert sum((a - b) ** 2 for a, b in zip(one, other, strict=True)) ** 0.5 > 0.3


def _css() -> str:
    from importlib.resources import files

    return (files("wearcast.report") / "assets" / "sheet.css").read_text(encoding="utf-8")


def test_drawings_use_inks_of_the_scale_alone() -> None:
    """No colour is written into the style sheet but the white of printed paper."""
    import re

    css = _css()
    assert set(re.findall(r"#[0-9a-fA-F]{3,8}\b", css)) == {inks.PRINTED}
    assert not re.findall(r"\b(?:rgb|hsl)a?\(", css)
    known = {ink.name for ink in inks.ALL}
    assert set(re.findall(r"var\(--([\w-]+)\)", css)) - {"natural"} <= known


def test_every_shape_that_says_something_is_drawn_in_an_ink_of_three_to_one() -> None:
    """Strokes of the drawings, rule by rule; frames and leaders only help the eye and may be paler."""
    import re

    by_name = {ink.name: ink for ink in inks.ALL}
    rules = re.findall(r"\nsvg (\.[^{]+)\{([^}]*)\}", _css())
    helping = {".frame", ".leader", ".steel"}
    seen = set()
    for selectors, body in rules:
        if set(selectors.split()) & helping:
            continue
        strokes = re.findall(r"stroke: var\(--([\w-]+)\)", body) or re.findall(
            r"fill: var\(--([\w-]+)\)", body
        )
        for name in strokes:
            seen.add(name)
            ink = by_name[name]
            assert contrast(ink.light, inks.PAPER.light) >= 3, (selectors, name)
            assert contrast(ink.dark, inks.PAPER.dark) >= 3, (selectors, name)
            assert contrast(ink.light, inks.PRINTED) >= 3, (selectors, name)
    assert {"limit", "fan", "mark", "series-1", "series-2"} <= seen


@pytest.mark.parametrize("ink", [inks.TEXT, inks.QUIET], ids=lambda ink: ink.name)
def test_text_is_legible_on_printed_paper(ink: Ink) -> None:
    assert contrast(ink.light, inks.PRINTED) >= 4.5


def _over(ink: str, share: float, paper: str) -> str:
    """A colour laid over another at some opacity."""
    mixed = [
        round(share * int(ink[k : k + 2], 16) + (1 - share) * int(paper[k : k + 2], 16)) for k in (1, 3, 5)
    ]
    return "#" + "".join(f"{value:02x}" for value in mixed)


def test_the_middle_way_stays_visible_on_the_areas_under_it() -> None:
    """Three areas lie over one another under the line; line and sides have 3 to 1 against the paper."""
    import re

    found = re.search(r"svg \.fan \{[^}]*fill-opacity: ([\d.]+)", _css())
    assert found
    for scheme in ("light", "dark"):
        paper = getattr(inks.PAPER, scheme)
        for _ in range(3):
            paper = _over(getattr(inks.FAN, scheme), float(found[1]), paper)
        assert contrast(getattr(inks.FAN, scheme), paper) >= 3
