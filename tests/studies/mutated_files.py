"""Mutated files of every kind given to the program: a refusal or a result, never a fault of the program.

    python tests/studies/mutated_files.py --files 100000 --seed 20261128

A sound file of each kind is changed by bytes, by words or, in archives and books, part by part, and given to the
command that reads it. Counted are files that end in the message of a fault of the program, in a traceback, after more
than 10 s of processor or with more than 1 GB of memory; each is kept in `--keep`, and belongs into `tests/door/corpus`.

What is behind the door and costs most, the doubts and the fit, is gone through by one file in `WHOLE_EVERY`: for the
others the command ends where they would begin, with everything read, understood and built.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import hashlib
import io
import os
import random
import re
import resource
import shutil
import sqlite3
import sys
import tempfile
import time
import traceback
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from math import inf
from pathlib import Path
from typing import Any, NoReturn
from unittest import mock

BLAMED = "this is a fault of the program"
MOST_S, MOST_BYTES = 10.0, 1_000_000_000

NASTY = (
    "", " ", "0", "-1", "1", "1e308", "-1e308", "1e-320", "1e999", "nan", "inf", "-inf", "NaN", "Infinity", "9" * 30,
    "9" * 41, "9" * 5000, "18446744073709551616", "2147483648", "0x" + "f" * 100, "1_000", "-0", "٣", "Ⅳ", "\x00",
    "\x1b[2J", "\u202e", "\ufeff", "\N{GRINNING FACE}", "=1+1", "'", '"', "'''", ",", ";", "\t", "\n", "\r", "{", "}",
    "[", "]", "{a}{b}", "../x", "/", "true", "null", "[]", "{}", "[" * 2000, "a." * 2000, "x" * 200_000, "0001-01-01",
    "1950-01-01", "2100-12-31", "9999-12-31", "2020-02-30", "um", "in", "mm", "main", "upper", "renewal",
    "counter_change", "withdraw", "<!DOCTYPE a>", "&a;", "&#0;", "<c/>", "XFD1048576", "ZZZZZZZ1", "2000000000",
    "1e+400", "7,98", "md5", "sha512",
)  # fmt: skip
IN_BOOKS = (
    *NASTY, 2**63 - 1, -(2**63), 0, 10**9, b"\xff\x00", "[]", '{"readings":[]}',
    '{"readings":{"rows":1e400,"first":2}}', '{"readings":{"rows":1000000000,"first":2}}',
)  # fmt: skip
"""Words put in the place of others."""

_WORD = re.compile(r"[\w.+-]+")


@dataclass(frozen=True)
class Kind:
    """A kind of file: its sound bytes, and how the program is asked to read changed ones."""

    name: str
    sound: bytes
    ask: Callable[[bytes, Path], tuple[str, ...]]
    change: Callable[[bytes, random.Random], bytes]
    share: int = 1


WHOLE_EVERY = 97
"""One file in so many goes through the whole command, doubts and fit included."""


# --- changing


def by_bytes(data: bytes, rng: random.Random) -> bytes:
    """A few bytes changed, taken out, put in, repeated or cut off."""
    made = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 5))):
        at = rng.randrange(len(made) + 1)
        end = min(len(made), at + rng.choice((1, 2, 8, 100)))
        match rng.randrange(6):
            case 0:
                made[at:end] = bytes(rng.randrange(256) for _ in range(end - at))
            case 1:
                del made[at:end]
            case 2:
                made[at:at] = rng.choice(NASTY).encode("utf-8", "surrogatepass")
            case 3:
                made[at:at] = bytes(made[at:end]) * rng.choice((1, 3, 10_000))
            case 4:
                del made[at:]
            case 5:
                made[at:at] = rng.randbytes(rng.choice((1, 16)))
    return bytes(made)


def by_words(data: bytes, rng: random.Random) -> bytes:
    """A few words of a text changed for nasty ones, or for others of the same text."""
    text = data.decode("utf-8", "replace")
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        words = list(_WORD.finditer(text))
        if not words:
            break
        found = rng.choice(words)
        other = rng.choice(words)[0] if rng.random() < 0.2 else rng.choice(NASTY)
        if rng.random() < 0.1:
            other = found[0] + other
        text = text[: found.start()] + other + text[found.end() :]
    return text.encode("utf-8", "replace")


def by_either(data: bytes, rng: random.Random) -> bytes:
    """By words most of the time."""
    return (by_words if rng.random() < 0.7 else by_bytes)(data, rng)


def by_parts(
    data: bytes, rng: random.Random, again: Callable[[dict[str, bytes]], None] | None = None
) -> bytes:
    """A part of a ZIP file changed (and its checksums made again), or the ZIP file itself."""
    if rng.random() < 0.15:
        return by_bytes(data, rng)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = {one.filename: archive.read(one) for one in archive.infolist()}
    name = rng.choice(sorted(parts))
    if name.endswith(".book"):
        parts[name] = by_sql(parts[name], rng)
    elif rng.random() < 0.03:
        del parts[name]
    else:
        parts[name] = by_either(parts[name], rng)
    if again is not None and rng.random() < 0.8:
        again(parts)
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, content in parts.items():
            archive.writestr(part, content)
    return made.getvalue()


def manifests_again(parts: dict[str, bytes]) -> None:
    """The manifests of a bag as its files now are, so that what stands behind them is reached."""
    root = next(iter(parts)).split("/")[0]
    for manifest, inside in (("manifest-sha256.txt", True), ("tagmanifest-sha256.txt", False)):
        lines = [
            f"{hashlib.sha256(content).hexdigest()}  {name.removeprefix(f'{root}/')}\n"
            for name, content in sorted(parts.items())
            if name.startswith(f"{root}/data/") == inside and "tagmanifest" not in name
        ]
        parts[f"{root}/{manifest}"] = "".join(lines).encode()


def by_sql(data: bytes, rng: random.Random) -> bytes:
    """A value of a book changed behind its guards, or its bytes."""
    if rng.random() < 0.4:
        return by_bytes(data, rng)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.book"
        path.write_bytes(data)
        with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as book:
            book.execute("PRAGMA synchronous = OFF")
            guards = [row[0] for row in book.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")]
            for guard in guards:
                book.execute(f"DROP TRIGGER {guard}")
            tables = [row[0] for row in book.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            table = rng.choice(tables)
            columns = [row[1] for row in book.execute(f"PRAGMA table_info({table})")]
            column = rng.choice(columns)
            value = rng.choice(IN_BOOKS)
            with contextlib.suppress(sqlite3.Error, OverflowError, UnicodeError):
                book.execute("PRAGMA ignore_check_constraints = ON")
                where = f"rowid = {rng.randrange(1, 9)}"
                book.execute(f"UPDATE {table} SET {column} = ? WHERE {where}", (value,))
            book.execute("PRAGMA journal_mode = DELETE")
        return path.read_bytes()


# --- sound files


SOUND = {
    "readings": "vessel,engine,bearing,position,half,quantity,value,unit,date,counter_h,state,u_um,instrument,remark\n"
    + "".join(
        f"Alder,ME,main,{p},lower,wall,{8.0 - 0.004 * k - 0.001 * p:.3f},mm,{2016 + 2 * k}-03-0{p},{9000 * k + 500},,5,"
        'MC-1,"a, b"\n'
        for p in (1, 2, 3)
        for k in range(3)
    ),
    "engines": """vessel,engine,engine_type,numbered_from,hours_per_year,hours_per_year_sd,mains,throws,in_service
