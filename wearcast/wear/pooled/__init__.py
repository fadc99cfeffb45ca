"""Pooled wear of a class of sister engines: one linear mixed model, solved exactly."""

from wearcast.wear.pooled.estimate import Estimate, estimate
from wearcast.wear.pooled.posterior import Posterior, posterior
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.terms import Terms, terms_of

__all__ = [
    "ClassReadings",
    "Estimate",
    "Posterior",
    "Terms",
    "estimate",
    "posterior",
    "terms_of",
]
