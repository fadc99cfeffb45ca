"""The parts that make a clearance, brought together place by place and opening by opening."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.companions.journal_parts import groundings, place_key, with_journal
from wearcast.companions.once import once
from wearcast.companions.uncertainty import reading_u_um
from wearcast.frames import row_numbers_of
from wearcast.lives.history import History
from wearcast.lives.temperature import value_at_20_mm
from wearcast.quantities import CROWN_POINTS, HALVES, QUANTITIES

PLACE = ["vessel", "engine", "bearing", "position"]
OPENING = [*PLACE, "date", "state"]


@once
def parts_at_openings(history: History, counted: NDArray[np.bool_]) -> pd.DataFrame:
    """Clearance with the walls, journal and housing it lies between.

    What was found belongs together and what was left belongs together; parts that were not exchanged at an
    opening are the same found and left. Of several readings of one part the mean is taken and the uncertainty
    of one kept, for they share the gauge.

    Parameters
    ----------
    history : History
        As built.
    counted : ndarray of bool, shape (n readings,)
        Readings to use.

    Returns
    -------
    DataFrame
        One row a place x opening x state with a clearance: `OPENING`, `total_h`, `life` (of the clearance),
        `shell_size`, `grinding` (how often the journal had been ground), and of `clearance`, `upper`, `lower`,
        `journal` and `housing` the value [mm] and `_u_um` [µm], NaN where unknown; `journal_from` and
        `housing_from` say where these come from; `rows` the readings (row numbers from 0) of clearance and
        walls at that opening.
    """
    readings = history.readings
    if counted.any() and not (readings["quantity"] == "clearance").any():
        return parts_at_openings(history, np.zeros_like(counted))  # walls alone make no row
    used = readings.assign(
        at=np.arange(len(readings)), mm=value_at_20_mm(readings), u2=reading_u_um(readings) ** 2
    )[counted]
    clearance = used[(used["quantity"] == "clearance") & (used["table"] == "readings")]
    parts = clearance.groupby(OPENING, sort=True).agg(
        total_h=("total_h", "first"), life=("life", "first"), clearance=("mm", "mean"), u2=("u2", "mean")
    )
    parts = parts.assign(clearance_u_um=np.sqrt(parts["u2"])).drop(columns="u2").reset_index()
    parts["shell_size"] = [history.lives[life].shell_size for life in parts["life"].tolist()]
    parts["grinding"] = groundings(history, parts)
    for half in HALVES:
        parts = _with_wall(history, used, parts, half)
    parts = with_journal(history, used, _with_housing(history, used, parts))
    parts["rows"] = _rows(used, parts)
    return parts


def _with_wall(history: History, used: pd.DataFrame, parts: pd.DataFrame, half: str) -> pd.DataFrame:
    """Add the crown wall of one half: of its state where the half was renewed, else of either state."""
    walls = used[(used["quantity"] == "wall") & (used["half"] == half) & used["point"].isin(CROWN_POINTS)]
    renewed: set[tuple[object, ...]] = {
        (*place_key(life.place), pd.Timestamp(life.fitted_on))
        for life in history.lives
        if life.quantity == "wall" and life.place.half == half and life.shell_no > 1 and life.fitted_on
    }
    keys = [*PLACE, "date", "exchanged"]
    mean = _mean(walls.assign(exchanged=_exchanged(walls, renewed)), keys, half)
    joined = parts.assign(exchanged=_exchanged(parts, renewed)).merge(mean, how="left", on=keys)
    return joined.drop(columns="exchanged")


def _exchanged(frame: pd.DataFrame, renewed: set[tuple[object, ...]]) -> list[str]:
    """The state where the part was exchanged that day; empty where found and left are the same part."""
    keys = zip(*(frame[name] for name in (*PLACE, "date")), strict=True)
    return [state if key in renewed else "" for key, state in zip(keys, frame["state"].tolist(), strict=True)]


def _mean(rows: pd.DataFrame, keys: list[str], name: str) -> pd.DataFrame:
    mean = rows.groupby(keys, sort=False).agg(mm=("mm", "mean"), u2=("u2", "mean"))
    return pd.DataFrame({name: mean["mm"], f"{name}_u_um": np.sqrt(mean["u2"])}).reset_index()


def _with_housing(history: History, used: pd.DataFrame, parts: pd.DataFrame) -> pd.DataFrame:
    """Add the housing bore: measured at any opening, else of the engines table (main bearings only)."""
    joined = parts.merge(
        _mean(used[used["quantity"] == "housing_bore"], PLACE, "housing"), how="left", on=PLACE
    )
    given = {
        key: bore if isinstance(bore := engine.facts.get("housing_bore_mm"), float) else np.nan
        for key, engine in history.engines.items()
    }
    engines = zip(joined["vessel"], joined["engine"], strict=True)
    of_engine = np.array([given[key] for key in engines], dtype=np.float64)
    usual_u_um = QUANTITIES["housing_bore"].default_u_um or np.nan
    measured = joined["housing"].notna().to_numpy()
    taken = ~measured & np.isfinite(of_engine) & (joined["bearing"] == "main").to_numpy()
    return joined.assign(
        housing=np.where(taken, of_engine, joined["housing"]),
        housing_u_um=np.where(taken, usual_u_um, joined["housing_u_um"]),
        housing_from=np.where(measured, "measured", np.where(taken, "engines table", "")),
    )


def _rows(used: pd.DataFrame, parts: pd.DataFrame) -> list[tuple[int, ...]]:
    """Readings (row numbers from 0) of clearance and crown walls behind each row."""
    of_parts = used[
        (used["quantity"] == "clearance") | ((used["quantity"] == "wall") & used["point"].isin(CROWN_POINTS))
    ]
    at = of_parts["at"].to_numpy()
    by_day = {key: at[k] for key, k in row_numbers_of(of_parts, [*PLACE, "date"]).items()}
    days = zip(*(parts[name].to_numpy() for name in (*PLACE, "date")), strict=True)
    return [tuple(int(k) for k in by_day[day]) for day in days]
