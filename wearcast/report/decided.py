"""What was decided from a forecast, as pages take it."""

from __future__ import annotations

from dataclasses import dataclass

from wearcast.decide.brief import Brief, brief_of
from wearcast.decide.compare import Comparison
from wearcast.decide.order import Order
from wearcast.decide.plan import Plan
from wearcast.lives.only import Only


@dataclass(frozen=True, eq=False)
class Decided:
    """The plan, the order and the sisters side by side, of a whole fleet or of what alone is asked for."""

    plan: Plan
    order: Order
    comparison: Comparison

    def narrowed(self, only: Only) -> Decided:
        """What alone is asked for; it is decided from all."""
        if not only:
            return self
        return Decided(self.plan.narrowed(only), self.order.narrowed(only), self.comparison.narrowed(only))

    def brief(self, only: Only) -> Brief:
        """What must be done first."""
        return brief_of(self.plan, self.order, self.comparison, only)
