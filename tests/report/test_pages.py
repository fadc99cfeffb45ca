"""Pages as a browser would take them: whole, closed to the network, and deaf to what users wrote as markup."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from wearcast.decide.eased_words import NOTHING
from wearcast.forecasting.run import Forecast, forecast
from wearcast.records.read import read
from wearcast.report.background_tables import setting_words
from wearcast.report.cautions import CAUTIONS, UNSEEN
from wearcast.report.pages import script_json
from wearcast.report.sheets import render
from wearcast.report.view import PlainTable

NASTY_PAGE = "script-script-alert-1-script-a-b.html"
UNREAD_PAGE = "birch-2.html"
VOID = {"meta", "link", "br", "img", "input", "hr"}


class Reader(HTMLParser):
    """Elements, attributes and text of a page; fails where elements do not close in order."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.scripts: list[tuple[dict[str, str | None], str]] = []
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "script":
            self.scripts.append((dict(attrs), ""))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "script":
            self.scripts[-1] = (self.scripts[-1][0], self.scripts[-1][1] + data)
        elif not self.open or self.open[-1] != "style":
            self.text.append(data)

    @property
    def words(self) -> str:
        return " ".join(" ".join(self.text).split())

    @property
    def ids(self) -> list[str]:
        return [found["id"] or "" for _, found in self.tags if "id" in found]


@pytest.fixture(scope="module")
def readers(pages: dict[str, str]) -> dict[str, Reader]:
    return {name: Reader(text) for name, text in pages.items()}


def test_one_page_an_engine_and_an_index(pages: dict[str, str]) -> None:
    assert list(pages) == ["index.html", "alder-1.html", NASTY_PAGE, UNREAD_PAGE]


def test_the_same_forecast_gives_the_same_bytes(fleet: Forecast, pages: dict[str, str]) -> None:
    assert render(fleet, "0.0.0+test") == pages


def test_no_page_asks_the_network_for_anything(readers: dict[str, Reader]) -> None:
    for reader in readers.values():
        for tag, found in reader.tags:
            assert tag not in {"img", "iframe", "object", "embed", "base", "form", "video", "audio"}
            for name in ("src", "srcset", "action", "poster", "data"):
                assert name not in found
            if "href" in found:
                assert re.fullmatch(r"#[\w-]+|[\w-]+\.html(#[\w-]+)?|data:,", found["href"] or ""), found
            assert not any(name.startswith("on") for name in found)
        own = [text for attributes, text in reader.scripts if "Plotly=" not in text[:400_000]]
        assert not any("://" in text for text in own)


def test_styles_fetch_nothing(pages: dict[str, str]) -> None:
    for page in pages.values():
        style = page[page.index("<style>") : page.index("</style>")]
        assert not re.search(r"url\((?!\"#[a-z]+\"\))", style)  # a hatching of the page itself at most
        assert "@import" not in style
        assert "@font-face" not in style


def test_the_content_policy_lets_only_our_scripts_run(readers: dict[str, Reader]) -> None:
    for name, reader in readers.items():
        policy = next(
            found["content"] or ""
            for tag, found in reader.tags
            if tag == "meta" and found.get("http-equiv") == "Content-Security-Policy"
        )
        assert policy.startswith("default-src 'none'; ")
        assert "http" not in policy
        assert "unsafe-eval" not in policy
        allowed = re.search(r"script-src ([^;]*);", policy)
        assert allowed
        runnable = [text for found, text in reader.scripts if "type" not in found]
        hashes = [base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in runnable]
        expected = " ".join(f"'sha256-{one}'" for one in hashes) or "'none'"
        assert allowed[1] == expected
        assert any(text.startswith("// Tables sorted") for text in runnable)
        assert any(text.startswith("// Charts to look") for text in runnable) == (name != "index.html")


def test_what_users_wrote_is_shown_letter_by_letter(
    readers: dict[str, Reader], pages: dict[str, str]
) -> None:
    nasty, alder = readers[NASTY_PAGE], readers["alder-1.html"]
    assert "</script><script>alert(1)</script>" in nasty.words
    assert "<script>alert" not in pages[NASTY_PAGE]
    assert not [tag for tag, _ in alder.tags if tag in ("b", "i", "em", "img")]
    assert "misread <b>" in alder.words
    assert "calm & <i>" in alder.words
    assert "<em>yard</em>" in alder.words
    assert "</script><script>" in readers["index.html"].words


def test_json_in_a_script_cannot_end_it() -> None:
    text = script_json({"a": ["</script>", "<!--", "]]>", "&amp;", "\u2028"]})
    assert not set("<>&\u2028") & set(text)
    assert json.loads(text) == {"a": ["</script>", "<!--", "]]>", "&amp;", "\u2028"]}
    with pytest.raises(ValueError, match="JSON compliant"):
        script_json({"a": float("nan")})


