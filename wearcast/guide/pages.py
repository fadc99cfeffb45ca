"""The pages of the guide in reading order."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources

from wearcast.errors import WrongUse

ORDER = (
    "first",
    "records",
    "own",
    "sheet",
    "statements",
    "decisions",
    "traps",
    "book",
    "evidence",
    "notebook",
    "trust",
    "messages",
    "glossary",
    "safety",
)
"""Names of the pages, as typed after `wearcast guide`, in reading order."""


@dataclass(frozen=True)
class Page:
    """One page.

    Attributes
    ----------
    name : str
        What is typed to see it.
    title : str
        Its heading.
    text : str
        Markdown, the heading included.
    """

    name: str
    title: str
    text: str


def page(name: str) -> Page:
    """One page by name.

    Raises
    ------
    WrongUse
        If there is no such page.

    Examples
    --------
    >>> page("safety").title
    'Safety'
    """
    if name not in ORDER:
        raise WrongUse(f"guide: there is no page {name!r}. There are {', '.join(ORDER)}.")
    text = (resources.files(__package__) / f"{name}.md").read_text(encoding="utf-8")
    return Page(name, text.partition("\n")[0].removeprefix("# "), text)


def pages() -> tuple[Page, ...]:
    """All pages in reading order."""
    return tuple(page(name) for name in ORDER)
