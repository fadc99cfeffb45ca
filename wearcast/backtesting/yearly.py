"""Standard deviations and doubts from before a calendar year, and what is doubted since."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from wearcast.backtesting.past import Past, Pasts, ReadingKey
from wearcast.forecasting.at import screened_class
from wearcast.forecasting.classes import ClassKey, WearClass
from wearcast.lives.history import EngineKey
from wearcast.settings import Settings
from wearcast.wear.pooled import ClassReadings, Estimate, terms_of
from wearcast.wear.pooled.arrays import FloatArray
from wearcast.wear.pooled.calendar import Calendar
from wearcast.wear.pooled.clock_carried import carried_to
from wearcast.wear.pooled.residuals import left_out_residuals

Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class _Fit:
    year: int
    estimate: Estimate
    calendar: Calendar | None
    engines: list[EngineKey]
    since: date
    read: frozenset[ReadingKey]
    left_out: frozenset[ReadingKey]


@dataclass
class YearlyFits:
    """The pooled model of every class, estimated once a calendar year from rows dated before that year.

    With the estimate goes the search for slips that only the whole class or years of readings show: common errors of
    a gauge, swapped ends, unrecorded renewals, walls against clearances. Between, quick doubts alone are raised.

    A class first read within a year, or read in a way its estimate does not know (stated uncertainties, points
    off the crown), is estimated from the rows before the opening at hand. Changes of wear are looked for with the
    estimate, and carried to the readings of each opening. What one year's estimate has put in doubt stays out in
    the years after: nobody has settled it.
    """

    pasts: Pasts
    settings: Settings
    _fits: dict[ClassKey, _Fit] = field(default_factory=dict)

    def at(self, now: Past, key: ClassKey, day: date) -> tuple[WearClass, Estimate, Flags] | None:
        """A class at an opening, its estimate, and which of its readings count, shape (n of the class,).

        Readings of the running year beyond the threshold of a single reading are left out at the estimate that
        stands. None where nothing of the class is read.
        """
        fit = self._fits.get(key)
        if fit is None or fit.year != day.year:
            start = self.pasts.before(date(day.year, 1, 1))
            if start is not None and key in start.class_series:
                fit = self._fit(start, key, date(day.year, 1, 1))
        estimate = None
        if fit is not None:
            one = now.wear_class(key, _grid(fit.calendar))
            if _same_terms(one.readings, fit.estimate, self.settings):
                labels = {engine: label for label, engine in enumerate(now.engines(one))}
                known = np.array([labels[engine] for engine in fit.engines], dtype=np.intp)
                estimate = carried_to(fit.estimate, fit.calendar, one.readings, known)
        if fit is None or estimate is None:
            fit = self._fit(now, key, day)
            if fit is None:
                return None
            one, estimate = now.wear_class(key), fit.estimate
        self._fits[key] = fit
        keys = [now.keys[row] for row in one.rows]
        kept = np.array([reading not in fit.left_out for reading in keys], dtype=bool)
        dates = now.history.readings["date"].to_numpy().astype("datetime64[D]")[one.rows]
        fresh = kept & (dates >= np.datetime64(fit.since)) & ~now.confirmed[one.rows]
        return one, estimate, _without_the_worst(one.readings, estimate, kept, fresh, self.settings)

    def _fit(self, then: Past, key: ClassKey, since: date) -> _Fit | None:
        """The class estimated from the rows before a day; None where it is not read."""
        one = then.wear_class(key)
        if not len(one.rows):
            return None
        before, read = self._fits.get(key), frozenset(then.keys[row] for row in one.rows)
        if before is not None and before.read == read and before.engines == then.engines(one):
            return replace(before, year=since.year, since=since)  # nothing has been read since
        known = before.left_out if before else frozenset()
        sound = then.counted_after_all_doubts[one.rows]
        kept = sound & np.array([then.keys[row] not in known for row in one.rows], dtype=bool)
        part: WearClass = replace(one, readings=one.readings.only(kept), rows=one.rows[kept])
        screened = screened_class(part, self.settings, then.confirmed)
        found = {then.keys[row] for row in (*one.rows[~sound], *part.rows[screened.left_out])}
        calendar, engines = part.readings.calendar, then.engines(one)
        return _Fit(since.year, screened.estimate, calendar, engines, since, read, known | found)


def _grid(calendar: Calendar | None) -> FloatArray | None:
    """Dates of unrecorded changes that were looked for [years]."""
    return None if calendar is None else calendar.years[~calendar.recorded]


def _same_terms(readings: ClassReadings, estimate: Estimate, settings: Settings) -> bool:
    """Whether an estimate has all the terms that the readings of its class now call for, and no others."""
    terms = terms_of(readings, settings.priors)
    return (
        terms.variances == estimate.terms.variances
        and terms.coefficients == estimate.terms.coefficients
        and terms.allowance_um == estimate.terms.allowance_um
    )


def _without_the_worst(
    readings: ClassReadings, estimate: Estimate, kept: Flags, fresh: Flags, settings: Settings
) -> Flags:
    """Leave out, the worst first, fresh readings the rest of the class does not bear out."""
    limits = settings.thresholds
    most = max(1, int(limits.doubted_share * len(kept)))
    kept = kept.copy()
    for _ in range(most):
        rows = np.flatnonzero(kept)
        if not fresh[rows].any():
            break
        _, score = left_out_residuals(readings.only(kept), estimate)
        size = np.where(fresh[rows], np.abs(score), 0.0)
        if size.max() <= limits.doubted_sd:
            break
        kept[rows[int(size.argmax())]] = False
    return kept
