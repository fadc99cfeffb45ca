"""Where doubt, warning or waiting begins."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Thresholds:
    """Where the tool begins to doubt, warn or wait (judgement unless said)."""

    running_in_h: float = 2_000.0
    """Readings at younger shells stay out of the own line [h]."""
    last_interval_sd: float = 3.0
    """Standard deviations from which the last interval of a shell is asked about as quickened or slowed [1]."""
    doubted_sd: float = 4.0
    """Leave-one-out standardised residual from which a reading is doubted [1]."""
    doubted_share: float = 0.05
    """Largest share of a class that may be left out as doubted [1]."""
    opening_error_t: float = 3.5
    """Size of a common error of one opening, in its own standard deviations, from which it is doubted [1]."""
    opening_error_positions: int = 3
    """Positions that must be read with one gauge before its common error is judged [1]."""
    end_swap_log_likelihood: float = 4.0
    """Gain in log-likelihood from which an opening is asked about as written from the other end [1]."""
    end_swap_left_out: float = 8.0
    """Gain in log-likelihood from which such an opening is also left out until settled [1]."""
    end_swap_positions: int = 4
    """Positions that must be read before an opening is asked about so [1]."""
    walls_against_clearance_u: float = 3.0
    """Standard uncertainties from which the last walls and clearance of a place are said to disagree [1]."""
    beyond_hours_seen: float = 1.5
    """Multiple of the hours seen in a class beyond which a forecast carries a warning [1]."""