Alder,ME,Bramble Six,flywheel,5000,400,7,6,2015-01-01
""",
    "limits": "bearing,engine_type,half,quantity,shell_size,new_min,new_max,limit,limit_side,unit,overlay_um,"
    "limit_source\nmain,Bramble Six,lower,wall,standard,7.985,8.010,7.900,min,mm,30,Manual\n",
    "events": """vessel,engine,bearing,position,half,date,counter_h,event,shell_size,finding
Alder,ME,main,1,lower,2015-01-01,0,fitted,standard,
Alder,ME,main,2,lower,2015-01-01,0,fitted,standard,
Alder,ME,main,3,lower,2015-01-01,0,fitted,standard,
Alder,ME,main,1,lower,2018-03-01,9500,finding,,scored
""",
    "windows": "vessel,date,name,kind,max_openings\nAlder,2022-05-01,dock,docking,4\n",
    "spares": """engine_type,bearing,half,shell_size,on_hand,on_order,lead_time_days,margin_days,unit_cost,currency
Bramble Six,main,lower,standard,1,0,90,30,900,EUR
""",
    "gauges": """instrument,kind,certificate,calibrated_on,due_on,by,u_um
MC-1,ball micrometer,C 12,2015-06-01,2019-06-01,Invented Metrology,4
""",
    "corrections": """table,row,column,old,new,action,reason,by,date
