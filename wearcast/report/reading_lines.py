"""The readings of a position as recorded, and what became of each."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite

from wearcast import words
from wearcast.quantities import QUANTITIES
from wearcast.report.gather import EngineRecords, Reading
from wearcast.report.strands import uncertainty_um
from wearcast.report.trends import Trend
from wearcast.report.view import CellChange, ReadingGroup, ReadingLine
from wearcast.words import NOT_KNOWN, plain, significant, whole


def reading_groups(
    records: EngineRecords, trends: tuple[Trend, ...], first: Trend | None = None
) -> tuple[ReadingGroup, ...]:
    """Readings by half and quantity, life by life."""
    groups: dict[tuple[str, str], list[int]] = {}
    for trend in trends:
        groups.setdefault((trend.half, trend.quantity), []).extend(trend.lives)
    common = common_file(records, [life for lives in groups.values() for life in lives])
    return tuple(
        ReadingGroup(
            words.capital(words.quantity_words(half, quantity)),
            first is not None and (half, quantity) == (first.half, first.quantity),
            tuple(
                _reading(records, life, reading, common)
                for life in sorted(lives, key=lambda k: records.forecast.history.lives[k].shell_no)
                for reading in records.readings[life]
            ),
        )
        for (half, quantity), lives in groups.items()
    )


def common_file(records: EngineRecords, lives: Iterable[int]) -> str:
    """The file (and sheet) that most rows are of."""
    count: dict[str, int] = {}
    for life in lives:
        for reading in records.readings[life]:
            if reading.row.table == "readings":
                count[_file(reading)] = count.get(_file(reading), 0) + 1
    return max(count, key=lambda name: count[name]) if count else ""


def _file(reading: Reading) -> str:
    sheet = reading.text("sheet")
    return f"{reading.text('file')}, sheet {sheet}" if sheet else reading.text("file")


def _reading(records: EngineRecords, life: int, reading: Reading, common: str) -> ReadingLine:
    row = reading.row
    one = records.forecast.history.series[row.series]
    u_um, assumed = uncertainty_um(reading, one.limit)
    where = _file(reading) or row.table
    ages = bool(QUANTITIES[row.quantity].restarts_at)
    in_file = row.table == "readings" and where == common
    return ReadingLine(
        serving=records.forecast.history.lives[life].in_service,
        date=words.day(None if row.date != row.date else row.date.date()),
        total_h=whole(row.total_h),
        shell_h=whole(row.shell_h) if ages else "",
        shell=str(records.forecast.history.lives[life].shell_no) if ages else "",
        point=words.point_words(row.point),
        value=row.value_text,
        unit=words.unit_words(row.unit),
        old_values=tuple(change.old for change in reading.changes if change.column.casefold() == "value"),
        changes=tuple(
            CellChange(c.column, c.old or "empty", c.new or "empty", c.why) for c in reading.changes
        ),
        u=f"{plain(u_um) if not assumed else significant(u_um)} {'assumed' if assumed else 'stated'}"
        if isfinite(u_um)
        else NOT_KNOWN,
        instrument=reading.text("instrument"),
        by=reading.text("measured_by"),
        state=words.STATE_WORDS.get(row.state, row.state),
        use=_use(records, reading, one.limit is not None),
        queries=tuple(dict.fromkeys(words.kind_words(query.kind) for query in reading.queries))
        + (("measured again and confirmed",) if reading.confirmed else ()),
        remark="; ".join(filter(None, (reading.text("conditions"), reading.text("remark")))),
        row=str(int(row.row)) if in_file else f"{where} {int(row.row)}",
    )


def _use(records: EngineRecords, reading: Reading, limited: bool) -> str:
    row = reading.row
    if not reading.counted:
        return "not counted"
    if reading.in_line and limited:
        return "in the line"
    if row.new_wall:
        return "new"
    running_in_h = records.forecast.settings.thresholds.running_in_h
    if limited and QUANTITIES[row.quantity].runs_in and row.shell_h < running_in_h:
        return "running-in"
    return "shown only"
