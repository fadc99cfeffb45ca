"""How a part that came back from a ship is shown beside what was expected."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from wearcast.forms.came_back import CameBack


def look(part: str, known: str, settings: Path | None = None, mapping: Path | None = None) -> CameBack:
    """A part from a ship beside what is known.

    Raises
    ------
    InputRefused
        If nothing of it can be read.
    """
    from wearcast.cli.options import settings_from
    from wearcast.errors import InputRefused
    from wearcast.forms.came_back import came_back
    from wearcast.records.mapping import read_mapping
    from wearcast.records.read import read as read_part
    from wearcast.sources import read

    came = read_part(part, part=True, mapping=None if mapping is None else read_mapping(mapping))
    if came.faults and not len(came.readings):
        raise InputRefused(came.faults)
    return came_back(read(known), came, settings_from(settings))


def show_came_back(made: CameBack, out: Console) -> None:
    """What to ask about first, then what is as expected."""
    from wearcast.cli.decisions import plain_table, say
    from wearcast.cli.show import show_padded, show_query
    from wearcast.forms.came_back_words import headline, name_of, range_of, to_ask, uncompared
    from wearcast.words import mm

    say([headline(made)], out, "")
    if made.refused:
        out.print("\nRefused: these rows cannot be used as they are.\n", style="bold")
        for query in made.refused:
            show_query(query, out)
    asked = [one for one in made.readings if not one.plausible]
    if asked:
        out.print("\nAsk about these before they are entered:", style="bold")
        say((to_ask(one, made) for one in asked), out)
    beside = [one for one in made.queries if len(one.rows) != 1 or one.table != "readings"]
    if beside:
        out.print("\nAsked about several together:\n", style="bold")
        for query in beside:
            show_query(query, out)
    as_expected = [one for one in made.readings if one.plausible and one.expected is not None]
    if as_expected:
        table = plain_table("\nAs expected")
        table.add_column("place")
        for title in ("read [mm]", "expected [mm]"):
            table.add_column(title, justify="right", no_wrap=True)
        for one in as_expected:
            table.add_row(name_of(one, made), mm(one.value_mm), range_of(one.expected))
        show_padded(table, out)
    out.print()
    say(
        [
            *filter(None, [uncompared(made)]),
            "The range expected is the one printed on the form: three standard uncertainties each side, gauge and "
            "reading included. Nothing was written.",
        ],
        out,
        "",
    )
