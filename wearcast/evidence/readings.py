"""Readings that the figures rest on, readings left out and why, and the gauges they were taken with."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from wearcast.evidence.run import Run
from wearcast.forecasting.run import Forecast
from wearcast.frames import groups_of, rows_of
from wearcast.lives.certificates import certificate_of
from wearcast.quantities import QUANTITIES
from wearcast.queries import KINDS, Query

KEYS = ("table", "row")
_SHOWN = (
    "table", "row", "file", "sheet", "vessel", "engine", "bearing", "position", "half", "point", "quantity",
    "value_text", "unit", "value_mm", "old_text", "date", "counter_h", "total_h", "shell_h", "wear_um", "state",
    "instrument", "u_um", "u_is", "temperature_c", "conditions", "measured_by", "remark",
)  # fmt: skip
_WITH_OTHERS = "left out with the other readings of its opening; doubts.json says why"
_NOT_PLACED = "the running hours of the shell are not known at this reading"


def of_sisters(run: Run) -> pd.DataFrame:
    """Readings of the engine and its sisters, with how their uncertainty is known and why they are left out.

    The forecast of one engine rests on the readings of all engines of its type; ``left_out`` is empty
    where a reading is used.
    """
    history = run.forecast.history
    sisters = {key for key, one in history.engines.items() if one.engine_type == run.engine.engine_type}
    table = history.readings.copy()
    stated = np.isfinite(table["u_um"].to_numpy(dtype=np.float64))
    defaults = [QUANTITIES[name].default_u_um for name in table["quantity"]]
    table["u_is"] = np.where(stated, "stated", "assumed")
    table["u_um"] = table["u_um"].fillna(pd.Series(defaults, index=table.index, dtype=np.float64))
    table["left_out"] = why_left_out(run.forecast)
    table["date"] = table["date"].dt.date
    mine = [key in sisters for key in zip(table["vessel"], table["engine"], strict=True)]
    return table[np.array(mine, dtype=bool)]


def used_table(readings: pd.DataFrame) -> pd.DataFrame:
    """Readings in the fits."""
    return readings.loc[readings["left_out"] == "", list(_SHOWN)].reset_index(drop=True)


def left_out_table(run: Run, readings: pd.DataFrame) -> pd.DataFrame:
    """Readings that are not in the fits, with the reason; rows withdrawn or refused stand last."""
    columns = [*_SHOWN, "left_out"]
    kept = readings.loc[readings["left_out"] != "", columns].to_dict("records")
    gone = [*_withdrawn(run.forecast), *_refused(run.forecast.history.left_out)]
    return pd.DataFrame([*kept, *gone], columns=columns)


def why_left_out(made: Forecast) -> list[str]:
    """The reason of every reading of the history that is not in a fit; empty for those that are."""
    table, fitted = made.history.readings, np.zeros(len(made.used), dtype=bool)
    for one in made.classes:
        fitted[one.counted] = True
    asked: dict[tuple[str, int], list[Query]] = defaultdict(list)
    for query in made.queries:
        for number in query.rows:
            asked[(query.table, number)].append(query)
    found = []
    for k, row in enumerate(rows_of(table[["table", "row", "quantity", "series"]])):
        if fitted[k]:
            found.append("")
            continue
        said = [] if made.used[k] else [_words_of_query(query) for query in asked[(row.table, int(row.row))]]
        found.append("; ".join(dict.fromkeys(said)) or (_why(made, row) if made.used[k] else _WITH_OTHERS))
    return found


def _words_of_query(query: Query) -> str:
    return f"{KINDS[query.kind].title}: {query.text} {query.suggestion}".strip()


def _why(made: Forecast, row: Any) -> str:
    quantity = QUANTITIES[row.quantity]
    if not quantity.forecast:
        return f"no forecast is made of {quantity.title}"
    limit = made.history.series[int(row.series)].limit if row.series >= 0 else None
    return _NOT_PLACED if limit is not None else "no limit is given that it could be counted against"


def _withdrawn(made: Forecast) -> list[dict[str, Any]]:
    """Rows that a correction took out: with the face they had, as far as they can be understood."""
    faces = {
        (name, int(row["row"])): {key: value for key, value in row.items() if key in _SHOWN}
        | {"date": None if pd.isna(row["date"]) else row["date"].date()}
        for name, table in made.history.records.withdrawn.items()
        for row in table.to_dict("records")
    }
    return [
        {"value_text": row.old if row.column == "value" else ""}
        | faces.get((row.table, int(row.row)), {})
        | {
            "table": row.table,
            "row": int(row.row),
            "left_out": f"withdrawn: {row.reason} ({row.by}, {row.date.date()})",
        }
        for row in rows_of(made.history.records.corrections)
        if row.action == "withdraw"
    ]


def _refused(left_out: Iterable[Query]) -> list[dict[str, Any]]:
    return [
        {
            "table": query.table,
            "row": number,
            "file": query.file,
            "sheet": query.sheet,
            "vessel": query.vessel,
            "engine": query.engine,
            "left_out": f"refused: {_words_of_query(query)}",
        }
        for query in left_out
        for number in query.rows
    ]


GAUGE_KEYS = ("instrument", "quantity", "u_is", "u_um", "certificate")
_OF_CERTIFICATE = ("kind", "calibrated_on", "due_on", "by")


def gauges_table(readings: pd.DataFrame, gauges: pd.DataFrame) -> pd.DataFrame:
    """Every gauge with what was read with it, how sure it is held to be (u, k = 1), and under which certificate.

    Parameters
    ----------
    readings : DataFrame
        From `of_sisters`.
    gauges : DataFrame
        Certificates, as `RecordSet.gauges`.
    """
    under = certificate_of(readings.assign(date=pd.to_datetime(readings["date"])), gauges)
    told = gauges.assign(
        **{name: pd.to_datetime(gauges[name]).dt.date for name in ("calibrated_on", "due_on")}
    )
    blank = dict.fromkeys((*_OF_CERTIFICATE, "certificate"), "")
    of_row = [told.iloc[k].to_dict() if k >= 0 else blank for k in under.tolist()]
    certified = pd.DataFrame(
        [[one[name] or "" for name in blank] for one in of_row],
        columns=list(blank),
        index=readings.index,
        dtype=object,
    )
    readings = pd.concat([readings, certified], axis=1)
    rows = [
        {
            "instrument": key[0] or "not named",
            "quantity": key[1],
            "u_is": key[2],
            "u_um": key[3],
            "certificate": key[4],
            **{name: group[name].iloc[0] for name in _OF_CERTIFICATE},
            "readings": len(group),
            "left_out": int((group["left_out"] != "").sum()),
            "first": group["date"].min(),
            "last": group["date"].max(),
            "after_due": _after_due(group),
        }
        for key, group in groups_of(readings, list(GAUGE_KEYS))
    ]
    return pd.DataFrame(
        rows, columns=[*GAUGE_KEYS, *_OF_CERTIFICATE, "readings", "left_out", "first", "last", "after_due"]
    )


def _after_due(group: pd.DataFrame) -> int:
    """How many of the readings were taken after the certificate had run out."""
    due = group["due_on"].iloc[0]
    return int((group["date"] > due).sum()) if isinstance(due, date) and not pd.isna(due) else 0
