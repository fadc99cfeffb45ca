"""The vendored plotly.js is the one named, and the figures of the pages are such as the Python package knows, too."""

from __future__ import annotations

import gzip
from base64 import b64decode

from wearcast.report.plotly_bundle import VERSION, bundle, bundle_version, carried, licence


def test_the_bundle_is_of_the_version_named() -> None:
    assert bundle_version() == VERSION


def test_what_a_page_carries_is_the_bundle() -> None:
    assert gzip.decompress(b64decode(carried())).decode("utf-8") == bundle()


def test_what_a_page_carries_cannot_end_a_script() -> None:
    assert carried().isascii()
    assert not set(carried()) & set("<>&\r\n")


def test_its_licence_comes_with_it() -> None:
    assert licence().startswith("MIT License")
    assert "THE SOFTWARE IS PROVIDED" in licence()
