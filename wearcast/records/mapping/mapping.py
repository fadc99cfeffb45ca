"""A mapping as data: what the texts of a sheet mean, how it writes numbers and dates, what it does not say."""

from __future__ import annotations

from collections.abc import Mapping as ReadOnly
from dataclasses import dataclass, field, replace
from functools import cached_property

from wearcast.records.mapping.meaning import Meaning, meaning_of_words
from wearcast.records.mapping.patterns import matched, plain
from wearcast.records.mapping.writing import DateOrder, DecimalSign

UNKNOWN = Meaning()


@dataclass(frozen=True)
class Mapping:
    """What another's sheets mean.

    Attributes
    ----------
    name : str
        The mapping file, for messages.
    table : str
        ``readings``, or ``events`` for a report of running hours.
    sheets : tuple of str
        The sheets of a workbook that are read; empty for all.
    given : mapping
        By column of the table: what holds where the sheet does not say it.
    files : mapping
        The same for one file each.
    texts : mapping
        Their text and its meaning in our words; braces take a position, date or hours out of it.
    marks : tuple of str
        What is written in the place of a number where nothing was measured.
    loose : str
        ``nothing`` where numbers without any text beside or above them are to be passed over.
    unanswered : tuple of str
        Questions not answered yet.
    """

    name: str
    table: str = "readings"
    sheets: tuple[str, ...] = ()
    decimal: DecimalSign = ""
    date_order: DateOrder = ""
    given: ReadOnly[str, str] = field(default_factory=dict)
    files: ReadOnly[str, ReadOnly[str, str]] = field(default_factory=dict)
    texts: ReadOnly[str, str] = field(default_factory=dict)
    marks: tuple[str, ...] = ()
    loose: str = ""
    unanswered: tuple[str, ...] = ()

    @cached_property
    def _exact(self) -> dict[str, str]:
        return {plain(text): ours for text, ours in self.texts.items()}

    def meaning_of(self, text: str) -> Meaning:
        """What a text means by this mapping; nothing where the mapping does not have it."""
        ours = self._exact.get(plain(text))
        facts: ReadOnly[str, str] = {}
        if ours is None:
            for pattern in (one for one in self.texts if "{" in one):
                found = matched(pattern, text)
                if found is not None:
                    ours, facts = self.texts[pattern], found
                    break
        if ours is None:
            return UNKNOWN
        meaning = meaning_of_words(ours.split())
        return replace(meaning, facts={**meaning.facts, **facts})

    def is_mark(self, text: str) -> bool:
        """Whether the text stands where nothing was measured."""
        return plain(text) in {plain(one) for one in self.marks}