def test_ids_are_unlike_each_other_and_links_meet_them(readers: dict[str, Reader]) -> None:
    for name, reader in readers.items():
        assert len(reader.ids) == len(set(reader.ids))
        for _, found in reader.tags:
            page, _, anchor = (found.get("href") or "").partition("#")
            if anchor:
                assert anchor in readers[page or name].ids
            for attribute in ("aria-labelledby", "aria-describedby"):
                if attribute in found:
                    assert found[attribute] in reader.ids


def test_every_section_stands_on_every_engine_page(readers: dict[str, Reader]) -> None:
    for name in ("alder-1.html", NASTY_PAGE, UNREAD_PAGE):
        wanted = ["forecast", "positions", "assumptions", "events", "limits", "windows"]
        wanted += ["spreads", "settings", "files", "method", "cautions"]
        assert [one for one in readers[name].ids if one in wanted] == wanted


@pytest.mark.parametrize(
    ("anchor", "none"),
    [("faults", "No row was left out."), ("queries", "Nothing is doubted."), ("eased", NOTHING)],
)
def test_faults_queries_and_what_was_eased_are_listed_or_it_is_said_that_there_are_none(
    readers: dict[str, Reader], anchor: str, none: str
) -> None:
    for reader in readers.values():
        assert (anchor in reader.ids) != (none in " ".join(reader.words.split()))


def test_the_first_sentence_says_what_wear_trending_does_not_see(readers: dict[str, Reader]) -> None:
    for reader in readers.values():
        words = reader.words
        assert words.split("Skip to the content ")[1].startswith(UNSEEN)
        for caution in CAUTIONS:
            for sentence in caution.sentences:
                assert sentence in words
        assert "safe to run" not in words


def test_tables_have_header_cells_and_captions(pages: dict[str, str]) -> None:
    for page in pages.values():
        tables = re.findall(r"<table.*?</table>", page, flags=re.DOTALL)
        assert tables
        for table in tables:
            assert table.count("<caption>") == 1
            assert 'scope="col"' in table
            assert not re.search(r"<th(?! scope=)(?!ead)", table)


def test_headings_never_skip_a_level(readers: dict[str, Reader]) -> None:
    for reader in readers.values():
        levels = [int(tag[1]) for tag, _ in reader.tags if re.fullmatch("h[1-6]", tag)]
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(later - earlier <= 1 for earlier, later in pairwise(levels))


def test_every_chart_has_its_finding_in_words(readers: dict[str, Reader]) -> None:
    reader = readers["alder-1.html"]
    charts = [found for tag, found in reader.tags if found.get("class") == "trend"]
    assert len(charts) > 5
    for found in charts:
        assert found["role"] == "img"
        assert found["aria-labelledby"] in reader.ids
        assert found["aria-describedby"] in reader.ids


def test_an_engine_never_read_still_has_its_page(readers: dict[str, Reader]) -> None:
    words = readers[UNREAD_PAGE].words
    assert "No shell of this engine has both readings and a limit." in words
    assert words.count("Never read: these records hold no reading of this position.") == 13
    assert not any(found.get("class") == "trend" for _, found in readers[UNREAD_PAGE].tags)


def test_run_date_version_and_hashes_are_printed(fleet: Forecast, readers: dict[str, Reader]) -> None:
    for reader in readers.values():
        assert "wearcast 0.0.0+test" in reader.words
        assert "2026-01-01" in reader.words
        for file in fleet.history.records.files:
            assert file.sha256 in reader.words
        for _, name, _ in fleet.settings.rows():
            assert setting_words(name) in reader.words


def test_no_summary_of_statements_and_no_verdict(readers: dict[str, Reader]) -> None:
    for reader in readers.values():
        classes = {one for _, found in reader.tags for one in (found.get("class") or "").split()}
        assert not classes & {"badge", "pill", "tile", "card", "lamp", "score", "status"}
        assert not re.search(
            r"\b(healthy|good|critical|alarm level|all clear)\b", reader.words, re.IGNORECASE
        )


def test_a_record_set_without_any_forecast_still_renders(record_folder: Callable[..., Path]) -> None:
    bent = {"bearing": "big_end", "half": "", "quantity": "web_deflection", "point": "top", "value": "0.020"}
    made = forecast(read(record_folder(readings=[bent]), run_date=dt.date(2026, 1, 1)))
    assert not made.rows
    words = Reader(render(made, "1")["alder-1.html"]).words
    assert "No shell of this engine has both readings and a limit." in words


def test_further_tables_stand_on_the_index(fleet: Forecast, pages: dict[str, str]) -> None:
    table = PlainTable("scores", "Scores", "How well <it> did", ("What",), (("90 & 91",),), "")
    more = render(fleet, "0.0.0+test", (table,))
    words = Reader(more["index.html"]).words
    assert "Scores How well <it> did What 90 & 91" in words
    assert {name: text for name, text in more.items() if name != "index.html"} == {
        name: text for name, text in pages.items() if name != "index.html"
    }
