"""Slips of the pen that move a value by a factor, and which of them would bring it back."""

from __future__ import annotations

from dataclasses import dataclass

UNIT_FACTORS = {
    1e-3: "the value was in µm",
    1e3: "the value was in m, or a thousandth of it was typed",
    25.4: "the value was in inches",
    1 / 25.4: "the value was in mm and the unit says in",
    25.4e-3: "the value was in thousandths of an inch",
}
DECIMAL_FACTORS = {10.0: "one place", 0.1: "one place", 100.0: "two places", 0.01: "two places"}


@dataclass(frozen=True)
class Slip:
    """What a doubted value could be.

    Attributes
    ----------
    kind : str
        `unit_slip`, `decimal_slip` or `outlier`.
    factor : float or None
        What brings the value back; None where no slip does.
    words : str
        One sentence.
    """

    kind: str
    factor: float | None
    words: str


def what_it_could_be(value_mm: float, low_mm: float, high_mm: float) -> Slip:
    """The slip that would bring a value [mm] back between two bounds [mm].

    >>> what_it_could_be(7982.0, 7.9, 8.05).kind
    'unit_slip'
    """
    for factor, words in UNIT_FACTORS.items():
        if low_mm <= value_mm * factor <= high_mm:
            return Slip("unit_slip", factor, f"It would fit as {value_mm * factor:.3f} mm: perhaps {words}.")
    for factor, words in DECIMAL_FACTORS.items():
        if low_mm <= value_mm * factor <= high_mm:
            said = f"It would fit as {value_mm * factor:.3f} mm: perhaps the decimal slipped {words}."
            return Slip("decimal_slip", factor, said)
    return Slip("outlier", None, "No slip of unit or decimal explains it.")
