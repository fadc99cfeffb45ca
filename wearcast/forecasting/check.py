"""Everything refused and everything doubted in a record set."""

from __future__ import annotations

from datetime import date

from wearcast.errors import InputRefused, WrongUse
from wearcast.forecasting.run import forecast_of
from wearcast.lives.build import build
from wearcast.queries import Query
from wearcast.records.records import RecordSet
from wearcast.settings import Settings


def check(
    records: RecordSet, as_of: date | None = None, settings: Settings | None = None
) -> tuple[Query, ...]:
    """Every refusal of a record set, and every doubt about the rows that can be used.

    Parameters
    ----------
    records : RecordSet
        From `wearcast.read`.
    """
    refused: tuple[Query, ...] = ()
    try:
        try:
            history = build(records, as_of)
            refused = history.left_out
        except InputRefused as refusal:
            refused = refusal.faults
        if any(not fault.can_be_left_out for fault in refused):
            return refused
        if refused:
            history = build(records, as_of, leave_out_faulty=True)
    except WrongUse:
        if not (refused or records.faults):
            raise
        return refused or records.faults  # nothing is left once the refused rows are gone
    return (*refused, *forecast_of(history, settings, leave_out_faulty=True).queries)
