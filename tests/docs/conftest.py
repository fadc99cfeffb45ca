"""The pages show many commands on the same records: each of these is forecast once a process."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest

import wearcast.decide.stand
import wearcast.forecasting.run
from wearcast.forecasting.run import Forecast
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.sources import records_from


@pytest.fixture(scope="session", autouse=True)
def forecast_once() -> Iterator[None]:
    """The program's own forecast, kept by the digests of the files, the date of the run and all that was asked."""
    known: dict[tuple[object, ...], Forecast] = {}
    made = wearcast.forecasting.run.forecast

    def forecast(
        records: RecordSet | str,
        as_of: date | None = None,
        settings: Settings | None = None,
        leave_out_faulty: bool = False,
    ) -> Forecast:
        records = records_from(records)
        told = (records.source, records.files, records.run_date, records.book_digest)
        asked = (*told, as_of, repr(settings or Settings()), leave_out_faulty)
        if asked not in known:
            known[asked] = made(records, as_of, settings, leave_out_faulty)
        return known[asked]

    with pytest.MonkeyPatch.context() as patch:
        for module in (wearcast.forecasting.run, wearcast.decide.stand):
            patch.setattr(module, "forecast", forecast)
        yield
