"""What was eased by hand stands on the page of the engine and on the index, in words."""

from __future__ import annotations

import datetime as dt

from wearcast.forecasting.run import forecast
from wearcast.records.read import read
from wearcast.report.sheets import render

RUN = dt.date(2026, 1, 1)


def test_a_withdrawn_reading_and_who_approved_it_stand_on_every_page(record_folder) -> None:
    rows = [
        {
            "date": f"20{18 + 2 * k}-05-17",
            "counter_h": str(10_000 * (k + 1)),
            "value": f"{7.99 - 0.004 * k:.4f}",
        }
        for k in range(4)
    ]
    rows[-1]["value"] = "7.9650"
    gone = {"row": "5", "old": "7.9650", "action": "withdraw", "reason": "felt wrong", "by": "B. Cole"}
    pages = render(forecast(read(record_folder(readings=rows, corrections=[gone]), RUN)), "1")
    assert len(pages) == 2
    for text in pages.values():
        plain = " ".join(text.split())
        assert "What has been eased" in plain
        assert "main 3 lower wall thickness, readings row 5, value 7.9650 (felt wrong; by B. Cole" in plain
        assert "approved by: nobody named" in plain
        assert "would reach its limit with one chance in ten" in plain
