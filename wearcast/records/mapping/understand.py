"""From the layout of a sheet to its readings: what each number is, from all the texts that reach it.

Of each number it is known at the end that it is a reading, that it is passed over and why, or what is missing to
tell: nothing falls between.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from wearcast.quantities import QUANTITIES
from wearcast.records.cells import Raw, text_of
from wearcast.records.mapping.layout import Layout, Pair, Said, Sheet, Table, layout_of
from wearcast.records.mapping.meaning import Meaning, point_of
from wearcast.records.mapping.parts import Part, parts_of, told_by_row
from wearcast.records.sheet_xml import Cell

FROM_LABELS = ("vessel", "engine", "date", "counter_h")
NEEDED = (*FROM_LABELS, "bearing", "position", "quantity", "unit", "half")
GIVEN = (0, 0)
"""Where a fact stands that no cell says."""


@dataclass
class Value:
    """A number of the sheet and what is known of it.

    Attributes
    ----------
    facts : dict of str to tuple
        By column of the readings: what a cell says, and which.
    unsure : dict of str to str
        What keeps it from being a reading: a key and the text concerned.
    """

    cell: Cell
    raw: Raw
    facts: dict[str, tuple[Raw, Cell]] = field(default_factory=dict)
    unsure: dict[str, str] = field(default_factory=dict)

    def text(self, key: str) -> str:
        """A fact as text."""
        return text_of(self.facts[key][0]) if key in self.facts else ""


@dataclass
class SheetRead:
    """What became of the cells of a sheet."""

    sheet: Sheet
    layout: Layout
    values: list[Value] = field(default_factory=list)
    passed: dict[Cell, str] = field(default_factory=dict)
    stray: dict[Cell, tuple[Said, ...]] = field(default_factory=dict)
    texts: dict[Cell, Said] = field(default_factory=dict)
    dials: list[dict[str, tuple[Raw, Cell]]] = field(default_factory=list)

    @property
    def readings(self) -> list[Value]:
        """The numbers of which everything is known."""
        return [value for value in self.values if not value.unsure]


def read_sheet(sheet: Sheet, given: Mapping[str, str]) -> SheetRead:
    """What each number of a sheet is.

    Parameters
    ----------
    given : mapping
        What holds where the sheet does not say it.
    """
    layout = layout_of(sheet)
    read = SheetRead(sheet, layout)
    context = _Context(layout, given)
    for table in layout.tables:
        outer = context.of(table, read)
        for part in parts_of(sheet, table):
            _read_part(read, table, part, outer)
    return read


class _Context:
    """What titles and labels say of the tables, going down the sheet."""

    def __init__(self, layout: Layout, given: Mapping[str, str]) -> None:
        self._sheet_titles: list[Said] = []
        self._titles: list[Said] = []
        self._first = True
        self._pairs: dict[str, list[Pair]] = {}
        self._given = given
        self._below = {pair.label: pair for pair in layout.pairs if pair.label in ("vessel", "engine")}
        everywhere = [*layout.texts, *(said for table in layout.tables for said in table.titles)]
        self._units = [
            said for said in everywhere if said.meaning.known and set(said.meaning.facts) == {"unit"}
        ]

    def of(self, table: Table, read: SheetRead) -> dict[str, tuple[Raw, Cell]]:
        if table.titles and self._first:
            self._sheet_titles, self._titles = table.titles[:-1], table.titles[-1:]
        elif table.titles:
            self._titles = table.titles
        self._first = self._first and not table.titles
        facts: dict[str, tuple[Raw, Cell]] = {key: (text, GIVEN) for key, text in self._given.items() if text}
        if len({said.meaning.facts["unit"] for said in self._units}) == 1:
            facts["unit"] = (self._units[0].meaning.facts["unit"], self._units[0].cell)
            read.texts[self._units[0].cell] = self._units[0]
        self._label_facts(table.pairs, facts, read)
        for said in (*self._sheet_titles, *self._titles):
            read.texts[said.cell] = said
            if said.meaning.known:
                facts |= {key: (text, said.cell) for key, text in said.meaning.facts.items()}
        return facts

    def _label_facts(
        self, pairs: Sequence[Pair], facts: dict[str, tuple[Raw, Cell]], read: SheetRead
    ) -> None:
        """A new ship has new engines, and a new engine or date new hours: what lies below a new label is not kept."""
        anew: dict[str, list[Pair]] = {}
        for pair in pairs:
            anew.setdefault(pair.label, []).append(pair)
        for label, below in (
            ("vessel", FROM_LABELS[1:]),
            ("engine", FROM_LABELS[2:]),
            ("date", ("counter_h",)),
            ("counter_h", ("date",)),
        ):
            if label in anew and _differ([*self._pairs.get(label, [])[:1], *anew[label]]):
                for name in below:
                    self._pairs.pop(name, None)
        self._pairs |= anew
        for label, found in {**{k: [v] for k, v in self._below.items()}, **self._pairs}.items():
            read.texts |= {pair.at.cell: pair.at for pair in found}
            if not _differ(found):
                facts[label] = (found[0].raw, found[0].cell)
            else:
                facts.pop(label, None)


def _differ(pairs: Sequence[Pair]) -> bool:
    return len({text_of(pair.raw).casefold() for pair in pairs}) > 1


def _read_part(read: SheetRead, table: Table, part: Part, outer: Mapping[str, tuple[Raw, Cell]]) -> None:
    sheet = read.sheet
    section: dict[str, tuple[Raw, Cell]] = {}
    before = len(read.values)
    for said in (
        one for column in (*part.labels, *part.places, *part.values) for one in table.heads.get(column, [])
    ):
        read.texts[said.cell] = said
    for row in sorted({*table.rows, *table.sections}):
        if row in table.sections:
            said = table.sections[row]
            section = (
                {key: (text, said.cell) for key, text in said.meaning.facts.items()}
                if said.meaning.known
                else {}
            )
            read.texts |= {said.cell: said} if said.meaning.known else {}
            continue
        beside = [
            (label, (sheet.cells[sheet.covered.get((row, column), (row, column))], (row, column)))
            for column, label in part.labels.items()
            if sheet.covered.get((row, column), (row, column)) in sheet.cells
        ]
        labelled = dict(beside)
        values = [column for column in part.values if sheet.kind((row, column))]
        measured = [column for column in part.values if not _passed_over(table, column)]
        if not measured and {"date", "counter_h"} <= labelled.keys():
            known = {**{k: v for k, v in outer.items() if k in FROM_LABELS}, **labelled}
            read.dials += _dials(table, known, [told for label, told in beside if label == "counter_h"])
        first = len(read.values)
        for column in values:
            _read_cell(read, table, part, (row, column), {**outer, **section, **labelled}, section)
        for label in labelled:
            told = {text_of(raw) for one, (raw, _) in beside if one == label}
            for value in read.values[first:] if label in FROM_LABELS and len(told) > 1 else ():
                value.unsure[label] = " or ".join(sorted(told))
    walls = [value for value in read.values[before:] if value.text("quantity") == "wall"]
    if any("where" in value.facts for value in walls):
        for value in walls:
            if (
                "where" not in value.facts
                and value.facts.get("point", ("", GIVEN))[1] == GIVEN
                and "point" not in outer
            ):
                value.unsure["point"] = ""  # its neighbours tell theirs: it need not be the crown


def _passed_over(table: Table, column: int) -> bool:
    return any(said.meaning.nothing for said in table.heads.get(column, []))


def _dials(
    table: Table, known: Mapping[str, tuple[Raw, Cell]], hours: Sequence[tuple[Raw, Cell]]
) -> list[dict[str, tuple[Raw, Cell]]]:
    """The dials of a row; where there are several, the head of each names its engine."""
    if len(hours) == 1:
        return [dict(known)]
    heads = [table.heads[cell[1]][-1] for _, cell in hours]
    return [
        {**known, "counter_h": told, "engine": (head.text, head.cell)}
        for told, head in zip(hours, heads, strict=True)
    ]


def _read_cell(
    read: SheetRead, table: Table, part: Part, cell: Cell, outer: Mapping[str, tuple[Raw, Cell]],
    section: Mapping[str, tuple[Raw, Cell]],
) -> None:  # fmt: skip
    sheet, (row, column) = read.sheet, cell
    value = Value(cell, sheet.cells.get(cell, ""), dict(outer))
    heads = table.heads.get(column, [])
    told = told_by_row(sheet, table, part, row)
    texts = [*heads, *(one for at, one in told if isinstance(one, Said) and at < column)]
    read.texts |= {said.cell: said for said in (*texts, *part.corner)}
    before = [
        sheet.said((row, at)) for at, label in part.labels.items() if at < column and label in FROM_LABELS
    ]
    passing = next((said for said in (*texts, *before) if said.meaning.nothing), None)
    read.texts |= {passing.cell: passing} if passing else {}
    if passing or sheet.kind(cell) == "mark":
        read.passed[cell] = f'"{passing.text}"' if passing else "nothing measured"
        return
    if sheet.kind(cell) == "text" and not heads and column not in table.over:
        return
    inside = _told_inside(sheet, table, part, value, texts)
    if not heads and column not in table.over and not (inside and len(part.values) == 1):
        read.stray[cell] = tuple(texts)
        return
    if sheet.kind(cell) == "text":
        if sheet.meaning_of(text_of(value.raw)).nothing:
            read.passed[cell] = f'"{text_of(value.raw)}"'
            return
        value.unsure[f"value {text_of(value.raw)}"] = text_of(value.raw)
    _complete(value, inside, section)
    read.values.append(value)


def _told_inside(
    sheet: Sheet, table: Table, part: Part, value: Value, texts: Sequence[Said]
) -> Mapping[str, tuple[Raw, Cell]]:
    """What the heads and the row say of a value; where they contradict one another it is unsure."""
    row, column = value.cell
    inside: dict[str, tuple[Raw, Cell]] = {}
    for said in texts:
        _take(value, inside, said)
    for at, one in told_by_row(sheet, table, part, row):
        if not isinstance(one, Said):
            _put(value, inside, "position", one, sheet.covered.get((row, at), (row, at)))
    for key, at_cell in table.over.get(column, {}).items():
        raw = sheet.place_number(at_cell) if key == "position" else sheet.cells[at_cell]
        _put(value, inside, key, raw, at_cell)
    corner: dict[str, tuple[Raw, Cell]] = {}
    for said in part.corner:
        if not said.meaning.nothing:
            corner |= {key: (text, said.cell) for key, text in said.meaning.facts.items()}
    for key in ("bearing", "quantity", "unit", "half"):
        if key in corner and key in inside and text_of(corner[key][0]) != text_of(inside[key][0]):
            value.unsure[key] = f"{text_of(corner[key][0])} or {text_of(inside[key][0])}"
    value.facts |= corner | inside
    return inside


def _take(value: Value, inside: dict[str, tuple[Raw, Cell]], said: Said) -> None:
    meaning: Meaning = said.meaning
    if meaning.rest or not (meaning.facts or meaning.label):
        if said.text:
            value.unsure[f"text {said.text}"] = said.text
        return
    for key, text in meaning.facts.items():
        _put(value, inside, key, text, said.cell)


def _put(value: Value, inside: dict[str, tuple[Raw, Cell]], key: str, raw: Raw, cell: Cell) -> None:
    before = inside.get(key)
    if before is not None and text_of(before[0]) != text_of(raw):
        if key == "where":
            raw = f"{text_of(before[0])} {text_of(raw)}"
        else:
            value.unsure[key] = f"{text_of(before[0])} or {text_of(raw)}"
    inside[key] = (raw, cell)


def _complete(
    value: Value, inside: Mapping[str, tuple[Raw, Cell]], section: Mapping[str, tuple[Raw, Cell]]
) -> None:
    """What follows from what is said, and what is still missing."""
    facts = value.facts
    where, at = facts.get("where", ("", GIVEN))
    where = text_of(where)
    if "half" not in facts and where in ("top", "bottom") and value.text("quantity") in ("", "wall"):
        facts["half"], where = ("upper" if where == "top" else "lower", at), ""
    if "quantity" not in facts and "half" in facts and _at_least_one(value.raw):
        facts["quantity"] = ("wall", facts["half"][1])  # a number of a half-bearing, too large for a growth
    quantity = QUANTITIES.get(value.text("quantity"))
    if quantity is not None and quantity.half == "none" and "half" in facts:
        if inside.get("half") and inside["half"][1][0] != value.cell[0] and "half" not in section:
            value.unsure["half"] = f"{quantity.title} of one half"
        del facts["half"]
    if quantity is not None and quantity.name == "web_deflection":
        facts.setdefault("bearing", ("big_end", facts["quantity"][1]))
    if quantity is not None:
        point = point_of(quantity.name, where)
        if not where and "point" in facts:
            pass
        elif point is None:
            value.unsure["where" if where else "point"] = where
        else:
            facts["point"] = (point, at)
    for key in NEEDED:
        if key not in facts and not (key == "half" and (quantity is None or quantity.half != "required")):
            value.unsure.setdefault(key, "")


def _at_least_one(raw: Raw) -> bool:
    text = text_of(raw).replace(",", ".")
    try:
        return float(text) >= 1.0
    except ValueError:
        return False
