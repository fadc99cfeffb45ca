"""Queries that only the pooled model can raise: shells gone wrong, outliers, opening errors, swapped ends."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearcast.doubts.family import place_of, query_of
from wearcast.forecasting.changed import changed_rates
from wearcast.forecasting.solved import ClassForecast
from wearcast.frames import rows_of
from wearcast.lives.history import History
from wearcast.lives.limits import Limit
from wearcast.quantities import QUANTITIES
from wearcast.queries import Query
from wearcast.units import H_PER_KH
from wearcast.wear.pooled.screening import DoubtedEnd, DoubtedShell

FLAT_ANVIL_UM = 35.0
"""From this over-reading on a flat anvil on a concave shell is offered as a cause: an anvil of 6.5 mm bridges
48 um on a 110 mm radius (geometry), of 5.5 mm still 34 um."""


def model_queries(history: History, fits: Sequence[ClassForecast]) -> tuple[Query, ...]:
    """Every doubt of the fitted classes, with its evidence."""
    queries: list[Query] = []
    for fit in fits:
        queries += [_last_interval(history, fit, shell) for shell in fit.screened.shells]
        for reading in fit.screened.readings:
            row = next(rows_of(history.readings.iloc[[int(fit.one.rows[reading.row])]]))
            towards = bool(fit.screened.towards[reading.row])
            queries.append(_outlier(row, reading.score, reading.expected_um, _limit(history, row), towards))
        for gauge in fit.screened.gauges:
            rows = _rows_of_opening(history, fit, gauge.opening)
            queries.append(_opening_error(rows, gauge.error_um, gauge.score, fit.one.key.quantity))
        for end in fit.screened.ends:
            queries.append(_end_swap(_rows_of_opening(history, fit, end.opening), end))
        queries += changed_rates(history, fit)
    return tuple(queries)


def _rows_of_opening(history: History, fit: ClassForecast, opening: int) -> list[Any]:
    """Rows of one opening that nobody has confirmed."""
    at: NDArray[np.intp] = fit.one.rows[fit.one.readings.opening == opening]
    at = at[~history.readings["confirmed"].to_numpy(dtype=bool)[at]]
    return list(rows_of(history.readings.iloc[at]))


def _limit(history: History, row: Any) -> Limit:
    limit = history.series[int(row.series)].limit
    assert limit is not None  # classes are made of series with a limit
    return limit


def _last_interval(history: History, fit: ClassForecast, shell: DoubtedShell) -> Query:
    """A shell whose last interval the rest of its class does not bear out."""
    readings, at = fit.one.readings, np.array(shell.rows, dtype=np.intp)
    before = (readings.reading_shell == shell.shell) & (readings.tau_kh < readings.tau_kh[at].min())
    before &= ~fit.screened.left_out
    since_kh = float(readings.tau_kh[before].max(initial=0.0))
    start = before & (readings.tau_kh == since_kh)
    wear_um = float(readings.z_um[at].mean() - (readings.z_um[start].mean() if start.any() else 0.0))
    hours = (float(readings.tau_kh[at].max()) - since_kh) * H_PER_KH
    rows = list(rows_of(history.readings.iloc[fit.one.rows[at]]))
    row, quick = rows[0], shell.score > 0
    text = (
        f"{place_of(row)} shows {wear_um:.0f} µm of wear in the {hours:.0f} h before {row.date.date()}; all other "
        f"readings lead one to expect {wear_um - shell.off_um:.0f} µm. That is {abs(shell.score):.1f} standard "
        f"deviations {'more' if quick else 'less'}."
    )
    if quick:
        text += " A shell that begins to fail looks like this, and so does a slip of the pen."
        ask = (
            "Look at the shell and measure again. Until then the forecast holds both: the reading as a slip, and as "
            "it stands with its rate going on. Confirm it if it stands, replace it if not."
        )
    else:
        text += " Usually a slip, or a shell renewed and not written down."
        left = "Left out of the forecast until settled. " if fit.screened.left_out[at].any() else ""
        ask = f"{left}Ask whether the shell was renewed, and measure again."
    mine = tuple(sorted({int(one.row) for one in rows if one.table == row.table}))
    return query_of(row, "quickened" if quick else "slowed", text, ask, shell.score, mine)


def _outlier(row: Any, score: float, expected_um: float, limit: Limit, towards: bool) -> Query:
    text = (
        f'found "{row.value_text}" {row.unit} at {place_of(row)} on {row.date.date()}; all other readings lead '
        f"one to expect {float(limit.value_mm(expected_um)):.3f} mm. It stands {abs(score):.1f} standard "
        "deviations off."
    )
    ask = "Left out of the forecast until it is replaced, withdrawn, or measured again and confirmed."
    if towards:
        ask = (
            "It may be a slip or a fault coming on: the forecast holds both until it is replaced, withdrawn, or "
            "measured again and confirmed."
        )
    return query_of(row, "outlier", text, ask, score)


def _opening_error(rows: list[Any], error_um: float, score: float, quantity: str) -> Query:
    first = rows[0]
    over_um = -error_um if QUANTITIES[quantity].side == "min" else error_um
    gauge = f" with {first.instrument}" if first.instrument else ""
    more_or_less = "over" if over_um > 0 else "under"
    text = (
        f"at the opening of {first.vessel} {first.engine} on {first.date.date()} all {_what(rows)} readings{gauge} "
        f"moved together: they {more_or_less}-read by about "
        f"{abs(over_um):.0f} µm, {abs(score):.1f} standard deviations. A shift of every position is the ruler, "
        "not the wear."
    )
    if quantity == "wall" and over_um > FLAT_ANVIL_UM:
        text += " A flat anvil on a concave shell does that."
    ask = "Check the gauge and how it was used; measure again, replace the values, or withdraw the set."
    return _of_opening(rows, "opening_error", text, ask, score)


def _end_swap(rows: list[Any], end: DoubtedEnd) -> Query:
    first = rows[0]
    text = (
        f"the {_what(rows)} readings of {first.vessel} {first.engine} on {first.date.date()} fit better counted "
        f"from the other end: log-likelihood {end.gain:.1f} higher."
    )
    left = "Left out of the forecast until settled. " if end.left_out else ""
    ask = f"{left}Ask which end was taken as No. 1: if the other, replace the positions; if not, confirm the readings."
    return _of_opening(rows, "end_swap", text, ask, end.gain)


def _what(rows: list[Any]) -> str:
    """What was read, in words: `main upper wall thickness`."""
    first = rows[0]
    half = first.half if len({row.half for row in rows}) == 1 else ""
    words = (first.bearing.replace("_", " "), half, QUANTITIES[first.quantity].title)
    return " ".join(word for word in words if word)


def _of_opening(rows: list[Any], kind: str, text: str, ask: str, evidence: float) -> Query:
    first = rows[0]
    halves = {row.half for row in rows}
    return Query(
        kind,
        text,
        ask,
        table="readings",
        rows=tuple(sorted(int(row.row) for row in rows if row.table == "readings")),
        file=first.file,
        sheet=first.sheet,
        vessel=first.vessel,
        engine=first.engine,
        bearing=first.bearing,
        half=halves.pop() if len(halves) == 1 else "",
        evidence=round(float(evidence), 3),
    )
