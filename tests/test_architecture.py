"""Import direction, and the import time that the command line can afford."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def test_lower_layers_never_import_higher_ones() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "2 kept, 0 broken" in done.stdout


@pytest.mark.parametrize(
    ("command", "unwanted"),
    [
        (["--help"], ["pandas", "numpy", "rich", "statsmodels", "sklearn", "plotly", "scipy"]),
        (["forecast", "--help"], ["pandas", "statsmodels", "sklearn", "plotly", "scipy"]),
        (
            ["forecast", "tests/record_sets/marine_liners", "--quiet"],
            ["statsmodels", "sklearn", "plotly", "scipy.stats", "openpyxl"],
        ),
    ],
)
def test_heavy_packages_are_imported_only_where_they_are_used(
    command: list[str], unwanted: list[str]
) -> None:
    code = (
        "import sys\n"
        f"sys.argv = ['wearcast', *{command!r}]\n"
        "from wearcast.cli.main import run\n"
        "try:\n    run()\nexcept SystemExit:\n    pass\n"
        f"print('LOADED', [name for name in {unwanted!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip().endswith("LOADED []")
