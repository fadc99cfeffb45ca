"""Gauges used after their calibration was due."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.doubts.family import Found
from wearcast.frames import rows_of
from wearcast.lives.about import query_about
from wearcast.lives.certificates import certificate_of
from wearcast.lives.history import History
from wearcast.queries import Query

_ASK = (
    "Add the newer certificate to the gauges table, or have the gauge checked and hold what it read since against it. "
    "The readings stay in the forecast."
)


def find_gauges_due(history: History, counted: NDArray[np.bool_]) -> Found:  # noqa: ARG001  (the date decides)
    """Readings after the due date of the certificate they were taken under, one query a certificate and vessel."""
    readings, gauges = history.readings, history.records.gauges
    under = certificate_of(readings, gauges)
    due = gauges["due_on"].to_numpy()
    late = (under >= 0) & (readings["table"] == "readings").to_numpy()
    late[late] = readings["date"].to_numpy()[late] > due[under[late]]
    at = np.flatnonzero(late)
    pairs = pd.DataFrame({"under": under[at], "vessel": readings["vessel"].to_numpy()[at]})
    return Found(
        tuple(
            _query(readings.iloc[at[rows]], gauges.iloc[under[at[rows[0]]]])
            for _, rows in sorted(pairs.groupby(["under", "vessel"]).indices.items())
        )
    )


def _query(late: pd.DataFrame, gauge: pd.Series) -> Query:
    named = f" (certificate {gauge.certificate})" if gauge.certificate else ""
    last = late["date"].max().date()
    n = len(late)
    text = (
        f"the calibration of {gauge.instrument}{named} was due on {gauge.due_on.date()}, and "
        f"{n} reading{'s were' if n > 1 else ' was'} taken with it after, the last on {last}."
    )
    days = float((late["date"].max() - gauge.due_on).days)
    return query_about(
        list(rows_of(late)),
        "gauge_due",
        text,
        _ASK,
        column="instrument",
        found=str(gauge.instrument),
        evidence=days,
    )
