"""Import direction, and the import time that the command line can afford."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import grimp
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


def circles(imports: Mapping[str, set[str]]) -> Iterator[str]:
    """Modules that import one another in a circle."""
    try:
        TopologicalSorter(imports).prepare()
    except CycleError as found:
        yield " <- ".join(found.args[1])


def test_no_circle_of_imports_passes_inside_a_room_either() -> None:
    """Nor one that only a type checker sees: such modules can only be understood together."""
    graph = grimp.build_graph("wearcast", exclude_type_checking_imports=False, cache_dir=None)
    # The packages themselves only pass on what is theirs.
    imports = {
        name: {other for other in graph.find_modules_directly_imported_by(name) if other in graph.modules}
        for name in graph.modules - {"wearcast"}
    }
    assert list(circles(imports)) == []
    assert list(circles({"a": {"b"}, "b": {"c"}, "c": {"a"}})) != []


def test_no_package_hides_a_module_behind_a_name_of_its_own() -> None:
    """`from wearcast.wear.pooled import estimate` must not be a function here and a module there."""
    hidden = [
        str(module.relative_to(ROOT))
        for module in (ROOT / "wearcast").rglob("*.py")
        if module.stem != "__init__" and is_imported(module.parent / "__init__.py", module.stem)
    ]
    assert hidden == []


def is_imported(package: Path, name: str) -> bool:
    """Whether a package has a name from one of its modules."""
    tree = ast.parse(package.read_text(encoding="utf-8"))
    return any(
        (alias.asname or alias.name) == name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    )


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
