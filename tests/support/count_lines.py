"""Count lines of code by package: `python tests/support/count_lines.py [FOLDER]`.

A line of code holds a token that is neither a comment nor part of a docstring; blank lines do not count.
"""

from __future__ import annotations

import ast
import io
import sys
import tokenize
from collections import Counter
from pathlib import Path

_NO_CODE = {
    tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT, tokenize.ENCODING,
    tokenize.ENDMARKER,
}  # fmt: skip


def code_lines(text: str) -> int:
    """Lines of code of a module.

    Examples
    --------
    >>> code_lines('"Says what."\\n\\n# why\\nx = (\\n    1,  # one\\n)\\n')
    3
    """
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in _NO_CODE:
            lines.update(range(token.start[0], token.end[0] + 1))
    return len(lines - _docstrings(ast.parse(text)))


def _docstrings(tree: ast.Module) -> set[int]:
    """Lines of what `ast.get_docstring` calls a docstring; a text after an attribute is counted as code."""
    nodes = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    texts = [node.body[0] for node in ast.walk(tree) if isinstance(node, nodes) and ast.get_docstring(node)]
    return {line for text in texts for line in range(text.lineno, (text.end_lineno or text.lineno) + 1)}


def by_package(folder: Path) -> Counter[str]:
    """Lines of code by package, the modules beside them under `(modules)`."""
    found: Counter[str] = Counter()
    for path in sorted(folder.rglob("*.py")):
        first, *deeper = path.relative_to(folder).parts
        found[first if deeper else "(modules)"] += code_lines(path.read_text(encoding="utf-8"))
    return found


def main(folder: Path) -> None:
    """Print the table."""
    found = by_package(folder)
    for name, lines in found.most_common():
        print(f"{name:15}{lines:7}")
    print(f"{'all':15}{found.total():7}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[2] / "wearcast")
