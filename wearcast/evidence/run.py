"""One run of everything a pack holds: forecast, plan and order of one record set."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from wearcast.decide.eased import ChangesByHand, changes_by_hand
from wearcast.decide.joint_needs import joint_needs
from wearcast.decide.order import Order, order_at
from wearcast.decide.plan import Plan, plan_at
from wearcast.decide.stand import stand_of
from wearcast.errors import WrongUse
from wearcast.evidence.asked import Asked
from wearcast.evidence.theta import Recorded, held, thetas_of
from wearcast.forecasting.run import Forecast, forecast
from wearcast.lives.history import EngineAt, History
from wearcast.lives.only import Only, refuse_if_asked
from wearcast.records.records import RecordSet


@dataclass(frozen=True, eq=False)
class Fitted:
    """The two forecasts of a pack.

    Attributes
    ----------
    forecast : Forecast
        Each engine at its own as-of moment.
    stand : Forecast
        All engines at one date, for plan and order.
    """

    forecast: Forecast
    stand: Forecast

    @property
    def recorded(self) -> Recorded:
        """The standard deviations they were made with."""
        return Recorded(thetas_of(self.forecast), thetas_of(self.stand))


@dataclass(frozen=True, eq=False)
class Run:
    """Everything worked out for a pack; of all engines, the pack shows one."""

    asked: Asked
    fitted: Fitted
    plan: Plan
    order: Order

    @property
    def forecast(self) -> Forecast:
        """Each engine at its own as-of moment."""
        return self.fitted.forecast

    @cached_property
    def changes(self) -> ChangesByHand:
        """What was changed by hand, and moves a forecast of the engine or of a sister away from action."""
        return changes_by_hand(self.forecast, self.engine.engine_type)

    @property
    def engine(self) -> EngineAt:
        """The engine the pack is about."""
        return self.forecast.history.engines[self.asked.key]


def fitted_anew(asked: Asked, records: RecordSet) -> Fitted:
    """Both forecasts, the standard deviations estimated from the records.

    Raises
    ------
    InputRefused
        If the record set holds rows that cannot be used.
    WrongUse
        If the engine is not in the records, or no counter reading places it in time.
    """
    made = forecast(records, asked.as_of, asked.settings, asked.leave_out_faulty)
    _known(asked, made.history)
    return Fitted(made, made.at(made.decides_at))


def fitted_at(fitted: Fitted, recorded: Recorded) -> Fitted:
    """The same forecasts at recorded standard deviations.

    Raises
    ------
    NotAPack
        If these are not of the classes of the forecasts.
    """
    made = held(fitted.forecast, recorded.forecast)
    alike = fitted.stand.doubts is fitted.forecast.doubts and recorded.alike
    return Fitted(made, made.at(made.decides_at) if alike else held(fitted.stand, recorded.stand))


def decided(asked: Asked, fitted: Fitted) -> Run:
    """Plan and order of the forecasts."""
    stand = stand_of(fitted.stand)
    return Run(
        asked,
        fitted,
        plan_at(stand, asked.settings.risk, asked.horizon_years),
        order_at(stand, asked.settings.service, None, asked.review_days, False, joint_needs(stand)),
    )


def _known(asked: Asked, history: History) -> None:
    if asked.key in history.engines:
        return
    refuse_if_asked(Only(*asked.key), history)
    known = "; ".join(f"vessel {vessel!r}, engine {engine!r}" for vessel, engine in history.engines)
    raise WrongUse(
        f"no engine {asked.engine!r} of a vessel {asked.vessel!r} with a counter reading in these records. "
        f"They have: {known}."
    )
