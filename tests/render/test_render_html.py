"""The card as a page: well-formed, script-free, and right after a strict sanitizer."""

from __future__ import annotations

import base64
import html
import re
from dataclasses import replace
from html.parser import HTMLParser

import nh3
import pytest

from service.render import html_card
from service.render.formats import FORMATS
from service.render.page import THEMES, Page

from .hostile import TEXTS, pages
from .samples import SAMPLES

STRICT = {
    "h2",
    "h3",
    "p",
    "ul",
    "li",
    "table",
    "caption",
    "thead",
    "tbody",
    "tr",
    "th",
    "td",
    "figure",
    "figcaption",
    "br",
}
"""Elements that even a strict wiki keeps."""

VOID = {"meta", "br", "img"}


def page_of(page: Page) -> str:
    return FORMATS["html"].render(page).decode("utf-8")


def cleaned(markup: str) -> str:
    return nh3.clean(markup, tags=STRICT, attributes={"th": {"scope"}, "td": {"colspan"}})


def seen(markup: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", markup)).split())


class Reader(HTMLParser):
    """Checks that elements are nested, and collects them."""

    def __init__(self, markup: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(markup)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


@pytest.mark.parametrize("theme", THEMES)
def test_the_page_is_well_formed_and_has_no_script(theme, name):
    reader = Reader(page_of(replace(SAMPLES[name](), theme=theme)))
    assert reader.open == []
    tags = {tag for tag, _ in reader.found}
    assert not tags & {"script", "iframe", "form", "link", "object", "svg"}
    for _, attributes in reader.found:
        assert not any(key.startswith("on") or key == "style" for key in attributes)
        # to the address of the answer, and back to the site
        assert attributes.get("href", "http").startswith(("http", "/"))


@pytest.mark.parametrize("hostile", TEXTS)
def test_hostile_text_adds_no_element(hostile):
    # a long text stands in a list, a short one beside its label: words of the same length
    words = ("plain words " * len(hostile))[: len(hostile)].strip()
    plain = [sorted({tag for tag, _ in Reader(page_of(page)).found}) for page in pages(words)]
    spoiled = [sorted({tag for tag, _ in Reader(page_of(page)).found}) for page in pages(hostile)]
    assert spoiled == plain


def test_every_class_carries_the_prefix(name):
    for _, attributes in Reader(page_of(SAMPLES[name]())).found:
        assert all(one.startswith("sr-") for one in (attributes.get("class") or "").split())


def test_the_style_touches_nothing_but_the_card():
    (style,) = re.findall(r"<style>(.*?)</style>", page_of(SAMPLES["breakdown"]()), re.DOTALL)
    selectors = re.findall(r"(?:^|[{}])\s*([^{}@]*\S)\s*\{", re.sub(r"@media[^{]*\{", "", style))
    assert len(selectors) > 20
    for selector in selectors:
        # a comma within brackets does not part two selectors
        for one in re.split(r",(?![^()]*\))", selector.strip()):
            assert one.strip().startswith((".sr-page", ".sr-card")), one


def test_tables_have_captions_and_heads(name):
    markup = page_of(SAMPLES[name]())
    tables = re.findall(r"<table.*?</table>", markup, re.DOTALL)
    assert tables
    for table in tables:
        assert re.search(r"<caption>[^<]+</caption>", table)
        heads = re.findall(r"<th(?=[ >])([^>]*)>", table)
        assert heads
        assert all('scope="' in head for head in heads)


def test_a_curve_is_an_image_with_its_description():
    page = SAMPLES["paschen"]()
    (source, alternative) = re.search(
        r'<img src="data:image/svg\+xml;base64,([^"]+)" alt="([^"]+)"', page_of(page)
    ).groups()
    assert alternative == page.figure.description
    assert base64.b64decode(source).startswith(b"<svg ")


def test_what_a_sanitizer_leaves_reads_in_order(name):
    page = SAMPLES[name]()
    text = seen(cleaned(html_card.article(page)))
    whole = seen(re.sub(r"<style>.*?</style>|<head>.*?</head>|<header.*?</header>", "", page_of(page), flags=re.DOTALL))
    assert text == whole
    assert text.startswith(page.title)
    assert "data 2026.11+3f9c2a1b" in text


def test_what_a_sanitizer_leaves_of_a_curve_has_no_letters_of_the_picture():
    text = cleaned(html_card.article(SAMPLES["paschen"]()))
    assert "Uniform field at 20 °C." in text
    assert "streamer criterion from here" not in text
    assert "base64" not in text


def test_what_a_sanitizer_leaves_of_a_card_says_answer_band_source_and_cautions():
    text = seen(cleaned(page_of(SAMPLES["breakdown"]())))
    order = [
        "Because Method Published formula",
        "from memory, not compared with the printed source",
        "Assumed, not said gas air; pressure 101.3 kPa",
        "Breakdown voltage 25.8 kV peak (25.0 to 26.6)",
        "Cautions An estimate for clean, dry electrodes",
        "Asked Gap 8 mm",
        "Holds for",
    ]
    assert [text.index(part) for part in order] == sorted(text.index(part) for part in order)


@pytest.mark.parametrize("hostile", TEXTS)
def test_what_a_sanitizer_leaves_of_hostile_text_is_what_it_was_given(hostile):
    for page in pages(hostile):
        assert seen(cleaned(html_card.article(page))) == seen(html_card.article(page))


def test_the_heading_takes_the_level_of_its_surroundings():
    markup = html_card.article(SAMPLES["breakdown"](), level=3)
    assert set(re.findall(r"<(h\d)", markup)) == {"h3", "h4"}


def test_a_fixed_theme_does_not_ask_the_reader():
    assert "prefers-color-scheme" not in page_of(replace(SAMPLES["unknown"](), theme="dark"))
    assert "prefers-color-scheme:dark" in page_of(SAMPLES["unknown"]())
    assert "@media print" in page_of(SAMPLES["unknown"]())
