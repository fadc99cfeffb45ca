"""Every choice the forecast rests on, in one frozen object; one TOML file overrides it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from math import isfinite
from pathlib import Path
from typing import Any

from wearcast.door.bounds import TurnedAway
from wearcast.door.trees import toml_of
from wearcast.errors import WrongUse
from wearcast.wear.priors import Priors


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


@dataclass(frozen=True)
class Settings:
    """All choices by name; printed in every report."""

    priors: Priors = field(default_factory=Priors)
    thresholds: Thresholds = field(default_factory=Thresholds)
    service: float = 0.95
    """Chance that the shells ordered suffice [1]."""
    risk: float = 0.10
    """Accepted chance that a limit is reached before the bearing is next opened [1]."""

    def __post_init__(self) -> None:
        for name in ("service", "risk"):
            value = getattr(self, name)
            if not 0 < value < 1:
                raise WrongUse(f"settings: {name} is {value}; expected a share between 0 and 1.")

    def rows(self) -> tuple[tuple[str, str, Any], ...]:
        """Section, name and value of every setting, for printing."""
        found: list[tuple[str, str, Any]] = []
        for one in fields(self):
            value = getattr(self, one.name)
            if isinstance(value, Priors | Thresholds):
                found += [(one.name, inner.name, getattr(value, inner.name)) for inner in fields(value)]
            else:
                found.append(("general", one.name, value))
        return tuple(found)


def read_settings(path: Path) -> Settings:
    """Settings from a TOML file; what it does not name keeps its default.

    Raises
    ------
    WrongUse
        If the file cannot be read, or names something that is no setting or is of the wrong kind.
    """
    try:
        given = toml_of(path)
    except TurnedAway as away:
        raise WrongUse(f"{path}: cannot be read as settings: {away}") from None
    settings = Settings()
    sections = {"priors": settings.priors, "thresholds": settings.thresholds}
    changes: dict[str, Any] = {}
    for name, value in given.items():
        if name in sections and isinstance(value, Mapping):
            changes[name] = _changed(sections[name], value, path, f"{name}.")
        elif name not in sections:
            changes.update(_checked(settings, {name: value}, path, ""))
        else:
            raise WrongUse(f"{path}: {name} must be a section, [{name}].")
    return replace(settings, **changes)


def _changed(section: Any, given: Mapping[str, Any], path: Path, where: str) -> Any:
    return replace(section, **_checked(section, given, path, where))


def _checked(section: Any, given: Mapping[str, Any], path: Path, where: str) -> dict[str, Any]:
    known = {one.name: getattr(section, one.name) for one in fields(section)}
    known = {name: value for name, value in known.items() if isinstance(value, int | float)}
    for name, value in given.items():
        if name not in known:
            raise WrongUse(f"{path}: {where}{name} is no setting. Known here: {', '.join(known)}.")
        if isinstance(value, bool) != isinstance(known[name], bool) or not isinstance(value, int | float):
            raise WrongUse(f"{path}: {where}{name} is {value!r}; expected a number such as {known[name]}.")
        if not isfinite(value) or value < 0 or (value == 0 and not name.endswith("_mean")):
            raise WrongUse(f"{path}: {where}{name} is {value}; expected a number above 0.")
        if isinstance(known[name], int) and value != int(value):
            raise WrongUse(f"{path}: {where}{name} is {value}; expected a whole number.")
    return {name: type(known[name])(value) for name, value in given.items()}
