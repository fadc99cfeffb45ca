"""The demo fleet packed, validated by another program, and one last digit of it changed with every manifest rewritten.

    python tests/studies/demo_evidence.py

The tests do the same with a small fleet, and pack and repeat the demo by the guide's own commands. Ends with 0 where
the changed reading and its forecast are both named.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import bagit

SAMPLE = Path(__file__).parents[2] / "sample_data"


def wearcast(folder: Path, *arguments: str) -> int:
    """Exit code of a command called in a folder."""
    return subprocess.run(
        [sys.executable, "-m", "wearcast", *arguments],
        cwd=folder,
        env={**os.environ, "SOURCE_DATE_EPOCH": "1795564800"},
        check=False,
    ).returncode


def main(folder: Path) -> None:
    """Pack, change, repeat."""
    engine = ("--vessel", "Merrow Dain", "--engine", "ME")
    assert wearcast(folder, "evidence", "pack", str(SAMPLE), *engine, "--out", "a.zip") == 0
    with zipfile.ZipFile(folder / "a.zip") as archive:
        archive.extractall(folder)
    bag = folder / "evidence-merrow-dain-me"
    subprocess.run([sys.executable, "-m", "bagit", "--validate", str(bag)], check=True)
    used = (bag / "data" / "readings-used.csv").read_text().splitlines()
    row = next(line.split(",") for line in used if ",Merrow Dain,ME,main,5,lower,crown,wall," in line)
    path = bag / "data" / "input" / "readings.csv"
    lines = path.read_text().splitlines(keepends=True)
    k, value = int(row[1]) - 1, row[11]
    lines[k] = lines[k].replace(value, value[:-1] + str((int(value[-1]) + 1) % 10))
    path.write_bytes("".join(lines).encode())
    bagit.Bag(str(bag)).save(manifests=True)
    with zipfile.ZipFile(folder / "b.zip", "w") as archive:
        for one in sorted(bag.rglob("*")):
            archive.write(one, one.relative_to(folder))
    assert wearcast(folder, "evidence", "repeat", "b.zip", "--csv", "apart.csv") == 1
    apart = (folder / "apart.csv").read_text()
    assert f"data/readings-used.csv,readings row {row[1]},value_text,{value}," in apart
    assert "data/forecast.csv,Merrow Dain ME main 5 lower wall,estimate_mm," in apart


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        main(Path(place))
