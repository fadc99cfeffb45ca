"""A workbook as bytes that depend on its content and the date of the run alone."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date, datetime

from openpyxl import Workbook

_MODIFIED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*(</dcterms:modified>)")


def same_bytes(book: Workbook, run_date: date) -> bytes:
    """Save a workbook; the clock is left out of its properties and of the archive."""
    moment = datetime(run_date.year, run_date.month, run_date.day)
    book.properties.created = moment
    saved, made = io.BytesIO(), io.BytesIO()
    book.save(saved)
    with zipfile.ZipFile(saved) as source, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            content = source.read(name)
            if name == "docProps/core.xml":
                stamp = f"{moment.isoformat()}Z".encode()
                content = _MODIFIED.sub(rb"\g<1>" + stamp + rb"\g<2>", content)
            entry = zipfile.ZipInfo(name, (max(run_date.year, 1980), run_date.month, run_date.day, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o600 << 16
            entry.create_system = 3
            target.writestr(entry, content)
    return made.getvalue()
