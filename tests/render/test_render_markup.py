"""Markdown, MediaWiki and DokuWiki: tables that hold, and text that stays text."""

from __future__ import annotations

import html
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from service.render import markup
from service.render.formats import FORMATS
from service.render.layout import visible

from .hostile import TEXTS, pages
from .samples import SAMPLES

READER = MarkdownIt("gfm-like", {"linkify": False, "html": True})
"""A general markdown reader as oracle: CommonMark 0.31 with the tables of GitHub."""


def rendered(suffix: str, name: str) -> str:
    return FORMATS[suffix].render(SAMPLES[name]()).decode("utf-8")


def words(markup: str) -> str:
    """Return the text that a reader of HTML sees."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", markup)).split())


def test_markdown_tables_are_read_as_tables(name):
    text = rendered("md", name)
    heads = re.findall(r"^\| (?:---:? ?\|? ?)+", text, re.MULTILINE)
    assert READER.render(text).count("<table>") == len(heads) > 0


def test_markdown_says_the_answer():
    seen = words(READER.render(rendered("md", "breakdown")))
    for part in (
        "Breakdown voltage 25.8 kV peak (25.0 to 26.6)",
        "pressure 101.3 kPa",
        "from memory, not compared",
        "a burr",
    ):
        assert part in seen


@settings(max_examples=150)
@given(st.text(min_size=1, max_size=40))
def test_markdown_shows_any_text_as_it_stands(text):
    clean = visible(text)
    shown = READER.render(f"- {markup.markdown_text(text)}\n") if clean else "<li></li>"
    assert html.unescape(re.sub(r"\s*</?(ul|li|p)>\s*", "", shown)) == clean


@settings(max_examples=150)
@given(st.text(alphabet="|\\`*_{}[]<>#+-!~&$@:/.w1 ^=()\"'", min_size=1, max_size=20))
def test_markdown_shows_its_own_marks_as_they_stand_in_a_cell(text):
    cell = markup.markdown_text(text)
    shown = READER.render(f"| a | b |\n| --- | --- |\n| {cell} | x |\n")
    (row,) = re.findall(r"<tbody>\s*<tr>\s*<td>(.*?)</td>\s*<td>x</td>", shown, re.DOTALL)
    assert html.unescape(row) == visible(text)


@pytest.mark.parametrize("hostile", TEXTS)
def test_no_hostile_text_becomes_an_element_of_a_markdown_page(hostile):
    for page in pages(hostile):
        shown = READER.render(FORMATS["md"].render(page).decode("utf-8"))
        allowed = {"h2", "table", "thead", "tbody", "tr", "th", "td", "strong", "ul", "li", "p"}
        assert {tag.lower() for tag in re.findall(r"</?([a-zA-Z][a-zA-Z0-9]*)", shown)} <= allowed
        assert "href=" not in shown


def test_mediawiki_tables_are_closed_and_never_nested(name):
    depth = 0
    for line in rendered("wiki", name).splitlines():
        depth += line.startswith("{|") - line.startswith("|}")
        assert depth in (0, 1)
    assert depth == 0


INERT = r"[^|{}\[\]<>']*"
MEDIAWIKI_LINE = re.compile(
    rf"""\{{\| class="wikitable"|\|\}}|\|-|\|\+ {INERT}|! scope="(col|row)"( style="text-align:left")? \| {INERT}"""
    rf"""|\|( style="text-align:right" \|)? {INERT}|'''{INERT}'''|\* {INERT}|<small>{INERT}</small>|"""
)


@pytest.mark.parametrize("hostile", ["plain", *TEXTS])
def test_every_line_of_mediawiki_is_one_that_the_renderer_means(hostile):
    for page in pages(hostile):
        for line in FORMATS["wiki"].render(page).decode("utf-8").splitlines():
            assert MEDIAWIKI_LINE.fullmatch(line), line


@given(st.text(max_size=40))
def test_mediawiki_text_is_inert_and_reads_as_it_stands(text):
    escaped = markup.mediawiki_text(text)
    assert not re.search(r"[|{}\[\]<>'=~_*#:!]", re.sub(r"&#\d+;", "", escaped))
    assert html.unescape(escaped) == visible(text)


def dokuwiki_text(markup: str) -> str:
    """Return what DokuWiki shows of switched-off text: the stretches between its marks, as they stand."""
    stretches = re.findall(r"<nowiki>(.*?)</nowiki>|%%(.*?)%%|(.+?)(?=<nowiki>|%%|$)", markup)
    return "".join("".join(stretch) for stretch in stretches)


@given(st.text(max_size=40))
def test_dokuwiki_text_reads_as_it_stands(text):
    assert dokuwiki_text(markup.dokuwiki_text(text)) == visible(text)


@given(st.text(alphabet="%<>/nowikNOWIK ", max_size=40))
def test_dokuwiki_text_cannot_switch_itself_on_again(text):
    assert dokuwiki_text(markup.dokuwiki_text(text)) == visible(text)


@pytest.mark.parametrize("hostile", ["plain", *TEXTS])
def test_dokuwiki_tables_keep_their_columns(hostile):
    for page in pages(hostile):
        counts = []
        for line in FORMATS["dokuwiki"].render(page).decode("utf-8").splitlines():
            bare = re.sub(r"<nowiki>.*?</nowiki>|%%.*?%%", "x", line)
            if bare[:1] in ("|", "^"):
                counts.append(len(re.findall(r"[|^]", bare)))
            elif counts:
                assert len(set(counts)) == 1
                counts = []


def test_the_markups_say_the_same_lines():
    for suffix in ("wiki", "dokuwiki", "md"):
        text = html.unescape(rendered(suffix, "unknown").replace("%%", "").replace("\\", ""))
        assert "9.0 to 26 kV peak, no single value" in text
