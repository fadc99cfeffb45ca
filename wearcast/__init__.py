"""wearcast: wear rates, hours to the replacement limit and decisions for bearing shells of sister engines.

Readings suggest; they never decide. The maker's instructions, class, local codes and licensed engineers
govern, and no forecast extends a limit or an interval.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from wearcast.version import __version__

if TYPE_CHECKING:
    from wearcast.backtesting.run import Backtest, backtest
    from wearcast.decide.compare import Comparison, compare
    from wearcast.decide.order import Order, order
    from wearcast.decide.plan import Plan, plan
    from wearcast.decide.what_if import ChangedLimit, MovedWindow, UseOf, WhatIf
    from wearcast.errors import InputRefused, OutputFailed, WearcastError, WrongUse
    from wearcast.estimators import OwnLine, PooledWear
    from wearcast.forecasting.run import Forecast, forecast
    from wearcast.queries import Query
    from wearcast.records.records import RecordSet
    from wearcast.settings import Settings, read_settings
    from wearcast.sources import read

_HOME = {
    "Backtest": "wearcast.backtesting.run",
    "ChangedLimit": "wearcast.decide.what_if",
    "Comparison": "wearcast.decide.compare",
    "Forecast": "wearcast.forecasting.run",
    "InputRefused": "wearcast.errors",
    "MovedWindow": "wearcast.decide.what_if",
    "Order": "wearcast.decide.order",
    "OutputFailed": "wearcast.errors",
    "OwnLine": "wearcast.estimators",
    "Plan": "wearcast.decide.plan",
    "PooledWear": "wearcast.estimators",
    "Query": "wearcast.queries",
    "RecordSet": "wearcast.records.records",
    "Settings": "wearcast.settings",
    "UseOf": "wearcast.decide.what_if",
    "WearcastError": "wearcast.errors",
    "WhatIf": "wearcast.decide.what_if",
    "WrongUse": "wearcast.errors",
    "backtest": "wearcast.backtesting.run",
    "compare": "wearcast.decide.compare",
    "forecast": "wearcast.forecasting.run",
    "order": "wearcast.decide.order",
    "plan": "wearcast.decide.plan",
    "read": "wearcast.sources",
    "read_settings": "wearcast.settings",
}

__all__ = [
    "Backtest",
    "ChangedLimit",
    "Comparison",
    "Forecast",
    "InputRefused",
    "MovedWindow",
    "Order",
    "OutputFailed",
    "OwnLine",
    "Plan",
    "PooledWear",
    "Query",
    "RecordSet",
    "Settings",
    "UseOf",
    "WearcastError",
    "WhatIf",
    "WrongUse",
    "__version__",
    "backtest",
    "compare",
    "forecast",
    "order",
    "plan",
    "read",
    "read_settings",
]


def __getattr__(name: str) -> Any:
    """Import a public name where it is first used, so that `wearcast --help` need not wait for pandas."""
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'wearcast' has no attribute {name!r}")


def __dir__() -> list[str]:
    """What there is, imported or not: for completion and `help`."""
    return sorted({*globals(), *__all__})
