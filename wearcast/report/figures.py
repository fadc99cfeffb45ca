"""Charts as plain plotly.js JSON: data and layout, no plotly import."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from wearcast import words
from wearcast.report import inks
from wearcast.report.fans import fan_traces
from wearcast.report.layout import Json, layout
from wearcast.report.strands import Dot, Strand
from wearcast.report.trends import Trend, held_mm, off_axis
from wearcast.report.words import chart_text
from wearcast.units import UM_PER_MM
from wearcast.words import plain, whole


@dataclass(frozen=True)
class Look:
    """How strongly a life is drawn: opacity, width of its line and size of its markers [px], bars or none."""

    opacity: float
    width: float
    size: float
    bars: bool


FOREMOST = Look(1.0, 1.6, 8, True)
EARLIER = Look(0.6, 1.0, 5.5, False)
"""Lives that ended stay in sight behind the one in service; their readings stand in the table."""


def figure(trend: Trend) -> Json:
    """One chart: from the back, limit, overlay, bands, lines, readings, hours ahead."""
    points = list(dict.fromkeys(strand.point for strand in trend.strands))
    data = [*_limits(trend), *_overlay(trend)]
    for strand in trend.strands:
        data += _band(strand, points.index(strand.point))
    for strands, look in ((trend.earlier, EARLIER), (trend.foremost, FOREMOST)):
        for k, point in enumerate(points):
            data += _lines([strand for strand in strands if strand.point == point], k, look)
        for k, point in enumerate(points):
            data += _readings(trend, [strand for strand in strands if strand.point == point], k, look)
    data += fan_traces(trend)
    return {"data": data, "layout": layout(trend)}


def _ink(point: int) -> inks.Ink:
    return inks.SERIES[point % len(inks.SERIES)]


def _limits(trend: Trend) -> list[Json]:
    """Each limit as a line; what lies beyond the first one reached, on either side, hatched."""
    data: list[Json] = []
    for side in ("min", "max"):
        values = [limit.limit_mm for limit in trend.limits if limit.side == side]
        if not values:
            continue
        nearest = max(values) if side == "min" else min(values)
        edge = trend.value_axis[0] if side == "min" else trend.value_axis[1]
        data.append(_hatched(trend, nearest, edge))
        data += [_across(trend, value, inks.LIMIT, 1.6, "solid") for value in dict.fromkeys(values)]
    return data


def _hatched(trend: Trend, limit_mm: float, edge_mm: float) -> Json:
    left, right = trend.hours_axis
    return {
        "type": "scatter",
        "x": [left, right, right, left, left],
        "y": [limit_mm, limit_mm, edge_mm, edge_mm, limit_mm],
        "mode": "lines",
        "line": {"width": 0},
        "fill": "toself",
        "fillcolor": inks.PAPER.light,
        "fillpattern": {
            "shape": "/",
            "fgcolor": inks.MARK.light,
            "bgcolor": inks.PAPER.light,
            "size": 7,
            "solidity": 0.18,
        },
        "hoverinfo": "skip",
    }


def _across(trend: Trend, value_mm: float, ink: inks.Ink, width: float, dash: str) -> Json:
    return {
        "type": "scatter",
        "x": list(trend.hours_axis),
        "y": [value_mm, value_mm],
        "mode": "lines",
        "line": {"color": ink.light, "width": width, "dash": dash},
        "hoverinfo": "skip",
    }


def _overlay(trend: Trend) -> list[Json]:
    if not isfinite(trend.overlay_mm):
        return []
    return [_across(trend, trend.overlay_mm, inks.MARK, 1.2, "6px,4px")]


def _plain_line(hours: list[float | None], values: list[float | None], line: Json) -> Json:
    return {
        "type": "scatter",
        "x": hours,
        "y": values,
        "mode": "lines",
        "line": line,
        "hoverinfo": "skip",
    }


def _band(strand: Strand, point: int) -> list[Json]:
    """The band of the own line, where it governs."""
    own = strand.line
    if own is None or not own.lower_mm:
        return []
    hours = [*_rounded(own.hours, 1), *_rounded(own.hours, 1)[::-1]]
    values = [*_rounded(own.lower_mm, 6), *_rounded(own.upper_mm, 6)[::-1]]
    area = {"fill": "toself", "fillcolor": _thin(_ink(point).light)}
    return [{**_plain_line(hours, values, {"width": 0}), **area}]


def _lines(strands: Sequence[Strand], point: int, look: Look) -> list[Json]:
    """Own lines of one point: through their readings drawn out, beyond them dashed."""
    parts: dict[str, tuple[list[float | None], list[float | None]]] = {"solid": ([], []), "dash": ([], [])}
    for own in (strand.line for strand in strands):
        if own is None:
            continue
        hours, line = _rounded(own.hours, 1), _rounded(own.line_mm, 6)
        so_far = len(hours) - own.ahead
        for dash, start, stop in (("solid", 0, so_far), ("dash", so_far - 1, len(hours))):
            if stop - start > 1:  # a straight line needs its ends alone
                parts[dash][0].extend([hours[start], hours[stop - 1], None])
                parts[dash][1].extend([line[start], line[stop - 1], None])
    ink = _ink(point).light
    return [
        {
            **_plain_line(hours, line, {"color": ink, "width": look.width, "dash": dash}),
            "opacity": look.opacity,
        }
        for dash, (hours, line) in parts.items()
        if hours
    ]


def _rounded(values: Sequence[float], decimals: int) -> list[float | None]:
    return [round(value, decimals) for value in values]


def _thin(colour: str, share: float = 0.16) -> str:
    red, green, blue = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
    return f"rgba({red},{green},{blue},{share})"


def _readings(trend: Trend, strands: Sequence[Strand], point: int, look: Look) -> list[Json]:
    """Readings with bars of one standard uncertainty; doubted ones hollow, far ones held at the edge."""
    dots = [dot for strand in strands for dot in strand.dots]
    if not dots:
        return []
    ink = _ink(point).light
    return [
        {
            "type": "scatter",
            "name": chart_text(words.capital(words.point_words(strands[0].point)) or "Reading"),
            "mode": "markers",
            "x": [round(dot.hours, 1) for dot in dots],
            "y": [round(held_mm(trend, dot), 6) for dot in dots],
            **({"error_y": _bars(trend, dots, point)} if look.bars else {}),
            "opacity": look.opacity,
            "marker": {
                "symbol": [_symbol(trend, dot, point) for dot in dots],
                "size": look.size,
                "color": ink,
                "line": {"color": ink, "width": 1.5},
            },
            "text": [chart_text(hover_words(dot)).replace("\n", "<br>") for dot in dots],
            "hoverinfo": "text",
        }
    ]


def _bars(trend: Trend, dots: Sequence[Dot], point: int) -> Json:
    return {
        "type": "data",
        "symmetric": True,
        "array": [
            0.0 if off_axis(trend, dot) or not isfinite(dot.u_um) else round(dot.u_um / UM_PER_MM, 6)
            for dot in dots
        ],
        "color": _ink(point).light,
        "thickness": 1.2,
        "width": 3,
    }


def _symbol(trend: Trend, dot: Dot, point: int) -> str:
    side = off_axis(trend, dot)
    symbol = {1: "triangle-up", -1: "triangle-down"}.get(side, inks.SYMBOLS[point % len(inks.SYMBOLS)])
    return f"{symbol}-open" if dot.hollow else symbol


def hover_words(dot: Dot) -> str:
    """What a reading says when it is pointed at, in lines."""
    row = dot.source.row
    u = f"± {plain(dot.u_um)} µm ({'assumed' if dot.u_assumed else 'stated'})" if isfinite(dot.u_um) else ""
    lines = [
        f"{row.value_text} {words.unit_words(row.unit)} {u}".strip(),
        f"{row.date.date()}, {whole(dot.hours)} h" if row.date == row.date else f"{whole(dot.hours)} h",
        ", ".join(filter(None, (words.point_words(row.point), dot.source.text("instrument")))),
        f"{row.table}, row {row.row}",
    ]
    lines = [line for line in lines if line]
    if dot.hollow:
        lines.append("queried" if dot.source.counted else "queried, not counted")
    return "\n".join(lines)
