"""Put deliberate faults into a copy of the tree and see tests fail: `python tests/support/planted_faults.py [WORD]`.

Each fault is one that a user would be harmed by. It is put in alone, and the tests named beside it are run until the
first failure; a fault that no test notices is told, and the script ends with 1. A word picks the faults that hold it.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Fault:
    """One fault: what is told wrong, where, the line as it is and as it is spoilt, and who should notice."""

    what: str
    file: str
    right: str
    wrong: str
    tests: tuple[str, ...]


FAULTS = (
    Fault(
        "wear counts away from the limit", "lives/limits.py",
        'sign = -1.0 if self.side == "min" else 1.0\n        return sign * (value_mm',
        'sign = 1.0 if self.side == "min" else -1.0\n        return sign * (value_mm', ("tests/lives/test_build.py",),
    ),
    Fault(
        "a reading exactly at its limit is not past it", "lives/limits.py",
        "return value_mm <= self.limit_mm if", "return value_mm < self.limit_mm if",
        ("tests/forecasting/test_odd_cases.py", "-k", "past_limit"),
    ),
    Fault(
        "a counter change is ignored", "lives/dials.py", "shown.dial_h[points], changes)", "shown.dial_h[points], [])",
        ("tests/lives",),
    ),
    Fault(
        "a renewal starts no new life", "lives/shells.py", "if event.kind not in QUANTITIES[quantity].restarts_at:",
        "if True:", ("tests/lives/test_shells.py", "tests/lives/test_build.py"),
    ),
    Fault(
        "an inch is 25 mm", "units.py", '"in": 25.4', '"in": 25.0', ("tests/lives/test_build.py", "tests/records"),
    ),
    Fault(
        "a doubted reading counts", "doubts/doubt.py", "counted[list(found.not_counted)] = False",
        "counted[list(found.not_counted)] = True",
        ("tests/doubts/test_plausibility.py", "tests/doubts/test_duplicates.py"),
    ),
    Fault(
        "late hours stand where early ones should", "wear/crossing.py",
        "levels = np.asarray(probabilities, dtype=float)", "levels = np.asarray(probabilities, dtype=float)[::-1]",
        ("tests/wear/test_crossing.py",),
    ),
    Fault(
        "one shell too few is ordered", "decide/need_dates.py", "len(ordered) - 1e-9)) - 1",
        "len(ordered) - 1e-9)) - 2",
        ("tests/decide/test_need_dates.py",),
    ),
    Fault(
        "what is on order is counted twice", "decide/need_dates.py", "- on_hand - on_order)",
        "- on_hand - 2 * on_order)",
        ("tests/decide/test_need_dates.py", "tests/decide/test_order.py"),
    ),
    Fault(
        "the lead time is forgotten", "decide/parts.py", "return self.lead_time_days + self.forwarding_days",
        "return self.forwarding_days", ("tests/decide/test_order.py",),
    ),
    Fault(
        "twice the accepted risk is accepted", "decide/fewest.py", "np.nan_to_num(chance) - risk - _ROUNDING",
        "np.nan_to_num(chance) - 2 * risk - _ROUNDING", ("tests/decide/test_fewest.py",),
    ),
    Fault(
        "the page shows no contradiction of walls and clearance", "report/what_if.py",
        '"disagree": row.facts.disagree and row.with_doubted is None', '"disagree": False',
        ("tests/report/test_what_if.py", "-k", "disagree"),
    ),
    Fault(
        "names from the records become markup", "report/pages.py", "autoescape=True", "autoescape=False",
        ("tests/report/test_escaping.py",),
    ),
    Fault(
        "any signature will do", "evidence/signing.py", "(trusted or signer).verify(", "(signer).verify(",
        ("tests/evidence/test_signing.py",),
    ),
    Fault(
        "a forecast a tenth off comes out again", "evidence/compare.py", "RELATIVE = 1e-6", "RELATIVE = 1e-1",
        ("tests/evidence/test_compare.py",),
    ),
    Fault(
        "a row of the book may be changed unseen", "book/chain.py", "sha256(digest + row.encode())", "sha256(digest)",
        ("tests/book/test_verify.py",),
    ),
)  # fmt: skip


def noticed(fault: Fault, tree: Path) -> bool:
    """Whether a test fails with the fault in a copy of the tree; the copy is as it was afterwards."""
    spoilt = tree / "wearcast" / fault.file
    text = spoilt.read_text(encoding="utf-8")
    if text.count(fault.right) != 1:
        raise ValueError(
            f"{fault.file}: {fault.right!r} stands there {text.count(fault.right)} times; mend the list"
        )
    spoilt.write_text(text.replace(fault.right, fault.wrong), encoding="utf-8")
    try:
        command = [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-x",
            "-n",
            "0",
            "-p",
            "no:cacheprovider",
            *fault.tests,
        ]
        beside = {**os.environ, "PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": "1"}
        done = subprocess.run(command, cwd=tree, env=beside, capture_output=True, text=True, check=False)
    finally:
        spoilt.write_text(text, encoding="utf-8")
    if done.returncode not in (0, 1):
        raise RuntimeError(f"{fault.what}: the tests did not run\n{done.stdout[-2000:]}")
    return done.returncode == 1


def main(word: str) -> int:
    """Try every fault that holds the word."""
    missed = []
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        shutil.copytree(
            ROOT,
            tree,
            ignore=shutil.ignore_patterns(
                ".*_cache", ".venv", ".git", ".hypothesis", "__pycache__", "reports"
            ),
        )
        for fault in FAULTS:
            if word not in f"{fault.what} {fault.file}":
                continue
            began = time.perf_counter()
            if not noticed(fault, tree):
                missed.append(fault)
            said = "MISSED " if fault in missed else "noticed"
            print(f"{said} {time.perf_counter() - began:5.0f} s  {fault.what}", flush=True)
    return int(bool(missed))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1] if len(sys.argv) > 1 else ""))
