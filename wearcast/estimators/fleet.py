"""A plain table of readings as the pooled model takes it in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.quantities import CROWN_POINTS
from wearcast.wear.pooled import ClassReadings

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Fleet:
    """Readings of one class with the names of its series.

    Attributes
    ----------
    readings : ClassReadings
    keys : Index
        Name of every series: engine, position, shell and point, as far as there are such columns.
    shell_keys : Index
        Name of every shell.
    """

    readings: ClassReadings
    keys: Any
    shell_keys: Any

    def with_more(self, keys: Any, columns: dict[str, str | None]) -> Fleet:
        """The same fleet with the series in `keys` it does not have yet: shells of which nothing was read."""
        new = keys[~keys.isin(self.keys)].unique()
        if not len(new):
            return self
        old = self.readings
        whole = fleet_of(self.keys.append(new), columns, self.shell_keys)
        told = whole.readings
        n = len(told.shell_engine) - old.n_shells

        def more(values: Any, fill: float) -> Any:
            return np.concatenate([values, np.full(n, fill, dtype=values.dtype)])

        limit = np.concatenate([old.series_limit_um, np.full(len(told.series_shell) - old.n_series, np.nan)])
        readings = replace(
            old,
            series_shell=told.series_shell,
            series_group=told.series_group,
            series_point=told.series_point,
            series_limit_um=limit,
            series_overlay_um=np.full(len(limit), np.nan),
            shell_engine=told.shell_engine,
            shell_position=told.shell_position,
            shell_fitting_known=more(old.shell_fitting_known, True),
            shell_tau_now_kh=more(old.shell_tau_now_kh, 0.0),
            shell_delta_sd_um=more(old.shell_delta_sd_um, old.shell_delta_sd_um[0]),
            shell_tau_now_sd_kh=more(old.shell_tau_now_sd_kh, 0.0),
        )
        return Fleet(readings, whole.keys, whole.shell_keys)


def fleet_of(keys: Any, columns: dict[str, str | None], first_shells: Any = None) -> Fleet:
    """Series and shells of some keys, nothing read yet; shells in `first_shells` keep their places."""
    frame = keys.to_frame(index=False)
    shell_names = [columns[part] for part in ("engine", "position", "shell") if columns[part]]
    of_series = _index(frame, shell_names)
    shell_keys = of_series.unique()
    if first_shells is not None:
        shell_keys = first_shells.append(shell_keys[~shell_keys.isin(first_shells)])
    shells = shell_keys.to_frame(index=False)
    points = frame[columns["point"]] if columns["point"] else pd.Series([""] * len(frame))
    crown = points.isin(CROWN_POINTS).to_numpy(dtype=bool)
    group = np.where(crown, 0, int(crown.any())).astype(np.intp)
    nothing, none = np.zeros(0), np.zeros(0, dtype=np.intp)
    n = len(shell_keys)
    readings = ClassReadings(
        z_um=nothing, tau_kh=nothing, u_um=nothing, step_um=nothing, series=none, opening=none,
        is_new_wall=np.zeros(0, dtype=bool),
        series_shell=np.asarray(shell_keys.get_indexer(of_series), dtype=np.intp),
        series_group=group,
        series_limit_um=np.full(len(frame), np.nan),
        shell_engine=numbered(shells, [columns["engine"]]),
        shell_position=numbered(
            shells, [columns["position"]] if columns["position"] else [columns["engine"], columns["shell"]]
        ),
        shell_fitting_known=np.ones(n, dtype=bool),
        shell_tau_now_kh=np.zeros(n),
        shell_delta_sd_um=np.full(n, np.nan),
        allowance_um=1.0,
        default_u_um=1.0,
        series_point=pd.factorize(points, sort=True)[0].astype(np.intp),
    )  # fmt: skip
    return Fleet(readings, keys, shell_keys)


def numbered(frame: pd.DataFrame, names: list[str | None]) -> Ints:
    """Rows of equal names numbered alike, in order of first appearance; all 0 where there are no names."""
    given = [name for name in names if name]
    if not given:
        return np.zeros(len(frame), dtype=np.intp)
    return np.asarray(frame.groupby(given, sort=False).ngroup().to_numpy(), dtype=np.intp)


def _index(frame: pd.DataFrame, names: list[str | None]) -> Any:
    given = [name for name in names if name]
    if not given:
        return pd.Index(np.zeros(len(frame), dtype=np.intp), name="all")
    return pd.Index(frame[given[0]]) if len(given) == 1 else pd.MultiIndex.from_frame(frame[given])
