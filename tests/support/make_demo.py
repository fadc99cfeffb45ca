"""Write the demo anew: `python tests/support/make_demo.py sample_data [SEED]`; another seed, another fleet."""

from __future__ import annotations

import sys
from pathlib import Path

from demo_fleet import DEFAULT_SEED, demo_files

if __name__ == "__main__":
    folder, seed = Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else DEFAULT_SEED
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in demo_files(seed).items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
