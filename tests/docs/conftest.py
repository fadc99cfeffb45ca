"""The pages show many commands on the same records: each of these is forecast once a process."""

from __future__ import annotations

import pytest


@pytest.fixture(scope="module", autouse=True)
def forecasts_of_the_pages(forecast_once: None) -> None:
    """See `forecast_once`."""
