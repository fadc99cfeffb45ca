"""What the program makes of the demo, once for all tests of a process that only look at it."""

from __future__ import annotations

import datetime as dt
from functools import cache
from pathlib import Path

from wearcast.decide.compare import Comparison, compare_at
from wearcast.decide.order import Order, order_at
from wearcast.decide.plan import Plan, plan_at
from wearcast.decide.stand import Stand, stand_of
from wearcast.forecasting.run import Forecast, forecast
from wearcast.records.records import RecordSet
from wearcast.sources import read

SAMPLE = Path(__file__).parents[2] / "sample_data"
RUN = dt.date(2026, 11, 1)


@cache
def demo_records() -> RecordSet:
    return read(SAMPLE, RUN)


@cache
def demo_forecast() -> Forecast:
    return forecast(demo_records())


@cache
def demo_stand() -> Stand:
    return stand_of(demo_forecast())


@cache
def demo_planned() -> Plan:
    return plan_at(demo_stand(), 0.10)


@cache
def demo_ordered() -> Order:
    return order_at(demo_stand(), 0.95)


@cache
def demo_compared() -> Comparison:
    return compare_at(demo_stand())