readings,2,value,7.999,7.998,replace,read again,A. Bell,2021-01-01
""",
}
"""A small record set with every table."""

MAPPING = """mapping = 2
decimal = "."
date_order = "day month year"
marks = ["-"]
[given]
engine = "ME"
[texts]
"Ship" = "vessel"
"Opened" = "date"
"Hours" = "counter_h"
"Main bearing {position}" = "main"
"lower (mm)" = "lower wall mm"
"upper (mm)" = "upper wall mm"
"Average" = "nothing"
"""
SHEET = """Ship,Alder,Opened,01.06.2021
Hours,30000,,
,upper (mm),lower (mm),Average
Main bearing 1,7.991,7.990,7.9905
Main bearing 2,-,7.988,
Main bearing 3,7.993,7.987,7.990
"""
SETTINGS = """service = 0.9
risk = 0.2
[thresholds]
doubted_sd = 5.0
[priors]
design_life_kh = 60.0
"""


SHARES = {
    "readings": 12, "engines": 4, "limits": 5, "events": 8, "windows": 4, "spares": 4, "gauges": 3, "corrections": 6,
    "records.xlsx": 4, "form.xlsx": 6, "mapping.toml": 15, "sheet.csv": 8, "draft.csv": 6, "draft.xlsx": 4,
    "corrected.csv": 3, "settings.toml": 3, "changed.book": 3, "verified.book": 3,
}  # fmt: skip
"""How many files of a kind in a round; the dear ones seldom."""


def kinds(folder: Path) -> list[Kind]:
    """Every kind of file, each with its sound bytes."""
    from wearcast.book.add import add
    from wearcast.book.create import create

    sound = {name: text.encode() for name, text in SOUND.items()}
    records = folder / "records"
    records.mkdir()
    for name, data in sound.items():
        (records / f"{name}.csv").write_bytes(data)
    (folder / "sheet.csv").write_text(SHEET, encoding="utf-8")
    (folder / "mapping.toml").write_text(MAPPING, encoding="utf-8")
    book = folder / "sound.book"
    create(book)
    shutil.copy(book, folder / "empty.book")
    add(book, records, "A. Bell")
    with contextlib.closing(sqlite3.connect(book)) as whole:
        whole.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    (folder / "quick.toml").write_text("follow_changes = false\n", encoding="utf-8")
    engine = ("--settings", str(folder / "quick.toml"), "--vessel", "Alder", "--engine", "ME", "--out")
    run("form", str(book), "--opening", "2024-05-01", *engine[2:], str(folder / "form.xlsx"))
    run("evidence", "pack", str(records), *engine, str(folder / "pack.zip"))
    run("evidence", "pack", str(book), *engine, str(folder / "book.zip"))
    found = [
        Kind(f"{name}.csv", data, _in_folder(records, name), by_either, SHARES[name])
        for name, data in sound.items()
    ]

    def given(name: str, data: bytes, change: Any, *before: str, after: tuple[str, ...] = ()) -> Kind:
        def ask(changed: bytes, place: Path) -> tuple[str, ...]:
            (place / name).write_bytes(changed)
            shutil.copy(book, place / "to.book")
            return (*(part.format(place=place, file=place / name) for part in (*before, "{file}", *after)),)

        return Kind(name, data, ask, change, SHARES.get(name, 1))

    def packs(data: bytes, rng: random.Random) -> bytes:
        return by_parts(data, rng, manifests_again)

    other = sound["corrections"].replace(b"2,value,7.999,7.998", b"3,value,7.995,7.994")
    return [
        *found,
        given("records.xlsx", workbook(sound), by_parts, "check"),
        given("form.xlsx", (folder / "form.xlsx").read_bytes(), by_parts, "book", "add", "{place}/to.book",
              after=("--by", "A. Bell")),
        given("mapping.toml", MAPPING.encode(), by_either, "book", "add", "{place}/to.book", str(folder / "sheet.csv"),
              "--by", "B", "--mapping"),
        given("sheet.csv", SHEET.encode(), by_either, "book", "add", "{place}/to.book",
              after=("--by", "B", "--mapping", str(folder / "mapping.toml"))),
        given("draft.csv", SHEET.encode(), by_either, "mapping", "draft"),
        given("draft.xlsx", workbook(sound), by_parts, "mapping", "draft"),
        given("corrected.csv", other, by_either,
              "book", "correct", "{place}/to.book", after=("--by", "B")),
        given("settings.toml", SETTINGS.encode(), by_either, "forecast", str(records), "--settings"),
        given("changed.book", book.read_bytes(), by_sql, "check"),
        given("verified.book", book.read_bytes(), by_sql, "book", "verify"),
        given("pack.zip", (folder / "pack.zip").read_bytes(), packs, "evidence", "repeat"),
        given("book.zip", (folder / "book.zip").read_bytes(), packs, "evidence", "repeat"),
    ]  # fmt: skip


WHOLE = {"windows": "plan", "spares": "order", "engines": "compare", "limits": "brief"}
"""Commands that a changed table of a folder is given to; the others to the forecast."""


def _in_folder(records: Path, name: str) -> Callable[[bytes, Path], tuple[str, ...]]:
    def ask(changed: bytes, place: Path) -> tuple[str, ...]:
        shutil.copytree(records, place / "records")
        (place / "records" / f"{name}.csv").write_bytes(changed)
        if zlib.crc32(changed) % 4 == 0:
            shutil.copy(records.parent / "empty.book", place / "to.book")
            return ("book", "add", str(place / "to.book"), str(place / "records"), "--by", "B")
        return (WHOLE.get(name, "forecast"), str(place / "records"))

    return ask


def workbook(sound: dict[str, bytes]) -> bytes:
    """The record set as a workbook, numbers as numbers, with a formula and merged cells beside."""
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, data in sound.items():
        sheet = book.create_sheet(name)
        for row in csv.reader(io.StringIO(data.decode())):
            sheet.append([float(cell) if re.fullmatch(r"-?\d+\.\d+", cell) else cell for cell in row])
    book["readings"]["P3"] = "=1+1"
    book["readings"].merge_cells("R1:S2")
    made = io.BytesIO()
    book.save(made)
    return made.getvalue()


# --- asking


def run(*arguments: str, whole: bool = True) -> str:
    """Call the command line in this process; what it says on both streams, or a traceback."""
    from wearcast.cli import main
    from wearcast.forecasting import run as forecasting

    said = io.StringIO()
    stopped = forecasting.doubt if whole else _enough
    with (
        mock.patch.object(sys, "argv", ["wearcast", *arguments]),
        mock.patch.object(main, "app", _command()),
        mock.patch.object(forecasting, "doubt", stopped),
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(said),
    ):
        try:
            main.run()
        except SystemExit:
            pass
        except BaseException:
            said.write(traceback.format_exc())
    return said.getvalue()


@cache
def _command() -> Callable[[], Any]:
    """The commands, put together once: this takes longer than many a file."""
    from typer.main import get_command

    from wearcast.cli.main import app

    return get_command(app)


def _enough(_: object) -> NoReturn:
    from wearcast.errors import WrongUse

    raise WrongUse("the file went through the door.")


@dataclass
class Found:
    """What came of the files: how many of each kind, how many refused, and what went wrong."""

    files: Counter[str] = field(default_factory=Counter)
    bad: list[tuple[str, str, bytes]] = field(default_factory=list)
    slowest_s: float = 0.0


def trouble_with(kind: Kind, data: bytes, whole: bool = True) -> tuple[str, float]:
    """What is wrong with how a file was read, empty if nothing; seconds of processor."""
    peak_before = _peak()
    with tempfile.TemporaryDirectory() as place:
        arguments = kind.ask(data, Path(place))
        began = time.process_time()
        said = run(*arguments, whole=whole)
        spent = time.process_time() - began
    if BLAMED in said or "Traceback" in said:
        at = max(said.find(BLAMED), 0)
        return said[at : at + 3000], spent
    if spent > MOST_S:
        return f"took {spent:.1f} s", spent
    if (peak := _peak()) > max(MOST_BYTES, peak_before):
        return f"took {peak / 1e9:.1f} GB", spent
    return "", spent


def _peak() -> int:
    """Bytes of memory that this process took at most so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def in_turn(every: list[Kind]) -> list[Kind]:
    """A round of all kinds, each as often as its share, the dear and the cheap mixed."""
    placed = [((k + 0.5) / one.share, n, one) for n, one in enumerate(every) for k in range(one.share)]
    return [one for _, _, one in sorted(placed, key=lambda place: place[:2])]


