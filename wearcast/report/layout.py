"""The layout of a chart: axes, verticals and names, as plain plotly.js JSON."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import Any

from wearcast.report import inks
from wearcast.report.marks import Mark
from wearcast.report.trends import Trend, held_mm, off_axis
from wearcast.report.twin_axes import Tick
from wearcast.report.words import chart_text
from wearcast.words import exact_mm, part_words, unit_words, whole

Json = dict[str, Any]

FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif"

MOST_LETTERS = 26
"""Longest name of a vertical that is written out."""

LINE_PX = 13.0
"""Height of a line under a chart, as plotly.js sets type of 10 px."""

_MARK_DASH = {"window": "dot", "finding": "dashdot", "refit": "dashdot"}


def layout(trend: Trend) -> Json:
    """Axes of fixed range, verticals with their names above, names of the horizontals at the right."""
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
        "margin": {"l": 58, "r": 58, "t": _room_above(shown), "b": _room_below(trend)},
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
            "tickmode": "array",
            "tickvals": [tick.hours for tick in trend.ticks],
            "ticktext": [_tick_text(trend, tick) for tick in trend.ticks],
            "tickangle": 0,
            "tickfont": {"size": 10},
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
        "annotations": [_label(mark) for mark in shown]
        + _side_labels(trend)
        + _beyond_labels(trend)
        + _axis_names(trend),
    }


def _room_above(marks: Sequence[Mark]) -> float:
    """Height for the names of the verticals, which stand above the chart and not on the readings [px]."""
    longest = max((min(len(mark.text), MOST_LETTERS) for mark in marks), default=0)
    return 14 + 5.6 * longest


def _axes_below(trend: Trend) -> list[str]:
    """What stands under the chart, line by line."""
    lines = ["total h"]
    lines += [f"{part_words(trend.quantity)} h"] if any(tick.shell_h for tick in trend.ticks) else []
    return lines + (["month"] if any(tick.month for tick in trend.ticks) else [])


def _room_below(trend: Trend) -> float:
    return 16 + LINE_PX * len(_axes_below(trend))


def _tick_text(trend: Trend, tick: Tick) -> str:
    shown = {"total h": whole(tick.hours), "month": tick.month}
    return "<br>".join(shown.get(name, tick.shell_h) or " " for name in _axes_below(trend))


def _axis_names(trend: Trend) -> list[Json]:
    """The names of the lines under the chart, at their left, as one text: each costs a measurement."""
    return [
        {
            "x": 0,
            "xref": "paper",
            "xshift": -8,
            "y": 0,
            "yref": "paper",
            "yshift": -5,
            "text": "<br>".join(_axes_below(trend)),
            "showarrow": False,
            "xanchor": "right",
            "yanchor": "top",
            "align": "right",
            "font": {"size": 10, "color": inks.QUIET.light, "family": FONT},
        }
    ]


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


def _as_limit(trend: Trend) -> str:
    """Depth of the overlay with the decimals of the limit."""
    decimals = max(len(exact_mm(limit.limit_mm).partition(".")[2]) for limit in trend.limits)
    return f"{trend.overlay_mm:.{decimals}f}"


def _side_labels(trend: Trend) -> list[Json]:
    """Names of the horizontals, at the right, outside: a label must not cover a reading."""
    labels = [
        (limit.limit_mm, f"limit<br>{exact_mm(limit.limit_mm)}", "top" if limit.side == "min" else "bottom")
        for limit in trend.limits
    ]
    if isfinite(trend.overlay_mm):
        labels.append((trend.overlay_mm, f"overlay<br>{_as_limit(trend)}", "bottom"))
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
            "y": round(held_mm(trend, dot), 6),
            "xref": "x",
            "yref": "y",
            "text": chart_text(f"{dot.source.row.value_text} {unit_words(dot.source.row.unit)}"),
            "showarrow": False,
            "xanchor": "left",
            "xshift": 8,
            "font": {"size": 11, "color": inks.TEXT.light, "family": FONT},
        }
        for strand in trend.strands
        for dot in strand.dots
        if off_axis(trend, dot)
    ]
