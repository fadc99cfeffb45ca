"""What the figures rest on: faults, queries, assumptions, tables, method, cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from wearcast import words
from wearcast.decide.eased import NO_CHANGES, ChangesByHand
from wearcast.decide.eased_words import NOTHING, deed_words, effect_words, untried_words
from wearcast.forecasting.run import Forecast
from wearcast.queries import Query
from wearcast.report.background_tables import (
    events_table,
    files_table,
    limits_table,
    settings_table,
    spreads_table,
    windows_table,
)
from wearcast.report.cautions import CAUTIONS
from wearcast.report.gather import EngineRecords
from wearcast.report.method import method
from wearcast.report.view import Background, Entries, Entry, Fact, PlainTable
from wearcast.report.words import spoken


def engine_background(records: EngineRecords, program_version: str) -> Background:
    """Everything behind one engine's figures."""
    forecast, engine = records.forecast, records.engine
    limits = [limit for limit in forecast.history.limits.limits if limit.engine_type == engine.engine_type]
    return _background(
        forecast,
        program_version,
        records.left_out,
        records.queries,
        records.changes,
        tuple(filter(None, (note.about(engine.key) for note in forecast.history.notes))),
        (
            events_table(records.events),
            limits_table(limits),
            windows_table(forecast.windows[engine.key]),
            spreads_table([one for one in forecast.classes if one.key.engine_type == engine.engine_type]),
        ),
    )


def index_background(
    forecast: Forecast,
    program_version: str,
    more: tuple[PlainTable, ...] = (),
    changes: ChangesByHand = NO_CHANGES,
) -> Background:
    """Everything behind all figures of a record set."""
    history = forecast.history
    return _background(
        forecast,
        program_version,
        history.left_out,
        forecast.queries,
        changes,
        forecast.assumptions,
        (*more, limits_table(history.limits.limits), spreads_table(forecast.classes)),
    )


def _background(
    forecast: Forecast,
    program_version: str,
    left_out: Sequence[Query],
    queries: Sequence[Query],
    changes: ChangesByHand,
    assumptions: Sequence[str],
    tables: tuple[PlainTable, ...],
) -> Background:
    return Background(
        left_out=Entries(
            "faults",
            "Faults left out",
            "These rows could not be used and were left out on request. What follows does not know them.",
            tuple(map(entry_of, left_out)),
            "No row was left out.",
        ),
        queries=Entries(
            "queries",
            "Queries",
            "Doubts to settle: correct, withdraw, or measure again and confirm. Nothing is rescaled or "
            "dropped in silence.",
            tuple(map(entry_of, queries)),
            "Nothing is doubted.",
        ),
        eased=Entries(
            "eased",
            "What has been eased",
            "Changes by hand that move a forecast away from action, and what would be without each. A change may "
            "be right; it is told all the same.",
            tuple(_changes_by_hand(changes)),
            NOTHING,
        ),
        assumptions=tuple(words.page_text(words.sentence(text)) for text in assumptions),
        tables=(*tables, settings_table(forecast), files_table(forecast)),
        method=method(forecast),
        cautions=CAUTIONS,
        made=made_facts(forecast, program_version),
    )


def _changes_by_hand(changes: ChangesByHand) -> Iterator[Entry]:
    for one in changes.eased:
        deed = words.page_text(deed_words(one.deed))
        yield Entry(words.capital(one.deed.what), "", deed, words.page_text(effect_words(one)))
    for other in (*changes.untried, *changes.settings):
        yield Entry(words.capital(other.what), "", words.page_text(deed_words(other)), untried_words(other))


def made_facts(forecast: Forecast, program_version: str) -> tuple[Fact, ...]:
    """By what, when and as of when the page was made."""
    history = forecast.history
    as_of = history.as_of.isoformat() if history.as_of else "each engine's last counter reading"
    digest = getattr(history.records, "book_digest", "")
    return (
        Fact("Program", f"wearcast {program_version}"),
        Fact("Run on", history.records.run_date.isoformat()),
        Fact("As of", as_of),
        *([Fact("Record book, SHA-256", digest)] if digest else []),
    )


def entry_of(query: Query) -> Entry:
    """A query as it is listed."""
    return Entry(
        words.capital(words.kind_words(query.kind)),
        query.where,
        spoken(words.sentence(query.text)),
        spoken(query.suggestion),
    )
