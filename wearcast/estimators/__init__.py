"""Estimators in the manner of scikit-learn over plain tables, for notebooks: columns in, rates and hours out."""

from __future__ import annotations

from wearcast.estimators.own_line import OwnLine
from wearcast.estimators.pooled_wear import PooledWear, StrainedFit

__all__ = ["OwnLine", "PooledWear", "StrainedFit"]
