"""Names of the package that nothing in it reaches: `python tests/support/unreached.py [FOLDER]`.

Functions, classes, methods, fields and constants that no code of the package reads, by name or as a text, nor its
templates and scripts; each with how often the tests and the pages name it. A hint to look, not a verdict: pandas,
typer and alembic reach some by themselves, and a field may be there for whoever works in a notebook.
"""

from __future__ import annotations

import ast
import re
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
_WORD = re.compile(r"\w+")


def defined(tree: ast.Module) -> Iterator[tuple[str, int]]:
    """Every name that a module or a class body defines, with its line; commands reach the terminal by a decorator."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not _registered(node):
            yield node.name, node.lineno
        if isinstance(node, ast.Module | ast.ClassDef):
            for one in node.body:
                targets = one.targets if isinstance(one, ast.Assign) else [getattr(one, "target", None)]
                yield from ((x.id, x.lineno) for x in targets if isinstance(x, ast.Name))


def _registered(node: ast.FunctionDef | ast.ClassDef) -> bool:
    calls = [one.func for one in node.decorator_list if isinstance(one, ast.Call)]
    return any(isinstance(one, ast.Attribute) and one.attr in ("command", "callback") for one in calls)


def read_names(tree: ast.Module) -> Iterator[str]:
    """Names that code reads: variables, attributes and whole texts that are a name; imports alone do not count."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            yield node.id
        elif isinstance(node, ast.Attribute):
            yield node.attr
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value.isidentifier():
            yield node.value


def words_of(folder: Path, *patterns: str) -> Counter[str]:
    """How often each word stands in the files of a folder."""
    texts = (path.read_text(encoding="utf-8") for pattern in patterns for path in folder.rglob(pattern))
    return Counter(word for text in texts for word in _WORD.findall(text))


def main(folder: Path) -> None:
    """Print what is defined and read nowhere."""
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in sorted(folder.rglob("*.py"))}
    reached = Counter(name for tree in trees.values() for name in read_names(tree))
    reached += words_of(folder, "*.j2", "*.js")
    tests, docs = (
        words_of(ROOT / "tests", "*.py"),
        words_of(ROOT, "README.md") + words_of(folder, "guide/*.md"),
    )
    for path, tree in trees.items():
        for name, line in defined(tree):
            if not reached[name] and not name.startswith("__"):
                where = path.relative_to(folder.parent)
                print(f"{where}:{line}: {name} (tests {tests[name]}, pages {docs[name]})")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "wearcast")
