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
    from wearcast.decide.compare import compare
    from wearcast.decide.order import order
    from wearcast.decide.plan import plan
    from wearcast.errors import InputRefused, OutputFailed, WearcastError, WrongUse
    from wearcast.estimators import OwnLine, PooledWear
    from wearcast.forecasting.run import Forecast, forecast
    from wearcast.queries import Query
    from wearcast.records.records import RecordSet
    from wearcast.settings import Settings, read_settings
    from wearcast.sources import read

_HOME = {
    "Backtest": "wearcast.backtesting.run",
    "Forecast": "wearcast.forecasting.run",
    "InputRefused": "wearcast.errors",
    "OutputFailed": "wearcast.errors",
    "OwnLine": "wearcast.estimators",
    "PooledWear": "wearcast.estimators",
    "Query": "wearcast.queries",
    "RecordSet": "wearcast.records.records",
    "Settings": "wearcast.settings",
    "WearcastError": "wearcast.errors",
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
    "Forecast",
    "InputRefused",
    "OutputFailed",
    "OwnLine",
    "PooledWear",
    "Query",
    "RecordSet",
    "Settings",
    "WearcastError",
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