def study(
    every: list[Kind], numbers: range, seed: int, keep: Path | None = None, until: float = inf
) -> Found:
    """Give files of these numbers to the program, each from a seed of its own."""
    turn, found = in_turn(every), Found()
    for number in numbers:
        if time.time() > until:
            break
        kind = turn[number % len(turn)]
        data = kind.change(kind.sound, random.Random(f"{seed}:{number}"))
        trouble, spent = trouble_with(kind, data, number % WHOLE_EVERY == 0)
        found.files[kind.name] += 1
        found.slowest_s = max(found.slowest_s, spent)
        if trouble:
            found.bad.append((kind.name, trouble, data))
            if keep is not None:
                keep.mkdir(parents=True, exist_ok=True)
                (keep / f"{seed}-{number}-{kind.name}").write_bytes(data)
                print(f"{kind.name} {number}: {trouble[:1500]}", file=sys.stderr, flush=True)
    return found


def main() -> None:
    """Run the study and print its table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--files", type=int, default=5_000)
    parser.add_argument("--first", type=int, default=0, help="the number to begin with")
    parser.add_argument("--seed", type=int, default=20261128)
    parser.add_argument("--only", default="")
    parser.add_argument("--keep", type=Path, default=Path("mutated_files"))
    parser.add_argument("--hours", type=float, default=inf, help="end after so many, whatever was reached")
    asked = parser.parse_args()
    os.environ["SOURCE_DATE_EPOCH"] = "1735689600"
    os.environ.pop("WEARCAST_TRACEBACK", None)
    numbers = range(asked.first, asked.first + asked.files)
    with tempfile.TemporaryDirectory() as folder:
        every = [kind for kind in kinds(Path(folder)) if asked.only in kind.name]
        found = study(every, numbers, asked.seed, asked.keep, time.time() + 3600 * asked.hours)
    bad = Counter(name for name, _, _ in found.bad)
    print("| file | given | fault of the program, over 10 s or over 1 GB |\n|---|---|---|")
    for name, number in found.files.items():
        print(f"| {name} | {number} | {bad[name]} |")
    print(f"| all | {sum(found.files.values())} | {len(found.bad)} |")
    print(f"Seed {asked.seed}; slowest {found.slowest_s:.1f} s of processor, largest {_peak() / 1e9:.2f} GB.")


if __name__ == "__main__":
    main()
