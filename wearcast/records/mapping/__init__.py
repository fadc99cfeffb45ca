"""Other people's sheets: a mapping says, once, where in them the columns of a table stand."""

from __future__ import annotations

from wearcast.records.mapping.apply import apply_mapping
from wearcast.records.mapping.mapping import Mapping
from wearcast.records.mapping.toml_file import read_mapping

__all__ = ["Mapping", "apply_mapping", "read_mapping"]
