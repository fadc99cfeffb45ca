"""The study of swapped ends and gauge errors in short; its long table stands in DEVELOPERS.md."""

from __future__ import annotations

from model_doubts import run


def test_planted_ends_and_gauge_errors_are_found_and_clean_openings_left_alone() -> None:
    counts = run(10, seed=7)
    assert counts.ends >= 3
    assert counts.ends_found >= 0.95 * counts.ends
    assert counts.gauges_found >= 0.9 * counts.gauges
    assert counts.asked <= 0.02 * counts.openings
