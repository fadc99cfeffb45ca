"""Pooled wear of a class of sister engines: one linear mixed model, solved exactly."""

from wearcast.wear.pooled.estimation import estimate
from wearcast.wear.pooled.posteriors import Posterior, posterior
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.terms import Terms, terms_of
from wearcast.wear.pooled.theta import Theta, estimate_at

__all__ = [
    "ClassReadings",
    "Estimate",
    "Posterior",
    "Terms",
    "Theta",
    "estimate",
    "estimate_at",
    "posterior",
    "terms_of",
]
