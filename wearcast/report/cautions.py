"""What every page must say about the work, whatever the readings say."""

from __future__ import annotations

from dataclasses import dataclass

UNSEEN = (
    "Wear trending does not see fatigue, wiping, loss of nip, dirt or loss of oil, "
    "and these are behind most sudden bearing failures."
)
"""Stands first on every page."""

SUGGEST = (
    "Readings suggest; they do not decide. The maker's instructions, class, the ship's permit system, local "
    "rules and licensed engineers govern, and nothing here extends a limit or an interval."
)


@dataclass(frozen=True)
class Caution:
    """One heading with its sentences."""

    title: str
    sentences: tuple[str, ...]


CAUTIONS = (
    Caution(
        "Who decides",
        (
            "The maker's instructions for this engine, the classification society, the ship's permit-to-work "
            "system, the rules of flag and port, and licensed engineers on the spot decide. Where this page "
            "and one of them differ, follow them.",
            "The forecast is for ordering parts and planning openings. It is not an approved survey or "
            "condition-monitoring scheme, and its output earns no survey credit by itself.",
            "Limits are those typed in from the maker's documents, named under Limits used. Check the revision "
            "against the book on board before relying on one.",
        ),
    ),
    Caution(
        "Never use a forecast to put off",
        (
            "work that a maker's limit or interval calls for, or that class has set a date for;",
            "action on a bearing temperature or oil-mist alarm, on metal in a filter or in the sump, on water in "
            "the oil, low oil pressure, rising web deflection, knocking or damage that can be seen.",
            "Damage outranks any trend: a shell with wall to spare can still be unfit.",
        ),
    ),
    Caution(
        "Before a crankcase is opened",
        (
            "Starting air shut, drained and locked. Remote and automatic starting blocked and tagged, above all "
            "on generator engines. Turning gear engaged, and under the control of the person in the crankcase. "
            "The state of the lubricating-oil pumps agreed with everyone concerned.",
            "After overheating or an oil-mist alarm keep the doors shut: opening too early lets in the air for "
            "an explosion. At least 20 minutes is a usual figure and some training asks for much longer; the "
            "maker's time governs.",
            "A crankcase is an enclosed space: test the air, ventilate, keep an attendant, and work under the "
            "ship's permit.",
        ),
    ),
    Caution(
        "While the bearing is open",
        (
            "Hydraulic tightening tools work at very high pressure: keep hands and face out of line, never "
            "exceed the stroke, check hoses and couplings first.",
            "Caps are heavy: support them before the last nut comes off. Fingers are crushed when a shell is "
            "rolled out. Oil and surfaces may be hot. Count tools and rags in and out.",
            "A shell that does not match the journal's size must not be fitted: check journal and shell size at "
            "the engine, not only on the order.",
        ),
    ),
    Caution(
        "What these figures cannot tell",
        (
            UNSEEN,
            "A trend takes for granted that the engine goes on as it has: same load, fuel, oil and alignment. "
            "After a change of any of them, or past the overlay, it may wear faster than any reading so far.",
            "A gauge that reads high makes a thin shell look thick. A doubted reading is a reason to measure "
            "again, with the maker's instrument and method.",
        ),
    ),
)
