"""Every choice the forecast rests on, in one frozen object; one TOML file overrides it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any

from wearcast.door.bounds import TurnedAway
from wearcast.door.trees import toml_of
from wearcast.errors import WrongUse
from wearcast.wear.priors import Priors
from wearcast.wear.thresholds import Thresholds

FACTOR = 100.0
"""By which a setting may be smaller or larger than it is here (judgement): far beyond, arithmetic itself gives way."""

WIDEST_LOG_SD = 5.0
"""What is known to within e⁵, 150 times more or less, is not known (judgement); e⁶⁰ is no number to reckon with."""


@dataclass(frozen=True)
class Settings:
    """All choices by name; printed in every report."""

    priors: Priors = field(default_factory=Priors)
    thresholds: Thresholds = field(default_factory=Thresholds)
    service: float = 0.95
    """Chance that the shells ordered suffice [1]."""
    risk: float = 0.10
    """Accepted chance that a limit is reached before the bearing is next opened [1]."""
    follow_changes: bool = True
    """Look for wear that does not go on as it went, and average the forecast over what is found."""
    follow_gauges: bool = False
    """Give a gauge read at two openings or more a bias of its own, `gauge_bias_sd`."""

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


def range_of(name: str, usual: float) -> tuple[float, float]:
    """Least and greatest value that a setting may have beside its usual one."""
    scale = abs(usual) or 1.0
    most = scale * FACTOR
    return scale / FACTOR, min(most, WIDEST_LOG_SD) if name.startswith("log_") else most


def _checked(section: Any, given: Mapping[str, Any], path: Path, where: str) -> dict[str, Any]:
    known = {one.name: getattr(section, one.name) for one in fields(section)}
    known = {name: value for name, value in known.items() if isinstance(value, int | float)}
    for name, value in given.items():
        if name not in known:
            raise WrongUse(f"{path}: {where}{name} is no setting. Known here: {', '.join(known)}.")
        if isinstance(value, bool) != isinstance(known[name], bool) or not isinstance(value, int | float):
            raise WrongUse(f"{path}: {where}{name} is {value!r}; expected a number such as {known[name]}.")
        if isinstance(value, bool):
            continue
        least, most = range_of(name, known[name])
        if not (least <= value <= most or (value == 0 and name.endswith("_mean"))):
            expected = f"expected a number from {least:g} to {most:g}"
            raise WrongUse(f"{path}: {where}{name} is {value}; {expected}.")
        if isinstance(known[name], int) and value != int(value):
            raise WrongUse(f"{path}: {where}{name} is {value}; expected a whole number.")
    return {name: type(known[name])(value) for name, value in given.items()}
