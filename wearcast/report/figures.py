"""Charts as plain plotly.js JSON: data and layout, no plotly import."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import Any

from wearcast.report import inks, words
from wearcast.report.numbers import exact_mm, mm, plain, significant, whole
from wearcast.report.trends import Dot, Fan, Mark, Strand, Trend
from wearcast.report.view import KeyItem
from wearcast.units import UM_PER_MM

Json = dict[str, Any]

FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif"

FAN_BARS = ((0, 6, 2.0), (1, 5, 5.0), (2, 4, 9.0))
"""Quantiles at the ends of each bar of the fan, and its thickness [px]: 5-95, 10-90 and 25-75 %."""

MOST_LETTERS = 26
"""Longest name of a vertical that is written out."""

_MARK_DASH = {"window": "dot", "finding": "dashdot", "refit": "dashdot"}


def chart_text(text: str) -> str:
    """Text that plotly.js will show letter by letter: it reads a few tags and entities in what it draws.

    >>> chart_text("<b>A & B</b>")
    '&lt;b&gt;A &amp; B&lt;/b&gt;'
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def figure(trend: Trend) -> Json:
    """One chart: from the back, limit, overlay, bands, lines, readings, hours ahead."""
    points = list(dict.fromkeys(strand.point for strand in trend.strands))
    data = [*_limits(trend), *_overlay(trend)]
    for strand in trend.strands:
        data += _band(strand, points.index(strand.point))
    for k, point in enumerate(points):
        data += _lines([strand for strand in trend.strands if strand.point == point], k)
    for k, point in enumerate(points):
        data += _readings(trend, [s for s in trend.strands if s.point == point], k)
    data += _fan(trend)
    return {"data": data, "layout": _layout(trend)}


def key(trend: Trend) -> tuple[KeyItem, ...]:
    """Which marker is which point, where there is more than one."""
    points = list(dict.fromkeys(strand.point for strand in trend.strands))
    if len(points) < 2:
        return ()
    return tuple(
        KeyItem(
            words.capital(words.point_words(point)),
            _ink(k).name,
            inks.MARKERS[inks.SYMBOLS[k % len(inks.SYMBOLS)]],
        )
        for k, point in enumerate(points)
    )


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
        "showlegend": False,
    }


def _across(trend: Trend, value_mm: float, ink: inks.Ink, width: float, dash: str) -> Json:
    return {
        "type": "scatter",
        "x": list(trend.hours_axis),
        "y": [value_mm, value_mm],
        "mode": "lines",
        "line": {"color": ink.light, "width": width, "dash": dash},
        "hoverinfo": "skip",
        "showlegend": False,
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
        "showlegend": False,
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


def _lines(strands: Sequence[Strand], point: int) -> list[Json]:
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
        _plain_line(hours, line, {"color": ink, "width": 1.6, "dash": dash})
        for dash, (hours, line) in parts.items()
        if hours
    ]


def _rounded(values: Sequence[float], decimals: int) -> list[float | None]:
    return [round(value, decimals) for value in values]


def _thin(colour: str, share: float = 0.16) -> str:
    red, green, blue = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
    return f"rgba({red},{green},{blue},{share})"


