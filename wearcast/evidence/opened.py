"""What stands in the bag of a pack, read without trusting it."""

from __future__ import annotations

from pathlib import Path

from wearcast.errors import WrongUse
from wearcast.evidence.asked import Asked, NotAPack, asked_from
from wearcast.evidence.contents import QUESTION
from wearcast.settings import read_settings


def text_in(bag: Path, name: str) -> str:
    """The text of one file.

    Raises
    ------
    NotAPack
        If it is no text.
    """
    try:
        return (bag / name).read_bytes().decode("utf-8")
    except UnicodeDecodeError:
        raise NotAPack(f"{name} is not text in UTF-8; it was changed.") from None


def question_of(bag: Path) -> Asked:
    """What was asked, by which settings.

    Raises
    ------
    NotAPack
        If either is not understood.
    """
    try:
        settings = read_settings(bag / QUESTION[1])
    except WrongUse as problem:
        raise NotAPack(f"The settings in the pack are not understood: {problem}") from None
    return asked_from(text_in(bag, QUESTION[0]), settings)
