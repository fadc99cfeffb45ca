"""Words for damage seen on a shell: a pick list; any other text stays allowed.

The words are those of ISO 7146-1 (Plain bearings - Appearance and characterization of damage) as listed from
memory; have someone with the standard confirm them before they are cited.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

SOURCE_NOTE = "listed from memory of ISO 7146-1:2019, not checked against its text"


@dataclass(frozen=True)
class DamageTerm:
    """One term: what is seen, or what caused it."""

    term: str
    tells: Literal["appearance", "cause"]


DAMAGE_TERMS = (
    *(
        DamageTerm(term, "appearance")
        for term in (
            "scoring",
            "polishing",
            "wiping",
            "melting",
            "embedded particles",
            "fatigue cracks",
            "fatigue break-out",
            "corrosion",
            "fretting on the back",
            "deposits",
        )
    ),
    *(
        DamageTerm(term, "cause")
        for term in (
            "static overload",
            "dynamic overload",
            "wear by friction",
            "overheating",
            "insufficient lubrication",
            "contamination",
            "cavitation erosion",
            "electro-erosion",
            "hydrogen diffusion",
            "bond failure",
        )
    ),
)
"""The pick list, appearances first."""


def listed_term(text: str) -> DamageTerm | None:
    """The listed term that a finding is, whatever its case; None for free text.

    >>> listed_term("Bond failure").tells
    'cause'
    >>> listed_term("shells look tired") is None
    True
    """
    wanted = " ".join(text.split()).casefold()
    return next((one for one in DAMAGE_TERMS if one.term == wanted), None)