def _readings(trend: Trend, strands: Sequence[Strand], point: int) -> list[Json]:
    """Readings with bars of one standard uncertainty; doubted ones hollow, far ones held at the edge."""
    dots = [dot for strand in strands for dot in strand.dots]
    if not dots:
        return []
    ink = _ink(point).light
    return [
        {
            "type": "scatter",
            "name": chart_text(words.capital(words.point_words(strands[0].point)) or "Reading"),
            "showlegend": False,
            "mode": "markers",
            "x": [round(dot.hours, 1) for dot in dots],
            "y": [round(_held(trend, dot), 6) for dot in dots],
            "error_y": _bars(trend, dots, point),
            "marker": {
                "symbol": [_symbol(trend, dot, point) for dot in dots],
                "size": 8,
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


def off_axis(trend: Trend, dot: Dot) -> int:
    """-1 or 1 where a reading lies below or above the axis; 0 where it is on it."""
    low, high = trend.value_axis
    return (dot.value_mm > high) - (dot.value_mm < low)


def _held(trend: Trend, dot: Dot) -> float:
    low, high = trend.value_axis
    inset = 0.03 * (high - low)
    return min(max(dot.value_mm, low + inset), high - inset) if off_axis(trend, dot) else dot.value_mm


def _symbol(trend: Trend, dot: Dot, point: int) -> str:
    side = off_axis(trend, dot)
    symbol = {1: "triangle-up", -1: "triangle-down"}.get(side, inks.SYMBOLS[point % len(inks.SYMBOLS)])
    return f"{symbol}-open" if dot.hollow else symbol


def hover_words(dot: Dot) -> str:
    """What a reading says when it is pointed at, in lines."""
    row = dot.source.row
    u = f"± {plain(dot.u_um)} µm ({'assumed' if dot.u_assumed else 'stated'})" if isfinite(dot.u_um) else ""
    lines = [
        f"{row.value_text} {row.unit} {u}".strip(),
        f"{row.date.date()}, {whole(dot.hours)} h" if row.date == row.date else f"{whole(dot.hours)} h",
        f"{row.table}, row {row.row}",
    ]
    if dot.hollow:
        lines.append("queried" if dot.source.counted else "queried, not counted")
    return "\n".join(lines)


def _fan(trend: Trend) -> list[Json]:
    """The forecast: the estimate now, a line to the 50 % hours, and bars along the limit line.

    The bars are thin for 5-95 %, thicker for 10-90 %, thickest for 25-75 %.
    """
    fan = trend.fan
    if fan is None:
        return []
    right = trend.hours_axis[1]
    ink = inks.FAN.light
    base = {"type": "scatter", "hoverinfo": "skip", "showlegend": False}
    data = _estimate(trend, fan)
    drawn = len(data)
    for early, late, width in FAN_BARS:
        start, end = fan.hours[early], fan.hours[late]
        if not isfinite(start) or start >= right:
            continue
        end = min(end, right) if isfinite(end) else right
        data.append(
            {
                **base,
                "mode": "lines",
                "x": [round(start, 1), round(end, 1)],
                "y": [fan.limit_mm, fan.limit_mm],
                "line": {"color": ink, "width": width},
                "opacity": 0.85,
            }
        )
    if len(data) > drawn and not (isfinite(fan.hours[6]) and fan.hours[6] <= right):
        marker = {"symbol": "triangle-right", "size": 11, "color": ink}
        x = right - 0.012 * (right - trend.hours_axis[0])
        data.append({**base, "mode": "markers", "x": [round(x, 1)], "y": [fan.limit_mm], "marker": marker})
    if isfinite(fan.hours[3]) and fan.hours[3] <= right:
        line = {"color": ink, "width": 3}
        marker = {"symbol": "line-ns-open", "size": 18, "color": ink, "line": line}
        at = {"x": [round(fan.hours[3], 1)], "y": [fan.limit_mm]}
        data.append({**base, "mode": "markers", **at, "marker": marker})
    return data


def _estimate(trend: Trend, fan: Fan) -> list[Json]:
    """The estimate at the as-of moment with its bar, and a thin line to the 50 % hours."""
    if not isfinite(fan.now_mm):
        return []
    ink, now_mm = inks.FAN.light, round(fan.now_mm, 6)
    bar_mm = round(fan.now_u_um / UM_PER_MM, 6) if isfinite(fan.now_u_um) else 0.0
    hours = f"{whole(trend.as_of_h)} h"
    data: list[Json] = []
    if isfinite(fan.hours[3]):
        path = [round(trend.as_of_h, 1), round(fan.hours[3], 1)]
        data.append(_plain_line([*path], [now_mm, fan.limit_mm], {"color": ink, "width": 1.2}))
    data.append(
        {
            "type": "scatter",
            "showlegend": False,
            "mode": "markers",
            "x": [round(trend.as_of_h, 1)],
            "y": [now_mm],
            "error_y": {"type": "data", "array": [bar_mm], "color": ink, "thickness": 1.6, "width": 5},
            "marker": {
                "symbol": "line-ew-open",
                "size": 12,
                "color": ink,
                "line": {"color": ink, "width": 2.5},
            },
            "text": [
                f"estimate {mm(fan.now_mm, fan.limit_mm)} mm ± {significant(fan.now_u_um)} µm<br>{hours}"
            ],
            "hoverinfo": "text",
        }
    )
    return data


def _layout(trend: Trend) -> Json:
    axis = {
        "color": inks.QUIET.light,
        "gridcolor": inks.RULE.light,
        "linecolor": inks.MARK.light,
        "showline": True,
        "zeroline": False,
        "fixedrange": True,
        "ticks": "outside",
        "tickcolor": inks.MARK.light,
        "ticklen": 4,
    }
    shown = [mark for mark in trend.marks if trend.hours_axis[0] <= mark.hours <= trend.hours_axis[1]]
    return {
        "font": {"family": FONT, "size": 12, "color": inks.TEXT.light},
        "paper_bgcolor": inks.PAPER.light,
        "plot_bgcolor": inks.PAPER.light,
        "margin": {"l": 58, "r": 58, "t": _room_above(shown), "b": 44},
        "hovermode": "closest",
        "hoverlabel": {
            "bgcolor": inks.PANEL.light,
            "bordercolor": inks.MARK.light,
            "font": {"color": inks.TEXT.light, "family": FONT, "size": 12},
            "align": "left",
        },
        "dragmode": False,
        "showlegend": False,
        "xaxis": {
            **axis,
            "range": list(trend.hours_axis),
            "title": {"text": "Total running hours", "standoff": 6},
            "tickformat": ",~r",
            "separatethousands": True,
            "nticks": 7,
            "showgrid": False,
        },
        "yaxis": {
            **axis,
            "range": list(trend.value_axis),
            "title": {"text": "mm", "standoff": 4},
            "tickformat": _tick_format(trend.value_axis),
            "nticks": 7,
            "automargin": True,
        },
        "separators": ".\N{NARROW NO-BREAK SPACE}",
        "shapes": [_vertical(mark) for mark in shown],
        "annotations": [_label(mark) for mark in shown] + _side_labels(trend) + _beyond_labels(trend),
    }


def _room_above(marks: Sequence[Mark]) -> float:
    """Height for the names of the verticals, which stand above the chart and not on the readings [px]."""
    longest = max((min(len(mark.text), MOST_LETTERS) for mark in marks), default=0)
    return 14 + 5.6 * longest


def _tick_format(axis: tuple[float, float]) -> str:
    span = axis[1] - axis[0]
    return ".3f" if span < 0.3 else ".2f" if span < 3 else ".1f"


def _vertical(mark: Mark) -> Json:
    now = mark.kind == "as_of"
    return {
        "type": "line",
        "xref": "x",
        "yref": "paper",
        "x0": round(mark.hours, 1),
        "x1": round(mark.hours, 1),
        "y0": 0,
        "y1": 1,
        "line": {
            "color": inks.TEXT.light if now else inks.MARK.light,
            "width": 0.8 if now else 1.2,
            "dash": _MARK_DASH.get(mark.kind, "solid"),
        },
        "layer": "below",
    }


def _label(mark: Mark) -> Json:
    return {
        "x": round(mark.hours, 1),
        "y": 1,
        "xref": "x",
        "yref": "paper",
        "text": chart_text(
            mark.text if len(mark.text) <= MOST_LETTERS else mark.text[: MOST_LETTERS - 1] + "…"
        ),
        "textangle": -90,
        "showarrow": False,
        "xanchor": "center",
        "yanchor": "bottom",
        "font": {"size": 10, "color": inks.QUIET.light, "family": FONT},
    }


def _side_labels(trend: Trend) -> list[Json]:
    """Names of the horizontals, at the right, outside: a label must not cover a reading."""
    labels = [
        (limit.limit_mm, f"limit<br>{exact_mm(limit.limit_mm)}", "top" if limit.side == "min" else "bottom")
        for limit in trend.limits
    ]
    if isfinite(trend.overlay_mm):
        labels.append((trend.overlay_mm, f"overlay<br>{exact_mm(trend.overlay_mm)}", "bottom"))
    return [
        {
            "x": 1,
            "xref": "paper",
            "xshift": 4,
            "y": value,
            "yref": "y",
            "text": text,
            "showarrow": False,
            "xanchor": "left",
            "yanchor": anchor,
            "align": "left",
            "font": {"size": 11, "color": inks.TEXT.light, "family": FONT},
        }
        for value, text, anchor in labels
    ]


def _beyond_labels(trend: Trend) -> list[Json]:
    """Values of readings that lie beyond the axis, beside where they are held."""
    return [
        {
            "x": round(dot.hours, 1),
            "y": round(_held(trend, dot), 6),
            "xref": "x",
            "yref": "y",
            "text": chart_text(f"{dot.source.row.value_text} {dot.source.row.unit}"),
            "showarrow": False,
            "xanchor": "left",
            "xshift": 8,
            "font": {"size": 11, "color": inks.TEXT.light, "family": FONT},
        }
        for strand in trend.strands
        for dot in strand.dots
        if off_axis(trend, dot)
    ]
