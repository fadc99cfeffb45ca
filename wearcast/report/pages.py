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
from wearcast.report.mapped_sheet import MappedSheet
from wearcast.report.view import EngineSheet, IndexSheet

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

STYLES = ("sheet.css", "charts.css")
"""Styles of every page."""

ALWAYS = ("tables.js",)
"""Scripts of every page."""

CHARTS = ("places.js", "charts.js")
"""Scripts of an engine's page: one place at a time, and charts to look into."""

WHAT_IF = ("what_if.js", "what_if_form.js")
"""Scripts of pages with a form of what if: its arithmetic, and the form."""

_NOT_IN_SCRIPTS = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}


def engine_page(sheet: EngineSheet) -> str:
    """The HTML of one engine's page."""
    return _page("engine.html.j2", sheet, CHARTS)


def index_page(sheet: IndexSheet) -> str:
    """The HTML of the index."""
    return _page("index.html.j2", sheet)


def mapped_page(sheet: MappedSheet) -> str:
    """The HTML of another's sheet as a mapping reads it."""
    from markupsafe import Markup

    css = "\n".join(_asset(name) for name in ("sheet.css", "mapped.css", "print.css"))
    environment = _environment()
    page = environment.get_template("mapped.html.j2").render(
        sheet=sheet, inks=inks.ALL, css=Markup(css), data=[], scripts=[], policy=content_policy(())
    )
    return page + "\n"


def _page(template: str, sheet: EngineSheet | IndexSheet, more: tuple[str, ...] = ()) -> str:
    from markupsafe import Markup

    data: dict[str, Any] = {}
    scripts = [_asset(name) for name in (*ALWAYS, *more)]
    if sheet.what_if:
        data["what-if-data"] = sheet.what_if.payload
        scripts += [_asset(name) for name in WHAT_IF]
    styles = (*STYLES, *(["what_if.css"] if sheet.what_if else []), "print.css")
    return (
        _environment()
        .get_template(template)
        .render(
            sheet=sheet,
            inks=inks.ALL,
            css=Markup("\n".join((*(_asset(name) for name in styles), page_heads(sheet)))),
            data=[(name, Markup(script_json(content))) for name, content in data.items()],
            scripts=[Markup(script) for script in scripts],
            policy=content_policy(tuple(scripts)),
        )
        + "\n"
    )


def drawing_alone(svg: str) -> str:
    """A drawing outside a page, with the page's inks on light paper and line styles, kept to itself.

    Parameters
    ----------
    svg : str
        As a page holds it.

    Returns
    -------
    str
        HTML for a notebook's cell.
    """
    rules = "\n".join(
        f".drawn-alone {line}" for line in _asset("sheet.css").splitlines() if line.startswith("svg")
    )
    colours = " ".join(f"--{ink.name}: {ink.light};" for ink in inks.ALL)
    pattern = _environment().get_template("parts.html.j2").make_module().inked()  # type: ignore[attr-defined]
    return (
        f'<div class="drawn-alone" style="{colours} background: {inks.PAPER.light}"><style>{rules}</style>'
        f"{pattern}{svg}</div>"
    )


def page_heads(sheet: EngineSheet | IndexSheet) -> str:
    """What every printed page says above and below: what it is of, as of when, and made by what."""
    facts = {fact.label: fact.text for fact in (*sheet.background.made, *sheet.facts)}
    subtitle = getattr(sheet, "subtitle", "")
    title = f"{sheet.title} ({subtitle})" if subtitle else sheet.title
    heads = {
        "top-left": title,
        "top-right": f"as of {facts.get('As of', 'not known')}",
        "bottom-left": f"{facts['Program']}, run on {facts['Run on']}. Readings suggest; they do not decide.",
    }
    boxes = " ".join(f"@{box} {{ content: {css_string(text)}; }}" for box, text in heads.items())
    return f"@page {{ {boxes} }}"


def css_string(text: str) -> str:
    """A string of a style sheet in which no letter has a meaning.

    >>> css_string('a"} </style>')
    '"a\\\\22 \\\\7d \\\\20 \\\\3c \\\\2f style\\\\3e "'
    """
    return '"' + "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in text) + '"'


def content_policy(scripts: tuple[str, ...]) -> str:
    """A content security policy: no network at all, and no script but these, told by their hashes.

    Styles stay open: drawings place their parts by them. A script smuggled in with a name would not run.
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
