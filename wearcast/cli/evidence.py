"""`wearcast evidence`: a pack for the surveyor, and the same worked out again."""

from __future__ import annotations

import os
import tempfile
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.options import AsOf, LeaveOut, Quiet, Records, SettingsFile, settings_from
from wearcast.errors import OutputFailed

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    from wearcast.evidence.pack import Packed

PASSPHRASE = "WEARCAST_KEY_PASSPHRASE"

app = typer.Typer(
    name="evidence",
    help="Pack what a forecast of one engine rests on, and work a pack out again.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.command("pack")
def pack(
    records: Records,
    vessel: Annotated[
        str,
        typer.Option("--vessel", metavar="NAME", help="The vessel, as in the records.", show_default=False),
    ],
    engine: Annotated[
        str,
        typer.Option("--engine", metavar="NAME", help="Its engine, as in the records.", show_default=False),
    ],
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE.zip", help="The file to write.", show_default=False)
    ],
    survey: Annotated[
        str,
        typer.Option(
            "--survey", metavar="NAME", help="The survey it is for, printed in the pack.", show_default=False
        ),
    ] = "",
    organization: Annotated[
        str,
        typer.Option("--organization", metavar="NAME", help="Who puts it together.", show_default=False),
    ] = "",
    as_of: AsOf = None,
    sign: Annotated[
        Path | None,
        typer.Option(
            "--sign",
            metavar="KEY.pem",
            help=f"Sign with this Ed25519 private key; its passphrase is asked for, or taken from {PASSPHRASE}.",
            show_default=False,
        ),
    ] = None,
    leave_out_faulty: LeaveOut = False,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """Write the evidence of one engine to a file.

    It holds the records as given, readings used and left out, limits, gauges, settings, forecast, plan, order and
    engine sheet: a BagIt bag (RFC 8493) in a ZIP file, which can be worked out again.
    """
    from wearcast.cli.show import busy, end_of
    from wearcast.clock import run_date
    from wearcast.evidence.asked import Asked
    from wearcast.evidence.given import given_by
    from wearcast.evidence.pack import pack as make_pack

    key = None if sign is None else _key(sign)
    given = given_by(records)
    asked = Asked(
        vessel,
        engine,
        run_date(),
        settings_from(settings),
        as_of,
        survey,
        organization,
        leave_out_faulty,
    )
    printer = _Printer.found(asked.run_date)
    with busy("Forecasting and packing", quiet):
        done = make_pack(given, asked, out, printer, key)
    if not quiet:
        _tell_packed(done, out, printer)
    end_of(done.run.forecast.history)


def _tell_packed(done: Packed, out: Path, printer: _Printer) -> None:
    from wearcast.cli.decisions import say
    from wearcast.cli.show import console
    from wearcast.evidence.words import NOT_A_SCHEME, WHOLE_SET

    typer.echo(f"Wrote {out}: {done.files} files, {done.size / 1e6:.1f} MB, for {done.run.asked.name}.")
    if printer.problem:
        kept = f"The engine sheet is in it as a page and not as PDF, and the pack says so: {printer.problem}"
        say([kept], console(), indent="")
    if done.signer:
        typer.echo(f"Signed; fingerprint of the key {done.signer}.")
    again = f"Work it out again with: wearcast evidence repeat {out}"
    say([WHOLE_SET, NOT_A_SCHEME, again], console(), indent="")


@app.command("repeat")
def repeat(
    file: Annotated[Path, typer.Argument(metavar="FILE.zip", help="An evidence pack.", show_default=False)],
    signed_by: Annotated[
        Path | None,
        typer.Option(
            "--signed-by",
            metavar="PUBLIC.pem",
            help="It must be signed by the holder of this Ed25519 key.",
            show_default=False,
        ),
    ] = None,
    csv_file: Annotated[
        Path | None,
        typer.Option(
            "--csv",
            metavar="FILE",
            help="Write every figure that does not come out as CSV.",
            show_default=False,
        ),
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Work every figure of a pack out again.

    Checks the bag and its signature, recomputes from the records in it at the recorded standard deviations, estimates
    these anew, and names each figure that does not come out. Exit code 1 where anything does not hold.
    """
    from wearcast.cli.evidence_words import show_repeated
    from wearcast.cli.show import busy, console
    from wearcast.door.files import noted
    from wearcast.evidence.compare import differences_csv
    from wearcast.evidence.repeat import repeat as work_out
    from wearcast.evidence.signing import public_key
    from wearcast.outputs import write_whole

    trusted = None if signed_by is None else public_key(_bytes(signed_by), str(signed_by))
    with busy("Working it out again", quiet):
        found = work_out(file, trusted)
    noted(file)
    if csv_file is not None:
        write_whole(csv_file, differences_csv(found.differences))
    if not quiet:
        show_repeated(file, found, console())
    if not found.came_out:
        raise typer.Exit(1)


@dataclass
class _Printer:
    """Prints a page as PDF; keeps what hindered it."""

    chromium: str
    on: date
    problem: str = ""

    @classmethod
    def found(cls, on: date) -> _Printer:
        """A printer, if there is a Chromium on this machine."""
        from wearcast.cli.pdf import find_chromium

        try:
            return cls(find_chromium(), on)
        except OutputFailed as problem:
            return cls("", on, _without_advice(problem))

    def __call__(self, page: str) -> bytes | None:
        """The page as PDF; None where it cannot be printed."""
        from wearcast.cli.pdf import print_page

        if not self.chromium:
            return None
        with tempfile.TemporaryDirectory(prefix="wearcast-") as folder:
            html, pdf = Path(folder) / "sheet.html", Path(folder) / "sheet.pdf"
            html.write_bytes(page.encode("utf-8"))
            try:
                print_page(self.chromium, html, pdf, self.on)
            except OutputFailed as problem:
                self.problem = _without_advice(problem)
                return None
            return pdf.read_bytes()


def _without_advice(problem: OutputFailed) -> str:
    """The first sentence: the rest says that nothing was written and to leave out --pdf, which is not so here."""
    return f"{str(problem).split('. ')[0].rstrip('.')}."


def _key(path: Path) -> Ed25519PrivateKey:
    """The signing key, its passphrase from the environment or asked for."""
    from wearcast.evidence.signing import PassphraseNeeded, private_key

    pem, given = _bytes(path), os.environ.get(PASSPHRASE)
    try:
        return private_key(pem, str(path), given.encode() if given else None)
    except PassphraseNeeded:
        if given:
            raise
    typed = typer.prompt(f"Passphrase of {path}", hide_input=True, err=True)
    return private_key(pem, str(path), str(typed).encode())


def _bytes(path: Path) -> bytes:
    from wearcast.door.bounds import BOUNDS, TurnedAway
    from wearcast.door.files import bytes_of
    from wearcast.errors import WrongUse

    try:
        return bytes_of(path, BOUNDS.settings_bytes)
    except TurnedAway as away:
        raise WrongUse(f"{path}: {away}") from None
