"""Units of length that readings may come in."""

from __future__ import annotations

from types import MappingProxyType

MM_PER_UNIT = MappingProxyType({"mm": 1.0, "um": 1e-3, "in": 25.4})
"""Exact factors to millimetres (the inch by the 1959 international agreement)."""

UM_PER_MM = 1000.0
H_PER_KH = 1000.0
H_PER_DAY = 24.0
DAYS_PER_YEAR = 365.25
"""Julian year; used wherever hours per year meet calendar days."""
