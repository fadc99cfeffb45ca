"""Web deflections that cannot be: far beyond any limit, or a throw that does not close."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wearcast.companions.web_deflection import (
    ACT_SHARE,
    CLOSURE_UM,
    deflection_limits,
    stroke_mm,
    web_deflections,
)
from wearcast.doubts.family import Found, confirmed, query_of, query_of_set
from wearcast.doubts.slips import what_it_could_be
from wearcast.frames import rows_of
from wearcast.lives.history import EngineKey, History
from wearcast.lives.shells import engine_key
from wearcast.queries import Query

TIMES_LIMIT = 3.0
"""A reading above this many times the larger limit (or the share of the stroke that calls for action) is doubted."""

LEAST_SHARE = 0.05
"""A slip is believed where it brings a value back to at least this share of the band: any factor small enough
would bring it to nearly 0 (judgement)."""

WITHOUT_LIMITS_MM = 1.0
"""The same where neither limits nor stroke are given [mm] (judgement)."""


def find_deflection_queries(history: History, counted: NDArray[np.bool_]) -> Found:
    """Deflections far beyond their limits do not count; throws whose two bottom readings differ are asked about."""
    readings = history.readings
    sure = confirmed(history)
    mine = counted & (readings["quantity"] == "web_deflection").to_numpy() & ~sure
    most = {key: _largest_mm(history, key) for key in history.engines}
    at = np.flatnonzero(mine)
    value = np.abs(readings["value_mm"].to_numpy(dtype=np.float64)[at])
    engines = zip(readings["vessel"].to_numpy()[at], readings["engine"].to_numpy()[at], strict=True)
    far = at[value > np.array([most[key] for key in engines], dtype=np.float64)].tolist()
    queries = [_too_large(history, k, most) for k in far]
    believed = counted & ~np.isin(np.arange(len(readings)), far)
    for row in rows_of(web_deflections(history, believed)):
        if row.closes is False and not sure[list(row.rows)].any():
            queries.append(_open_throw(history, row.rows, row.position, row.closure_um))
    return Found(tuple(queries), tuple(far))


def _largest_mm(history: History, key: EngineKey) -> float:
    engine = history.engines[key]
    limits = deflection_limits(history, engine)
    given = [abs(mm) for mm in (limits.min_mm, limits.max_mm) if np.isfinite(mm)]
    if given:
        return TIMES_LIMIT * max(given)
    by_stroke = TIMES_LIMIT * ACT_SHARE * stroke_mm(engine)
    return by_stroke if np.isfinite(by_stroke) else WITHOUT_LIMITS_MM


def _too_large(history: History, k: int, most: dict[EngineKey, float]) -> Query:
    row = next(rows_of(history.readings.iloc[[k]]))
    band = most[engine_key(row)] / TIMES_LIMIT
    ends = sorted(float(np.copysign(share * band, row.value_mm)) for share in (LEAST_SHARE, 1.0))
    slip = what_it_could_be(row.value_mm, ends[0], ends[1])
    text = (
        f'found "{row.value_text}" {row.unit} at throw {row.position}, {row.point.replace("_", " ")}; web deflections '
        f"here stay within about {band:.3f} mm. {slip.words}"
    )
    ask = "Not counted until it is corrected, withdrawn, or confirmed by measuring again."
    return query_of(row, slip.kind, text, ask, abs(row.value_mm) / band)


def _open_throw(history: History, rows: tuple[int, ...], throw: str, closure_um: float) -> Query:
    at = np.array(rows, dtype=np.intp)
    bottoms = at[history.readings["point"].iloc[at].isin(["bottom_p", "bottom_s"]).to_numpy()]
    first = next(rows_of(history.readings.iloc[bottoms[:1]]))
    text = (
        f"throw {throw} on {first.date.date()} does not close: the two readings near the bottom differ by "
        f"{abs(closure_um):.0f} µm; about {CLOSURE_UM:.0f} is common practice."
    )
    ask = "Check that the gauge sat in its marks and did not slip; take the throw again, or confirm."
    return query_of_set(history, bottoms, "deflection_closure", text, ask, closure_um / CLOSURE_UM)
