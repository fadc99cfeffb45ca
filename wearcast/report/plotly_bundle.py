"""The plotly.js that the pages carry: its basic bundle, vendored with its licence (`.ci/vendor_plotly`).

It is kept and carried compressed, a third of its size: sheets are mailed to ships. Compressing it anew for each page
would give other bytes with another version of the compressor.
"""

from __future__ import annotations

import gzip
import re
from base64 import b64encode
from functools import cache
from importlib.resources import files

VERSION = "4.1.1"
"""The plotly.js in the assets: its own choice, whatever Python package `plotly` a user has."""

BUNDLE = "plotly-basic.min.js.gz"
LICENCE = "plotly-basic.licence.txt"


@cache
def carried() -> str:
    """The bundle as it stands in a page: compressed, in letters (base64)."""
    return b64encode(_compressed()).decode("ascii")


@cache
def bundle() -> str:
    """The bundle as it runs, which a page's policy knows it by.

    >>> "window.Plotly = Plotly" in bundle()
    True
    """
    return gzip.decompress(_compressed()).decode("utf-8")


def bundle_version() -> str:
    """The version that the bundle says it is.

    >>> bundle_version().count(".")
    2
    """
    said = re.search(r"plotly\.js \(basic - minified\) v(\d+\.\d+\.\d+)", bundle()[:400])
    if said is None:
        raise ValueError(f"{BUNDLE} does not say which plotly.js it is")
    return said.group(1)


def licence() -> str:
    """The licence that the bundle comes under."""
    return (files("wearcast.report") / "assets" / LICENCE).read_text(encoding="utf-8").strip()


def _compressed() -> bytes:
    return (files("wearcast.report") / "assets" / BUNDLE).read_bytes()
