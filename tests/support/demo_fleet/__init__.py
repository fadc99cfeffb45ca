"""The demo record set: an invented fleet with planted wear, planted slips and the truth beside it.

What it makes with its own seed stands in `sample_data/` and is shipped; `tests/support/make_demo.py` writes it anew.
"""

from demo_fleet.files import demo_files
from demo_fleet.tables import DEFAULT_SEED

__all__ = ["DEFAULT_SEED", "demo_files"]
