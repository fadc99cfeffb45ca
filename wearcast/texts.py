"""Tables and other contents as text in one fixed layout."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def csv_text(table: pd.DataFrame) -> str:
    """A table as CSV, figures to eight digits; text that a spreadsheet would run as a formula is written as text."""
    safe = table.copy()
    for name in safe.columns:
        if safe[name].dtype == object or str(safe[name].dtype) in ("str", "string"):
            safe[name] = safe[name].map(_as_text)
    return safe.to_csv(index=False, lineterminator="\n", float_format="%.8g")


def _as_text(value: object) -> object:
    return "'" + value if isinstance(value, str) and value.startswith(FORMULA_STARTS) else value


def json_text(content: Any) -> str:
    """JSON in a fixed layout, with null for what cannot be said."""
    return json.dumps(_plain(content), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    if value is None or value != value:  # noqa: PLR0124  (NaN and NaT differ from themselves)
        return None
    if isinstance(value, bool | int | float | str):
        return value
    if hasattr(value, "isoformat"):
        return value.isoformat()
    return value.item()


def toml_text(settings_rows: tuple[tuple[str, str, Any], ...]) -> str:
    """Every setting as a settings file holds it; the section ``general`` is the top level."""
    sections: dict[str, list[str]] = {"general": []}
    for section, name, value in settings_rows:
        sections.setdefault(section, []).append(f"{name} = {value!r}")
    parts = ["\n".join(sections.pop("general"))]
    parts += [f"[{section}]\n" + "\n".join(lines) for section, lines in sections.items()]
    return "\n\n".join(part for part in parts if part) + "\n"
