"""Plain words of a pack: what it is and is not, and the method."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from wearcast.decide.eased_words import changes_said
from wearcast.evidence.asked import Asked
from wearcast.evidence.run import Run
from wearcast.report.cautions import CAUTIONS, SUGGEST, UNSEEN, Caution
from wearcast.report.method import method
from wearcast.report.view import Prose

NOT_A_SCHEME = (
    "This pack is no class-approved scheme and earns no survey credit by itself. It says on what a forecast "
    "rests; the surveyor decides what it is worth."
)
NO_PDF = (
    "The engine sheet is here as a page (data/sheet.html) and not as PDF: the machine that made the pack had no "
    "Chromium that could print it. The page prints from any browser."
)
WHOLE_SET = (
    "The forecast of one engine rests on the readings of all its sisters, so the pack holds the whole record "
    "set as it was given (data/input), not only this engine's rows. Hand it on only where all of it may be seen."
)
_SOURCES = (
    "Student's t and Fieller's set: Fieller (1954), J. R. Stat. Soc. B 16, 175-185.",
    "Restricted likelihood and its derivatives: Harville (1977), J. Am. Stat. Assoc. 72, 320-338.",
    "Averaging over standard deviations: Rue, Martino & Chopin (2009), J. R. Stat. Soc. B 71, 319-392.",
    "Huber's and the Theil-Sen rate: Huber (1964), Ann. Math. Stat. 35, 73-101; Sen (1968), J. Am. Stat. "
    "Assoc. 63, 1379-1389.",
    "Standard uncertainty (k = 1): JCGM 100:2008.",
)
_FILES = (
    ("input/", "the records as given; input-files.csv holds their names and hashes"),
    ("originals/", "the files that came into the record book, by number of the import"),
    ("book-chain.csv", "imports and corrections of the record book, each with the digest after it"),
    ("readings-used.csv", "readings of the engine and its sisters that are in the fits"),
    ("readings-left-out.csv", "readings that are not, each with the reason"),
    ("doubts.json", "what was doubted or refused, and what to do about it"),
    ("corrections.csv", "corrections in the order they were made: old, new, reason, by whom, when"),
    ("eased.csv", "changes by hand that move a forecast away from action, and what would be without each"),
    ("limits.csv", "limits of the engine type with document, revision and part"),
    (
        "gauges.csv",
        "gauges: standard uncertainty taken, stated or assumed, certificate, readings after it ran out",
    ),
    ("settings.toml", "every setting of the run"),
    ("assumptions.txt", "what was assumed, in sentences"),
    ("forecast.csv, .json", "the forecast of this engine"),
    ("plan.csv, .json", "what to open at which window, this engine"),
    ("own-lines.txt", "own line of each shell, its summary by statsmodels, and how each reading lies to it"),
    ("order.csv, .json", "parts that this engine takes; counted for all engines that share them"),
    ("sheet.html", "the engine sheet as a page; opens without a network"),
    ("sheet.pdf", "the same on paper"),
    ("method.txt", "how the figures are worked out, and from which sources"),
    ("theta.json", "standard deviations of the pooled model, every digit"),
    ("run.json", "what was asked"),
    ("environment.txt", "program, Python, packages and machine it was worked out on"),
)


def readme_text(run: Run) -> str:
    """The first file to open: what the pack is, what it is not, what is in it, and the cautions."""
    asked, engine = run.asked, run.engine
    of_book = bool(run.forecast.history.records.book_digest)
    absent = {*(() if asked.pdf else ("sheet.pdf",)), *(() if of_book else ("originals/", "book-chain.csv"))}
    files = [line for line in _FILES if line[0] not in absent]
    width = max(len(name) for name, _ in files) + 2
    parts = [
        f"Evidence for {asked.name} ({engine.engine_type})" + (f", {asked.survey}" if asked.survey else ""),
        _paragraph(
            f"As of {engine.as_of}, run on {asked.run_date} with wearcast {asked.program}."
            + (f" Put together by {asked.organization}." if asked.organization else "")
        ),
        _section("What this is not", (NOT_A_SCHEME, UNSEEN, SUGGEST)),
        _section("What has been eased", changes_said(run.changes)),
        _section("Sisters", (WHOLE_SET,)),
        *([] if asked.pdf else [_section("Not here", (NO_PDF,))]),
        "What is in it (folder data)\n\n" + "\n".join(f"{name:<{width}}{what}" for name, what in files),
        _section(
            "Working it out again",
            (
                "Any program for BagIt (RFC 8493) tells whether the files are as they were put in: "
                "bagit.py --validate FOLDER.",
                "wearcast evidence repeat FILE.zip works out every figure again from data/input at the standard "
                "deviations of data/theta.json, estimates those anew, and names each figure that does not come out.",
                "A bag says whether files were harmed, not who made them. Where signature.bin is there, it is an "
                "Ed25519 signature (RFC 8032) over tagmanifest-sha256.txt; ask the signer for the public key by "
                "another way than this pack.",
            ),
        ),
        _cautions(CAUTIONS),
    ]
    return "\n\n\n".join(parts) + "\n"


def method_text(run: Run) -> str:
    """The method as the engine sheet tells it, with its sources."""
    parts = [_section(prose.title, prose.paragraphs) for prose in prose_of(run)]
    return "\n\n\n".join(["How the figures are worked out", *parts, _section("Sources", _SOURCES)]) + "\n"


def prose_of(run: Run) -> Sequence[Prose]:
    """The method, one definition for page and pack."""
    return method(run.forecast)


def assumptions_text(run: Run) -> str:
    """One assumption a paragraph."""
    said = [*run.forecast.assumptions, *run.plan.warnings]
    return "\n\n".join(_paragraph(text) for text in said) + "\n" if said else "Nothing was assumed.\n"


def external_description(asked: Asked) -> str:
    """One line for bag-info.txt."""
    survey = f", {asked.survey}" if asked.survey else ""
    return f"Bearing wear forecast of {asked.name}{survey}, and what it rests on. {NOT_A_SCHEME}"


def _cautions(cautions: Iterable[Caution]) -> str:
    return "\n\n".join(_section(one.title, one.sentences) for one in cautions)


def _section(title: str, paragraphs: Iterable[str]) -> str:
    return "\n\n".join([title, *map(_paragraph, paragraphs)])


def _paragraph(text: str) -> str:
    return textwrap.fill(" ".join(text.split()), 96, break_long_words=False, break_on_hyphens=False)
