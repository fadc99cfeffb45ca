"""Other people's sheets: a mapping says, once, what their texts mean."""

from __future__ import annotations

from wearcast.records.mapping.apply import apply_mapping
from wearcast.records.mapping.mapping import Mapping
from wearcast.records.mapping.toml_file import read_mapping

__all__ = ["Mapping", "apply_mapping", "read_mapping"]
