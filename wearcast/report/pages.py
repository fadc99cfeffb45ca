"""Views put into HTML: one self-contained page each, under a policy that lets no request leave it."""

from __future__ import annotations

import json
import re
from base64 import b64encode
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from wearcast.report import inks
from wearcast.report.view import EngineSheet, IndexSheet

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

_NOT_IN_SCRIPTS = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}


def engine_page(sheet: EngineSheet) -> str:
    """The HTML of one engine's page."""
    figures = {chart.anchor: chart.figure for place in sheet.positions for chart in place.charts}
    scripts = (_plotly(), _asset("sheet.js")) if figures else ()
    dark = {ink.light: ink.dark for ink in inks.ALL}
    data = script_json({"figures": figures, "dark": dark, "print": {inks.PAPER.light: inks.PRINTED}})
    return _page("engine.html.j2", sheet, scripts, data)


def index_page(sheet: IndexSheet) -> str:
    """The HTML of the index."""
    return _page("index.html.j2", sheet, (), "")


def _page(template: str, sheet: EngineSheet | IndexSheet, scripts: tuple[str, ...], data: str) -> str:
    from markupsafe import Markup

    return (
        _environment()
        .get_template(template)
        .render(
            sheet=sheet,
            inks=inks.ALL,
            css=Markup(_asset("sheet.css")),
            data=Markup(data),
            scripts=[Markup(script) for script in scripts],
            policy=content_policy(scripts),
        )
        + "\n"
    )


def content_policy(scripts: tuple[str, ...]) -> str:
    """A content security policy: no network at all, and no script but these, told by their hashes.

    Styles stay open: plotly.js sets its own. A script smuggled in with a name would not run.
    """
    hashes = " ".join(f"'sha256-{b64encode(sha256(s.encode()).digest()).decode()}'" for s in scripts)
    return (
        f"default-src 'none'; script-src {hashes or chr(39) + 'none' + chr(39)}; style-src 'unsafe-inline'; "
        "img-src data: blob:; base-uri 'none'; form-action 'none'"
    )


def script_json(content: Any) -> str:
    """JSON that cannot end the script element it stands in, nor begin a tag in it.

    >>> script_json({"vessel": "</script><script>alert(1)</script>"}).count("<")
    0
    """
    text = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for letter, escape in _NOT_IN_SCRIPTS.items():
        text = text.replace(letter, escape)
    return text


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    environment = Environment(
        loader=FunctionLoader(_template),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["kept"] = kept
    return environment


def kept(text: str) -> Markup:
    """The text, escaped, with no line broken inside a date.

    >>> str(kept("<b> on 2026-09-28"))
    '&lt;b&gt; on <span class="date">2026-09-28</span>'
    """
    from markupsafe import Markup, escape

    return Markup(re.sub(r"\d{4}-\d\d-\d\d", r'<span class="date">\g<0></span>', str(escape(text))))


def _template(name: str) -> str:
    return (files("wearcast.report") / "templates" / name).read_text(encoding="utf-8")


@cache
def _asset(name: str) -> str:
    return (files("wearcast.report") / "assets" / name).read_text(encoding="utf-8").strip()


@cache
def _plotly() -> str:
    """plotly.js as it stands in a page: a parser turns every line end into one letter, and so the hash does."""
    from plotly.offline import get_plotlyjs

    script = str(get_plotlyjs()).replace("\r\n", "\n").replace("\r", "\n")
    if "</script" in script.lower() or "<!--" in script:
        raise ValueError("this plotly.js cannot stand inside a page")
    return script
