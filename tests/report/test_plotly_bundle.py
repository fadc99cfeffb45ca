"""The vendored plotly.js is the one that the Python package names."""

from __future__ import annotations

import gzip
from base64 import b64decode

from plotly.offline import get_plotlyjs_version

from wearcast.report.plotly_bundle import bundle, bundle_version, carried, licence


def test_the_bundle_is_of_the_version_that_the_package_names() -> None:
    assert bundle_version() == get_plotlyjs_version()


def test_what_a_page_carries_is_the_bundle() -> None:
    assert gzip.decompress(b64decode(carried())).decode("utf-8") == bundle()


def test_what_a_page_carries_cannot_end_a_script() -> None:
    assert carried().isascii()
    assert not set(carried()) & set("<>&\r\n")


def test_its_licence_comes_with_it() -> None:
    assert licence().startswith("MIT License")
    assert "THE SOFTWARE IS PROVIDED" in licence()
