"""Plans of invented fleets, and worlds unlike the model."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True)
class FleetPlan:
    """How a fleet is laid out and read.

    Attributes
    ----------
    n_engines, n_positions, n_openings : int
    fewest_readings, most_readings : int
        Readings of one shell, drawn evenly between; the openings are drawn too.
    first_opening_kh, opening_gap_kh : tuple of float
        Ranges the hours of the first opening and the gaps are drawn from [kh].
    allowance_um, default_u_um, new_wall_sd_um : float
        Allowance, reading error and spread of the new walls [µm].
    log_sd : float
        Log-sd of the priors of the standard deviations.
    measured_new_share : float
        Share of the shells whose new wall was measured.
    renewal_share : float
        Share of the places whose shell was renewed once, at an opening but the last.
    stated_share : float
        Share of the fleets whose readings state their uncertainty, `default_u_um`.
    step_um : float
        Rounding step of the readings [µm]; 0 for none.
    """

    n_engines: int = 4
    n_positions: int = 7
    n_openings: int = 5
    fewest_readings: int = 1
    most_readings: int = 5
    first_opening_kh: tuple[float, float] = (0.5, 4.0)
    opening_gap_kh: tuple[float, float] = (0.5, 3.5)
    allowance_um: float = 50.0
    default_u_um: float = 6.0
    new_wall_sd_um: float = 15.0 / 12**0.5
    log_sd: float = 0.6
    measured_new_share: float = 0.2
    renewal_share: float = 0.15
    stated_share: float = 0.0
    step_um: float = 0.0


@dataclass(frozen=True)
class OtherTruth:
    """A world the model was not built for.

    Attributes
    ----------
    gamma_wear : bool
        Wear grows by gamma increments, never backwards, instead of a Brownian path.
    lognormal_rates : bool
        Rates are products of log-normal factors instead of sums of normal terms.
    slip_share : float
        Share of readings wrong by 30 to 100 µm either way.
    fast_factor : float
        One place of the fleet wears so many times its rate.
    """

    gamma_wear: bool = True
    lognormal_rates: bool = True
    slip_share: float = 0.03
    fast_factor: float = 3.0


def with_one_engine(plan: FleetPlan) -> FleetPlan:
    """The same plan without sisters."""
    return replace(plan, n_engines=1)
