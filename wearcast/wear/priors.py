"""Prior distributions of the pooled wear model, scale-free through the allowance."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Priors:
    """Named prior values of the pooled model.

    Rates are given in units of A/`design_life_kh`, A being the allowance of the class, so the
    same values hold for a wall with 50 µm and a clearance with 100 µm to lose. `..._rate_median`
    and the other medians are medians of standard deviations under log-normal priors, whose
    log-sd is `log_sd_wall` for walls and `log_sd_other` for all else.

    All values are judgement; the forecast table and the report print them.
    """

    design_life_kh: float = 60.0
    """Hours in which an ordinary shell uses up its allowance [kh]; sets the scale of the rates."""
    running_in_kh: float = 1.0
    """Time constant of running-in, g(τ) = 1 − exp(−τ/running_in_kh) [kh]."""
    running_in_mean: float = 0.04
    """Mean of the running-in wear α [A]."""
    running_in_sd: float = 0.1
    """Standard deviation of the running-in wear α [A]."""
    rate_mean: float = 1.0
    """Mean of the class rate β [A/design_life_kh]."""
    rate_sd: float = 1.2
    """Standard deviation of the class rate β [A/design_life_kh]."""
    group_level_sd_um: float = 15.0
    """Standard deviation of the level η of a point group off the crown [µm]."""
    group_rate_sd: float = 0.5
    """Standard deviation of the rate β_p of a point group off the crown [A/design_life_kh]."""
    position_rate_median: float = 0.2
    """Spread of the rates of positions, σ_γ [A/design_life_kh]."""
    engine_rate_median: float = 0.25
    """Spread of the rates of engines, σ_u [A/design_life_kh]."""
    place_rate_median: float = 0.3
    """Spread of the rates of places (one position of one engine), σ_v [A/design_life_kh]."""
    shell_rate_median: float = 0.15
    """Spread of the rates of successive shells in a place, σ_s [A/design_life_kh]."""
    point_rate_median: float = 0.15
    """Spread of the rates of the points of a shell, σ_q [A/design_life_kh]."""
    quickened_rate_sd: float = 10.0
    """Spread of the rate of a shell that may have gone wrong, since the opening before [A/design_life_kh]."""
    fault_chance: float = 0.5
    """Chance that a doubted last reading towards the limit is a fault coming on and no slip [1]."""
    uneven_wear_median: float = 1.0
    """Unevenness of wear in time, σ_B [A/design_life_kh per √kh]."""
    opening_error_median: float = 0.03
    """Common error of one gauge at one opening, σ_c [A]."""
    gauge_bias_sd: float = 0.05
    """Bias that a gauge keeps from opening to opening [A]."""
    extra_error_median: float = 0.02
    """Reading error beyond a stated uncertainty [A]."""
    new_wall_median: float = 0.1
    """Spread of the unknown new wall where the limits give no band, σ_δ [A]."""
    point_wall_sd_um: float = 2.0
    """Differences of the new wall between the points of one shell [µm]."""
    unknown_start_mean: float = 0.5
    """Mean wear at the first reading of a shell fitted at an unknown time [A]."""
    unknown_start_sd: float = 1.0
    """Standard deviation of that wear [A]."""
    log_sd_wall: float = 0.6
    """Standard deviation of the logarithm of every standard deviation, walls."""
    log_sd_other: float = 1.0
    """The same for all quantities but walls."""
    steady_weight: float = 0.5
    """Prior weight of wear that goes on as it went."""
    class_step_weight: float = 0.25
    """Prior weight of a change at an unrecorded date, all sisters alike."""
    vessel_step_weight: float = 0.05
    """The same for the engines of one vessel, over all vessels."""
    engine_step_weight: float = 0.08
    """The same for one engine alone, over all engines."""
    pulse_weight: float = 0.03
    """Prior weight of a change that went back after two to four years."""
    age_weight: float = 0.05
    """Prior weight of wear that slows or gathers pace with the hours of the shell."""
    depth_weight: float = 0.03
    """Prior weight of wear that quickens past a depth."""
    recorded_weight: float = 0.5
    """Prior weight of all recorded changes together; what is said above shares the rest."""
    log_step_sd: float = 0.6
    """Standard deviation of the logarithm of the factor of a change at a date."""
    log_power_sd: float = 0.25
    """Standard deviation of the logarithm of the power γ of the hours."""
    log_depth_sd: float = 0.7
    """Scale of the half-normal prior of the logarithm of the factor past a depth."""
