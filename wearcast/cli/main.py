"""The `wearcast` command: what it is called with, and how its faults are told."""

from __future__ import annotations

import io
import os
import re
import sys
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from wearcast.cli import (
    backtest,
    book,
    brief,
    check,
    compare,
    demo,
    evidence,
    forecast,
    form,
    guide,
    mapping,
    moved,
    order,
    plan,
    report,
)
from wearcast.clock import run_date
from wearcast.door.files import READ
from wearcast.errors import InputRefused, WearcastError, WrongUse
from wearcast.version import __version__

_PASSWORD = re.compile(r"^\s*\w[\w+]*://[^/@]*:[^/@]+@|\bpass(?:word|wd)?\s*=", re.IGNORECASE)

app = typer.Typer(
    name="wearcast",
    help="Wear rates and hours to the replacement limit for bearing shells of sister engines.\n\n"
    "Readings suggest; maker's instructions, class and licensed engineers decide. "
    "No forecast extends a limit or an interval.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # plain help is read sooner, and costs a third of the start-up time
    context_settings={"help_option_names": ["-h", "--help"]},
)

app.command("demo", short_help="Write the records of four invented sister engines.")(demo.demo)
app.command("brief", short_help="Say on one screen what must be done first.")(brief.brief)
app.command("moved", short_help="Say what moved in the forecast since then, and why.")(moved.moved)
app.command("check", short_help="List what is refused and what is doubted.")(check.check)
app.command("forecast", short_help="Forecast the running hours to the replacement limit.")(forecast.forecast)
app.command("backtest", short_help="Show how far past forecasts were right.")(backtest.backtest)
app.command("plan", short_help="Say which bearings to open at which window.")(plan.plan)
app.command("order", short_help="Say which shells to order, how many and by when.")(order.order)
app.command("compare", short_help="Compare the wear rates of sister engines.")(compare.compare)
app.command("report", short_help="Write pages that open without a network.")(report.report)
app.command("form", short_help="Write a form for the ship to fill in.")(form.form)
app.add_typer(book.app, name="book", short_help="Keep readings for years, nothing overwritten.")
app.add_typer(mapping.app, name="mapping", short_help="Say how another's sheet is to be read.")
app.add_typer(
    evidence.app, name="evidence", short_help="Pack what a forecast rests on; work a pack out again."
)
app.command("guide")(guide.guide)


def _show_version(asked: bool) -> None:
    if asked:
        typer.echo(f"wearcast {__version__}")
        raise typer.Exit


@app.callback()
def _main(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Print the version and stop."),
    ] = False,
) -> None:
    """Options of the program as a whole."""
    del version
    READ.clear()


def run() -> None:
    """Run the command line; every fault becomes a message and an exit code, never a traceback."""
    # Many small matrices: threads of the linear algebra would only wait for one another.
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    _open_streams()
    try:
        _warn_of_passwords()
        run_date()  # a stamp that is no date is told here, before a library trips over it
        try:
            app()
        finally:
            sys.stdout.flush()
    except InputRefused as refused:
        from wearcast.cli.show import show_refusals

        show_refusals(refused.faults)
        sys.exit(1)
    except WearcastError as problem:
        _say(str(problem))
        sys.exit(2 if isinstance(problem, WrongUse) else 1)
    except BrokenPipeError:
        _no_more_output()
        sys.exit(1)
    except OSError as problem:
        _no_more_output()
        place = f"{problem.filename}: " if problem.filename else ""
        _say(
            f"{place}{problem.strerror or problem}. What was to be written is not whole: make room, or see the rights."
        )
        sys.exit(1)
    except MemoryError:
        _say("the memory of this machine does not suffice. Nothing was written. Give it less at once.")
        sys.exit(1)
    except Exception as fault:
        if os.environ.get("WEARCAST_TRACEBACK"):
            raise
        _say(
            f"this is a fault of the program, not of your records ({type(fault).__name__}: {fault}). "
            "Nothing was written. Set WEARCAST_TRACEBACK=1 and run again for the details to report."
        )
        sys.exit(1)


def _open_streams() -> None:
    """Streams that can be written to, whatever a name in a file holds; a closed one is told or passed over."""
    nowhere = Path(os.devnull)
    if sys.stderr is None:
        sys.stderr = nowhere.open("w", encoding="utf-8")
    if sys.stdout is None:
        sys.stdout = nowhere.open("w", encoding="utf-8")
        _say("the standard output is closed; what would be shown is lost.")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _no_more_output() -> None:
    """Python writes out what is left at its end, and would complain again."""
    with suppress(OSError, ValueError, io.UnsupportedOperation):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _say(words: str) -> None:
    print(f"wearcast: {words}", file=sys.stderr)


def _warn_of_passwords() -> None:
    """Every user of a machine can list the arguments of every process."""
    if any(_PASSWORD.search(argument) for argument in sys.argv):
        _say(
            "Others on this machine can see the password in the address. Leave it out, and keep it in PGPASSWORD or "
            ".pgpass."
        )


if __name__ == "__main__":
    run()
