"""The plotly.js that the pages carry: its basic bundle, vendored with its licence (`.ci/vendor_plotly`)."""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files

PACKAGE = "plotly.js-basic-dist-min"
BUNDLE = "plotly-basic.min.js"
LICENCE = "plotly-basic.licence.txt"


@cache
def bundle() -> str:
    """The script as it stands in a page: a parser turns every line end into one letter, and so its hash does.

    Raises
    ------
    ValueError
        If it holds what would end a script element.
    """
    script = _asset(BUNDLE).replace("\r\n", "\n").replace("\r", "\n")
    if "</script" in script.lower() or "<!--" in script:
        raise ValueError(f"{BUNDLE} cannot stand inside a page")
    return script


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
    return _asset(LICENCE).strip()


def _asset(name: str) -> str:
    return (files("wearcast.report") / "assets" / name).read_text(encoding="utf-8")
