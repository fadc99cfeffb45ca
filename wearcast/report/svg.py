"""Drawings as SVG text: few decimals, one class a shape, every text escaped."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from markupsafe import Markup

Point = tuple[float, float]


def number(value: float) -> str:
    """A coordinate to a tenth of a unit.

    >>> number(12.04), number(-0.01), number(3.25)
    ('12', '0', '3.2')
    """
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def tag(name: str, inner: str | Markup = "", **attributes: object) -> Markup:
    """One element; attribute names have ``_`` for ``-``, and ``class_`` is the class.

    >>> str(tag("text", "<1>", class_="n", x=2.0))
    '<text class="n" x="2">&lt;1&gt;</text>'
    """
    from markupsafe import Markup, escape

    said = "".join(
        f' {key.removesuffix("_").replace("_", "-")}="'
        f'{number(value) if isinstance(value, float) else escape(str(value))}"'
        for key, value in attributes.items()
        if value != ""
    )
    return Markup(f"<{name}{said}>{escape(inner)}</{name}>" if inner else f"<{name}{said}/>")


def joined(parts: Iterable[str | Markup]) -> Markup:
    """Several elements in a row."""
    from markupsafe import Markup

    return Markup("").join(parts)


def polygon(points: Iterable[Point]) -> str:
    """The path of a closed figure.

    >>> polygon([(0, 0), (2, 0), (2, 1.5)])
    'M0 0L2 0L2 1.5Z'
    """
    return f"{way(points)}Z"


def way(points: Iterable[Point]) -> str:
    """The path of an open line."""
    return "L".join(f"{number(x)} {number(y)}" for x, y in points).join(("M", ""))


def dots(points: Iterable[Point]) -> str:
    """The path of dots: strokes without length, round by their caps."""
    return "".join(f"M{number(x)} {number(y)}h0" for x, y in points)


def text(said: str, x: float, y: float, class_: str = "", anchor: str = "") -> Markup:
    """A line of text."""
    return tag("text", said, class_=class_, x=float(x), y=float(y), text_anchor=anchor)
