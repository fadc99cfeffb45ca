"""Where the command begins: before anything heavy is imported, so that it is broken off without a traceback."""

from __future__ import annotations

import sys


def run() -> None:
    """Run the command line."""
    try:
        from wearcast.cli.main import run as command

        command()
    except KeyboardInterrupt:
        print("wearcast: broken off.", file=sys.stderr)
        sys.exit(130)  # 128 + SIGINT, as shells have it
