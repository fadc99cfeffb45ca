"""Why a forecast is what it is: kinds of reasons with their data, and the sentence of each, made here alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from wearcast.words.numbers import NO_UPPER_BOUND, grouped


@dataclass(frozen=True)
class Reason:
    """One reason: its kind, a row of `KINDS`, and what there is to say.

    >>> str(Reason.of("doubted", held=0, left_out=2, quickened=False))
    '2 doubted readings left out'
    """

    kind: str
    data: tuple[tuple[str, object], ...] = ()

    @staticmethod
    def of(kind: str, **data: object) -> Reason:
        """A reason of a kind with its data."""
        return Reason(kind, tuple(data.items()))

    def __str__(self) -> str:
        """The sentence, without its full stop."""
        return KINDS[self.kind].said(**dict(self.data))

    @property
    def behind(self) -> bool:
        """Whether the statement of the row rests on it; the others say why the range is what it is."""
        return KINDS[self.kind].behind

    @property
    def alone(self) -> str:
        """The sentence where it stands alone and its subject is not in sight."""
        kind = KINDS[self.kind]
        return (kind.alone or kind.said)(**dict(self.data))


@dataclass(frozen=True)
class Kind:
    """A kind of reason: the sentence its data make, and whether a statement rests on it."""

    said: Callable[..., str]
    behind: bool = False
    alone: Callable[..., str] | None = None


def _read_past(value_mm: float, point: str, on: date, limit_mm: float) -> str:
    at = f" at {point.replace('_', ' ')}" if point else ""
    return f"read {value_mm:.3f} mm{at} on {on}, limit {limit_mm:.3f} mm"


def _without_limit(point: str, lined: bool) -> str:
    what = "the line through" if lined else "the last of"
    at = f" at {point.replace('_', ' ')}" if point and point != "crown" else ""
    return f"the limits table has no limit for it: {what} its own readings{at}, trended, never forecast"


QUICKENED = "the last interval, measured again, wore faster than before: its rate goes on"


def _doubted(held: int, left_out: int, quickened: bool) -> str:
    counts = ((held, "held as a slip and as a fault coming on"), (left_out, "left out"))
    said = [f"{n} doubted reading{'s' if n > 1 else ''} {what}" for n, what in counts if n]
    return ", ".join([*said, *([QUICKENED] if quickened else [])])


def _gauges(errors: tuple[tuple[float, date], ...]) -> str:
    return ", ".join(
        f"a gauge error of {error_um:+.0f} µm of wear at the opening of {on}" for error_um, on in errors
    )


def _beyond_hours(factor: float, seen_h: float) -> str:
    return f"the middle of the range lies beyond {factor:g} times the hours seen in this class ({grouped(seen_h)} h)"


def _changed(way: str, factor: float, since: date | None) -> str:
    if way == "age":
        return f"the forecast follows wear that {'slows' if factor < 1 else 'gathers pace'} with age"
    if since is None:
        return f"the forecast follows wear that is {factor:.2g} times as fast past a depth"
    ended = way == "pulse"
    how = "for some years from about" if ended else "since about"
    return f"the forecast follows a changed rate: {factor:.2g} times as fast {how} {since:%Y-%m}"


def _unlike(scale: float) -> str:
    return f"this class wears about {scale:.2g} times as fast as is usual: the readings decide, not the prior"


KINDS: dict[str, Kind] = {
    "history_incomplete": Kind("history incomplete: {where} left out, so no forecast".format, behind=True),
    "read_past": Kind(_read_past, behind=True),
    "estimate_past": Kind(
        "the estimate is past the limit of {limit_mm:.3f} mm; no reading in the forecast is".format,
        behind=True,
    ),
    "also": Kind("{statement}".format, behind=True, alone="also: {statement}".format),
    "with_doubted": Kind("with the doubted readings: {statement}".format, behind=True),
    "clearance": Kind("{text}".format, behind=True),
    "changed_rate": Kind(_changed, behind=True),
    "unlike_prior": Kind(_unlike),
    "no_limit": Kind("no point with a limit of its own was read: trended, never forecast".format),
    "without_limit": Kind(_without_limit),
    "points_without_limit": Kind("{points} without a limit of its own: trended, does not govern".format),
    "no_reading": Kind("no reading of this shell yet: the forecast is its sisters' and its place's".format),
    "unread_class": Kind(
        "nothing of this kind was ever read, here or on a sister: the forecast is the design life taken for all such "
        "shells, no more; one opening would tell".format
    ),
    "one_opening": Kind("one opening of this shell: the rate rests on its sisters".format),
    "doubted": Kind(_doubted, behind=True),
    "quickened": Kind(QUICKENED.format),
    "gauge_error": Kind(_gauges),
    "end_swap": Kind("the opening of {on} seems written from the other end".format),
    "unknown_fitting": Kind("fitted at an unknown time: wear before the first reading is not known".format),
    "assumed_new": Kind("taken as new at 0 h: no fitting is recorded".format),
    "undersize": Kind(
        "shell size {size}: it shares wear rates with the other sizes, not walls or limits".format
    ),
    "beyond_overlay": Kind(
        "worn past the overlay ({overlay_um:.0f} µm): what lies beneath may wear at another rate".format
    ),
    "beyond_hours_seen": Kind(_beyond_hours),
    "one_engine": Kind(
        "one engine only: what is its own and what its type's cannot be told apart; the priors carry it".format
    ),
    "strained": Kind(
        "the readings of this class scatter more than gauges do: look for slips that hide one another".format
    ),
    "carried": Kind("hours carried forward from the last counter reading".format),
    "no_upper_bound": Kind(lambda: NO_UPPER_BOUND, alone=lambda: ""),
    "before_any": Kind(
        "before any window".format, alone="the 10 % date falls before any window listed".format
    ),
    "fixed_hours_age_unknown": Kind("maker's fixed {hours:.0f} h hold; the shell's age is unknown".format),
    "fixed_hours_reached": Kind("maker's fixed {hours:.0f} h are reached".format),
    "fixed_hours": Kind("maker's fixed {hours:.0f} h hold: {left:.0f} h are left".format),
    "no_dates": Kind("no yearly use known, so no dates and no comparison with windows".format),
    "own_line": Kind("own line: {text}".format),
    "no_own_line": Kind("{text}".format),
    "own_line_too": Kind("{text}".format),
}
"""Every kind; `alone` is empty where a page says it otherwise."""
