"""The few errors of the project; each message speaks to a person."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wearcast.queries import Query


class WearcastError(Exception):
    """Base of everything the project raises on purpose; the message is for the user."""


class WrongUse(WearcastError):
    """The call or command cannot be carried out as asked (exit code 2)."""


class OutputFailed(WearcastError):
    """An output could not be written whole; nothing of it was left behind (exit code 1)."""


class InputRefused(WearcastError):
    """The record set holds rows that cannot be used (exit code 1).

    Attributes
    ----------
    faults : tuple of Query
        Every refusal found, in the order of file and row.
    """

    def __init__(self, faults: Sequence[Query]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))
