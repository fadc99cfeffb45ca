"""What if: the records or the rules changed in a few named ways, so that both cases can be shown."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from datetime import date

import numpy as np
import pandas as pd

from wearcast.clock import ahead, day_of
from wearcast.errors import WrongUse
from wearcast.lives.shells import same_size
from wearcast.quantities import QUANTITIES
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.units import MM_PER_UNIT


@dataclass(frozen=True)
class UseOf:
    """Another yearly use [h/year], of one vessel or of all (empty)."""

    vessel: str
    hours_per_year: float

    def __str__(self) -> str:
        """The change in words."""
        return f"{self.vessel or 'every engine'} at {self.hours_per_year:.0f} h a year"


@dataclass(frozen=True)
class MovedWindow:
    """A window on another date, of one vessel or of all that have one on that day (empty)."""

    vessel: str
    old: date
    new: date

    def __post_init__(self) -> None:
        object.__setattr__(self, "old", day_of(self.old))
        object.__setattr__(self, "new", day_of(self.new))

    def __str__(self) -> str:
        """The change in words."""
        return f"{self.vessel} window of {self.old} on {self.new}".strip()


@dataclass(frozen=True)
class ChangedLimit:
    """Another replacement limit, in the unit of its row; an empty half stands for both."""

    bearing: str
    half: str
    quantity: str
    shell_size: str
    limit: float

    def __str__(self) -> str:
        """The change in words."""
        words = (self.bearing.replace("_", " "), self.half, self.quantity, self.shell_size)
        return f"limit of {' '.join(word for word in words if word)} at {self.limit:g}"


@dataclass(frozen=True)
class WhatIf:
    """Changes to try; what is None or empty stays as it is.

    Attributes
    ----------
    lead_time_days : float or None
        Of every part [days].
    risk, service : float or None
        Accepted chance, and chance that the stock suffices [1].
    as_of : date or None
        Stand every engine at this date.
    """

    hours_per_year: tuple[UseOf, ...] = ()
    lead_time_days: float | None = None
    risk: float | None = None
    service: float | None = None
    as_of: date | None = None
    moved_windows: tuple[MovedWindow, ...] = ()
    limits: tuple[ChangedLimit, ...] = ()

    def __post_init__(self) -> None:
        if self.as_of is not None:
            object.__setattr__(self, "as_of", day_of(self.as_of))
        if self.lead_time_days is not None:
            ahead(self.lead_time_days, "What if: the lead time")
        for use in self.hours_per_year:
            if not 0 < use.hours_per_year <= 8784:
                raise WrongUse(f"what if: {use}; a year has 8784 hours at most.")

    @property
    def any(self) -> bool:
        """Whether anything is changed at all."""
        return any(getattr(self, one.name) not in (None, ()) for one in fields(self))

    @property
    def touches_forecast(self) -> bool:
        """Whether the forecast must be made anew."""
        return bool(self.hours_per_year or self.as_of or self.moved_windows or self.limits)

    def __str__(self) -> str:
        """All changes in words."""
        said = [str(one) for group in (self.hours_per_year, self.moved_windows, self.limits) for one in group]
        if self.lead_time_days is not None:
            said.append(f"lead time {self.lead_time_days:.0f} days")
        if self.risk is not None:
            said.append(f"accepted risk {self.risk:g}")
        if self.service is not None:
            said.append(f"service {self.service:g}")
        if self.as_of is not None:
            said.append(f"as of {self.as_of}")
        return ", ".join(said)


def changed_settings(settings: Settings, what_if: WhatIf) -> Settings:
    """The settings with the accepted risk and the service of the case."""
    risk = settings.risk if what_if.risk is None else what_if.risk
    service = settings.service if what_if.service is None else what_if.service
    return replace(settings, risk=risk, service=service)


def changed_records(records: RecordSet, what_if: WhatIf) -> RecordSet:
    """The record set with the changes of the case in its tables; readings and events are never touched.

    Raises
    ------
    WrongUse
        If a change names an engine, window or limit that is not there, or a limit inside the new range.
    """
    tables = dict(records.tables)
    for use in what_if.hours_per_year:
        tables["engines"] = _with_use(tables["engines"], use)
    for moved in what_if.moved_windows:
        tables["windows"] = _with_window(tables["windows"], moved)
    for limit in what_if.limits:
        tables["limits"] = _with_limit(tables["limits"], limit)
    return replace(records, tables=tables)


def _with_use(engines: pd.DataFrame, use: UseOf) -> pd.DataFrame:
    here = (engines["vessel"] == use.vessel).to_numpy() | (not use.vessel)
    if not here.any():
        names = ", ".join(sorted(set(engines["vessel"])))
        raise WrongUse(f"what if: no engine of {use.vessel!r}; there are {names}.")
    return engines.assign(hours_per_year=np.where(here, use.hours_per_year, engines["hours_per_year"]))


def _with_window(windows: pd.DataFrame, moved: MovedWindow) -> pd.DataFrame:
    here = (windows["date"] == pd.Timestamp(moved.old)).to_numpy()
    here = here & ((windows["vessel"] == moved.vessel).to_numpy() | (not moved.vessel))
    if not here.any():
        mine = windows[windows["vessel"] == moved.vessel] if moved.vessel else windows
        dates = ", ".join(str(day.date()) for day in mine["date"]) or "none"
        raise WrongUse(
            f"what if: no window of {moved.vessel or 'any vessel'} on {moved.old}; there are {dates}."
        )
    return windows.assign(date=windows["date"].mask(here, pd.Timestamp(moved.new)))


def _with_limit(limits: pd.DataFrame, changed: ChangedLimit) -> pd.DataFrame:
    side = QUANTITIES[changed.quantity].side
    same = [same_size(size, changed.shell_size) for size in limits["shell_size"].tolist()]
    here = np.array(same, dtype=bool)
    here &= ((limits["bearing"] == changed.bearing) & (limits["quantity"] == changed.quantity)).to_numpy()
    here &= (limits["half"] == changed.half).to_numpy() | (not changed.half)
    here &= (limits["limit_side"] == side).to_numpy()
    if not here.any():
        raise WrongUse(f"what if: no row of the limits table for the {changed}.")
    rows = limits[here]
    beyond = rows["new_max"].max() if side == "max" else rows["new_min"].min()
    if (changed.limit <= beyond) if side == "max" else (changed.limit >= beyond):
        raise WrongUse(f"what if: {changed} lies within the new range or on its wrong side ({beyond:g}).")
    to_mm = limits["unit"].map(MM_PER_UNIT).to_numpy(dtype=np.float64)
    return limits.assign(
        limit=np.where(here, changed.limit, limits["limit"]),
        limit_mm=np.where(here, changed.limit * to_mm, limits["limit_mm"]),
        limit_source=limits["limit_source"].mask(here, limits["limit_source"] + " (changed: what if)"),
    )
