"""Pages of a forecast: one an engine, and an index."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from wearcast import words
from wearcast.backtesting.run import Backtest
from wearcast.decide.eased import NO_CHANGES, ChangesByHand, changes_by_hand
from wearcast.forecasting.run import Forecast
from wearcast.forecasting.words import UNCOUNTED_DAYS, days_since_in_words
from wearcast.frames import rows_of
from wearcast.lives.history import EngineAt, EngineKey
from wearcast.lives.only import Only
from wearcast.progress import counting
from wearcast.report.background import engine_background, index_background, made_facts
from wearcast.report.cautions import SUGGEST, UNSEEN
from wearcast.report.companion_tables import side_by_side
from wearcast.report.companions import Companions
from wearcast.report.decided import Decided
from wearcast.report.decisions import decision_tables
from wearcast.report.first_lines import FirstLine, first_lines
from wearcast.report.fleet_first import decided_view
from wearcast.report.fleet_grids import SistersSeen
from wearcast.report.forecast_lines import forecast_lines, forecast_table
from wearcast.report.gather import EngineRecords, cut_by_engine
from wearcast.report.linked import Ways
from wearcast.report.pages import engine_page, index_page
from wearcast.report.positions import Place, places_of, sections
from wearcast.report.query_lines import query_lines
from wearcast.report.shaft_order import line_of
from wearcast.report.shaft_view import shaft_view
from wearcast.report.trust import trust_section
from wearcast.report.view import (
    EngineLink,
    EngineSheet,
    Fact,
    FleetGrid,
    ForecastTable,
    IndexSheet,
    PlainTable,
)
from wearcast.report.what_if import WhatIfSource
from wearcast.report.what_if_form import what_if_view
from wearcast.report.words import file_names
from wearcast.words import NOT_KNOWN, whole

NO_PAGE = "no counter reading"

EVERYTHING = Only()


def render(
    forecast: Forecast,
    program_version: str,
    more: tuple[PlainTable, ...] = (),
    backtest: Backtest | None = None,
    what_if: WhatIfSource | None = None,
    decided: Decided | None = None,
) -> dict[str, str]:
    """Every page of a forecast as HTML text by file name, ``index.html`` first; see `render_each`."""
    pages = dict(render_each(forecast, program_version, more, backtest, what_if, decided))
    return {"index.html": pages.pop("index.html"), **pages}


def render_each(
    forecast: Forecast,
    program_version: str,
    more: tuple[PlainTable, ...] = (),
    backtest: Backtest | None = None,
    what_if: WhatIfSource | None = None,
    decided: Decided | None = None,
    only: Only = EVERYTHING,
) -> Iterator[tuple[str, str]]:
    """Every page of a forecast, one at a time: each engine's, and last the index that gathers them.

    The same forecast gives the same bytes: no clock, no random number and no file is asked.

    Parameters
    ----------
    forecast : Forecast
        From `wearcast.forecast`.
    program_version : str
        Printed on every page.
    more : tuple of PlainTable
        Further tables for the index.
    backtest : Backtest, optional
        Of the same records: how far to trust the forecast, a section of the index.
    what_if : WhatIfSource, optional
        Of the same forecast: a form on every page to try other values.
    decided : Decided, optional
        Of the same forecast: what must be done first, on every page, and what to open and order on the index.
    only : Only
        What alone gets pages and a place on the index; all if empty. The forecast is that of all engines still.

    Yields
    ------
    tuple of str
        File name and HTML text.
    """
    changes = changes_by_hand(forecast)
    every = cut_by_engine(forecast, changes)
    names = file_names(records.engine.key for records in every)
    engines = tuple(one for one in every if not only or only.holds(*one.engine.key))
    shown = {one.engine.key: names[one.engine.key] for one in engines}
    companions, fleet = Companions(forecast), SistersSeen()
    for records in counting("page of engine", engines):
        key, places = records.engine.key, places_of(records)
        fleet.add(records, shown[key], places)
        page = engine_sheet(records, shown[key], program_version, companions, places)
        form = what_if_view(what_if, [key]) if what_if else None
        brief = _brief_of(decided, records, shown) if decided and records.table_rows else ()
        yield shown[key], engine_page(replace(page, what_if=form, brief=brief))
    mine = decided.narrowed(only) if decided else None
    sheet = index_sheet(
        forecast, engines, shown, program_version, more, backtest, fleet.grids(), mine, only, changes
    )
    if only:
        sheet = _restricted(sheet, len(every))
    form = what_if_view(what_if, list(shown) if only else None) if what_if else None
    yield "index.html", index_page(replace(sheet, what_if=form))


def _brief_of(decided: Decided, records: EngineRecords, names: dict[EngineKey, str]) -> tuple[FirstLine, ...]:
    """What must be done first on one engine."""
    key = records.engine.key
    only = Only(*key)
    return first_lines(decided.narrowed(only).brief(only), Ways(names, key), sections=False)


def _restricted(sheet: IndexSheet, every: int) -> IndexSheet:
    """An index of some engines, which says so."""
    shown = tuple(one for one in sheet.engines if one.page)
    told = f"{len(shown)} of {every} engines, as asked for; the forecast rests on all of them"
    return replace(sheet, engines=shown, facts=(*sheet.facts, Fact("Shown", told)))


def engine_sheet(
    records: EngineRecords,
    file_name: str,
    program_version: str,
    companions: Companions | None = None,
    places: tuple[Place, ...] = (),
) -> EngineSheet:
    """The page of one engine as plain values; what was worked out before need not be again."""
    engine = records.engine
    companions = companions or Companions(records.forecast)
    places = places or places_of(records)
    return EngineSheet(
        file_name=file_name,
        title=f"{engine.vessel} {engine.engine}",
        subtitle=engine.engine_type,
        unseen=UNSEEN,
        suggest=SUGGEST,
        facts=_facts(engine) + made_facts(records.forecast, program_version)[:2],
        since=_since(records),
        shaft=shaft_view(records, places, companions),
        forecast=forecast_table(records),
        queries=query_lines(records.forecast, records.queries, Ways({}, engine.key)),
        ends=line_of(engine.facts, ()).ends,
        positions=sections(records, places),
        beside=side_by_side(companions, engine.key),
        background=engine_background(records, program_version),
    )


def index_sheet(
    forecast: Forecast,
    engines: tuple[EngineRecords, ...],
    names: dict[tuple[str, str], str],
    program_version: str,
    more: tuple[PlainTable, ...] = (),
    backtest: Backtest | None = None,
    sisters: tuple[FleetGrid, ...] = (),
    decided: Decided | None = None,
    only: Only = EVERYTHING,
    changes: ChangesByHand = NO_CHANGES,
) -> IndexSheet:
    """The index as plain values; `decided` is of what alone is shown."""
    lines = tuple(line for records in engines for line in forecast_lines(records, names[records.engine.key]))
    ways = Ways(names)
    stood = decided.plan.stand.forecast if decided else forecast
    queries = tuple(one for one in stood.queries if only.holds(one.vessel, one.engine))
    return IndexSheet(
        title="Bearing wear, engine by engine",
        unseen=UNSEEN,
        suggest=SUGGEST,
        facts=made_facts(forecast, program_version),
        engines=tuple(_link(records.engine, names[records.engine.key]) for records in engines)
        + _without_page(forecast),
        brief=first_lines(decided.brief(only), ways, sections=True) if decided else (),
        decided=decided_view(decided, ways) if decided else None,
        queries=query_lines(stood, queries, ways),
        sisters=sisters,
        forecast=ForecastTable(
            "All positions: hours and dates to the replacement limit, counted from each engine's as-of date",
            tuple(sorted(lines, key=lambda line: line.by[0])),
            "" if lines else "No shell has both readings and a limit.",
        ),
        trust=trust_section(backtest) if backtest else None,
        background=index_background(
            forecast,
            program_version,
            (*(decision_tables(decided) if decided else ()), *more),
            changes,
        ),
    )


def _facts(engine: EngineAt) -> tuple[Fact, ...]:
    facts = [
        Fact("As of", engine.as_of.isoformat()),
        Fact("Running hours", _hours(engine)),
        Fact("Hours per year", _use(engine)),
        Fact("No. 1 is at the", words.END_WORDS.get(str(engine.facts["numbered_from"]), NOT_KNOWN)),
    ]
    duty = engine.facts.get("duty")
    return (*facts, *([Fact("Duty", duty)] if isinstance(duty, str) and duty else []))


def _hours(engine: EngineAt) -> str:
    if engine.as_of_sd_h <= 0:
        return f"{whole(engine.as_of_h)} h"
    return (
        f"about {whole(round(engine.as_of_h, -1))} h, carried forward from {whole(engine.last_counter_h)} h "
        f"on {engine.last_counter_on}"
    )


def _since(records: EngineRecords) -> str:
    """What has probably been run between the as-of moment and the run, where that is a month and more."""
    engine, run_date = records.engine, records.forecast.history.records.run_date
    if (run_date - engine.as_of).days <= UNCOUNTED_DAYS:
        return ""
    since = days_since_in_words(engine, run_date)
    return words.page_text(f"{since} Hours below count from {engine.as_of}.")


def _use(engine: EngineAt) -> str:
    """Yearly use and its spread with where each comes from: `6 100 ± 500 h a year, as typed in`."""
    use = engine.use
    if not use.known:
        return f"{use.text}: no calendar dates"
    mean, spread = (
        "as typed in" if source and source.kind == "stated" else str(source)
        for source in (use.mean_from, use.spread_from)
    )
    told = mean if mean == spread else f"{mean}; the spread {spread}"
    return words.tied(f"{whole(use.hours_per_year)} ± {whole(use.sd_h)} h a year, {told}")


def _link(engine: EngineAt, page: str) -> EngineLink:
    return EngineLink(
        page=page,
        vessel=engine.vessel,
        engine=engine.engine,
        engine_type=engine.engine_type,
        as_of=engine.as_of.isoformat(),
        running_h=whole(engine.as_of_h),
        use=_use(engine),
    )


def _without_page(forecast: Forecast) -> tuple[EngineLink, ...]:
    """Engines of the records that no counter reading places in time."""
    history = forecast.history
    return tuple(
        EngineLink("", row.vessel, row.engine, row.engine_type, NO_PAGE, NOT_KNOWN, NOT_KNOWN)
        for row in rows_of(history.records.engines)
        if (row.vessel, row.engine) not in history.engines
    )
